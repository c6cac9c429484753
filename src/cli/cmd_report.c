/* mainstair report UNIT - one report of a unit: a page, a text, or tables */
#include "cli/commands.h"

#include <limits.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <time.h>

#include "cli/options.h"
#include "cli/output.h"
#include "cli/report_gather.h"
#include "io/write_file.h"
#include "mainstair/proto/record_text.h"
#include "report/csv.h"
#include "report/html.h"
#include "report/plain.h"

enum report_format { REPORT_UNSAID, REPORT_HTML, REPORT_TEXT, REPORT_CSV };

struct wish {
	const char *what, *output, *table, *profile;
	enum report_format format;
	double at_s;
	bool force;
};

/* --- options ---------------------------------------------------------------------------------- */

static int take_report_format(const char *option, const char *text, void *into)
{
	static const char *const words[] = {"html", "text", "csv"};

	for (int i = 0; i < 3; i++)
		if (strcmp(text, words[i]) == 0) {
			*(enum report_format *)into = (enum report_format)(REPORT_HTML + i);
			return 0;
		}
	complain("%s %.40s: it is html, text or csv", option, text);
	return -1;
}

static int take_time(const char *option, const char *text, void *into)
{
	int64_t at_s;

	if (record_stamp_parse(text, strlen(text), &at_s) != 0 || at_s < 0) {
		complain("%s: a time since 1970, please, like 2026-03-01T18:02:11Z", option);
		return -1;
	}
	*(double *)into = (double)at_s;
	return 0;
}

/* By the end of the output's name, when --format did not say. */
static enum report_format format_by_name(const struct wish *w)
{
	const char *dot = w->output ? strrchr(w->output, '.') : NULL;

	if (w->table || (dot && strcasecmp(dot, ".csv") == 0))
		return REPORT_CSV;
	if (dot && (strcasecmp(dot, ".txt") == 0 || strcasecmp(dot, ".text") == 0))
		return REPORT_TEXT;
	return REPORT_HTML;
}

/* OPTIONS_READ, or the exit status. */
static int read_options(int argc, char **argv, struct wish *w)
{
	const struct option_row rows[] = {
	        {"UNIT", NULL, NULL, NULL,
	         "a label, or the path of a unit's file; or the path of a record: then the report "
	         "is of that one power-up"},
	        {"o,output", "FILE", take_word, &w->output,
	         "write it there; without it to standard output"},
	        {"format", "FORMAT", take_report_format, &w->format,
	         "html (the default): one page that needs nothing else, to read, print or send; "
	         "text; csv. Without --format the end of FILE's name decides"},
	        {"table", "NAME", take_word, &w->table,
	         "csv: only that table. Without it all of them as one list of values, a line each; "
	         "or, with -o and the name of a folder (it is there, or ends in /), each table as "
	         "a file of its own in it"},
	        {"profile", "FILE", take_word, &w->profile,
	         "judge the power-ups by this profile instead of those in their records"},
	        {"at", "UTC", take_time, &w->at_s,
	         "when it was made, as 2026-03-01T18:02:11Z; without it: now"},
	        {"force", NULL, take_flag, &w->force, "replace a file that is there"},
	};
	const struct command_usage usage = {
	        .synopsis = "report [OPTION]... UNIT",
	        .about = "One report of a unit, from the first look to the last comparison: what "
			"was found, read and plotted, and what was not checked.",
	        .after = "CSV is comma-separated (RFC 4180), UTF-8, with a point in numbers and "
			"the unit in the header; text that a spreadsheet would take for a formula "
			"begins with an apostrophe.\n"
			"Exit status: 0, 2 bad usage or input, or it could not be written.",
	        .rows = rows, .n_rows = sizeof rows / sizeof rows[0],
	        .least = 1, .most = 1, .wanted = "one UNIT, please",
	};
	char **operands;

	*w = (struct wish){.at_s = (double)time(NULL)};
	const int status = options_read(&usage, argc, argv, &operands);
	if (status != OPTIONS_READ)
		return status;
	w->what = operands[0];
	if (w->format == REPORT_UNSAID)
		w->format = format_by_name(w);
	if (w->table && w->format != REPORT_CSV) {
		complain("report: --table belongs to --format csv");
		return EXIT_USAGE;
	}
	return OPTIONS_READ;
}

