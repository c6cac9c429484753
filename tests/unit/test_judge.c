/* Verdicts on a band made by hand, and what cannot be a reading at all. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "mainstair/core/event.h"
#include "mainstair/core/judge.h"

TestSuite(judge, .timeout = 10);

static struct band a_band(void)
{
	struct band band = { .volts = 50, .low = 4.4, .expected = 5.2, .high = 6.0,
			     .abort_watts = 7.9 };

	band.at.converged = true;
	return band;
}

Test(judge, every_side_of_every_edge)
{
	static const struct {
		double watts;
		enum verdict verdict;
	} rows[] = {
		{ 0.0, VERDICT_UNDER },   { 4.39, VERDICT_UNDER }, { 4.4, VERDICT_IN_BAND },
		{ 5.2, VERDICT_IN_BAND }, { 6.0, VERDICT_IN_BAND }, { 6.01, VERDICT_OVER },
		{ 7.9, VERDICT_OVER },    { 7.91, VERDICT_ABORT },  { 1e9, VERDICT_ABORT },
		{ -0.01, VERDICT_UNKNOWN }, { NAN, VERDICT_UNKNOWN }, { INFINITY, VERDICT_UNKNOWN },
		{ -INFINITY, VERDICT_UNKNOWN },
	};
	const struct band band = a_band();

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
		cr_assert_eq(judge_settled(&band, 0, rows[i].watts, NAN), rows[i].verdict,
			     "%g W: %s", rows[i].watts,
			     verdict_word(judge_settled(&band, 0, rows[i].watts, NAN)));
}

Test(judge, settling_excuses_over_and_under_and_nothing_else)
{
	const struct band band = a_band();

	cr_assert_eq(judge_reading(&band, 0, 7.0, NAN, false), VERDICT_SETTLING);
	cr_assert_eq(judge_reading(&band, 0, 2.0, NAN, false), VERDICT_SETTLING);
	cr_assert_eq(judge_reading(&band, 0, 5.0, NAN, false), VERDICT_IN_BAND);
	cr_assert_eq(judge_reading(&band, 0, 8.0, NAN, false), VERDICT_ABORT);
	cr_assert_eq(judge_reading(&band, 0, NAN, NAN, false), VERDICT_UNKNOWN);
	/* a surge of twice the fuse's amps */
	cr_assert_eq(judge_reading(&band, 0.5, 5.0, 0.51, true), VERDICT_ABORT);
	cr_assert_eq(judge_reading(&band, 0.5, 5.0, 0.99, false), VERDICT_IN_BAND);
	cr_assert_eq(judge_reading(&band, 0.5, 5.0, 1.01, false), VERDICT_ABORT);
	cr_assert_eq(judge_reading(&band, 0, 7.0, NAN, true), VERDICT_OVER);
}

Test(judge, fuse_amps_crossed_is_an_abort)
{
	const struct band band = a_band();

	cr_assert_eq(judge_settled(&band, 0.5, 5.2, 0.5), VERDICT_IN_BAND);
	cr_assert_eq(judge_settled(&band, 0.5, 5.2, 0.501), VERDICT_ABORT);
	/* without an ammeter: 5.2 W at 50 V are at least 0.104 A */
	cr_assert_eq(judge_settled(&band, 0.1, 5.2, NAN), VERDICT_ABORT);
	cr_assert_eq(judge_settled(&band, 0.11, 5.2, NAN), VERDICT_IN_BAND);
}

Test(judge, next_to_no_volts_is_no_abort)
{
	/* the fuse has pulled the abort line to 0.05 W, the meter's own offset is 0.2 */
	struct band band = {
		.volts = 0.1, .low = 0, .expected = 0, .high = 0.2, .abort_watts = 0.05};

	band.at.converged = true;
	cr_assert_eq(judge_settled(&band, 0.5, 0.1, NAN), VERDICT_IN_BAND);
	cr_assert_eq(judge_settled(&band, 0.5, 3.0, NAN), VERDICT_ABORT);
}

