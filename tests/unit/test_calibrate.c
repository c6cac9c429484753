/*
 * The calibration sheet: limits, uncertainty, guard band and words.  Worked cases show their sum;
 * where a published figure is used it is named, and "from memory" where it could not be read again.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/calibrate.h"
#include "mainstair/core/uncertainty.h"

TestSuite(calibrate, .timeout = 60);

static bool near(double a, double b, double by)
{
	return fabs(a - b) <= by;
}

static struct profile_point volts(double applied, double full_scale, double reading, double fs)
{
	return (struct profile_point){
	        .name = "P1",
	        .unit = UNIT_VOLT,
	        .written = "V",
	        .scale = 1,
	        .applied = applied,
	        .full_scale = full_scale,
	        .resolution = NAN,
	        .tolerance = {.given = true, .reading = reading, .full_scale = fs}};
}

/* A power analyzer's manual, worked example (p. 79): 120 V on a 215 V range, 0.1 % of reading + 0.1
 * % of range + 4 mV + (0.02 x 0.06) % of reading: 340.44 mV. */
Test(calibrate, reading_and_range_as_in_a_manual)
{
	struct profile_point p = volts(120, 215, 0.001 + 0.02 * 0.0006, 0.001);
	double low, high;

	p.tolerance.absolute = 4e-3;
	cal_limits(&p, 120, &low, &high);
	cr_assert(near(high - 120, 0.34044, 1e-5), "%g", high - 120);
	cr_assert(near(120 - low, 0.34044, 1e-5));
}

/* Digits are steps of the resolution. */
Test(calibrate, digits)
{
	struct profile_point p = volts(1, 3, 0.005, 0);
	double low, high;

	p.tolerance.digits = 2;
	cal_limits(&p, 1, &low, &high);
	cr_assert(isnan(low) && isnan(high), "no step, no limit");
	p.resolution = 0.01;
	cal_limits(&p, 1, &low, &high);
	cr_assert(near(high, 1.025, 1e-12) && near(low, 0.975, 1e-12));
}

/* Decibels: 6.02 dB are twice the volts, 3.01 dB twice the watts; 1 dB of volts is +12.2/-10.9 %.
 * (Definition, IEC 60027-3.) */
Test(calibrate, decibels_are_ratios)
{
	struct profile_point p = volts(10, NAN, 0, 0);
	double low, high;

	p.tolerance.decibel = 20 * log10(2);
	cal_limits(&p, 10, &low, &high);
	cr_assert(near(high, 20, 1e-9) && near(low, 5, 1e-9));
	p.tolerance.decibel = 1;
	cal_limits(&p, 10, &low, &high);
	cr_assert(near(high, 11.220, 5e-4) && near(low, 8.9125, 5e-4));
	p.unit = UNIT_WATT;
	p.tolerance.decibel = 10 * log10(2);
	cal_limits(&p, 10, &low, &high);
	cr_assert(near(high, 20, 1e-9) && near(low, 5, 1e-9));

	/* per cent of a level are of its volts: 10 % are +0.828 / -0.915 dB */
	p = volts(-20, 0, 0.1, 0);
	p.unit = UNIT_DECIBEL;
	cal_limits(&p, -20, &low, &high);
	cr_assert(near(high, -20 + 0.8279, 1e-3) && near(low, -20 - 0.9151, 1e-3));
	/* 2 % of full scale (0 dB) at -40 dB is twice the reading: no limit below */
	p.tolerance = (struct profile_tolerance){.given = true, .full_scale = 0.02};
	cal_limits(&p, -40, &low, &high);
	cr_assert(isinf(low) && low < 0 && near(high, -40 + 20 * log10(3), 1e-9));
	/* at -20 dB it is a fifth */
	cal_limits(&p, -20, &low, &high);
	cr_assert(near(high, -20 + 20 * log10(1.2), 1e-9));
	cr_assert(near(low, -20 + 20 * log10(0.8), 1e-9));
}

/* A hand-held multimeter at 100 V: calibrator within 0.011 V, steps of 0.1 V: u = 0.0296 V (0.030
 * in EA-4/02, S9, with a further 0.001; from memory), U = 2u.  Tolerance +-0.5 V: ratio 8.4. */
