/* Numbers with units: what is read, what is refused and in which words, and printing. */
#include <criterion/criterion.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "mainstair/base/num.h"

TestSuite(num, .timeout = 20);

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static bool same(double a, double b)
{
	return fabs(a - b) <= 1e-12 * (fabs(a) + fabs(b));
}

Test(num, reads_quantities)
{
	static const struct {
		const char *text;
		enum unit own;
		double value;
	} rows[] = {
		{"22", UNIT_OHM, 22}, {"22 ohm", UNIT_OHM, 22}, {"22ohm", UNIT_OHM, 22},
		{"  22   ohms  ", UNIT_OHM, 22}, {"22 \u03a9", UNIT_OHM, 22},
		{"2.2 k\u03a9", UNIT_OHM, 2200}, {"0.08 ohm", UNIT_OHM, 0.08},
		{"80 mohm", UNIT_OHM, 0.08}, {"1.5M", UNIT_OHM, 1.5e6},
		{"100k", UNIT_OHM, 100e3}, {"100 K", UNIT_OHM, 100e3}, {"1 Mohm", UNIT_OHM, 1e6},
		{"20 uF", UNIT_FARAD, 20e-6}, {"20uf", UNIT_FARAD, 20e-6},
		{"20 \u00b5F", UNIT_FARAD, 20e-6}, {"20 \u03bcF", UNIT_FARAD, 20e-6},
		{"470 pF", UNIT_FARAD, 470e-12}, {"100 nF", UNIT_FARAD, 100e-9},
		{"8 H", UNIT_HENRY, 8}, {"500 mH", UNIT_HENRY, 0.5},
		{"250 V", UNIT_VOLT, 250}, {"250v", UNIT_VOLT, 250}, {"1.5 kV", UNIT_VOLT, 1500},
		{"32 mA", UNIT_AMPERE, 0.032}, {".45 A", UNIT_AMPERE, 0.45},
		{"0.5", UNIT_AMPERE, 0.5}, {"1.5 W", UNIT_WATT, 1.5}, {"60 s", UNIT_SECOND, 60},
		{"2 min", UNIT_SECOND, 120}, {"1 h", UNIT_SECOND, 3600},
		{"12 %", UNIT_PERCENT, 0.12}, {"12", UNIT_PERCENT, 0.12},
		{"50 Hz", UNIT_HERTZ, 50}, {"60 HZ", UNIT_HERTZ, 60},
		{"1e3", UNIT_OHM, 1000}, {"1.5E-3 A", UNIT_AMPERE, 1.5e-3}, {"+5", UNIT_NONE, 5},
		{"-3.5", UNIT_NONE, -3.5}, {"0", UNIT_NONE, 0}, {"7.", UNIT_NONE, 7},
		{"117.3", UNIT_NONE, 117.3},
		{"-3 dB", UNIT_DECIBEL, -3}, {"6.02db", UNIT_DECIBEL, 6.02},
		{"4 dBm", UNIT_DBM, 4}, {"10.7 MHz", UNIT_HERTZ, 10.7e6},
		{"30 uV", UNIT_VOLT, 30e-6},
	};

	for (size_t i = 0; i < COUNT(rows); i++) {
		struct quantity q = {0};
		struct err err = {0};

		cr_assert(num_parse(rows[i].text, rows[i].own, &q, &err) == 0, "%s: %s",
		          rows[i].text, err.text);
		cr_assert(same(q.value, rows[i].value), "%s: %.17g", rows[i].text, q.value);
		cr_assert(q.unit == rows[i].own && q.tol == -1, "%s", rows[i].text);
		cr_assert(err.code == ERR_NONE, "%s: err touched", rows[i].text);
	}
}

/* As if it had been written in the base unit: nothing of a rounding shows in a file. */
Test(num, a_prefix_rounds_once)
{
	for (int i = 1; i < 1000; i++) {
		struct quantity milli = {0}, micro = {0}, wanted = {0};
		struct err err = {0};
		char text[32];

		snprintf(text, sizeof text, "%d.%d mA", i / 10, i % 10);
		cr_assert(num_parse(text, UNIT_AMPERE, &milli, &err) == 0);
		snprintf(text, sizeof text, "%de-4", i);
		cr_assert(num_parse(text, UNIT_AMPERE, &wanted, &err) == 0);
		cr_assert(!(milli.value < wanted.value) && !(milli.value > wanted.value), "%s: %.17g",
		          text, milli.value);
		snprintf(text, sizeof text, "%d uA", 100 * i);
		cr_assert(num_parse(text, UNIT_AMPERE, &micro, &err) == 0);
		cr_assert(!(micro.value < wanted.value) && !(micro.value > wanted.value), "%s: %.17g",
		          text, micro.value);
	}
}

