/*
 * The pages after power, as a restorer types on them: the sheet against golden files, and that
 * what is shown follows from the entries alone.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "page_bench.h"

TestSuite(after_pages, .timeout = 60);

static const char oscillator[] =
        "[instrument]\nname = Invented bench oscillator\nline_volts = 117\nchassis = two-wire\n"
        "[tubes]\nV1 = 12AX7\nV2 = 6AU6\nV3 = 6X4\n"
        "[winding plate]\nvolts = 250-0-250\n"
        "[rail main]\nwinding = plate\nrectifier = V3\nform = full-wave\nreservoir = 20 uF\n"
        "[calibration]\nwarm_up = 30 min\nreference = +/- 0.1 %\n"
        "P1 = dial: 200 Hz on 200 Hz, +/- 2 % + 1 Hz, by C12, resolution 1 Hz\n"
        "P2 = dial: 2 kHz on 2 kHz, +/- 2 %, by C12, resolution 10 Hz\n"
        "P3 = output meter: 10 V on 10 V, +/- 3 % fs, by R31, resolution 0.1 V, "
        "reference +/- 2 %\n"
        "P4 = attenuator: -20 dB on 0 dB, +/- 0.5 dB, resolution 0.1 dB, reference +/- 0.1 dB\n"
        "[nulls]\nhum = by R22 R23, below 3 mV\ndistortion = by R8 R11, in %\n";

static const char plain[] =
        "[instrument]\nname = Invented radio\nline_volts = 117\n[tubes]\nV1 = 12AX7\nV2 = 6X4\n";

/* --- scenes ------------------------------------------------------------------------------- */

static const struct scene scenes[] = {
        {"calibrate_begun", oscillator, &page_calibrate, {{0, NULL}}, -1},
        {"calibrate_found",
         oscillator,
         &page_calibrate,
         {{0, "201"}, {-1, "2.09"}, {-1, "10.2"}, {-1, "-20.1"}},
         1},
        {"calibrate_left",
         oscillator,
         &page_calibrate,
         {{0, "201"}, {1, "2.09"}, {2, "10.2 10.1 10.3"}, {1, "adjusted 2.00"}, {1, "2.01"}},
         0},
        {"calibrate_none", plain, &page_calibrate, {{0, NULL}}, -1},
        {"nulls_begun", oscillator, &page_nulls, {{0, NULL}}, -1},
        {"nulls_falling",
         oscillator,
         &page_nulls,
         {{0, "R22 40: 90"},
          {-1, "R23 12: 60"},
          {-1, "R22 43: 30"},
          {-1, "R23 13: 20"},
          {-1, "R22 44: 10"},
          {-1, "R23 14: 7"},
          {-1, "R22 46: 9"}},
         -1},
        {"nulls_wandering",
         oscillator,
         &page_nulls,
         {{1, "R8 0.8"},
          {-1, "R11 0.31"},
          {-1, "R8 0.3"},
          {-1, "R11 0.31"},
          {-1, "R8 0.32"},
          {-1, "R11 0.3"},
          {-1, "R8 0.31"},
          {-1, "R11 0.3"}},
         -1},
        {"nulls_named",
         plain,
         &page_nulls,
         {{0, "null balance"}, {-1, "zero -40"}, {-1, "span 3"}},
         -1},
        {"compare_begun", oscillator, &page_compare, {{0, NULL}}, -1},
        {"compare_three",
         oscillator,
         &page_compare,
         {{0, "output: 10.1 V +/- 1 %, 10.0 V +/- 1 %, the blue one"},
          {-1, "P2: 2.09 kHz +/- 10 Hz, 2.00 kHz +/- 10 Hz"},
          {-1, "hum: 3 mV, 2 mV +/- 10 %"}},
         2},
};
enum { SCENES = sizeof scenes / sizeof *scenes };

static struct bench *bench_make(const char *profile, const struct page_ops *page)
{
	return bench_open(profile, page, true);
}

Test(after_pages, golden)
{
	scenes_golden(scenes, SCENES, true);
}

Test(after_pages, leaving_and_coming_back_changes_nothing)
{
	scenes_come_back(scenes, SCENES, true);
}

Test(after_pages, the_sheet_opens_on_what_is_next)
{
	struct bench *b = bench_make(oscillator, &page_calibrate);

	(void)type(b, 0, "201");
	(void)type(b, -1, "2.2");
	cr_assert(b->in_hand == 2, "the row moves on");
	(void)type(b, -1, "10");
	(void)type(b, -1, "-20");
	b->page->close(b->self);
	b->self = b->page->open(&b->desk);
	b->in_hand = 0;
	fill(b);
	cr_assert(b->in_hand == 1, "the one that fails");
	cr_assert(strstr(b->sheet.instruction, "turn C12"));
	cr_assert(type(b, -1, "adjusted 2.00") == PAGE_STAY);
	cr_assert(strstr(b->sheet.instruction, "as left"), "%s", b->sheet.instruction);
	cr_assert(type(b, -1, "2.00") == PAGE_TAKEN);
	bench_free(b);
}

/* A line about another point leaves the hand where it is; a slip is asked about. */
Test(after_pages, slips_and_other_points)
{
	struct bench *b = bench_make(oscillator, &page_calibrate);

	cr_assert(type(b, 0, "P4 -20.1") == PAGE_STAY && b->in_hand == 0);
	cr_assert(type(b, 1, "20.9") == PAGE_ASK);
	cr_assert(type(b, 1, "209 V") == PAGE_WRONG);
	b->page->close(b->self);
	b->page = &page_nulls;
	b->self = b->page->open(&b->desk);
	cr_assert(type(b, 0, "R22 3") == PAGE_STAY);
	cr_assert(type(b, 0, "R23 3000") == PAGE_ASK);
	cr_assert(type(b, 0, "null ") == PAGE_WRONG);
	cr_assert(type(b, 0, "null distortion") == PAGE_DONE_HERE);
	cr_assert(b->in_hand == 1, "one that is there is taken in hand");
	bench_free(b);
}

/* The minutes since full line pass while nobody types. */
Test(after_pages, warm_up_goes_on)
{
	struct bench *b = bench_make(oscillator, &page_calibrate);
	double due = b->page->due(b->self, &b->desk);

	cr_assert(due > 0 && due <= 60);
	cr_assert(!strstr(b->sheet.caution, "full line"), "%s", b->sheet.caution);
	b->book.n = 0;
	look_at_book(b);
	cr_assert(isinf(b->page->due(b->self, &b->desk)), "never switched on");
	fill(b);
	cr_assert(strstr(b->sheet.caution, "full line was not reached"), "%s", b->sheet.caution);
	bench_free(b);
}
