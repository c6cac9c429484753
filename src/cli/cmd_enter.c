/* mainstair enter UNIT PAGE ROW LINE - what a page of the job takes, without a terminal */
#include "cli/commands.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "app/job_loop.h"
#include "app/page/overview.h"
#include "app/player.h"
#include "cli/load_record.h"
#include "cli/options.h"
#include "cli/output.h"
#include "cli/page_desk.h"
#include "cli/unit_book.h"
#include "mainstair/base/text.h"
#include "mainstair/proto/record_text.h"
#include "ui/widget/prompt.h"

enum { ENTER_ASKED = 1 };

struct enter_options {
	const char *unit, *page, *row, *line, *profile;
	double utc_s;
	bool at_told, yes;
};

/* No longer than can be typed: the rest would be cut off.  0, or -1 after a complaint. */
static int check_line(const char *line)
{
	if (strlen(line) >= PROMPT_BYTES_MAX) {
		complain("enter: a line of at most %d bytes, please; this one has %zu",
			PROMPT_BYTES_MAX - 1, strlen(line));
		return -1;
	}
	return 0;
}

/* The row whose first cell is `name`, or the only one that has it in it.  -1 after a complaint. */
static int find_row(const struct sheet *s, const char *name)
{
	int found = -1, matches = 0;
	size_t n = strlen(name);

	if (strcmp(name, "-") == 0)
		return s->in_hand >= 0 ? s->in_hand : 0;
	for (int i = 0; i < s->n_rows; i++) {
		const char *cell = s->row[i].cell[0] + strspn(s->row[i].cell[0], " ");
		if (!strcasestr(cell, name))
			continue;
		if (strcasecmp(cell, name) == 0)
			return i;
		found = i;
		matches++;
	}
	if (matches == 1)
		return found;
	char shown[100];
	(void)text_show(shown, sizeof shown, name, n);
	complain("%s row has `%s` in its name; mainstair job UNIT PAGE lists them",
		matches ? "more than one" : "no", shown);
	return -1;
}