/* --- writing ---------------------------------------------------------------------------------- */

/* To the file that was asked for, or to standard output. */
static int put(const struct wish *w, const char *path, const struct buf *out)
{
	struct err err;

	if (out->failed) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	if (!path)
		return output_flush(out);
	if (write_file(path, out->data, out->len, w->force, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	return EXIT_DONE;
}

static void complain_of_table(const struct document *d, const char *name)
{
	struct buf names = BUF_INIT;

	for (size_t i = 0; i < d->n_tables; i++)
		buf_addf(&names, "%s%s", i > 0 ? ", " : "", d->table[i].name);
	complain("--table: no table %.40s; there are %s", name, names.data);
	buf_release(&names);
}

/* A file for each table; all names are looked at before the first is written. */
static int put_tables(const struct wish *w, const struct document *d)
{
	char path[PATH_MAX];
	struct err err;

	if (write_file_folder(w->output, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	for (int writing = 0; writing < 2; writing++)
		for (size_t i = 0; i < d->n_tables; i++) {
			struct buf out = BUF_INIT;
			int status;

			if ((size_t)snprintf(path, sizeof path, "%s/%s.csv", w->output,
			                     d->table[i].name) >= sizeof path) {
				complain("report: the folder's name is too long");
				return EXIT_USAGE;
			}
			if (!writing) {
				if (write_file_check(path, w->force, &err) == 0)
					continue;
				complain("%s", err.text);
				return EXIT_USAGE;
			}
			csv_write(&out, d, &d->table[i]);
			status = put(w, path, &out);
			buf_release(&out);
			if (status != EXIT_DONE)
				return status;
		}
	return EXIT_DONE;
}

static bool is_folder(const char *path)
{
	const size_t n = strlen(path);
	struct stat st;

	return (n > 0 && path[n - 1] == '/') || (stat(path, &st) == 0 && S_ISDIR(st.st_mode));
}

static int write_report(const struct wish *w, const struct document *d)
{
	const struct doc_table *table = NULL;
	struct buf out = BUF_INIT;
	int status;

	if (w->table && !(table = csv_find(d, w->table))) {
		complain_of_table(d, w->table);
		return EXIT_USAGE;
	}
	if (w->format == REPORT_CSV && !table && w->output && is_folder(w->output))
		return put_tables(w, d);
	if (w->format == REPORT_TEXT)
		plain_write(&out, d);
	else if (w->format == REPORT_HTML)
		html_write(&out, d);
	else if (table)
		csv_write(&out, d, table);
	else
		csv_write_all(&out, d);
	status = put(w, w->output, &out);
	buf_release(&out);
	return status;
}

int cmd_report(int argc, char **argv)
{
	struct report_gather gathered;
	struct document document;
	struct wish wish;
	struct err err;
	int status = read_options(argc, argv, &wish);

	if (status != OPTIONS_READ)
		return status;
	status = EXIT_USAGE;
	/* before the work, not after it */
	if (wish.output && is_folder(wish.output) &&
	    (wish.format != REPORT_CSV || wish.table)) {
		complain(wish.table ? "%.200s is a folder: for --table NAME, please name a file"
		                    : "%.200s is a folder: that is for --format csv, which writes "
		                      "each table into it; otherwise name a file",
		         wish.output);
		return EXIT_USAGE;
	}
	if (wish.output && !is_folder(wish.output) &&
	    write_file_check(wish.output, wish.force, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	if (report_gather(&gathered, wish.what, wish.profile) != 0)
		return EXIT_USAGE;
	gathered.data.made_s = wish.at_s;
	gathered.data.program = "mainstair " MAINSTAIR_VERSION;
	document_init(&document);
	if (report_build(&document, &gathered.data) != 0)
		complain("out of memory");
	else
		status = write_report(&wish, &document);
	document_release(&document);
	report_gather_release(&gathered);
	return status;
}
