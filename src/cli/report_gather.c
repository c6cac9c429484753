#include "cli/report_gather.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/like.h"
#include "app/report_power.h"
#include "cli/compare_gather.h"
#include "cli/input.h"
#include "cli/load_record.h"
#include "cli/output.h"
#include "ui/cautions.h"

static const char *base_name(const char *path)
{
	const char *slash = strrchr(path, '/');

	return slash ? slash + 1 : path;
}

/* What was laid under the power-up, if anything was: where its record says, else beside it, when
 * both were moved together. */
static void gather_like(struct report_power *ret, struct record *record, const char *path)
{
	const char *slash = strrchr(path, '/'), *found;
	char noted[EVENT_NOTE_MAX], beside[PATH_MAX];
	struct err err;

	if (!like_find(record, noted, sizeof noted))
		return;
	(void)snprintf(ret->like_path, sizeof ret->like_path, "%.250s", base_name(noted));
	(void)snprintf(beside, sizeof beside, "%.*s%s", slash ? (int)(slash - path) + 1 : 0, path,
	               base_name(noted));
	found = access(noted, F_OK) != 0 && access(beside, F_OK) == 0 ? beside : noted;
	if (compare_find_like(found, &ret->like, &err) != 0)
		(void)snprintf(ret->like_trouble, sizeof ret->like_trouble, "%.250s", err.text);
}

/* One power-up.  `ret_unit`, when not NULL, keeps the unit that it was judged by.  0, or -1 with
 * the reason in ret->trouble. */
static int gather_power(struct report_power *ret, const char *path, const char *profile,
                        struct loaded_unit *ret_unit)
{
	struct loaded_unit *u = calloc(1, sizeof *u);
	struct record *record = NULL;
	char remark[REPORT_TEXT_MAX];
	struct err err;
	int status = -1;

	if (!u) {
		report_power_missing(ret, "out of memory");
		return -1;
	}
	if (record_open(path, &record, &err) != 0) {
		report_power_missing(ret, err.text);
	} else if (unit_load_record(u, record, profile) != 0) {
		report_power_missing(ret, "the profile in it cannot be read");
	} else {
		const struct run_unit unit = {u->network, u->plan, &u->rule, &u->accuracy};

		status = report_power_gather(ret, record, &unit, &err);
		if (status != 0)
			report_power_missing(ret, err.text);
		else {
			(void)snprintf(ret->profile, sizeof ret->profile, "%s", u->profile.name);
			ret->other_profile = profile != NULL;
			record_remark(record, remark, sizeof remark);
			(void)snprintf(ret->remark, sizeof ret->remark, "%s", remark);
			gather_like(ret, record, path);
		}
		if (status == 0 && ret_unit)
			*ret_unit = *u;
		else
			unit_release(u);
	}
	record_close(record);
	free(u);
	(void)snprintf(ret->path, sizeof ret->path, "%.250s", base_name(path));
	return status;
}

/* --- a single record -------------------------------------------------------------------------- */

static int gather_record(struct report_gather *g, const char *path, const char *profile)
{
	g->power = calloc(1, sizeof *g->power);
	if (!g->power) {
		complain("out of memory");
		return -1;
	}
	if (gather_power(g->power, path, profile, &g->record_unit) != 0) {
		complain("%s", g->power->trouble);
		return -1;
	}
	g->data.profile = &g->record_unit.profile;
	g->data.network = g->data.measured = g->record_unit.network;
	g->data.tables = &g->record_unit.tables;
	g->data.n_powers = 1;
	return 0;
}

/* --- a unit ----------------------------------------------------------------------------------- */

static void gather_entry(struct report_gather *g, struct report_power *ret,
                         const struct entry *entry, const char *profile)
{
	char path[PATH_MAX];

	if (!entry->subject[0]) {
		report_power_missing(ret, "it was not recorded");
	} else {
		record_find(g->desk->book, entry, path, sizeof path);
		if (gather_power(ret, path, profile, NULL) != 0)
			complain("power-up of %s: %s", g->label, ret->trouble);
	}
	ret->entered_s = entry->utc_s;
	if (ret->trouble[0])
		(void)snprintf(ret->word, sizeof ret->word, "%.30s", entry->word);
	ret->told_volts = entry->number[0];
	ret->told_soak_s = entry->number[1];
}