static int keep(const struct enter_options *o, struct page_desk *d, struct entry *entry,
                const char *echo)
{
	struct buf out = BUF_INIT;
	struct err err;

	entry->utc_s = o->utc_s;
	if (logbook_append(d->book, entry, true, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	if (echo[0])
		buf_addf(&out, "%s\n", echo);
	int status = output_flush(&out);
	buf_release(&out);
	return status;
}

static int keep_note(const struct enter_options *o, struct page_desk *d)
{
	struct entry_draft draft;

	entry_draft_init(&draft, ENTRY_NOTE);
	if (strcasecmp(o->page, "job") != 0) {
		const struct page_ops *page = page_of(o->page);
		if (!page)
			return EXIT_USAGE;
		snprintf(draft.subject, sizeof draft.subject, "%s", page->word);
	}
	snprintf(draft.note, sizeof draft.note, "%.500s", o->line + 1);
	return keep(o, d, &draft.entry, "noted");
}

static int enter_job(const struct enter_options *o, struct page_desk *d)
{
	char echo[PAGE_ECHO_MAX] = "";
	struct entry_draft draft;
	int target;

	switch (overview_enter(&d->desk, o->line, &draft, &target, echo)) {
	case OVERVIEW_KEEPS:
		return keep(o, d, &draft.entry, echo);
	case OVERVIEW_OPENS:
	case OVERVIEW_WRONG:
		break;
	}
	complain("enter: %s", echo[0] ? echo : "only `mended`, an override or a note is kept there");
	return EXIT_USAGE;
}

static int enter_page(const struct enter_options *o, struct page_desk *d)
{
	const struct page_ops *page = page_of(o->page);
	struct sheet *sheet = calloc(1, sizeof *sheet);
	char echo[PAGE_ECHO_MAX] = "";
	struct entry_draft draft;
	void *self = NULL;
	int row = 0, status = EXIT_USAGE;

	if (!page || !sheet || (page->open && !(self = page->open(&d->desk)))) {
		if (page)
			complain("out of memory");
		goto out;
	}
	d->desk.utc_s = o->utc_s;
	sheet->in_hand = sheet->verdict_column = -1;
	page->fill(self, &d->desk, &row, sheet);
	sheet->in_hand = row;
	row = find_row(sheet, o->row);
	if (row < 0)
		goto out;
	switch (page->enter(self, &d->desk, row, o->line, &draft, echo)) {
	case PAGE_TAKEN:
	case PAGE_STAY:
		status = keep(o, d, &draft.entry, echo);
		break;
	case PAGE_ASK:
		if (o->yes) {
			status = keep(o, d, &draft.entry, "believed");
		} else {
			complain("enter: %s (--yes believes it)", echo);
			status = ENTER_ASKED;
		}
		break;
	case PAGE_DONE_HERE:
		complain("enter: understood, but nothing to keep: %s", echo);
		break;
	case PAGE_WRONG:
		complain("enter: %s", echo);
		break;
	}
out:
	if (page && page->close && self)
		page->close(self);
	free(sheet);
	return status;
}

/* How the power-up of a record ended, judged as it was then.  0, or -1 after complaints. */
static int play_record(struct record *record, struct live_end *end, double *ret_seconds)
{
	struct loaded_unit unit;
	struct player player = {0};
	struct err err;
	double full_line_s = (double)NAN;
	int status = -1;

	*end = (struct live_end){"left", (double)NAN, (double)NAN};
	*ret_seconds = 0;
	if (unit_load_record(&unit, record, NULL) != 0)
		return -1;
	struct run_unit judged = {unit.network, unit.plan, &unit.rule, &unit.accuracy};
	if (player_init(&player, record, &judged, &err) == 0) {
		status = 0;
		for (size_t i = 0; status == 0 && i < record_n_events(record); i++) {
			enum verdict then;
			struct event ev;
			status = player_step(&player, &ev, &then, &err);
			if (status == 0) {
				live_end_follow(end, player.session, &full_line_s);
				*ret_seconds = ev.seconds;
			}
		}
	}
	if (status != 0)
		complain("%s", err.text);
	player_release(&player);
	unit_release(&unit);
	return status;
}

static int enter_power(const struct enter_options *o, struct page_desk *d)
{
	struct record *record;
	struct live_end end;
	struct err err;
	double seconds;

	if (record_open(o->line, &record, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	int status = play_record(record, &end, &seconds);
	if (status == 0) {
		const struct record_head *head = record_head(record);
		bool invented = false;
		for (size_t i = 0; !invented && i < record_n_events(record); i++) {
			struct event ev;
			i = record_next(record, i, EVENT_READING);
			invented = i < record_n_events(record) &&
				record_event(record, i, &ev, &err) == 0 &&
				strcmp(ev.note, "virtual bench") == 0;
		}
		status = book_keep_power(d->book, o->line, &end, invented,
			o->at_told ? o->utc_s : (double)head->started_s + seconds);
	}
	record_close(record);
	return status == 0 ? EXIT_DONE : EXIT_USAGE;
}

/* On the power phase a line is a record's path, or says what its abort was. */
static bool is_mended(const char *line)
{
	return strncasecmp(line, "mended", 6) == 0 && strchr(" :,", line[6]);
}

static int take_time(const char *option, const char *text, void *into)
{
	struct enter_options *o = into;
	int64_t whole;
	size_t n = strlen(text);

	o->at_told = true;
	if (logbook_stamp_parse(text, n, &o->utc_s) == 0)
		return 0;
	if (record_stamp_parse(text, n, &whole) != 0) {
		complain("%s: as 2026-03-01T18:02:11Z, in UTC, please", option);
		return -1;
	}
	o->utc_s = (double)whole;
	return 0;
}

int cmd_enter(int argc, char **argv)
{
	struct enter_options o = {.utc_s = job_utc_s()};
	const struct option_row rows[] = {
		{"UNIT", NULL, NULL, NULL, "a label, or the path of a unit's file"},
		{"PAGE", NULL, NULL, NULL,
		 "look, tubes, ohms, capacitors, calibrate, nulls, compare; job, for `override KEY "
		 "reason`; or power, LINE being `mended` and what an abort or a stop was found to "
		 "be and what was done, or the path of the record of a power-up that was made "
		 "without this file"},
		{"ROW", NULL, NULL, NULL, "the row that the line is about; - for none"},
		{"LINE", NULL, NULL, NULL,
		 "what would be typed: ok, good 85 %, 21.4, 450V 0.2mA; \"words is a note"},
		{"profile", "FILE", take_word, &o.profile,
		 "the unit's profile: begins its file, or goes on with a new profile"},
		{"at", "UTC", take_time, &o,
		 "when it was so, as 2026-03-01T18:02:11Z; without it: now"},
		{"yes", NULL, take_flag, &o.yes, "believe a line that would be asked about"},
	};
	const struct command_usage usage = {
		.synopsis = "enter [OPTION]... UNIT PAGE ROW LINE",
		.about = "Keeps a line in a unit's file, as if it had been typed on a page of its "
			"job: the same words, the same questions. `mainstair job UNIT PAGE` lists "
			"the rows; what stands in a row's first column names it, or any part of it "
			"that only one row has.",
		.after = "Exit status: 0 kept, 1 not kept: it is asked about (--yes believes it), "
			"2 bad usage or input.",
		.rows = rows, .n_rows = sizeof rows / sizeof rows[0],
		.least = 4, .most = 4, .wanted = "UNIT PAGE ROW LINE, please, the line in quotes",
		.options_first = true,
	};
	char **operands;
	int status = options_read(&usage, argc, argv, &operands);

	if (status != OPTIONS_READ)
		return status;
	o.unit = operands[0];
	o.page = operands[1];
	o.row = operands[2];
	o.line = operands[3];

	if (strcasecmp(o.page, "power") != 0 && check_line(o.line) != 0)
		return EXIT_USAGE;

	struct page_desk *d = o.profile ? page_desk_begin(o.unit, o.profile, o.utc_s)
	                                : page_desk_open(o.unit, LOGBOOK_TO_ADD);
	if (!d)
		return EXIT_USAGE;
	const bool is_power = strcasecmp(o.page, "power") == 0;
	status = o.line[0] == '"' ? keep_note(&o, d)
		: strcasecmp(o.page, "job") == 0 ? enter_job(&o, d)
		: is_power && !is_mended(o.line) ? enter_power(&o, d)
		: is_power ? enter_job(&o, d) : enter_page(&o, d);
	page_desk_close(d);
	return status;
}
