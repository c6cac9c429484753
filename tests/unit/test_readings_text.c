/* Lists of readings: RFC 4180 (2005), and what spreadsheets and loggers make of it. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "mainstair/proto/readings_text.h"

TestSuite(readings_text, .timeout = 10);

static struct readings parsed(const char *text)
{
	struct buf said = BUF_INIT;
	struct complaints c;
	struct readings r;
	int status;

	complaints_init(&c, "r.csv");
	status = readings_parse(text, strlen(text), &r, &c);
	complaints_print(&c, &said);
	cr_assert_eq(status, 0, "%s", said.data);
	buf_release(&said);
	complaints_release(&c);
	return r;
}

Test(readings_text, columns_in_any_order)
{
	struct readings r = parsed("seconds,watts,comment,line_volts,amps,rail_main_volts\n"
				   "0,5.2,,50,0.12,210\n60,28,x,117,,\n");
	char rail[8];

	cr_assert_eq(r.n_rows, 2);
	cr_assert_float_eq(r.rows[0].volts, 50, 0);
	cr_assert_float_eq(r.rows[0].watts, 5.2, 0);
	cr_assert_float_eq(r.rows[0].amps, 0.12, 0);
	cr_assert(isnan(r.rows[1].amps));
	cr_assert_float_eq(r.rows[1].seconds, 60, 0);
	cr_assert_eq(r.rows[1].line, 3);
	cr_assert_eq(r.column[2], READINGS_OTHER);
	cr_assert_eq(r.column[5], READINGS_RAIL);
	readings_rail_name(&r, 5, rail, sizeof rail);
	cr_assert_str_eq(rail, "main");
	readings_release(&r);
}

Test(readings_text, a_row_is_carried_along_as_it_stands)
{
	struct readings r =
		parsed("\xef\xbb\xbf\r\n\"line_volts\", watts ,\"say \"\"hm\"\", twice\"\r\n"
		       "\r\n \"50\" , 5.2 W ,\"a\nb, c\"\r\n  \t\n117,28,");

	cr_assert_str_eq(r.name[0], "line_volts");
	cr_assert_str_eq(r.name[1], "watts");
	cr_assert_str_eq(r.name[2], "say \"hm\", twice");
	cr_assert_eq(r.n_rows, 2);
	cr_assert_eq(r.rows[0].len, strlen(" \"50\" , 5.2 W ,\"a\nb, c\""));
	cr_assert_eq(memcmp(r.rows[0].raw, " \"50\" , 5.2 W ,\"a\nb, c\"", r.rows[0].len), 0);
	cr_assert_float_eq(r.rows[0].volts, 50, 0);
	cr_assert_eq(r.rows[0].line, 4);
	cr_assert_eq(r.rows[1].line, 7, "the quoted cell took two lines");
	cr_assert_eq(r.rows[1].len, 7);
	readings_release(&r);
}

Test(readings_text, faults_name_line_and_column_and_come_all_at_once)
{
	static const struct {
		const char *text, *says[4];
	} rows[] = {
		{"", {"r.csv: empty"}},
		{"\n\n  \n", {"r.csv: empty"}},
		{"line_volts,watts\n", {"r.csv: no readings"}},
		{"volts,watts\n50,5\n", {"r.csv:1: no column line_volts"}},
		{"line_volts;watts\n50;5\n",
		 {"no column line_volts", "no column watts", "separated by commas"}},
		{"line_volts,watts,watts\n1,1,1\n", {"r.csv:1: watts: a column twice"}},
		{"line_volts,watts,rail_a_volts,rail_a_volts\n1,1,1,1\n",
		 {"rail_a_volts: a column twice"}},
		{"line_volts,watts\n50,abc\n,5\n50,5,2\n50,\"5,2\"\n",
		 {"r.csv:2: watts: `abc`", "r.csv:3: line_volts: empty",
		  "r.csv:4: 3 cells where the first line names 2 columns",
		  "r.csv:5: watts: `5,2`: a decimal comma"}},
		{"line_volts,watts\n50\n", {"r.csv:2: 1 cells"}},
		{"line_volts,watts\n50 W,5\n50,5 V\n", {"r.csv:2: line_volts:", "r.csv:3: watts:"}},
		{"line_volts,watts\n50 V +/- 1%,5\n", {"no tolerance"}},
		{"line_volts,watts\nnan,5\ninf,5\n0x10,5\n",
		 {":2: line_volts", ":3: line_volts", ":4: line_volts"}},
		{"line_volts,watts,x\n50,5,\"open\n", {"r.csv:2: x: a quote"}},
		{"line_volts,watts\n50,\"5\"5\n60,x\n",
		 {"r.csv:2: watts: a quote", "r.csv:3: watts: `x`"}},
		{"line_volts,watts,amps,seconds,rail_m_volts\n1,1,a,b,c\n",
		 {"amps:", "seconds:", "rail_m_volts:"}},
		{"line_volts,watts\n5\x1b[2J,1\n", {"\\x1b["}},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct buf said = BUF_INIT;
		struct complaints c;
		struct readings r;

		complaints_init(&c, "r.csv");
		cr_assert_eq(readings_parse(rows[i].text, strlen(rows[i].text), &r, &c), -1,
			     "row %zu", i);
		complaints_print(&c, &said);
		for (size_t k = 0; k < 4 && rows[i].says[k]; k++)
			cr_assert(strstr(said.data, rows[i].says[k]), "row %zu: %s not in\n%s", i,
				  rows[i].says[k], said.data);
		buf_release(&said);
		complaints_release(&c);
	}
}

Test(readings_text, too_many_columns_are_refused)
{
	struct buf text = BUF_INIT;
	struct complaints c;
	struct readings r;

	buf_adds(&text, "line_volts,watts");
	for (int i = 2; i <= READINGS_COLUMNS_MAX; i++)
		buf_addf(&text, ",c%d", i);
	buf_adds(&text, "\n1,1\n");
	complaints_init(&c, "r.csv");
	cr_assert_eq(readings_parse(text.data, text.len, &r, &c), -1);
	complaints_release(&c);
	buf_release(&text);
}