static bool ended_in_alarm(const char *word)
{
	return strcmp(word, "abort") == 0 || strcmp(word, "stop") == 0;
}

/* What was said to have ended entry `at`, before another power-up ended likewise. */
static void find_mended(struct report_power *p, const struct entry *entries, size_t n, size_t at)
{
	if (!ended_in_alarm(entries[at].word))
		return;
	for (size_t i = at + 1; i < n; i++) {
		if (entries[i].kind == ENTRY_POWER && ended_in_alarm(entries[i].word))
			return;
		if (entries[i].kind != ENTRY_MENDED)
			continue;
		(void)snprintf(p->mended, sizeof p->mended, "%.250s", entries[i].note);
		p->mended_s = entries[i].utc_s;
		return;
	}
}

static void remark_on_book(struct report_gather *g)
{
	const struct logbook_faults *f = logbook_faults(g->desk->book);
	struct buf out = BUF_INIT;

	if (f->garbled > 0)
		buf_addf(&out, "%zu garbled lines were passed over, the first at line %zu; ",
		         f->garbled, f->first_garbled_line);
	if (f->torn_bytes > 0)
		buf_adds(&out, "a line that was never finished was passed over; ");
	if (f->unknown > 0)
		buf_addf(&out, "%zu entries of a newer program were passed over; ", f->unknown);
	if (out.len >= 2)
		buf_cut(&out, out.len - 2);
	(void)snprintf(g->remark, sizeof g->remark, "%s", out.data);
	buf_release(&out);
}

static int gather_unit(struct report_gather *g, const char *unit, const char *profile)
{
	const struct page_desk *desk = g->desk = page_desk_open(unit, LOGBOOK_TO_READ);
	const struct entry *entries;
	size_t n;
	int n_all = 0, skip;

	if (!desk)
		return -1;
	entries = desk->desk.entries;
	n = desk->desk.n_entries;
	g->power = calloc(REPORT_POWERS_MAX, sizeof *g->power);
	if (!g->power) {
		complain("out of memory");
		return -1;
	}
	(void)snprintf(g->label, sizeof g->label, "%s", logbook_label(desk->book));
	for (size_t i = 0; i < n; i++)
		n_all += entries[i].kind == ENTRY_POWER;
	/* the newest ones when there are more than anybody reads */
	skip = n_all > REPORT_POWERS_MAX ? n_all - REPORT_POWERS_MAX : 0;
	g->data.powers_beyond = skip;
	for (size_t i = 0; i < n; i++)
		if (entries[i].kind == ENTRY_POWER && skip-- <= 0) {
			gather_entry(g, &g->power[g->data.n_powers], &entries[i], profile);
			find_mended(&g->power[g->data.n_powers++], entries, n, i);
		}
	remark_on_book(g);
	g->data.profile = &desk->unit.profile;
	g->data.network = desk->bare;
	g->data.measured = desk->unit.network;
	g->data.tables = &desk->unit.tables;
	g->data.entries = entries;
	g->data.n_entries = n;
	g->data.job = &desk->job;
	return 0;
}

int report_gather(struct report_gather *ret, const char *what, const char *profile)
{
	int status;

	*ret = (struct report_gather){0};
	status = input_begins(what, RECORD_FIRST_WORDS) ? gather_record(ret, what, profile)
	                                                : gather_unit(ret, what, profile);
	if (status != 0) {
		report_gather_release(ret);
		return -1;
	}
	ret->data.label = ret->label;
	ret->data.remark = ret->remark;
	ret->data.power = ret->power;
	ret->data.caution = cautions;
	ret->data.n_cautions = n_cautions;
	return 0;
}

void report_gather_release(struct report_gather *g)
{
	for (int i = 0; g->power && i < REPORT_POWERS_MAX; i++) {
		if (i > 0 && !g->desk)
			break; /* a record has only one */
		report_power_release(&g->power[i]);
	}
	free(g->power);
	if (g->desk)
		page_desk_close(g->desk);
	else
		unit_release(&g->record_unit);
	*g = (struct report_gather){0};
}