/* The letter codes of IEC 60062 (marking codes for resistors and capacitors; its examples from
 * memory): the letter of the multiplier stands where the decimal point would. */
Test(num, reads_part_marks)
{
	static const struct {
		const char *text;
		enum unit own;
		double value;
	} rows[] = {
	        {"R47", UNIT_OHM, 0.47},
	        {"4R7", UNIT_OHM, 4.7},
	        {"47R", UNIT_OHM, 47},
	        {"470R", UNIT_OHM, 470},
	        {"4k7", UNIT_OHM, 4700},
	        {"4K7", UNIT_OHM, 4700},
	        {"47k", UNIT_OHM, 47e3},
	        {"4M7", UNIT_OHM, 4.7e6},
	        {"2M2", UNIT_OHM, 2.2e6},
	        {"59R04", UNIT_OHM, 59.04},
	        {"5k904", UNIT_OHM, 5904},
	        {"p33", UNIT_FARAD, 0.33e-12},
	        {"3p3", UNIT_FARAD, 3.3e-12},
	        {"n33", UNIT_FARAD, 0.33e-9},
	        {"3n3", UNIT_FARAD, 3.3e-9},
	        {"4u7", UNIT_FARAD, 4.7e-6},
	        {"4\u00b57", UNIT_FARAD, 4.7e-6},
	        {"47n", UNIT_FARAD, 47e-9},
	        {"4k7 ohm", UNIT_OHM, 4700},
	        {"4u7F", UNIT_FARAD, 4.7e-6},
	};

	for (size_t i = 0; i < COUNT(rows); i++) {
		struct quantity q = {0};
		struct err err = {0};

		cr_assert(num_parse(rows[i].text, rows[i].own, &q, &err) == 0, "%s: %s",
		          rows[i].text, err.text);
		cr_assert(same(q.value, rows[i].value), "%s: %.17g", rows[i].text, q.value);
	}
}

Test(num, reads_tolerances)
{
	static const struct {
		const char *text;
		double value, tol;
	} rows[] = {
	        {"22 ohm +/- 2%", 22, 0.02},    {"22 +/-2 %", 22, 0.02},
	        {"4k7 \u00b1 10%", 4700, 0.10}, {"22\u00b10.5%", 22, 0.005},
	        {"22 ohm +/- 0%", 22, 0},       {"22 ohm", 22, -1},
	};

	for (size_t i = 0; i < COUNT(rows); i++) {
		struct quantity q = {0};
		struct err err = {0};

		cr_assert(num_parse(rows[i].text, UNIT_OHM, &q, &err) == 0, "%s: %s", rows[i].text,
		          err.text);
		cr_assert(same(q.value, rows[i].value) && fabs(q.tol - rows[i].tol) < 1e-12,
		          "%s: %g %g", rows[i].text, q.value, q.tol);
	}
}

