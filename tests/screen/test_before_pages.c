/*
 * The pages before power, as a restorer types on them: the sheet against golden files, and that
 * what is shown follows from the entries alone.
 */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include "page_bench.h"

TestSuite(before_pages, .timeout = 60);

static const char oscillator[] =
        "[instrument]\nname = Invented bench oscillator\nline_volts = 117\nchassis = two-wire\n"
        "fuse = 0.5 A slow\n"
        "[tubes]\nV1 = 12AX7\nV2 = 6AU6\nV3 = 6X4\nV4 = 0A2\n[lamps]\nI1 = 47\n"
        "[transformer]\nprimary = 17 ohm +/- 10%\n"
        "[winding heater]\nvolts = 6.3\n"
        "[winding plate]\nvolts = 250-0-250\nohms = 360\n"
        "[rail main]\nwinding = plate\nrectifier = V3\nform = full-wave\nreservoir = 20 uF\n"
        "[rail screen]\nfrom = main\nthrough = 2k2\nreservoir = 20 uF\nbleeder = 100k\n"
        "[rail steady]\nfrom = screen\nthrough = 6k8\nregulator = V4\ndraw = 5 mA at 150 V by V2\n"
        "[capacitors]\nC1 = 20 uF 450 V on main\nC2 = 20 uF 450 V on screen\n";

static const char table_radio[] =
        "[instrument]\nname = Invented table radio\nline_volts = 117\nsupply = series-string\n"
        "chassis = live\n"
        "[tubes]\nV1 = 12BE6\nV2 = 12BA6\nV3 = 12AV6\nV4 = 50C5\nV5 = 35W4\n"
        "[rail main]\nwinding = line\nrectifier = V5\nform = half-wave\nreservoir = 30 uF\n"
        "draw = 60 mA at 115 V by V4\n"
        "[capacitors]\nC1 = 30 uF 150 V on main\n";

/* --- scenes ------------------------------------------------------------------------------- */

static const struct scene scenes[] = {
        {"look_begun", oscillator, &page_look, {{0, NULL}}, -1},
        {"look_finding",
         oscillator,
         &page_look,
         {{0, "finding cracked 10 cm from the plug"},
          {1, "ok"},
          {2, "1 A slow"},
          {3, "ok"},
          {5, "none"}},
         0},
        {"look_tubes", oscillator, &page_look, {{16, "6BA6"}, {14, "ok"}}, 15},
        {"look_live", table_radio, &page_look, {{0, "mended new cord, polarised plug"}}, 7},
        {"tubes_begun", oscillator, &page_tubes, {{0, NULL}}, 3},
        {"tubes_tested",
         oscillator,
         &page_tubes,
         {{0, "good 85 % section 1; 80 % section 2"},
          {1, "weak 2400 of 5200 umho"},
          {2, "short plate to cathode"},
          {3, "strikes 168 holds 151"}},
         2},
        {"ohms_begun", oscillator, &page_ohms, {{0, NULL}}, -1},
        {"ohms_read",
         oscillator,
         &page_ohms,
         {{0, "OL"},
          {1, "0.3"},
          {2, "17.2"},
          {3, "0"},
          {4, "365"},
          {5, "176"},
          {6, "189"},
          {8, "2k25"},
          {11, "3k1; leads poled as the can"}},
         11},
        {"ohms_live", table_radio, &page_ohms, {{0, "200k"}}, 0},
};
enum { SCENES = sizeof scenes / sizeof *scenes };

static struct bench *bench_make(const char *profile, const struct page_ops *page)
{
	return bench_open(profile, page, false);
}

Test(before_pages, golden)
{
	scenes_golden(scenes, SCENES, false);
}

Test(before_pages, leaving_and_coming_back_changes_nothing)
{
	scenes_come_back(scenes, SCENES, false);
}

/* --- ways through ------------------------------------------------------------------------- */

Test(before_pages, a_page_opens_on_what_is_left)
{
	struct bench *b = bench_make(oscillator, &page_tubes);

	(void)type(b, 0, "good");
	(void)type(b, -1, "good");
	cr_assert(b->in_hand == 2, "the row moves on");
	b->page->close(b->self);
	b->self = b->page->open(&b->desk);
	b->in_hand = 0;
	fill(b);
	cr_assert(b->in_hand == 2);
	bench_free(b);
}

Test(before_pages, the_last_row_stays)
{
	struct bench *b = bench_make(oscillator, &page_tubes);

	(void)type(b, 3, "good");
	cr_assert(b->in_hand == 3 && b->in_hand < b->sheet.n_rows);
	bench_free(b);
}

/* What it points to is read where it stands. */
Test(before_pages, a_reading_that_fails_stays_in_hand)
{
	struct bench *b = bench_make(oscillator, &page_ohms);

	cr_assert(type(b, 0, "30k") == PAGE_STAY);
	cr_assert(b->in_hand == 0);
	cr_assert(type(b, 0, "OL") == PAGE_TAKEN);
	bench_free(b);
}

/* One line for all tubes; a place with something of its own stays in the list. */
Test(before_pages, places_fold_into_their_complement)
{
	struct bench *b = bench_make(oscillator, &page_look);
	const int rows = b->sheet.n_rows;
	int complement = 0;

	while (!strstr(b->sheet.row[complement].cell[0], "all 4 tubes"))
		complement++;
	(void)type(b, complement, "ok");
	cr_assert(b->sheet.n_rows == rows - 4);
	(void)type(b, complement, "not looked");
	cr_assert(b->sheet.n_rows == rows);
	(void)type(b, complement + 2, "missing");
	(void)type(b, complement, "ok");
	cr_assert(b->sheet.n_rows == rows - 3);
	bench_free(b);
}

Test(before_pages, cautions_stand_beside_the_step)
{
	for (int s = 0; s < SCENES; s++) {
		struct bench *b = play(&scenes[s], false);

		cr_assert(b->sheet.caution[0], "%s", scenes[s].name);
		if (b->page != &page_tubes)
			cr_assert(strstr(b->sheet.caution, "unplugged") &&
			          strstr(b->sheet.caution, "discharged"));
		if (b->page != &page_tubes && b->unit->profile.chassis == CHASSIS_LIVE)
			cr_assert(strstr(b->sheet.caution, "LIVE"));
		bench_free(b);
	}
}

/* Every shipped profile: each row can be taken in hand and says what to do. */
Test(before_pages, every_row_of_every_shipped_profile)
{
	static const struct page_ops *const pages[] = {&page_look, &page_tubes, &page_ohms};

	for (int k = 0; shipped_profile(k); k++)
		for (size_t p = 0; p < sizeof pages / sizeof *pages; p++) {
			struct bench *b = bench_make(oscillator, pages[p]);

			free(b->unit);
			b->unit = shipped_unit(shipped_profile(k));
			look_at_book(b);
			fill(b);
			for (int r = 0; r < b->sheet.n_rows; r++) {
				b->in_hand = r;
				fill(b);
				cr_assert(b->in_hand == r && b->sheet.instruction[0]);
				cr_assert(b->sheet.n_details >= 2);
			}
			b->in_hand = 1000;
			fill(b);
			cr_assert(b->in_hand < (b->sheet.n_rows > 0 ? b->sheet.n_rows : 1));
			bench_free(b);
		}
}
