/*
 * Comparison: the normalized error E_n of ISO/IEC 17043 and ISO 13528 (from memory), and a power-up
 * laid under another.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/compare.h"

TestSuite(compare, .timeout = 60);

static bool near(double a, double b, double by)
{
	return fabs(a - b) <= by;
}

/* E_n = (x - X) / sqrt(Ux^2 + UX^2), agreement up to 1: sums by hand, 0.05 and 0.12 make 0.13. */
Test(compare, normalized_error)
{
	struct compare_result r;

	compare_values(10.13, 0.05, 10.00, 0.12, NAN, &r);
	cr_assert(near(r.expanded, 0.13, 1e-12) && near(r.en, 1, 1e-9));
	cr_assert(r.verdict == COMPARE_AGREE, "at most 1");
	compare_values(10.12, 0.05, 10.00, 0.12, NAN, &r);
	cr_assert(r.verdict == COMPARE_AGREE && r.why == COMPARE_PLAIN);
	cr_assert(near(r.difference, 0.12, 1e-9) && near(r.share, 0.012, 1e-9));
	cr_assert(near(r.matters, 1.0, 1e-12), "a tenth");
	compare_values(9.86, 0.05, 10.00, 0.12, NAN, &r);
	cr_assert(r.verdict == COMPARE_DIFFER && r.en < -1);
}

Test(compare, cannot_tell)
{
	struct compare_result r;

	compare_values(NAN, 0.1, 10, 0.1, NAN, &r);
	cr_assert(r.verdict == COMPARE_CANNOT_TELL && r.why == COMPARE_NO_VALUE);
	compare_values(10, NAN, 10, 0.1, NAN, &r);
	cr_assert(r.verdict == COMPARE_CANNOT_TELL && r.why == COMPARE_NO_UNCERTAINTY);
	compare_values(10, 0.1, 12, NAN, NAN, &r);
	cr_assert(r.verdict == COMPARE_CANNOT_TELL && isnan(r.en));
	compare_values(10, 0, 10, 0, NAN, &r);
	cr_assert(r.why == COMPARE_NO_UNCERTAINTY, "nothing is exact");
	compare_values(10, INFINITY, 10, 0.1, NAN, &r);
	cr_assert(r.verdict == COMPARE_CANNOT_TELL);
	/* known to 2 V: a difference of 1 V (a tenth) would not show; one of 3 V does */
	compare_values(10.5, 2, 10, 0.1, NAN, &r);
	cr_assert(r.verdict == COMPARE_CANNOT_TELL && r.why == COMPARE_TOO_COARSE);
	compare_values(13, 2, 10, 0.1, NAN, &r);
	cr_assert(r.verdict == COMPARE_DIFFER);
	/* what matters can be said */
	compare_values(10.5, 2, 10, 0.1, 3, &r);
	cr_assert(r.verdict == COMPARE_AGREE);
	/* around nought nobody knows what matters */
	compare_values(0.001, 0.01, 0, 0.01, NAN, &r);
	cr_assert(r.verdict == COMPARE_AGREE && isnan(r.share) && isnan(r.matters));
}

Test(compare, decibels)
{
	/* a tenth more volts: 0.828 dB (20 log 1.1) */
	cr_assert(near(compare_matters(UNIT_DECIBEL, -20, 0.1), 0.8279, 1e-4));
	cr_assert(near(compare_matters(UNIT_DBM, 0, 0.1), 0.8279, 1e-4));
	cr_assert(near(compare_matters(UNIT_VOLT, -5, 0.1), 0.5, 1e-12));
	cr_assert(isnan(compare_matters(UNIT_VOLT, 0, 0.1)));
}

Test(compare, units_of_subjects)
{
	char name[32];

	cr_assert(compare_unit("output V", name, sizeof name) == UNIT_VOLT);
	cr_assert_str_eq(name, "output");
	cr_assert(compare_unit("gain at 1 kHz dB", name, sizeof name) == UNIT_DECIBEL);
	cr_assert_str_eq(name, "gain at 1 kHz");
	cr_assert(compare_unit("divisions", name, sizeof name) == UNIT_NONE);
	cr_assert_str_eq(name, "divisions");
	cr_assert(compare_unit("", NULL, 0) == UNIT_NONE);
}

/* ---- entries ---- */

static struct entry put(const char *subject, double a, double ua, double b, double ub)
{
	return (struct entry){.kind = ENTRY_COMPARE,
	                      .subject = subject,
	                      .word = "",
	                      .note = "sister",
	                      .number = {a, ua, b, ub}};
}