/* Every refusal with the words that make it useful; *ret stays as it was. */
Test(num, refuses_in_words)
{
	static const struct {
		const char *text;
		enum unit own;
		const char *words;
	} rows[] = {
	        {"", UNIT_OHM, "missing"},
	        {"   ", UNIT_OHM, "missing"},
	        {"abc", UNIT_OHM, "not a number"},
	        {"ohm", UNIT_OHM, "not a number"},
	        {"2,5", UNIT_OHM, "decimal comma; write 2.5"},
	        {"230,5 V", UNIT_VOLT, "decimal comma; write 230.5"},
	        {"1,234.5", UNIT_VOLT, "decimal comma"},
	        {"nan", UNIT_OHM, "not a number"},
	        {"inf", UNIT_OHM, "not a number"},
	        {"-inf", UNIT_OHM, "not a number"},
	        {"infinity", UNIT_NONE, "not a number"},
	        {"0x10", UNIT_OHM, "not a number"},
	        {"0X1p3", UNIT_NONE, "not a number"},
	        {"1e999", UNIT_OHM, "beyond"},
	        {"1e-999", UNIT_OHM, "beyond"},
	        {"1e303 Mohm", UNIT_OHM, "beyond"},
	        {"1e99999999999999999999", UNIT_NONE, "beyond"},
	        {"12abc", UNIT_OHM, "no unit known"},
	        {"1.2.3", UNIT_OHM, "not understood"},
	        {"22 ohm 5", UNIT_OHM, "not understood"},
	        {"--5", UNIT_NONE, "not a number"},
	        {"5-", UNIT_NONE, "not understood"},
	        {"4k7k", UNIT_OHM, "does not go behind a mark"},
	        {"4k7 uF", UNIT_OHM, "does not go behind a mark"},
	        {"1 2", UNIT_NONE, "not understood"},
	        {"20 uF", UNIT_OHM, "is a capacitance (uF): ohms expected"},
	        {"60 V", UNIT_HERTZ, "is volts: hertz expected"},
	        {"8 h", UNIT_HENRY, "is a time (s, min): henries expected"},
	        {"4k7", UNIT_VOLT, "is ohms: volts expected"},
	        {"5 V", UNIT_NONE, "a plain number is expected"},
	        {"32 MA", UNIT_AMPERE, "did you mean `mA`?"},
	        {"5 mf", UNIT_FARAD, "write uF"},
	        {"20 mfd", UNIT_FARAD, "write uF"},
	        {"35 VA", UNIT_WATT, "VA is not W"},
	        {"22", UNIT_ANY, "unit is missing"},
	        {"22 ohm +/- 2", UNIT_OHM, "a tolerance is written"},
	        {"22 ohm +/- 2 ohm", UNIT_OHM, "a tolerance is written"},
	        {"22 ohm +/- -2%", UNIT_OHM, "a tolerance is written"},
	        {"22 ohm +/- 100%", UNIT_OHM, "below 100"},
	        {"22 ohm +/- %", UNIT_OHM, "a tolerance is written"},
	        {"22 \xff", UNIT_OHM, "no unit known"},
	        {"\x1b[2J", UNIT_OHM, "\\x1b[2J"},
	        {"5 thisisaverylongwordindeedwithoutend", UNIT_OHM, "no unit known"},
	};

	for (size_t i = 0; i < COUNT(rows); i++) {
		struct quantity q = {.value = 77};
		struct err err = {0};

		cr_assert(num_parse(rows[i].text, rows[i].own, &q, &err) == -1,
		          "%s was taken as %g", rows[i].text, q.value);
		cr_assert(strstr(err.text, rows[i].words), "%s: %s", rows[i].text, err.text);
		cr_assert(!strpbrk(err.text, "\n\x1b"), "%s: control characters", rows[i].text);
		cr_assert(q.value == 77, "%s: *ret touched", rows[i].text);
	}
}

Test(num, refuses_endless_digits)
{
	char text[400];
	struct quantity q;
	struct err err;

	memset(text, '1', sizeof text - 1);
	text[sizeof text - 1] = '\0';
	cr_assert(num_parse(text, UNIT_NONE, &q, &err) == -1);
	text[200] = 'k';
	cr_assert(num_parse(text, UNIT_OHM, &q, &err) == -1);
	text[90] = '\0';
	cr_assert(num_parse(text, UNIT_NONE, &q, &err) == 0);
	cr_assert(q.value > 1.1e89 && q.value < 1.2e89);
}

Test(num, scans_one_after_the_other)
{
	struct quantity q;
	struct err err;
	const char *s = num_scan("8 H +/- 10% 350 ohm", UNIT_ANY, &q, &err);

	cr_assert(s && strcmp(s, "350 ohm") == 0);
	cr_assert(q.unit == UNIT_HENRY && q.value == 8 && fabs(q.tol - 0.1) < 1e-12);
	s = num_scan(s, UNIT_ANY, &q, &err);
	cr_assert(s && *s == '\0' && q.unit == UNIT_OHM && q.value == 350);
	s = num_scan("6.3V .3A", UNIT_ANY, &q, &err);
	cr_assert(s && q.unit == UNIT_VOLT && q.value == 6.3);
	s = num_scan(s, UNIT_ANY, &q, &err);
	cr_assert(s && q.unit == UNIT_AMPERE && q.value == 0.3);
}

