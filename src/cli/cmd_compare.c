/* mainstair compare A B - two units, two power-ups or two lists of values side by side */
#include "cli/commands.h"

#include <math.h>
#include <string.h>

#include "cli/compare_gather.h"
#include "cli/options.h"
#include "cli/output.h"
#include "mainstair/base/text.h"
#include "report/escape.h"

enum { EXIT_DIFFER = 1, EXIT_CANNOT_TELL = 4, CELL_MAX = 64 };

static enum unit apart(enum unit unit)
{
	return unit == UNIT_DBM ? UNIT_DECIBEL : unit;
}

static const char *verdict_of(const struct compare_row *row)
{
	return row->shown_only ? "not judged" : compare_verdict_word(row->result.verdict);
}

static const char *why_of(const struct compare_row *row)
{
	return row->shown_only ? "where a control stands is each unit's own"
	                       : compare_why_text(row->result.why);
}

/* --- the table -------------------------------------------------------------------------------- */

static void cell(struct buf *out, double value, enum unit unit, int digits)
{
	char text[CELL_MAX] = "-";

	if (isfinite(value))
		(void)num_print_unit(text, sizeof text, value, unit, digits);
	buf_addf(out, "%s\t", text);
}

static const char *print_en(char dst[CELL_MAX], double en)
{
	(void)num_print(dst, CELL_MAX, en, 2);
	return dst;
}

static void print_table(struct buf *out, const struct compare_rows *rows, const int *count)
{
	struct buf tabbed = BUF_INIT;
	char name[2 * COMPARE_NAME_MAX], en[CELL_MAX];

	buf_addf(out, "A: %s\nB: %s\n", rows->a_is, rows->b_is);
	buf_adds(&tabbed, "QUANTITY\tA\t+/-\tB\t+/-\tA - B\t+/-\tE_n\tVERDICT\t\n");
	for (size_t i = 0; i < rows->n; i++) {
		const struct compare_row *row = &rows->list[i];
		const struct compare_result *r = &row->result;

		(void)text_show(name, sizeof name, row->name, strlen(row->name));
		buf_addf(&tabbed, "%s\t", name);
		cell(&tabbed, row->a, row->unit, 4);
		cell(&tabbed, row->ua, apart(row->unit), 2);
		cell(&tabbed, row->b, row->unit, 4);
		cell(&tabbed, row->ub, apart(row->unit), 2);
		cell(&tabbed, r->difference, apart(row->unit), 3);
		cell(&tabbed, r->expanded, apart(row->unit), 2);
		if (isnan(r->en))
			buf_adds(&tabbed, "-\t");
		else
			buf_addf(&tabbed, "%s\t", print_en(en, r->en));
		buf_addf(&tabbed, "%s%s%s\t\n", verdict_of(row), why_of(row)[0] ? ": " : "",
		         why_of(row));
	}
	align_columns(out, &tabbed, "lrrrrrrrl");
	buf_addf(out, "%d agree, %d differ, %d cannot be told.\n", count[COMPARE_AGREE],
	         count[COMPARE_DIFFER], count[COMPARE_CANNOT_TELL]);
	out->failed |= tabbed.failed;
	buf_release(&tabbed);
}

/* --- csv -------------------------------------------------------------------------------------- */

/* Significant digits whatever the size; nothing for what is not told. */
static void csv_number(struct buf *out, double value)
{
	char text[CELL_MAX];

	buf_addc(out, ',');
	if (isfinite(value)) {
		(void)num_print_unit(text, sizeof text, value, UNIT_NONE, 9);
		buf_adds(out, text);
	}
}