Test(calibrate, uncertainty_of_a_point)
{
	struct profile_point p = volts(100, 300, 0.005, 0);
	struct cal_reading r;

	p.resolution = 0.1;
	p.reference = (struct profile_tolerance){.given = true, .absolute = 0.011};
	cal_judge(&p, GUARD_BAND_U, 100.1, 100, NAN, 1, &r);
	cr_assert(near(r.u, sqrt(0.011 * 0.011 / 3 + 0.05 * 0.05 / 3), 1e-12));
	cr_assert(near(r.u, 0.030, 5e-4) && near(r.k, 2.000, 1e-3) && isinf(r.dof));
	cr_assert(near(r.expanded, 0.0591, 2e-4) && near(r.test_ratio, 8.46, 0.05));
	cr_assert(near(r.error, 0.1, 1e-9) && r.verdict == CAL_PASS);
	cr_assert(r.conformance > 0.9999);
	/* five readings that scatter: k grows with few degrees of freedom */
	cal_judge(&p, GUARD_BAND_U, 100.1, 100, 0.05, 5, &r);
	cr_assert(near(r.u, hypot(0.02956, 0.05), 1e-4));
	cr_assert(near(r.dof, 4 * pow(r.u / 0.05, 4), 1e-6));
	cr_assert(r.k > 2.3 && r.k < 2.6, "%g", r.k);
}

/* ILAC-G8:09/2019, 4.2.3: with w = U the four statements in turn. */
Test(calibrate, four_statements)
{
	static const struct {
		double indicated;
		enum cal_verdict banded, plain;
	} rows[] = {
	        {10.0, CAL_PASS, CAL_PASS},
	        {10.39, CAL_PASS, CAL_PASS},
	        {10.45, CAL_CONDITIONAL_PASS, CAL_PASS},
	        {10.55, CAL_CONDITIONAL_FAIL, CAL_FAIL},
	        {10.65, CAL_FAIL, CAL_FAIL},
	        {9.61, CAL_PASS, CAL_PASS},
	        {9.55, CAL_CONDITIONAL_PASS, CAL_PASS},
	        {9.45, CAL_CONDITIONAL_FAIL, CAL_FAIL},
	        {9.35, CAL_FAIL, CAL_FAIL},
	        {NAN, CAL_UNKNOWN, CAL_UNKNOWN},
	        {INFINITY, CAL_UNKNOWN, CAL_UNKNOWN},
	};
	struct profile_point p = volts(10, NAN, 0.05, 0); /* +-0.5 V */
	struct cal_reading r;

	/* U = 2.0000 half / sqrt(3) = 0.1 */
	p.reference = (struct profile_tolerance){.given = true, .absolute = 0.05 * sqrt(3)};
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		cal_judge(&p, GUARD_BAND_U, rows[i].indicated, 10, NAN, 1, &r);
		cr_assert(near(r.guard, 0.1, 1e-4));
		cr_assert(r.verdict == rows[i].banded, "%g: %s", rows[i].indicated,
		          cal_verdict_word(r.verdict));
		cal_judge(&p, GUARD_BAND_NONE, rows[i].indicated, 10, NAN, 1, &r);
		cr_assert(r.verdict == rows[i].plain, "%g: %s", rows[i].indicated,
		          cal_verdict_word(r.verdict));
		/* ratio 5: over four, so no band */
		cal_judge(&p, GUARD_BAND_FOUR_TO_ONE, rows[i].indicated, 10, NAN, 1, &r);
		cr_assert(r.verdict == rows[i].plain);
	}
	/* ratio 2: the band comes back */
	p.reference.absolute *= 2.5;
	cal_judge(&p, GUARD_BAND_FOUR_TO_ONE, 10.3, 10, NAN, 1, &r);
	cr_assert(near(r.test_ratio, 2, 1e-3) && near(r.guard, 0.25, 1e-4));
	cr_assert(r.verdict == CAL_CONDITIONAL_PASS);
}

/* At the acceptance limit of w = U a false accept is less likely than 2.5 % (ILAC-G8:09/2019,
 * Table 1; second hand). */
Test(calibrate, guard_band_keeps_false_accepts_under_2_5_per_cent)
{
	struct profile_point p = volts(10, NAN, 0.05, 0);
	struct cal_reading r;

	for (double half = 0.02; half < 0.4; half += 0.02) {
		p.reference = (struct profile_tolerance){.given = true, .absolute = half};
		cal_judge(&p, GUARD_BAND_U, 10, 10, NAN, 1, &r);
		cr_assert(uncertainty_conformance(r.high - r.guard, r.u, -INFINITY, r.high) >
		          0.975);
	}
}