Test(compare, list)
{
	struct profile *p = calloc(1, sizeof *p);
	struct compare_list *l = calloc(1, sizeof *l);
	const struct entry e[] = {
	        put("output V", 1.0, 0.02, 1.5, 0.02), put("P1 Hz", 1010, 30, 1000, 1),
	        put("Output V", 1.0, 0.02, 1.01, 0.02), put("gain dB", 20, 0.1, 20.1, 0.1)};

	p->n_points = 1;
	p->points[0] = (struct profile_point){.name = "P1",
	                                      .unit = UNIT_HERTZ,
	                                      .scale = 1,
	                                      .tolerance = {.given = true, .reading = 0.02}};
	compare_list_make(l, p, e, 4);
	cr_assert(l->n == 3 && l->beyond == 0);
	cr_assert(l->line[0].entry == &e[2], "the newest of a quantity");
	cr_assert(l->line[0].result.verdict == COMPARE_AGREE);
	/* P1's tolerance is 20 Hz, known to 30 Hz: too coarse, though a tenth would do */
	cr_assert(near(l->line[1].result.matters, 20, 1e-9));
	cr_assert(l->line[1].result.why == COMPARE_TOO_COARSE);
	cr_assert(near(l->line[2].result.matters, 0.8279, 1e-4));
	cr_assert(l->count[COMPARE_AGREE] == 2 && l->count[COMPARE_CANNOT_TELL] == 1);
	free(l);
	free(p);
}

Test(compare, typed_lines)
{
	struct entry_draft d;
	char echo[200];
	const struct entry before = put("output V", 1, 1, 1, 1);
	static const char *const wrong[] = {
	        "1.02 V, 1.00 V",
	        "output: 1.02 V",
	        "output: 1,02 V, 1.00 V",
	        ": 1 V, 2 V",
	        "1.02, 1.00gain: 1.02, 1.00",
	        "output: 1 V, 2 Hz",
	        "output: 1, 2 V",
	        "output: 1 V +/- 2 Hz, 2 V",
	        "output: 1 V +/- 0 V, 2 V",
	        "output: x V, 2 V",
	        "output: 1 V +/-, 2 V",
	};

	entry_draft_init(&d, ENTRY_COMPARE);
	cr_assert(compare_understand(&before, 1, "output: 1.02 V +/- 2 %, 1 V +/- 10 mV", &d, echo) == ENTRY_LINE_TAKEN,
	          "%s", echo);
	cr_assert_str_eq(d.entry.subject, "output V");
	cr_assert_str_eq(d.entry.note, "sister", "the other is still the same one");
	cr_assert(near(d.entry.number[0], 1.02, 0) && near(d.entry.number[1], 0.0204, 1e-12));
	cr_assert(near(d.entry.number[2], 1, 0) && near(d.entry.number[3], 0.01, 1e-12));
	cr_assert_str_eq(echo, "output: 1.02 V against 1 V: agree");

	entry_draft_init(&d, ENTRY_COMPARE);
	cr_assert(compare_understand(NULL, 0, "gain: -20 dB \u00b1 1 %, -20.5 dB, the blue one", &d,
	                             echo) == ENTRY_LINE_TAKEN,
	          "%s", echo);
	cr_assert_str_eq(d.entry.subject, "gain dB");
	cr_assert_str_eq(d.entry.note, "the blue one");
	cr_assert(near(d.entry.number[1], 0.0864, 1e-4), "1 %% of volts are 0.0864 dB");
	cr_assert(isnan(d.entry.number[3]));
	cr_assert_str_eq(echo, "gain: -20 dB against -20.5 dB: cannot tell");

	entry_draft_init(&d, ENTRY_COMPARE);
	cr_assert(compare_understand(NULL, 0, "dial: 50 +/- 1, 52 +/- 1", &d, echo) ==
	          ENTRY_LINE_TAKEN);
	cr_assert_str_eq(d.entry.subject, "dial");
	cr_assert(compare_understand(NULL, 0, "1 kHz, 1 V in: 1 V, 1 V", &d, echo) ==
	          ENTRY_LINE_TAKEN);
	entry_draft_init(&d, ENTRY_COMPARE);
	cr_assert(compare_understand(NULL, 0, "dial: 50 +/- 1, 52 +/- 1", &d, echo) ==
	          ENTRY_LINE_TAKEN);
	cr_assert_str_eq(echo, "dial: 50 against 52: differ");
	for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
		entry_draft_init(&d, ENTRY_COMPARE);
		cr_assert(compare_understand(NULL, 0, wrong[i], &d, echo) ==
		                  ENTRY_LINE_WRONG,
		          "%s", wrong[i]);
		cr_assert(echo[0]);
	}
}

