/*
 * The pages after power, as a restorer types on them: the sheet against golden files, and that
 * what is shown follows from the entries alone.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/page.h"
#include "io/table_file.h"
#include "lib/text_unit.h"
#include "ui/term_dump.h"
#include "unit/written_book.h"

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

struct line {
	int row; /* -1: the row that the page has in hand */
	const char *text;
};

struct bench {
	struct text_unit *unit;
	struct tables tables;
	struct written_book book;
	struct job job;
	struct bench_desk desk;
	const struct page_ops *page;
	void *self;
	int in_hand;
	struct sheet sheet;
	char echo[PAGE_ECHO_MAX];
};

static void look_at_book(struct bench *b)
{
	b->desk = (struct bench_desk){.profile = &b->unit->profile,
	                              .network = &b->unit->net,
	                              .tables = &b->tables,
	                              .entries = b->book.entry,
	                              .n_entries = b->book.n,
	                              .job = &b->job,
	                              .utc_s = 1e9 + 60.0 * (double)b->book.n};
	job_make(&b->job, b->desk.profile, b->desk.network, b->desk.tables, b->desk.entries,
	         b->desk.n_entries);
}

static void fill(struct bench *b)
{
	memset(&b->sheet, 0, sizeof b->sheet);
	b->sheet.in_hand = b->sheet.verdict_column = -1;
	b->sheet.instruction_role = ROLE_MUST;
	(void)snprintf(b->sheet.unit, sizeof b->sheet.unit, "SN 17: %.60s", b->unit->profile.name);
	b->page->fill(b->self, &b->desk, &b->in_hand, &b->sheet);
	b->sheet.in_hand = b->sheet.n_rows > 0 ? b->in_hand : -1;
}

static struct bench *bench_make(const char *profile, const struct page_ops *page)
{
	struct bench *b = calloc(1, sizeof *b);
	struct err err = {0};

	cr_assert_not_null(b);
	b->unit = text_unit(profile);
	cr_assert(table_file_load(&b->tables, &err) == 0, "%s", err.text);
	/* half an hour at full line, and left on */
	book_put(&b->book, ENTRY_POWER, "a.record", "full-line", "", 117);
	b->book.entry[0].number[1] = 1740;
	look_at_book(b);
	b->page = page;
	b->self = page->open(&b->desk);
	cr_assert_not_null(b->self);
	fill(b);
	return b;
}

static void bench_free(struct bench *b)
{
	b->page->close(b->self);
	tables_release(&b->tables);
	free(b->unit);
	free(b);
}

/* As the loop does it: an entry is kept, the row moves on; a question is answered with yes. */
static enum page_answer type(struct bench *b, int row, const char *text)
{
	enum page_answer answer;

	if (row >= 0)
		b->in_hand = row;
	fill(b);
	answer = b->page->enter(b->self, &b->desk, b->in_hand, text, book_next(&b->book), b->echo);
	if (answer == PAGE_WRONG)
		return answer;
	if (answer != PAGE_DONE_HERE)
		book_keep(&b->book);
	look_at_book(b);
	if (answer == PAGE_TAKEN)
		b->in_hand++;
	fill(b);
	return answer;
}

static char *draw(const struct sheet *s, int cols, int rows)
{
	struct canvas c;
	char *text;

	canvas_init(&c, true, true);
	cr_assert(canvas_resize(&c, rows, cols) == 0);
	(void)screen_sheet(s, &c);
	text = term_dump_text(&c);
	cr_assert_not_null(text);
	canvas_release(&c);
	return text;
}

/* --- scenes ------------------------------------------------------------------------------- */

static const struct scene {
	const char *name, *profile;
	const struct page_ops *page;
	struct line lines[10];
	int in_hand; /* afterwards; -1: where it came to stand */
} scenes[] = {
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

static struct bench *play(const struct scene *scene)
{
	struct bench *b = bench_make(scene->profile, scene->page);

	for (int i = 0; i < 10 && scene->lines[i].text; i++)
		cr_assert(type(b, scene->lines[i].row, scene->lines[i].text) != PAGE_WRONG,
		          "%s: %s: %s", scene->name, scene->lines[i].text, b->echo);
	if (scene->in_hand >= 0)
		b->in_hand = scene->in_hand;
	fill(b);
	return b;
}

Test(after_pages, golden)
{
	static const struct {
		int cols, rows;
	} forms[] = {{80, 24}, {40, 12}, {160, 50}};
	const char *dir = getenv("GOLDEN_DIR");
	int wrong = 0;

	cr_assert_not_null(dir, "GOLDEN_DIR is not set");
	for (int s = 0; s < SCENES; s++) {
		struct bench *b = play(&scenes[s]);

		for (size_t f = 0; f < sizeof forms / sizeof *forms; f++) {
			char *text = draw(&b->sheet, forms[f].cols, forms[f].rows);
			char *expected = calloc(1, 60000);
			char path[512];
			FILE *file;

			(void)snprintf(path, sizeof path, "%s/%s-%dx%d-utf8.screen", dir,
			               scenes[s].name, forms[f].cols, forms[f].rows);
			file = fopen(path, getenv("GOLDEN_UPDATE") ? "wb" : "rb");
			if (getenv("GOLDEN_UPDATE")) {
				cr_assert_not_null(file, "%s", path);
				(void)fputs(text, file);
			} else if (!file || !fread(expected, 1, 59999, file) ||
			           strcmp(text, expected) != 0) {
				wrong++;
				(void)fprintf(stderr, "%s differs; now:\n%s\n", path, text);
			}
			if (file)
				(void)fclose(file);
			free(expected);
			free(text);
		}
		bench_free(b);
	}
	cr_assert(wrong == 0, "%d sheets differ", wrong);
}

/* Left and taken up again, the same is shown, with nothing but the entries. */
Test(after_pages, leaving_and_coming_back_changes_nothing)
{
	for (int s = 0; s < SCENES; s++) {
		struct bench *b = play(&scenes[s]);
		char *before = draw(&b->sheet, 80, 24), *after;
		const int in_hand = b->in_hand;

		b->page->close(b->self);
		b->self = b->page->open(&b->desk);
		cr_assert_not_null(b->self);
		fill(b);
		b->in_hand = in_hand;
		fill(b);
		after = draw(&b->sheet, 80, 24);
		cr_assert_str_eq(before, after, "%s", scenes[s].name);
		free(before);
		free(after);
		bench_free(b);
	}
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
