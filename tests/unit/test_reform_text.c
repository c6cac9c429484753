/* A capacitor's rating and its readings as text: what is understood, what is refused, and why. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "mainstair/proto/reform_text.h"

TestSuite(reform_text, .timeout = 20);

static bool near(double a, double b)
{
	return fabs(a - b) <= 1e-9 * fabs(b) + 1e-15;
}

Test(reform_text, ratings)
{
	static const struct {
		const char *text;
		size_t n;
		double farad[REFORM_SECTIONS_MAX], volts[REFORM_SECTIONS_MAX];
	} rows[] = {
		{ "20 uF 450 V", 1, { 20e-6 }, { 450 } },
		{ "20uF 450V", 1, { 20e-6 }, { 450 } },
		{ "0.5 uF 600 V", 1, { 0.5e-6 }, { 600 } },
		{ "4u7 450 V", 1, { 4.7e-6 }, { 450 } },
		{ "50+30 uF 150 V", 2, { 50e-6, 30e-6 }, { 150, 150 } },
		{ "50 uF + 30 uF 150 V", 2, { 50e-6, 30e-6 }, { 150, 150 } },
		{ "40 uF 450 V + 20 uF 25 V", 2, { 40e-6, 20e-6 }, { 450, 25 } },
		{ "40+40+20 uF 450 V + 20 uF 25 V", 4, { 40e-6, 40e-6, 20e-6, 20e-6 },
		  { 450, 450, 450, 25 } },
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct reform_part parts[REFORM_SECTIONS_MAX];
		struct err err = { 0 };
		size_t n;

		cr_assert(reform_rating_parse(rows[i].text, parts, &n, &err) == 0, "%s: %s",
		          rows[i].text, err.text);
		cr_assert(n == rows[i].n, "%s", rows[i].text);
		for (size_t k = 0; k < n; k++)
			cr_assert(near(parts[k].farad, rows[i].farad[k]) &&
			          near(parts[k].volts, rows[i].volts[k]), "%s", rows[i].text);
	}
}

Test(reform_text, what_is_no_rating_is_refused_in_words)
{
	static const struct {
		const char *text, *said;
	} rows[] = {
		{ "", "a number is missing" }, { "20 uF", "volts are missing" },
		{ "450 V", "volts" }, { "20 450", "1 F" }, { "20 mfd 450 V", "write uF" },
		{ "20 uF 450 ohm", "volts" }, { "20,5 uF 450 V", "decimal comma" },
		{ "20 uF 450 V 5", "not understood" }, { "20 uF 0 V", "rated volts" },
		{ "20 uF 450 kV", "rated volts" }, { "5 F 450 V", "1 F" },
		{ "20 uF + ", "a number is missing" }, { "1+1+1+1+1 uF 5 V", "sections" },
		{ "-20 uF 450 V", "1 F" }, { "nan uF 450 V", "not a number" },
		{ "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx",
		  "written as" },
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct reform_part parts[REFORM_SECTIONS_MAX];
		struct err err = { 0 };
		size_t n = 99;

		cr_assert(reform_rating_parse(rows[i].text, parts, &n, &err) == -1, "%s",
		          rows[i].text);
		cr_assert(strstr(err.text, rows[i].said), "%s: %s", rows[i].text, err.text);
		cr_assert(n == 99, "untouched");
	}
}

static int parse(const char *text, size_t n_sections, struct reform_list *list, struct buf *said)
{
	struct complaints c;
	int status;

	complaints_init(&c, "list");
	status = reform_list_parse(text, strlen(text), n_sections, list, &c);
	buf_init(said);
	complaints_print(&c, said);
	complaints_release(&c);
	return status;
}

Test(reform_text, lists_in_every_dress)
{
	static const char *const rows[] = {
		"20,350,4.5\n900,350,1\n3600,350,0.12\n",
		"20 350 4.5\n900 350 1\n3600 350 0.12",
		"20\t350\t4.5\n900\t350\t1\n3600\t350\t0.12\n",
		"\xef\xbb\xbf# a comment\r\n\r\n20,350,4.5\r\n900,350,1\r\n3600,350,0.12\r\n",
		"seconds,volts,milliamps\n20,350,4.5\n900,350,1\n3600,350,0.12\n",
		"Milliamps, note, Volts, Seconds\n4.5,begun,350,20\n1,,350,900\n0.12,,350,3600\n",
		"seconds,volts,microamps\n20,350,4500\n900,350,1000\n3600,350,120\n",
		"  20 s , 350 V , 4.5 mA\n15 min,350,1\n1h,350,120uA\n",
		"  20   350    4500uA  \n15min 350 1 \n3600 350 120uA\n",
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		const struct reform_section *s;
		struct reform_list list;
		struct buf said;

		cr_assert(parse(rows[i], 1, &list, &said) == 0, "%zu: %s", i, said.data);
		s = &list.section[0];
		cr_assert(s->n == 3, "%zu: %zu", i, s->n);
		cr_assert(near(s->readings[0].seconds, 20) && near(s->readings[0].amps, 4.5e-3));
		cr_assert(near(s->readings[1].seconds, 900) && near(s->readings[1].amps, 1e-3));
		cr_assert(near(s->readings[2].seconds, 3600) && near(s->readings[2].amps, 120e-6));
		cr_assert(near(s->readings[2].volts, 350));
		reform_list_release(&list);
		buf_release(&said);
	}
}

Test(reform_text, the_last_digit_is_the_finest_written)
{
	static const struct {
		const char *text;
		double digit;
	} rows[] = {
		{ "0,350,4.5\n9,350,1\n36,350,0.12\n", 1e-5 },
		{ "0,350,4\n9,350,1\n", 1e-3 },
		{ "0,350,4.50mA\n9,350,120 uA\n", 1e-6 },
		{ "0,350,0.0\n9,350,1e-1\n", 0 },
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct reform_list list;
		struct buf said;

		cr_assert(parse(rows[i].text, 1, &list, &said) == 0, "%s", said.data);
		cr_assert(near(list.section[0].digit_amps, rows[i].digit), "%zu: %g", i,
		          list.section[0].digit_amps);
		reform_list_release(&list);
		buf_release(&said);
	}
}

Test(reform_text, sections_of_a_can_are_told_apart)
{
	struct reform_list list;
	struct buf said;

	cr_assert(parse("seconds,volts,milliamps,section\n0,150,2,A\n0,150,1,b\n60,150,1.5,1\n"
	                "90,150,0.5,2\n60,150,0.6,2\n", 2, &list, &said) == -1);
	cr_assert(strstr(said.data, "list:6: seconds do not rise"), "%s", said.data);
	buf_release(&said);
	cr_assert(parse("seconds,volts,milliamps,section\n0,150,2,A\n0,150,1,b\n60,150,1.5,1\n"
	                "90,150,0.5,2\n", 2, &list, &said) == 0, "%s", said.data);
	cr_assert(list.section[0].n == 2 && list.section[1].n == 2);
	reform_list_release(&list);
	buf_release(&said);
}

Test(reform_text, what_is_wrong_is_told_with_its_line)
{
	static const struct {
		const char *text;
		size_t sections;
		const char *said;
	} rows[] = {
		{ "", 1, "list: no readings" }, { "# nothing\n\n", 1, "list: no readings" },
		{ "seconds,volts,milliamps\n", 1, "list: no readings" },
		{ "seconds,volts\n1,2\n", 1, "list:1: the first line names the columns" },
		{ "seconds,volts,milliamps,volts\n1,2,3,4\n", 1, "list:1: volts: a column twice" },
		{ "1,2,3\n2,2\n", 1, "list:2: 2 values where 3 are expected" },
		{ "1,2,3\n2,2,0,5\n", 1, "a decimal comma? write a point" },
		{ "1,2,3\n2,x,3\n", 1, "list:2: volts: `x` is not a number" },
		{ "1,2,3\n2,2,\n", 1, "list:2: milliamps: a number is missing" },
		{ "1,2,3\n2,2,nan\n", 1, "list:2: milliamps: `nan`" },
		{ "1,2,3\n2,2,3 V\n", 1, "list:2: milliamps: `3 V` is volts" },
		{ "1,2,3\n2,2,3 +/- 1%\n", 1, "has no tolerance" },
		{ "1,2,3\n2,2,-3\n", 1, "list:2: leakage below zero" },
		{ "1,2,3\n2,-2,3\n", 1, "list:2: volts below zero" },
		{ "2,2,3\n2,2,3\n", 1, "list:2: seconds do not rise" },
		{ "1,2,3\n", 2, "list:1: a can of 2 sections needs a first line" },
		{ "seconds,volts,milliamps\n1,2,3\n", 2, "needs a column section" },
		{ "seconds,volts,milliamps,section\n1,2,3,C\n", 2, "list:2: section: `C`" },
		{ "seconds,volts,milliamps,section\n1,2,3,0\n", 2, "list:2: section: `0`" },
		{ "seconds,volts,milliamps,section\n1,2,3,\n", 2, "list:2: section: ``" },
		{ "1,2,33333333333333333333333333333333333333333333333333333333333333333333\n", 1,
		  "list:1: not a line of" },
		{ ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,\n", 1, "list:1: not a line of" },
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct reform_list list;
		struct buf said;

		cr_assert(parse(rows[i].text, rows[i].sections, &list, &said) == -1, "%s",
		          rows[i].text);
		cr_assert(strstr(said.data, rows[i].said), "%s: %s", rows[i].text, said.data);
		buf_release(&said);
	}
}

Test(reform_text, bytes_that_end_strings_end_nothing)
{
	static const char text[] = "1,2,3\n2,2\0,3\n";
	struct reform_list list;
	struct complaints c;

	complaints_init(&c, "list");
	cr_assert(reform_list_parse(text, sizeof text - 1, 1, &list, &c) == -1);
	cr_assert(complaints_count(&c) == 1);
	complaints_release(&c);
}