Test(num, prints)
{
	static const struct {
		double value;
		int decimals;
		const char *text;
	} plain[] = {
		{117, 1, "117.0"}, {5.25, 1, "5.2"}, {5.35, 1, "5.3"}, {-0.04, 1, "0.0"},
		{-0.0, 0, "0"}, {-2.5, 2, "-2.50"}, {1e6, 0, "1000000"}, {NAN, 2, "nan"},
		{INFINITY, 2, "nan"}, {0.1, 3, "0.100"},
	};
	static const struct {
		double value;
		enum unit unit;
		int digits;
		const char *text;
	} units[] = {
		{4700, UNIT_OHM, 3, "4.7 kohm"}, {0.0319, UNIT_AMPERE, 3, "31.9 mA"},
		{20e-6, UNIT_FARAD, 3, "20 uF"}, {0.12, UNIT_PERCENT, 3, "12 %"},
		{117, UNIT_VOLT, 2, "117 V"}, {999.96, UNIT_VOLT, 4, "1 kV"},
		{999.4, UNIT_VOLT, 4, "999.4 V"}, {0, UNIT_WATT, 3, "0 W"},
		{-0.5, UNIT_WATT, 3, "-500 mW"}, {2.2e6, UNIT_OHM, 2, "2.2 Mohm"},
		{0.00047, UNIT_NONE, 2, "0.00047"}, {12.3456, UNIT_NONE, 3, "12.3"},
		{NAN, UNIT_VOLT, 3, "nan"}, {47e-12, UNIT_FARAD, 2, "47 pF"},
		{1e22, UNIT_VOLT, 3, "1e22 V"}, {-1.25e300, UNIT_NONE, 6, "-1.25e300"},
		{1.7976931348623157e308, UNIT_OHM, 3, "1.8e308 ohm"},
		{9.9e14, UNIT_HERTZ, 3, "990000000 MHz"}, {3e20, UNIT_PERCENT, 2, "3e22 %"},
		{0.25, UNIT_DECIBEL, 3, "0.25 dB"}, {-1200, UNIT_DBM, 4, "-1200 dBm"},
	};
	char text[64];

	for (size_t i = 0; i < COUNT(plain); i++) {
		size_t n = num_print(text, sizeof text, plain[i].value, plain[i].decimals);

		cr_assert_str_eq(text, plain[i].text);
		cr_assert(n == strlen(text));
	}
	for (size_t i = 0; i < COUNT(units); i++) {
		(void)num_print_unit(text, sizeof text, units[i].value, units[i].unit,
		                     units[i].digits);
		cr_assert_str_eq(text, units[i].text);
	}
	cr_assert(num_print(text, 4, 123.456, 2) == 3);
	cr_assert_str_eq(text, "123");
	cr_assert(num_print(text, sizeof text, 1.7976931348623157e308, 17) == sizeof text - 1);
}

/* What is printed is read back as it was. */
Test(num, goes_round)
{
	for (int i = -60; i < 60; i++) {
		double value = pow(10, i / 10.0) * (i % 3 == 0 ? -1 : 1);
		struct quantity q;
		struct err err;
		char text[64];

		(void)num_print(text, sizeof text, value, 17);
		cr_assert(num_parse(text, UNIT_NONE, &q, &err) == 0, "%s: %s", text, err.text);
		cr_assert(fabs(q.value - value) < 1e-16 + 1e-15 * fabs(value), "%s", text);
	}
}

/* A locale whose decimal point is a comma.  Made here, because a small machine has none. */
static bool make_comma_locale(char *folder)
{
	char command[256];

	if (!mkdtemp(folder))
		return false;
	(void)snprintf(command, sizeof command,
	               "localedef -i de_DE -f UTF-8 '%s/comma' >/dev/null 2>&1", folder);
	(void)!system(command);
	(void)setenv("LOCPATH", folder, 1);
	return setlocale(LC_ALL, "comma") && strcmp(localeconv()->decimal_point, ",") == 0;
}

Test(num, same_in_every_locale)
{
	char folder[] = "/tmp/mainstair-locale-XXXXXX", command[64], text[64];
	bool made = make_comma_locale(folder);
	struct quantity q;
	struct err err;

	if (made) {
		(void)snprintf(text, sizeof text, "%.1f", 2.5);
		cr_expect_str_eq(text, "2,5", "the locale itself does not work");
		(void)num_print(text, sizeof text, 2.5, 1);
		cr_expect_str_eq(text, "2.5");
		(void)num_print_unit(text, sizeof text, 2500, UNIT_OHM, 3);
		cr_expect_str_eq(text, "2.5 kohm");
		cr_expect(num_parse("230.5 V", UNIT_VOLT, &q, &err) == 0 && q.value == 230.5);
		cr_expect(num_parse("230,5 V", UNIT_VOLT, &q, &err) == -1);
		cr_expect(num_parse("4k7", UNIT_OHM, &q, &err) == 0 && q.value == 4700);
	}
	(void)snprintf(command, sizeof command, "rm -r '%s'", folder);
	(void)!system(command);
	if (!made)
		cr_skip_test("no locale with a decimal comma could be made here");
}
