#include "cli/page_desk.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "app/job_loop.h"
#include "cli/output.h"
#include "cli/unit_book.h"

/* What the pages are given of a unit. */
static void fill_desk(struct page_desk *d)
{
	d->desk = (struct bench_desk){.profile = &d->unit.profile, .network = d->bare,
		.tables = &d->unit.tables, .job = &d->job, .utc_s = job_utc_s()};
	d->desk.entries = logbook_entries(d->book, &d->desk.n_entries);
	job_make(&d->job, d->desk.profile, d->desk.network, d->desk.tables, d->desk.entries,
		d->desk.n_entries);
}

/* The book and the unit are there: the rest.  NULL after a complaint, all released. */
static struct page_desk *finish(struct page_desk *d)
{
	d->bare = unit_bare_network(&d->unit);
	if (!d->bare) {
		page_desk_close(d);
		return NULL;
	}
	fill_desk(d);
	return d;
}

static struct page_desk *new_desk(void)
{
	struct page_desk *d = calloc(1, sizeof *d);
	if (!d)
		complain("out of memory");
	return d;
}

struct page_desk *page_desk_open(const char *unit, enum logbook_open_for open_for)
{
	struct page_desk *d = new_desk();

	if (!d)
		return NULL;
	if (book_open_unit(unit, open_for, &d->unit, &d->book) != 0) {
		free(d);
		return NULL;
	}
	return finish(d);
}

struct page_desk *page_desk_begin(const char *unit, const char *profile, double utc_s)
{
	struct page_desk *d = new_desk();

	if (!d)
		return NULL;
	if (unit_load(&d->unit, profile) != 0) {
		free(d);
		return NULL;
	}
	if (book_open(unit, profile, &d->unit, utc_s, &d->book) != 0) {
		page_desk_close(d);
		return NULL;
	}
	return finish(d);
}

void page_desk_close(struct page_desk *d)
{
	if (!d)
		return;
	free(d->bare);
	logbook_close(d->book);
	unit_release(&d->unit);
	free(d);
}

const struct page_ops *page_of(const char *word)
{
	struct buf known = BUF_INIT;

	for (int i = 0; job_pages[i]; i++) {
		if (strcasecmp(word, job_pages[i]->word) == 0) {
			buf_release(&known);
			return job_pages[i];
		}
		buf_addf(&known, "%s%s", i ? ", " : "", job_pages[i]->word);
	}
	complain("no page %.60s; there are: %s", word, known.data);
	buf_release(&known);
	return NULL;
}

/* A page that spreads its work over several draws is drawn until it is done. */
static void fill_and_settle(const struct page_ops *page, void *self, struct page_desk *d,
                            struct sheet *ret)
{
	static const double soon_s = 5.0;
	const double utc_s = d->desk.utc_s;
	int in_hand = 0;

	page->fill(self, &d->desk, &in_hand, ret);
	for (int i = 0; i < PROFILE_CAPS_MAX && page->due; i++) {
		const double wait_s = page->due(self, &d->desk);

		if (!(wait_s < soon_s))
			break;
		d->desk.utc_s += wait_s;
		memset(ret, 0, sizeof *ret);
		ret->in_hand = ret->verdict_column = -1;
		page->fill(self, &d->desk, &in_hand, ret);
	}
	d->desk.utc_s = utc_s;
}

int page_desk_fill(struct page_desk *d, const char *word, struct sheet *ret)
{
	const struct page_ops *page = page_of(word);
	void *self = NULL;

	if (!page)
		return -1;
	if (page->open && !(self = page->open(&d->desk))) {
		complain("out of memory");
		return -1;
	}
	fill_and_settle(page, self, d, ret);
	if (page->close)
		page->close(self);
	return 0;
}