Test(calibrate, no_reference_is_no_pass)
{
	struct profile_point p = volts(10, NAN, 0.05, 0);
	struct cal_reading r;

	p.resolution = 0.1;
	cal_judge(&p, GUARD_BAND_U, 10, 10, NAN, 1, &r);
	cr_assert(r.verdict == CAL_UNPROVED && isnan(r.expanded) && isnan(r.test_ratio));
	cal_judge(&p, GUARD_BAND_FOUR_TO_ONE, 12, 10, NAN, 1, &r);
	cr_assert(r.verdict == CAL_UNPROVED);
	/* several readings without their scatter: not known either */
	p.reference = (struct profile_tolerance){.given = true, .reading = 0.001};
	cal_judge(&p, GUARD_BAND_U, 10, 10, NAN, 3, &r);
	cr_assert(r.verdict == CAL_UNPROVED);
}

/* ---- the sheet ---- */

static struct profile *two_points(void)
{
	struct profile *p = calloc(1, sizeof *p);

	cr_assert(p);
	p->n_points = 3;
	for (int i = 0; i < 3; i++) {
		p->points[i] = volts(10, NAN, 0.05, 0);
		(void)snprintf(p->points[i].name, sizeof p->points[i].name, "P%d", i + 1);
		p->points[i].reference =
		        (struct profile_tolerance){.given = true, .reading = 0.002};
	}
	strcpy(p->points[0].control, "R1");
	strcpy(p->points[1].control, "r1");
	p->warm_up_s = (struct given){.given = true, .value = 1800};
	return p;
}

static struct entry cal(double utc_s, const char *point, const char *word, double indicated)
{
	return (struct entry){.utc_s = utc_s,
	                      .kind = ENTRY_CAL,
	                      .subject = point,
	                      .word = word,
	                      .note = "",
	                      .number = {indicated, NAN, NAN, NAN}};
}

Test(calibrate, as_found_counts_while_nothing_was_turned)
{
	struct profile *p = two_points();
	struct cal_sheet *s = calloc(1, sizeof *s);
	const struct entry e[] = {cal(1, "P1", "as-found", 10.1), cal(2, "p2", "as-found", 10.7),
	                          cal(3, "P3", "as-found", NAN), cal(4, "P9", "as-found", 10)};

	cal_sheet_make(s, p, e, 4);
	cr_assert(s->n == 3 && s->done == 2 && s->next == 2);
	cr_assert(s->point[0].result.verdict == CAL_PASS && s->point[0].result_is_found);
	cr_assert(s->point[1].result.verdict == CAL_FAIL);
	cr_assert(!s->point[2].result.have && s->count[CAL_UNKNOWN] == 1);
	cr_assert(s->cold == 2, "nobody knows when it was switched on");
	free(s);
	free(p);
}

Test(calibrate, turning_makes_readings_stale)
{
	struct profile *p = two_points();
	struct cal_sheet *s = calloc(1, sizeof *s);
	const struct entry e[] = {cal(1, "P1", "as-found", 10.8), cal(2, "P2", "as-found", 10.1),
	                          cal(3, "P3", "as-found", 10.0), cal(4, "P1", "adjusted", 10.2),
	                          cal(5, "P1", "adjusted", 10.0), cal(6, "P1", "as-left", 10.0),
	                          cal(7, "P2", "adjusted", 10.0), cal(8, "P2", "as-left", 10.0),
	                          cal(9, "P1", "as-left", 10.1)};

	cal_sheet_make(s, p, e, 3);
	cr_assert(s->done == 3 && s->next == 0, "the one that fails is next");
	cal_sheet_make(s, p, e, 5);
	cr_assert(s->point[0].adjustings == 2 && !s->point[0].result.have);
	cr_assert(!s->point[1].result.have, "as found, but its control was turned at P1");
	cr_assert(s->point[2].result.have && s->next == 0);
	cal_sheet_make(s, p, e, 6);
	cr_assert(s->point[0].result.have && !s->point[0].result_is_found && s->next == 1);
	cal_sheet_make(s, p, e, 8);
	cr_assert(s->point[0].left_stale && !s->point[0].result.have, "turned at P2 since");
	cr_assert(s->point[1].result.have && s->next == 0);
	cal_sheet_make(s, p, e, 9);
	cr_assert(s->done == 3 && s->next == -1 && s->count[CAL_PASS] == 3);
	free(s);
	free(p);
}

