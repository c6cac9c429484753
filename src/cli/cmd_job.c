/* mainstair job UNIT [PAGE] - how far the job has come, or one of its pages, without a terminal */
#include "cli/commands.h"

#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>

#include "app/job_loop.h"
#include "app/page/overview.h"
#include "cli/options.h"
#include "cli/output.h"
#include "cli/page_desk.h"
#include "mainstair/base/text.h"
#include "report/escape.h"

enum { JOB_BLOCKED = 1 };

/* --- the units ------------------------------------------------------------------------------ */

static int list_units(void)
{
	char folder[PATH_MAX], shown[300];
	struct buf out = BUF_INIT;
	struct dirent **found = NULL;
	struct err err;

	if (logbook_path_of("x", false, folder, sizeof folder, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	*strrchr(folder, '/') = '\0';
	int n = scandir(folder, &found, NULL, alphasort);
	if (n < 0 && errno != ENOENT) {
		(void)text_show(shown, sizeof shown, folder, strlen(folder));
		complain("%s: %s", shown, strerror(errno));
		return EXIT_USAGE;
	}
	for (int i = 0; i < n; i++) {
		size_t length = strlen(found[i]->d_name);
		if (length > 5 && strcmp(found[i]->d_name + length - 5, ".unit") == 0) {
			(void)text_show(shown, sizeof shown, found[i]->d_name, length - 5);
			buf_addf(&out, "%s\n", shown);
		}
		free(found[i]);
	}
	free(found);
	int status = output_flush(&out);
	buf_release(&out);
	return status;
}

/* --- a sheet as text ------------------------------------------------------------------------ */

static void put_cell(struct buf *out, enum output_format format, int column, const char *text)
{
	char shown[4 * SHEET_CELL_MAX];

	(void)text_show(shown, sizeof shown, text, strlen(text));
	if (format == OUTPUT_CSV) {
		if (column > 0)
			buf_addc(out, ',');
		csv_cell(out, shown);
	} else {
		buf_addf(out, "%s\t", shown);
	}
}

/* A cell of a column of words may hold somebody's own, which no spreadsheet shall calculate; where
 * there are none yet stands a dash. */
static void put_words(struct buf *out, enum output_format format, int column, const char *text)
{
	if (format != OUTPUT_CSV || strcmp(text, "-") == 0) {
		put_cell(out, format, column, text);
		return;
	}
	if (column > 0)
		buf_addc(out, ',');
	escape_csv(out, text, strlen(text));
}

static void put_sheet(const struct sheet *s, enum output_format format, struct buf *out)
{
	struct buf rows = BUF_INIT;
	char sides[SHEET_COLUMNS_MAX + 1] = "";

	for (int k = 0; k < s->n_columns; k++) {
		put_cell(&rows, format, k, s->column[k].title);
		sides[k] = s->column[k].right ? 'r' : 'l';
	}
	buf_addc(&rows, '\n');
	for (int i = 0; i < s->n_rows; i++) {
		for (int k = 0; k < s->n_columns; k++)
			(s->column[k].right ? put_cell : put_words)(&rows, format, k,
			                                            s->row[i].cell[k]);
		buf_addc(&rows, '\n');
	}
	if (format == OUTPUT_CSV)
		buf_add(out, rows.data, rows.len);
	else
		align_columns(out, &rows, sides);
	out->failed |= rows.failed;
	buf_release(&rows);
}

static void put_details(const struct sheet *s, struct buf *out)
{
	char shown[4 * SHEET_DETAIL_MAX];

	(void)text_show(shown, sizeof shown, s->instruction, strlen(s->instruction));
	buf_addf(out, "%s\n", shown);
	for (int i = 0; i < s->n_details; i++) {
		(void)text_show(shown, sizeof shown, s->detail[i].text, strlen(s->detail[i].text));
		buf_addf(out, "%s\n", shown);
	}
}

static int print_page(struct page_desk *d, const char *word, enum output_format format)
{
	struct sheet *s = calloc(1, sizeof *s);
	struct buf out = BUF_INIT;
	int status = EXIT_USAGE;

	if (!s) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	s->verdict_column = s->in_hand = -1;
	if (!word)
		overview_fill(&d->desk, -1, s);
	else if (page_desk_fill(d, word, s) != 0)
		goto out;
	put_sheet(s, format, &out);
	if (!word && format == OUTPUT_TABLE)
		put_details(s, &out);
	status = output_flush(&out);
	if (status == EXIT_DONE && (d->job.n_standing > 0 || d->job.cut))
		status = JOB_BLOCKED;
out:
	buf_release(&out);
	free(s);
	return status;
}

int cmd_job(int argc, char **argv)
{
	enum output_format format = OUTPUT_TABLE;
	const struct option_row rows[] = {
		{ "UNIT", NULL, NULL, NULL,
		  "a label, or the path of a unit's file (see mainstair run --unit)" },
		{ "format", "FORMAT", take_format, &format, "table (the default) or csv" },
	};
	const struct command_usage usage = {
		.synopsis = "job [OPTION]... [UNIT [PAGE]]",
		.about = "How far the job on a unit has come: its phases, what is next, what "
			"blocks power. With PAGE the list of that page: look, tubes, ohms, "
			"capacitors, calibrate, nulls, compare. Without UNIT: the labels of the "
			"units that have a file.",
		.after = "Exit status: 0 nothing that was entered blocks power, 1 something does, "
			"2 bad usage or input.",
		.rows = rows, .n_rows = sizeof rows / sizeof rows[0],
		.least = 0, .most = 2, .wanted = "at most a UNIT and a PAGE, please",
	};
	char **operands;
	int status = options_read(&usage, argc, argv, &operands);

	if (status != OPTIONS_READ)
		return status;
	if (!operands[0])
		return list_units();

	struct page_desk *d = page_desk_open(operands[0], LOGBOOK_TO_READ);
	if (!d)
		return EXIT_USAGE;
	status = print_page(d, operands[1], format);
	page_desk_close(d);
	return status;
}
