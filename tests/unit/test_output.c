/* cli/output.h and cli/volts_list.h: what the commands print and read by the same rules. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "cli/output.h"
#include "cli/volts_list.h"

TestSuite(output, .timeout = 20);

static void aligned(const char *tabbed, const char *sides, const char *expected)
{
	struct buf in = BUF_INIT, out = BUF_INIT;

	buf_adds(&in, tabbed);
	align_columns(&out, &in, sides);
	cr_assert(strcmp(out.data, expected) == 0, "got:\n%s", out.data);
	buf_release(&in);
	buf_release(&out);
}

Test(output, columns)
{
	aligned("", "l", "");
	aligned("a\n", "l", "a\n");
	aligned("TYPE\tV\nX\t12\nLonger\t3\n", "lr", "TYPE     V\nX       12\nLonger   3\n");
	/* empty cells, and none at the end of a line */
	aligned("a\t\tc\n\tb\t\n", "lll", "a     c\n   b\n");
	/* characters are counted, not bytes */
	aligned("\xce\xa9\tx\nab\ty\n", "ll", "\xce\xa9   x\nab  y\n");
	/* a line without an end, and rows of different lengths */
	aligned("a\tb\nlong", "ll", "a     b\nlong\n");
}

Test(output, csv_cells)
{
	struct buf out = BUF_INIT;

	csv_cell(&out, "plain");
	buf_addc(&out, '|');
	csv_cell(&out, "a,b");
	buf_addc(&out, '|');
	csv_cell(&out, "say \"x\"");
	buf_addc(&out, '|');
	csv_cell(&out, "");
	cr_assert(strcmp(out.data, "plain|\"a,b\"|\"say \"\"x\"\"\"|") == 0, "%s", out.data);
	buf_release(&out);
}

Test(output, numbers)
{
	static const struct { double value; int decimals; const char *text; } rows[] = {
		{ 5.0, 3, "5" }, { 12.6, 3, "12.6" }, { 0.0, 2, "0" }, { 100.0, 0, "100" },
		{ 0.15, 4, "0.15" }, { -0.04, 1, "0" }, { 0.333333, 2, "0.33" }, { 1e3, 3, "1000" },
		{ (double)NAN, 3, "" },
	};
	struct buf out = BUF_INIT;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		buf_clear(&out);
		add_number(&out, rows[i].value, rows[i].decimals);
		cr_assert(strcmp(out.data, rows[i].text) == 0, "%zu: %s", i, out.data);
	}
	buf_release(&out);
}

Test(output, volts_in_lists_and_ranges)
{
	static const struct { const char *text; size_t n; double first, last; } rows[] = {
		{ "50", 1, 50, 50 }, { "117,50", 2, 117, 50 }, { "10:50:10", 5, 10, 50 },
		{ "10:25:10", 2, 10, 20 }, { "0:1:0.1", 11, 0, 1 }, { "5:5:1", 1, 5, 5 },
		{ "1,10:20:5,3", 5, 1, 3 }, { "0.5 V, 1 V", 2, 0.5, 1 }, { "0", 1, 0, 0 },
		{ "0:100:0.02", 5001, 0, 100 },
	};
	struct volts_list list;
	struct err err;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		cr_assert(volts_list_parse(&list, rows[i].text, 150.0, &err) == 0, "%s: %s",
		          rows[i].text, err.text);
		cr_assert(list.n == rows[i].n, "%s: %zu", rows[i].text, list.n);
		cr_assert(fabs(list.volts[0] - rows[i].first) < 1e-9);
		cr_assert(fabs(list.volts[list.n - 1] - rows[i].last) < 1e-9);
		volts_list_release(&list);
	}
}

Test(output, volts_that_are_none)
{
	static const char *const bad[] = {
		"", ",", "1,", ",1", "a", "1:2", "1:2:", "1:2:0", "1:2:-1", "2:1:1", "1:2:3:4",
		"-1", "151", "0:151:1", "nan", "inf", "1 A", "1e999", "0:150:1e-6", "0:150:1e-300", ":::",
	};
	struct volts_list list;
	struct err err;

	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		cr_assert(volts_list_parse(&list, bad[i], 150.0, &err) == -1, "%s", bad[i]);
		cr_assert(err.text[0] && !strchr(err.text, '\n'));
		cr_assert(list.volts == NULL);
	}
}