Test(calibrate, found_late_and_found_anew)
{
	struct profile *p = two_points();
	struct cal_sheet *s = calloc(1, sizeof *s);
	const struct entry late[] = {cal(1, "P1", "adjusted", 10), cal(2, "P1", "as-found", 10)};
	const struct entry anew[] = {cal(1, "P1", "as-found", 11), cal(2, "P1", "adjusted", 10),
	                             cal(3, "P1", "as-left", 10), cal(4e7, "P1", "as-found", 10.1)};

	cal_sheet_make(s, p, late, 2);
	cr_assert(s->point[0].found_late && !s->point[0].result.have);
	cal_sheet_make(s, p, anew, 4);
	cr_assert(!s->point[0].left.have && s->point[0].result_is_found);
	cr_assert(s->point[0].adjustings == 0 && near(s->point[0].result.indicated, 10.1, 0));
	free(s);
	free(p);
}

Test(calibrate, warm_up_from_the_power_up)
{
	struct entry e[] = {
	        {.utc_s = 1000,
	         .kind = ENTRY_POWER,
	         .subject = "r",
	         .word = "full-line",
	         .note = "",
	         .number = {117, 1200, NAN, NAN}},
	        {.utc_s = 1100,
	         .kind = ENTRY_CAL,
	         .subject = "P1",
	         .word = "as-found",
	         .note = "",
	         .number = {10, NAN, NAN, NAN}},
	        {.utc_s = 1200,
	         .kind = ENTRY_OHMS,
	         .subject = "primary",
	         .word = "",
	         .note = "",
	         .number = {20, NAN, NAN, NAN}},
	};

	cr_assert(near(cal_warm_s(e, 1, 1600), 1800, 1e-9));
	cr_assert(near(cal_warm_s(e, 2, 1600), 1800, 1e-9));
	cr_assert(isnan(cal_warm_s(e, 3, 1600)), "ohms are read with the plug out");
	cr_assert(isnan(cal_warm_s(e, 0, 1600)));
	cr_assert(isnan(cal_warm_s(e, 1, 900)), "the clock was set back");
	cr_assert(isnan(cal_warm_s(e, 1, 1000 + 25 * 3600)));
	e[0].word = "abort";
	cr_assert(isnan(cal_warm_s(e, 1, 1600)));
}

/* ---- text ---- */

Test(calibrate, prints_in_the_unit_as_written)
{
	struct profile_point p = volts(1000, 2000, 0.02, 0.01);
	char text[64];

	p.unit = UNIT_HERTZ;
	p.scale = 1000;
	strcpy(p.written, "kHz");
	cr_assert_str_eq(cal_print(text, sizeof text, &p, 1020, 4), "1.020 kHz");
	p.resolution = 10;
	cr_assert_str_eq(cal_print(text, sizeof text, &p, 1020, 4), "1.02 kHz");
	cr_assert_str_eq(cal_print_error(text, sizeof text, &p, 20, 4), "+0.02 kHz");
	cr_assert_str_eq(cal_print_error(text, sizeof text, &p, -20, 4), "-0.02 kHz");
	cr_assert_str_eq(cal_print_span(text, sizeof text, &p, 1.24, 2), "0.0012 kHz");
	cr_assert_str_eq(cal_print_tolerance(text, sizeof text, &p, &p.tolerance),
	                 "+/- 2 % + 1 % fs");
	p.tolerance = (struct profile_tolerance){.given = true, .digits = 1, .absolute = 50};
	cr_assert_str_eq(cal_print_tolerance(text, sizeof text, &p, &p.tolerance),
	                 "+/- 1 digit + 0.05 kHz");
	cr_assert_str_eq(cal_print_tolerance(text, sizeof text, &p, &p.reference), "not told");
	p.unit = UNIT_DBM;
	p.scale = 1;
	p.resolution = 0.1;
	strcpy(p.written, "dBm");
	cr_assert_str_eq(cal_print_error(text, sizeof text, &p, 0.5, 2), "+0.5 dB");
	cr_assert_str_eq(cal_print(text, sizeof text, &p, -INFINITY, 2), "nothing");
}