static void print_csv(struct buf *out, const struct compare_rows *rows)
{
	buf_adds(out, "quantity,unit,a,a_uncertainty,b,b_uncertainty,difference,"
	              "difference_uncertainty,e_n,verdict,why\n");
	for (size_t i = 0; i < rows->n; i++) {
		const struct compare_row *row = &rows->list[i];
		const struct compare_result *r = &row->result;
		const double numbers[] = {row->a,        row->ua,     row->b, row->ub,
		                          r->difference, r->expanded, r->en};
		const double scale = row->unit == UNIT_PERCENT ? 100 : 1;

		escape_csv(out, row->name, strlen(row->name));
		buf_addf(out, ",%s", unit_symbol(row->unit));
		for (size_t k = 0; k < sizeof numbers / sizeof numbers[0]; k++)
			csv_number(out,
			           numbers[k] * (k + 1 < sizeof numbers / sizeof numbers[0] ? scale
			                                                                    : 1));
		buf_addf(out, ",%s,", verdict_of(row));
		csv_cell(out, why_of(row));
		buf_addc(out, '\n');
	}
}

/* --- the command ------------------------------------------------------------------------------ */

static int compare(const char *a, const char *b, const struct compare_wish *wish,
                   enum output_format format)
{
	struct compare_rows rows;
	struct buf out = BUF_INIT;
	int count[COMPARE_DIFFER + 1] = {0}, status;

	if (compare_gather(&rows, a, b, wish) != 0)
		return EXIT_USAGE;
	for (size_t i = 0; i < rows.n; i++)
		count[rows.list[i].result.verdict] += !rows.list[i].shown_only;
	if (format == OUTPUT_CSV)
		print_csv(&out, &rows);
	else
		print_table(&out, &rows, count);
	status = output_flush(&out);
	if (status == EXIT_DONE && count[COMPARE_DIFFER] > 0)
		status = EXIT_DIFFER;
	else if (status == EXIT_DONE && count[COMPARE_CANNOT_TELL] > 0)
		status = EXIT_CANNOT_TELL;
	buf_release(&out);
	compare_rows_release(&rows);
	return status;
}

int cmd_compare(int argc, char **argv)
{
	enum output_format format = OUTPUT_TABLE;
	struct compare_wish wish = {.matters = compare_matters_share, .ohms = NAN, .nulls = NAN};
	struct option_number matters = {&wish.matters, UNIT_PERCENT, 0, 1, .above = true};
	struct option_number ohms = {&wish.ohms, UNIT_PERCENT, 0, 1, .above = true};
	struct option_number nulls = {&wish.nulls, UNIT_PERCENT, 0, 1, .above = true};
	const struct option_row rows[] = {
	        {"A, B", NULL, NULL, NULL,
	         "two of a kind: records of a power-up (settled watts at each stage of A); "
	         "units, by label or file (what their calibration came to, the lowest readings"
	         " of their nulls and where the controls stood, the power-up that is "
	         "recorded); or lists of values (CSV; - reads standard input) with the columns"
	         " quantity, value and uncertainty: 1.02 V, 2 % or 0.02 V, expanded (k = 2)"},
	        {"matters", "SHARE", take_number, &matters,
	         "a difference that matters, where no tolerance says it (10 %). Where a difference "
	         "as large would not show, it cannot be told"},
	        {"ohms", "SHARE", take_number, &ohms,
	         "of two units: compare their ohms too; accuracy of the multimeter, as 1 %"},
	        {"nulls", "SHARE", take_number, &nulls,
	         "of two units: how well what their nulls were read by is known, as 3 %; without it "
	         "the lowest readings stand side by side, and cannot be told apart"},
	        {"format", "FORMAT", take_format, &format, "table (the default) or csv"},
	};
	const struct command_usage usage = {
	        .synopsis = "compare [OPTION]... A B",
	        .about = "Lays B, a known-good unit or an earlier time, beside A, on the same "
			"signal: differences against the combined uncertainty, in the words agree, "
			"differ and cannot tell.",
	        .after = "They agree when the difference is at most the root of the sum of the "
			"squares of both expanded uncertainties (E_n at most 1); meters' errors "
			"are taken from the records.\n"
			"Exit status: 0 all agree, 1 something differs, 4 nothing differs, but "
	                 "something cannot be told, 2 bad usage or input.",
	        .rows = rows, .n_rows = sizeof rows / sizeof rows[0],
	        .least = 2, .most = 2, .wanted = "A and B, please",
	};
	char **operands;
	const int status = options_read(&usage, argc, argv, &operands);

	return status != OPTIONS_READ
	               ? status
	               : compare(operands[0], operands[1], &wish, format);
}
