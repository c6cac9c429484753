/* [calibration] and [nulls] of a profile: what they say when they are right.  Their faults are
 * golden files in tests/golden/profile. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/profile_ini.h"

TestSuite(profile_sheet, .timeout = 60);

#define HEAD "[instrument]\nname = x\nline_volts = 117\n[tubes]\nV1 = 12AX7\n"

static struct profile *read_text(const char *text)
{
	struct profile *p = calloc(1, sizeof *p);
	struct buf said = BUF_INIT;
	struct complaints c;

	cr_assert(p);
	complaints_init(&c, "p.ini");
	if (profile_parse_text(text, strlen(text), p, &c) < 0)
		complaints_print(&c, &said);
	complaints_release(&c);
	cr_assert(said.len == 0, "%s", said.data);
	buf_release(&said);
	return p;
}

static bool same(double a, double b)
{
	return fabs(a - b) <= 1e-12 * (fabs(a) + fabs(b));
}

Test(profile_sheet, silent)
{
	struct profile *p = read_text(HEAD);

	cr_assert(p->n_points == 0 && p->n_nulls == 0 && !p->warm_up_s.given);
	cr_assert(p->guard_band == GUARD_BAND_U);
	free(p);
}

Test(profile_sheet, points)
{
	struct profile *p = read_text(
	        HEAD "[calibration]\n"
	             "warm_up    = 30 min\n"
	             "guard_band = 4:1\n"
	             "reference  = +/- 0.5 %\n"
	             "P1 = dial: 1 kHz on 2 kHz, +/- 2 % + 1 % fs, by C12, resolution 10 Hz, "
	             "reference +/- 0.1 %\n"
	             "P2 = dc volts: 0 V on 3 V, +/- 3 % fs + 2 digits + 0.01 V, resolution 50 mV\n"
	             "P3 = output: 10 V, \u00b1 0.5 dB, by R9 through the side\n"
	             "P4 = -20 dB on 0 dB, +/- 0.5 dB + 1 % fs\n"
	             "P5 = -10 dBm, +/- 1 dB, resolution 0.1 dB\n"
	             "P6 = modulation: 30 % on 100 %, +/- 5 % fs\n"
	             "P7 = 50 on 100, +/- 2\n"
	             "P8 = 10.7MHz,+/-20 kHz\n");
	const struct profile_point *q = p->points;

	cr_assert(p->n_points == 8 && same(p->warm_up_s.value, 1800));
	cr_assert(p->guard_band == GUARD_BAND_FOUR_TO_ONE);
	cr_assert_str_eq(q[0].name, "P1");
	cr_assert_str_eq(q[0].function, "dial");
	cr_assert_str_eq(q[0].written, "kHz");
	cr_assert_str_eq(q[0].control, "C12");
	cr_assert(q[0].unit == UNIT_HERTZ && same(q[0].applied, 1000) && same(q[0].scale, 1000));
	cr_assert(same(q[0].full_scale, 2000) && same(q[0].resolution, 10) && q[0].line == 10);
	cr_assert(same(q[0].tolerance.reading, 0.02) && same(q[0].tolerance.full_scale, 0.01));
	cr_assert(same(q[0].reference.reading, 0.001), "its own, not the one for all");
	cr_assert(q[1].applied == 0 && same(q[1].tolerance.digits, 2));
	cr_assert(same(q[1].tolerance.absolute, 0.01) && same(q[1].resolution, 0.05));
	cr_assert(same(q[1].reference.reading, 0.005), "the one for all");
	cr_assert(same(q[2].tolerance.decibel, 0.5) && isnan(q[2].full_scale));
	cr_assert_str_eq(q[2].control, "R9 through the side");
	cr_assert(q[3].unit == UNIT_DECIBEL && same(q[3].applied, -20) && q[3].full_scale == 0);
	cr_assert(same(q[3].tolerance.absolute, 0.5) && q[3].tolerance.decibel == 0);
	cr_assert(q[4].unit == UNIT_DBM && same(q[4].tolerance.absolute, 1));
	cr_assert(same(q[4].resolution, 0.1));
	cr_assert(q[5].unit == UNIT_PERCENT && same(q[5].applied, 0.3) && same(q[5].scale, 0.01));
	cr_assert(q[6].unit == UNIT_NONE && q[6].written[0] == '\0');
	cr_assert(same(q[6].tolerance.absolute, 2));
	cr_assert(same(q[7].applied, 10.7e6) && same(q[7].tolerance.absolute, 20e3));
	cr_assert_str_eq(q[7].written, "MHz");
	free(p);
}

Test(profile_sheet, reference_in_decibels_fits_volts_and_levels)
{
	struct profile *p = read_text(HEAD "[calibration]\nreference = +/- 0.2 dB\n"
	                                   "P1 = 1 V, +/- 5 %\nP2 = 0 dB, +/- 1 dB\n");

	cr_assert(same(p->points[0].reference.decibel, 0.2));
	cr_assert(same(p->points[1].reference.absolute, 0.2));
	cr_assert(p->points[1].reference.decibel == 0);
	free(p);
}

Test(profile_sheet, nulls)
{
	struct profile *p = read_text(HEAD "[nulls]\n"
	                                   "bridge = by R5 C7, below 2 mV\n"
	                                   "notch  = by R1 R2 R3, in dB\n"
	                                   "meter  = by zero balance\n");

	cr_assert(p->n_nulls == 3);
	cr_assert_str_eq(p->nulls[0].name, "bridge");
	cr_assert_str_eq(p->nulls[0].control[1], "C7");
	cr_assert(p->nulls[0].n_controls == 2 && same(p->nulls[0].below, 2e-3));
	cr_assert(p->nulls[0].unit == UNIT_VOLT && same(p->nulls[0].scale, 1e-3));
	cr_assert(p->nulls[1].n_controls == 3 && p->nulls[1].unit == UNIT_DECIBEL);
	cr_assert(isnan(p->nulls[1].below));
	cr_assert(p->nulls[2].unit == UNIT_NONE && p->nulls[2].written[0] == '\0');
	free(p);
}