/* All values of a point have the same decimals: those of its resolution, or of what is applied. */
Test(calibrate, decimals_are_those_of_the_point)
{
	struct profile_point p = volts(1e6, NAN, 0.01, 0);
	char text[64];

	p.unit = UNIT_HERTZ;
	p.scale = 1e6;
	strcpy(p.written, "MHz");
	cr_assert_str_eq(cal_print(text, sizeof text, &p, 1e6, 5), "1.0000 MHz");
	cr_assert_str_eq(cal_print(text, sizeof text, &p, 0.999e6, 5), "0.9990 MHz");
	cr_assert_str_eq(cal_print_error(text, sizeof text, &p, -1000, 5), "-0.0010 MHz");
	cr_assert_str_eq(cal_print_error(text, sizeof text, &p, 0, 5), "0.0000 MHz");
	p.resolution = 10000;
	cr_assert_str_eq(cal_print(text, sizeof text, &p, 0.99e6, 5), "0.99 MHz");
	cr_assert_str_eq(cal_print_error(text, sizeof text, &p, 0, 5), "0.00 MHz");
	cr_assert_str_eq(cal_print_error(text, sizeof text, &p, -10000, 5), "-0.01 MHz");
	p.resolution = 250000;
	cr_assert_str_eq(cal_print(text, sizeof text, &p, 1.25e6, 5), "1.25 MHz");
	p.scale = 1;
	strcpy(p.written, "V");
	p.applied = 0; /* a zero point: the range tells */
	p.full_scale = 10;
	p.resolution = 0;
	cr_assert_str_eq(cal_print_error(text, sizeof text, &p, 0, 4), "0.00 V");
	cr_assert_str_eq(cal_print_error(text, sizeof text, &p, 0.02, 4), "+0.02 V");
}

static enum entry_line type(const struct cal_sheet *s, int in_hand, const char *line,
                            struct entry_draft *d, char echo[200])
{
	entry_draft_init(d, ENTRY_CAL);
	return cal_understand(s, in_hand, line, d, echo);
}

Test(calibrate, typed_lines)
{
	struct profile *p = two_points();
	struct cal_sheet *s = calloc(1, sizeof *s);
	struct entry_draft d;
	char echo[200];
	const struct entry e[] = {cal(1, "P1", "as-found", 10.8)};

	p->points[1].unit = UNIT_HERTZ;
	p->points[1].scale = 1000;
	p->points[1].applied = 1000;
	strcpy(p->points[1].written, "kHz");
	cal_sheet_make(s, p, e, 1);

	cr_assert(type(s, 1, "1.02", &d, echo) == ENTRY_LINE_TAKEN, "%s", echo);
	cr_assert_str_eq(d.entry.subject, "P2");
	cr_assert_str_eq(d.entry.word, "as-found");
	cr_assert(near(d.entry.number[0], 1020, 1e-9) && isnan(d.entry.number[1]));
	cr_assert(isnan(d.entry.number[2]) && isnan(d.entry.number[3]));
	cr_assert_str_eq(echo, "P2 as-found: 1.0200 kHz with 1.0000 kHz applied, +0.0200 kHz");

	cr_assert(type(s, 1, " p2  left 1010 Hz at 1.001 ", &d, echo) == ENTRY_LINE_TAKEN, "%s",
	          echo);
	cr_assert_str_eq(d.entry.word, "as-left");
	cr_assert(near(d.entry.number[0], 1010, 1e-9) && near(d.entry.number[1], 1001, 1e-9));

	cr_assert(type(s, 1, "P1 10.1", &d, echo) == ENTRY_LINE_TAKEN, "%s", echo);
	cr_assert_str_eq(d.entry.subject, "P1");
	cr_assert_str_eq(d.entry.word, "as-left", "found is there already");
	cr_assert(type(s, 0, "adjusted 10.0 10.1 10.2", &d, echo) == ENTRY_LINE_TAKEN, "%s", echo);
	cr_assert(near(d.entry.number[0], 10.1, 1e-9) && near(d.entry.number[3], 3, 0));
	cr_assert(near(d.entry.number[2], 0.1 / sqrt(3), 1e-9));

	cr_assert(type(s, 0, "100", &d, echo) == ENTRY_LINE_ASK);
	cr_assert_str_eq(echo, "P1: 100.000 V with 10.000 V applied?");
	cr_assert(type(s, 0, "20 at 20", &d, echo) == ENTRY_LINE_ASK);
	cr_assert_str_eq(echo, "P1 is to have 10.000 V applied, not 20.000 V?");

	cr_assert(type(s, -1, "10", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(s, 0, "", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(s, 0, "left", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(s, 0, "10 Hz", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(s, 0, "10,1", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(s, 0, "10 +/- 1%", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(s, 0, "10 at", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(s, 0, "10 at 10 10", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(s, 0, "nan", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(s, 0, "about right", &d, echo) == ENTRY_LINE_WRONG);
	free(s);
	free(p);
}
