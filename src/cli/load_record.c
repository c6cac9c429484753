#include "cli/load_record.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cli/output.h"
#include "io/bench_ini.h"

/* Was a number measured on the unit after the run had begun to judge? */
static bool measured_later(const struct record *record)
{
	size_t first = record_next(record, 0, EVENT_READING);
	return record_next(record, first, EVENT_MEASURED) < record_n_events(record);
}

void record_remark(const struct record *record, char *ret, size_t size)
{
	const struct record_faults *f = record_faults(record);
	const struct record_head *head = record_head(record);
	struct buf all = BUF_INIT;

	if (measured_later(record))
		buf_adds(&all, "numbers measured during the run count here from its start; ");
	if (f->torn_bytes > 0)
		buf_adds(&all, "the last line is torn and was passed over; ");
	if (f->garbled > 0)
		buf_addf(&all, "%zu garbled lines were passed over, the first at line %zu; ",
			f->garbled, f->first_garbled_line);
	if (f->unknown > 0)
		buf_addf(&all, "%zu events of a newer program were passed over; ", f->unknown);
	if (f->backwards > 0)
		buf_addf(&all, "%zu events stand earlier than the one before; ", f->backwards);
	if (f->still_open)
		buf_adds(&all, "it is still being written; ");
	if (head->damaged || head->profile.damaged)
		buf_adds(&all, "its head does not agree with its check sum; ");
	if (all.len >= 2)
		buf_cut(&all, all.len - 2);
	snprintf(ret, size, "%s", all.data);
	buf_release(&all);
}

/* What the run knew beside the profile: its bench (the meter's accuracy, the line) and what had
 * been measured on the unit.  0, or -1 after a complaint. */
static int as_it_was(struct record *record, struct loaded_unit *u, double *ret_line_volts)
{
	const struct record_block *text = &record_head(record)->bench;
	struct bench_setup bench;
	struct complaints c;
	struct event ev;
	struct err err;

	complaints_init(&c, "the record's bench");
	bench_clear(&bench);
	const bool read = text->len == 0 || bench_parse_text(text->text, text->len, &bench, &c) == 0;
	complain_all(&c);
	complaints_release(&c);
	if (!read)
		return -1;
	unit_on_bench(u, &bench);
	*ret_line_volts = isfinite(bench.line_volts) ? bench.line_volts : 0;
	for (size_t i = record_next(record, 0, EVENT_MEASURED); i < record_n_events(record);
	     i = record_next(record, i + 1, EVENT_MEASURED)) {
		if (record_event(record, i, &ev, &err) != 0) {
			complain("%s", err.text);
			return -1;
		}
		/* under another profile a part may be missing: told, and passed over */
		(void)unit_measure(u, ev.note);
	}
	return 0;
}

int unit_load_record(struct loaded_unit *ret, struct record *record, const char *profile)
{
	const struct record_block *embedded = &record_head(record)->profile;
	double line_volts = 0;

	if ((profile ? unit_load(ret, profile)
	             : unit_load_text(ret, embedded->name, embedded->text, embedded->len)) != 0)
		return -1;
	if (as_it_was(record, ret, &line_volts) == 0 && unit_plan(ret, line_volts) == 0)
		return 0;
	unit_release(ret);
	return -1;
}

static const char *base_name(const char *path)
{
	const char *slash = strrchr(path, '/');

	return slash ? slash + 1 : path;
}

void record_find(const struct logbook *book, const struct entry *entry, char *ret, size_t size)
{
	const char *beside = logbook_path(book), *slash = strrchr(beside, '/');

	(void)snprintf(ret, size, "%s", entry->subject);
	if (access(ret, F_OK) != 0)
		(void)snprintf(ret, size, "%.*s%s", slash ? (int)(slash - beside) + 1 : 0, beside,
		               base_name(entry->subject));
	if (access(ret, F_OK) != 0)
		(void)snprintf(ret, size, "%s", entry->subject);
}