Test(judge, a_band_nobody_believes_judges_nothing_but_the_fuse)
{
	struct band band = a_band();

	band.at.converged = false;
	cr_assert_eq(judge_settled(&band, 0, 5.2, NAN), VERDICT_UNKNOWN);
	cr_assert_eq(judge_settled(&band, 0.5, 5.2, 0.6), VERDICT_ABORT);
	band = a_band();
	band.high = NAN;
	cr_assert_eq(judge_settled(&band, 0, 5.2, NAN), VERDICT_UNKNOWN);
}

Test(judge, words_are_those_of_the_files_and_come_back)
{
	static const char *const words[] = { "unknown", "settling", "in-band", "under", "over",
					     "abort" };

	for (int v = VERDICT_UNKNOWN; v <= VERDICT_ABORT; v++) {
		cr_assert_str_eq(verdict_word((enum verdict)v), words[v]);
		cr_assert_eq(verdict_from_word(words[v]), v);
	}
	cr_assert_eq(verdict_from_word("fine"), -1);
	cr_assert_eq(verdict_from_word(""), -1);
	for (int k = 0; k < EVENT_KINDS; k++) {
		cr_assert_eq(event_from_word(event_word((enum event_kind)k)), k);
		cr_assert_null(strpbrk(event_word((enum event_kind)k), "\t\n \\"));
	}
	cr_assert_eq(event_from_word("reading "), -1);
}

Test(judge, what_cannot_be)
{
	static const struct {
		double nameplate, volts, watts, amps, factor;
		bool can;
		const char *says;
	} rows[] = {
		{ 117, 50, 5.2, NAN, NAN, true, "" },
		{ 117, 0, 0, 0, NAN, true, "" },
		{ 117, 0.4, 0.1, 0, 0, true, "" },
		{ 117, 50, -0.2, NAN, NAN, true, "" }, /* within the meter's own zero */
		{ 117, 50, -0.3, NAN, NAN, false, "below zero" },
		{ 117, 50, NAN, NAN, NAN, false, "no reading" },
		{ 117, NAN, 5, NAN, NAN, false, "no reading" },
		{ 117, INFINITY, 5, NAN, NAN, false, "no reading" },
		{ 117, -50, 5, NAN, NAN, false, "below zero" },
		{ 117, 175, 5, NAN, NAN, true, "" },
		{ 117, 176, 5, NAN, NAN, false, "unit for 117 V" },
		{ 230, 299, 5, NAN, NAN, true, "" },
		{ 230, 301, 5, NAN, NAN, false, "single-phase" },
		{ 117, 50, 5.2, 0.104, NAN, true, "" },
		{ 117, 50, 5.2, 0.1, NAN, true, "" }, /* resolution */
		{ 117, 117, 60, 0.2, NAN, false, "volts times amps" },
		{ 117, 117, 60, 0.0, NAN, false, "volts times amps" },
		{ 117, 50, 5.2, -0.2, NAN, false, "no current" },
		{ 117, 50, 5.2, INFINITY, NAN, false, "no current" },
		{ 117, 50, 5.2, 0.2, 0.52, true, "" },
		{ 117, 50, 5.2, 0.2, -1, true, "" },
		{ 117, 50, 5.2, 0.2, 52, false, "power factor" },
		/* terrible is not impossible */
		{ 117, 30, 600, 20, 1, true, "" },
	};
	char why[JUDGE_WHY_MAX];

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		why[0] = '\0';
		cr_assert_eq(judge_possible(rows[i].nameplate, 0.2, rows[i].volts, rows[i].watts,
					    rows[i].amps, rows[i].factor, why),
			     rows[i].can, "row %zu: %s", i, why);
		cr_assert(strstr(why, rows[i].says), "row %zu says: %s", i, why);
	}
}