Test(compare, dropped)
{
	struct entry book[3] = {put("output V", 1, 1, 2, 1), put("gain", 1, 1, 1, 1)};
	static struct compare_list list;
	static struct profile none;
	struct entry_draft d;
	char echo[200];

	entry_draft_init(&d, ENTRY_COMPARE);
	cr_assert(compare_understand(book, 2, "drop hum", &d, echo) ==
	          ENTRY_LINE_WRONG);
	cr_assert(compare_understand(book, 2, "drop ", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(compare_understand(book, 2, "drop output", &d, echo) ==
	          ENTRY_LINE_TAKEN);
	cr_assert_str_eq(d.entry.subject, "output V");
	book[2] = d.entry;
	compare_list_make(&list, &none, book, 3);
	cr_assert(list.n == 1 && list.line[0].entry == &book[1]);
	cr_assert(compare_understand(book, 3, "drop output V", &d, echo) ==
	          ENTRY_LINE_WRONG, "once is enough");
	/* and anew */
	book[1] = book[2];
	book[2] = put("output V", 1, 1, 1, 1);
	compare_list_make(&list, &none, book, 3);
	cr_assert(list.n == 1 && list.line[0].entry == &book[2]);
}

/* ---- a power-up under another ---- */

static const struct meter_accuracy one_per_cent = {.reading_share = 0.01, .offset_watts = 0.05};

Test(compare, like_an_earlier_power_up)
{
	struct like_curve c;
	struct like_band b;
	struct compare_result r;

	like_init(&c, "sister\x1b", &one_per_cent);
	cr_assert(!strchr(c.name, '\x1b'));
	/* w = 30 (v/117)^1.6, out of order */
	cr_assert(like_add(&c, 117, 30) && like_add(&c, 50, 30 * pow(50 / 117.0, 1.6)));
	cr_assert(like_add(&c, 90, 30 * pow(90 / 117.0, 1.6)));
	cr_assert(like_add(&c, NAN, 3) && like_add(&c, 60, -1) && like_add(&c, 0, 1));
	cr_assert(c.n == 3 && near(c.volts[0], 50, 0) && near(c.volts[2], 117, 0));

	like_at(&c, &one_per_cent, 117, &b);
	/* both meters: limits of 0.35 W, 2 sqrt(2) 0.35 / sqrt(3) */
	cr_assert(b.have && near(b.expected, 30, 1e-9));
	cr_assert(near(b.expanded, 2 * sqrt(2.0 / 3) * 0.35, 1e-9), "%g", b.expanded);
	like_at(&c, &one_per_cent, 70, &b);
	cr_assert(near(b.expected, 30 * pow(70 / 117.0, 1.6), 1e-6), "the law is kept between");
	cr_assert(b.expanded > 2 * sqrt(2.0 / 3) * (0.01 * b.expected + 0.05),
	          "doubt between points");
	like_judge(&b, b.expected + 0.9 * b.expanded, &r);
	cr_assert(r.verdict == COMPARE_AGREE);
	like_judge(&b, b.expected - 1.1 * b.expanded, &r);
	cr_assert(r.verdict == COMPARE_DIFFER && r.difference < 0);
	like_judge(&b, NAN, &r);
	cr_assert(r.verdict == COMPARE_CANNOT_TELL);

	like_at(&c, &one_per_cent, 118, &b);
	cr_assert(b.have && b.expected > 30);
	like_at(&c, &one_per_cent, 121, &b);
	cr_assert(!b.have && isnan(b.low));
	like_judge(&b, 30, &r);
	cr_assert(r.verdict == COMPARE_CANNOT_TELL && r.why == COMPARE_NO_VALUE);
	like_at(&c, &one_per_cent, 40, &b);
	cr_assert(!b.have);
	like_at(&c, &one_per_cent, NAN, &b);
	cr_assert(!b.have);
}

Test(compare, like_of_few_and_many)
{
	struct like_curve c;
	struct like_band b;

	like_init(&c, "x", &one_per_cent);
	like_at(&c, &one_per_cent, 50, &b);
	cr_assert(!b.have);
	cr_assert(like_add(&c, 50, 6));
	like_at(&c, &one_per_cent, 50.5, &b);
	cr_assert(b.have && near(b.expected, 6 * pow(1.01, 1.6), 1e-9));
	/* the newest reading at a stage stands */
	cr_assert(like_add(&c, 50.5, 7) && c.n == 1 && near(c.watts[0], 7, 0));
	cr_assert(like_add(&c, 52, 8) && c.n == 2);
	cr_assert(like_add(&c, 51, 7.5) && c.n >= 1);
	for (int i = 1; i < c.n; i++)
		cr_assert(c.volts[i] > c.volts[i - 1]);
	like_init(&c, "x", &one_per_cent);
	for (int i = 0; i < LIKE_POINTS_MAX; i++)
		cr_assert(like_add(&c, 10 * pow(1.05, i), 1 + i));
	cr_assert(!like_add(&c, 5, 1), "no room");
	cr_assert(like_add(&c, 10, 2) && near(c.watts[0], 2, 0), "but its place is its own");
}
