/* The job: phases, what blocks power, overrides with a reason, what is next. */
#include "written_book.h"

#include "io/table_file.h"
#include "lib/text_unit.h"
#include "mainstair/core/job.h"
#include "mainstair/core/look.h"
#include "mainstair/core/ohms.h"

TestSuite(job, .timeout = 60);

static const char radio[] =
        "[instrument]\nname = T\nline_volts = 117\nchassis = two-wire\nfuse = 1 A "
        "slow\n[tubes]\nV1 = 6AU6\nV2 = 6X4\n[transformer]\nprimary = 17 ohm +/- 2%\n[winding "
        "plate]\nvolts = 250-0-250\n[rail main]\nwinding = plate\nrectifier = V2\nform = "
        "full-wave\nreservoir = 20 uF\nbleeder = 100k\ndraw = 10 mA at 250 V by V1\n";

struct bench {
	struct text_unit *unit;
	struct tables tables;
	struct look_list looks;
	struct ohms_list ohms;
	struct written_book book;
	struct job job;
};

static void judge(struct bench *b)
{
	job_make(&b->job, &b->unit->profile, &b->unit->net, &b->tables, b->book.entry, b->book.n);
}

static struct bench *bench_make(void)
{
	struct bench *b = calloc(1, sizeof *b);
	struct err err = {0};

	cr_assert_not_null(b);
	b->unit = text_unit(radio);
	cr_assert(table_file_load(&b->tables, &err) == 0, "%s", err.text);
	look_list_make(&b->looks, &b->unit->profile);
	ohms_list_make(&b->ohms, &b->unit->net, &b->unit->profile);
	judge(b);
	return b;
}

static void bench_free(struct bench *b)
{
	tables_release(&b->tables);
	free(b->unit);
	free(b);
}

static void put(struct bench *b, enum entry_kind kind, const char *subject, const char *word,
                const char *note, double n1)
{
	book_put(&b->book, kind, subject, word, note, n1);
	judge(b);
}

static const struct job_block *find(const struct bench *b, const char *key)
{
	for (int i = 0; i < b->job.n_blocks; i++)
		if (strcmp(b->job.block[i].key, key) == 0)
			return &b->job.block[i];
	return NULL;
}

static bool stands(const struct bench *b, const char *key)
{
	const struct job_block *block = find(b, key);

	return block && !block->override_reason;
}

/* Everything before power as it should be. */
static void look_over(struct bench *b)
{
	for (int i = 0; i < b->looks.n; i++)
		if (b->looks.check[i].kind != LOOK_TUBE)
			put(b, ENTRY_LOOK, b->looks.check[i].key, "ok", "", NAN);
}

static void test_tubes(struct bench *b)
{
	put(b, ENTRY_TUBE, "V1", "good", "", NAN);
	put(b, ENTRY_TUBE, "V2", "good", "", NAN);
}

static void read_ohms(struct bench *b)
{
	for (int i = 0; i < b->ohms.n; i++) {
		const struct ohms_check *c = &b->ohms.check[i];

		if (c->kind != OHMS_BALANCE)
			put(b, ENTRY_OHMS, c->what, "", "",
			    isnan(c->expected) ? 2.0 * c->low : c->expected);
	}
}

/* --- from the first look to full line ----------------------------------------------------- */

Test(job, a_unit_from_the_beginning)
{
	struct bench *b = bench_make();

	cr_assert(b->job.next == JOB_LOOK && b->job.n_standing == 3, "%d", b->job.n_standing);
	cr_assert(stands(b, "look-not-done") && stands(b, "tubes-not-tested") &&
	          stands(b, "ohms-not-read"));
	cr_assert(b->job.progress[JOB_LOOK].done == 0 && b->job.progress[JOB_TUBES].of == 2);
	cr_assert(b->job.progress[JOB_CAPACITORS].of == 0, "the profile lists none");
	look_over(b);
	cr_assert(b->job.next == JOB_TUBES && b->job.n_standing == 2);
	cr_assert(b->job.progress[JOB_LOOK].done == b->job.progress[JOB_LOOK].of);
	put(b, ENTRY_TUBE, "V1", "good", "", NAN);
	cr_assert(strstr(find(b, "tubes-not-tested")->what, "1 of 2 not tested: V2"));
	put(b, ENTRY_TUBE, "V2", "weak", "", NAN);
	cr_assert(b->job.next == JOB_OHMS && b->job.progress[JOB_TUBES].findings == 1,
	          "a weak tube does not block");
	read_ohms(b);
	cr_assert(b->job.n_blocks == 0 && b->job.next == JOB_POWER, "%s", b->job.next_words);
	cr_assert(b->job.progress[JOB_OHMS].findings == 0);
	put(b, ENTRY_POWER, "one.rec", "left", "", 60);
	cr_assert(b->job.next == JOB_POWER && b->job.progress[JOB_POWER].done == 0);
	cr_assert(b->job.progress[JOB_POWER].findings == 0, "leaving is no finding");
	put(b, ENTRY_POWER, "two.rec", "full-line", "", 117);
	cr_assert(b->job.progress[JOB_POWER].done == 1);
	cr_assert(b->job.next == JOB_PHASES, "no sheet, nothing to compare with: %s",
	          b->job.next_words);
	bench_free(b);
}

/* An abort or a stop blocks the next power-up until somebody says what it was, or overrides it. */
Test(job, an_abort_blocks_until_it_is_accounted_for)
{
	static const struct {
		const char *word, *key;
	} ends[] = {{"abort", "aborted"}, {"stop", "stopped"}};
	struct bench *b = bench_make();
	const struct job_progress *p = &b->job.progress[JOB_POWER];

	look_over(b);
	test_tubes(b);
	read_ohms(b);
	for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
		char wanted[100];

		put(b, ENTRY_POWER, "one.rec", ends[i].word, "", 55);
		snprintf(wanted, sizeof wanted,
		         "last: %s, up to 55 V: find out why before the next one", ends[i].word);
		cr_assert(p->findings == 1 && strcmp(p->summary, wanted) == 0, "%s", p->summary);
		cr_assert(stands(b, ends[i].key) && b->job.n_blocks == 1);
		cr_assert(b->job.next == JOB_POWER && strstr(b->job.next_words, "up to 55 V"), "%s",
		          b->job.next_words);
		put(b, ENTRY_POWER, "empty.rec", "left", "", NAN);
		cr_assert(stands(b, ends[i].key) && strcmp(p->summary, wanted) == 0,
		          "opened and left with nothing read: %s", p->summary);
		put(b, ENTRY_POWER, "low.rec", "left", "", 20);
		cr_assert(stands(b, ends[i].key), "what was read at 20 V does not say what it was");
		snprintf(wanted, sizeof wanted, "last: left, up to 20 V; before it %s, up to 55 V: "
		         "find out why before the next one", ends[i].word);
		cr_assert_str_eq(p->summary, wanted);
		put(b, ENTRY_MENDED, ends[i].key, "", "C2 had broken down, new one", NAN);
		cr_assert(b->job.n_blocks == 0 && b->job.next == JOB_POWER, "%s", b->job.next_words);
		put(b, ENTRY_POWER, "two.rec", "full-line", "", 117);
		cr_assert(p->findings == 0 && b->job.next == JOB_PHASES, "%s", p->summary);
	}
	put(b, ENTRY_POWER, "three.rec", "abort", "", NAN);
	cr_assert(p->findings == 1 && p->done == 1 && b->job.next == JOB_POWER,
	          "full line of before does not hide it: %s", b->job.next_words);
	cr_assert(!strstr(p->summary, "nan") && !strstr(find(b, "aborted")->what, "nan"), "%s",
	          p->summary);
	cr_assert(stands(b, "aborted"), "mended before is not mended since");
	put(b, ENTRY_MENDED, "aborted", "", "a lead had come off", NAN);
	cr_assert(b->job.n_blocks == 0 && b->job.next == JOB_POWER && p->findings == 1);
	cr_assert_str_eq(p->summary, "last: abort; mended: a lead had come off");
	bench_free(b);
}

/* Each abort asks anew: what was overridden was another one. */
Test(job, an_override_of_an_abort_is_of_that_one)
{
	struct bench *b = bench_make();

	put(b, ENTRY_POWER, "one.rec", "abort", "", 55);
	put(b, ENTRY_OVERRIDE, "aborted", "", "the meter's lead was on the wrong socket", NAN);
	cr_assert(find(b, "aborted") && !stands(b, "aborted"));
	put(b, ENTRY_POWER, "two.rec", "left", "", 90);
	cr_assert(!stands(b, "aborted"));
	put(b, ENTRY_POWER, "three.rec", "abort", "", 55);
	cr_assert(stands(b, "aborted") && strstr(find(b, "aborted")->what, "power-up 3"), "%s",
	          find(b, "aborted")->what);
	bench_free(b);
}

/* How far the last one got is said as it was. */
Test(job, full_line_reached_is_not_full_line_passed)
{
	struct bench *b = bench_make();
	const struct job_progress *p = &b->job.progress[JOB_POWER];

	put(b, ENTRY_POWER, "one.rec", "left", "", 90);
	cr_assert_str_eq(p->summary, "last: left, up to 90 V; full line not reached yet");
	put(b, ENTRY_POWER, "two.rec", "left", "", 117);
	cr_assert_str_eq(p->summary, "last: left, up to 117 V; full line was reached, but not passed");
	cr_assert(p->done == 0);
	put(b, ENTRY_POWER, "low.rec", "left", "", 35);
	cr_assert_str_eq(p->summary, "last: left, up to 35 V; full line was reached, but not passed");
	/* passed, and then an abort: passed all the same */
	book_put(&b->book, ENTRY_POWER, "three.rec", "abort", "", 117);
	b->book.entry[b->book.n - 1].number[1] = 600;
	judge(b);
	cr_assert(p->done == 1 && p->findings == 1);
	bench_free(b);
}

Test(job, findings_block)
{
	struct bench *b = bench_make();

	look_over(b);
	test_tubes(b);
	read_ohms(b);
	put(b, ENTRY_LOOK, "cord", "finding", "cracked at the plug", NAN);
	cr_assert(stands(b, "cord") && strstr(find(b, "cord")->what, "cracked at the plug"));
	cr_assert(b->job.next == JOB_LOOK && strstr(b->job.next_words, "mend"));
	put(b, ENTRY_LOOK, "cord", "mended", "new cord", NAN);
	cr_assert(b->job.n_blocks == 0);
	put(b, ENTRY_LOOK, "earlier repairs", "finding", "silicon in place of V2", NAN);
	cr_assert(b->job.n_blocks == 0 && b->job.progress[JOB_LOOK].findings == 1, "only warns");
	put(b, ENTRY_TUBE, "V1", "bad", "open heater", NAN);
	cr_assert(b->job.n_blocks == 0, "an amplifier does no harm");
	put(b, ENTRY_TUBE, "V1", "shorted", "grid-cathode", NAN);
	put(b, ENTRY_TUBE, "V2", "bad", "", NAN);
	cr_assert(stands(b, "tube-test V1") && stands(b, "tube-test V2"));
	put(b, ENTRY_TUBE, "V1", "good", "another one", NAN);
	put(b, ENTRY_TUBE, "V2", "good", "another one", NAN);
	put(b, ENTRY_OHMS, "both live pins, joined, to chassis", "", "", 30e3);
	cr_assert(b->job.n_blocks == 1 && b->job.next == JOB_OHMS);
	cr_assert(strstr(b->job.block[0].what, "30 kohm, 2 Mohm or more expected"), "%s",
	          b->job.block[0].what);
	bench_free(b);
}

/* The whole's finding and that of a place are not told twice. */
Test(job, a_missing_tube_is_one_block)
{
	struct bench *b = bench_make();

	look_over(b);
	put(b, ENTRY_LOOK, "tube V2 6X4", "finding", "missing", NAN);
	cr_assert(stands(b, "tube V2 6X4") && b->job.progress[JOB_LOOK].findings == 1);
	cr_assert(b->job.n_standing == 3, "and tubes, and ohms");
	bench_free(b);
}

/* --- overrides ---------------------------------------------------------------------------- */

Test(job, an_override_holds_while_what_blocks_is_the_same)
{
	struct bench *b = bench_make();
	static const char pins[] = "both live pins, joined, to chassis";

	put(b, ENTRY_OHMS, pins, "", "", 1.8e6);
	cr_assert(stands(b, "insulation"));
	put(b, ENTRY_OVERRIDE, "insulation", "", "", NAN);
	cr_assert(stands(b, "insulation"), "without a reason it is none");
	put(b, ENTRY_OVERRIDE, "insulation", "", "rain all week, 1.8 Mohm is the room", NAN);
	cr_assert(!stands(b, "insulation"));
	cr_assert_str_eq(find(b, "insulation")->override_reason,
	                 "rain all week, 1.8 Mohm is the room");
	put(b, ENTRY_OHMS, pins, "", "", 1.8e6);
	cr_assert(!stands(b, "insulation"), "the same reading again");
	put(b, ENTRY_OHMS, pins, "", "", 30.0);
	cr_assert(stands(b, "insulation"), "another reading asks again");
	put(b, ENTRY_OHMS, pins, "", "", INFINITY);
	cr_assert(!find(b, "insulation"), "and mended it does not block");
	bench_free(b);
}

Test(job, an_override_entered_ahead_is_none)
{
	struct bench *b = bench_make();

	put(b, ENTRY_OVERRIDE, "cord", "", "just in case", NAN);
	put(b, ENTRY_LOOK, "cord", "finding", "bare copper", NAN);
	cr_assert(stands(b, "cord"));
	bench_free(b);
}

Test(job, what_is_left_undone_can_be_overridden)
{
	struct bench *b = bench_make();

	put(b, ENTRY_OVERRIDE, "tubes-not-tested", "", "no tester here", NAN);
	cr_assert(!stands(b, "tubes-not-tested"));
	put(b, ENTRY_TUBE, "V1", "good", "", NAN);
	cr_assert(!stands(b, "tubes-not-tested"), "fewer left: the same block");
	put(b, ENTRY_TUBE, "V1", "not-tested", "", NAN);
	cr_assert(!stands(b, "tubes-not-tested"), "as many as then");
	look_over(b);
	cr_assert(b->job.next == JOB_OHMS, "tubes are passed by");
	put(b, ENTRY_TUBE, "V1", "shorted", "", NAN);
	cr_assert(stands(b, "tube-test V1"), "a finding is not what was overridden");
	bench_free(b);
}

/* With another profile it is not known whether what was overridden is what is left. */
Test(job, another_profile_asks_again)
{
	struct bench *b = bench_make();

	put(b, ENTRY_LOOK, "cord", "finding", "stiff", NAN);
	put(b, ENTRY_OVERRIDE, "tubes-not-tested", "", "no tester here", NAN);
	put(b, ENTRY_OVERRIDE, "cord", "", "new one ordered, it is whole", NAN);
	cr_assert(!stands(b, "tubes-not-tested") && !stands(b, "cord"));
	put(b, ENTRY_PROFILE, "t.ini", "0badcafe", "[instrument]", NAN);
	cr_assert(stands(b, "tubes-not-tested"));
	cr_assert(!stands(b, "cord"), "the cord is the same");
	bench_free(b);
}

/* An override of an untested tube says nothing of one that was tested since and untested again. */
Test(job, more_left_undone_asks_again)
{
	struct bench *b = bench_make();

	put(b, ENTRY_TUBE, "V1", "good", "", NAN);
	put(b, ENTRY_OVERRIDE, "tubes-not-tested", "", "V2 is a known one", NAN);
	cr_assert(!stands(b, "tubes-not-tested"));
	put(b, ENTRY_TUBE, "V1", "not-tested", "", NAN);
	cr_assert(stands(b, "tubes-not-tested"));
	bench_free(b);
}

/* --- in all conditions -------------------------------------------------------------------- */

Test(job, more_blocks_than_room)
{
	struct bench *b = bench_make();
	struct profile *p = &b->unit->profile;

	for (int i = 0; i < PROFILE_TUBES_MAX; i++) {
		p->tubes[i] = p->tubes[0];
		(void)snprintf(p->tubes[i].place, PROFILE_NAME_MAX, "V%d", i);
	}
	p->n_tubes = PROFILE_TUBES_MAX;
	for (int i = 0; i < BOOK_ENTRIES_MAX; i++) {
		char place[PROFILE_NAME_MAX];

		(void)snprintf(place, sizeof place, "V%d", i);
		book_put(&b->book, ENTRY_TUBE, place, "shorted", "", NAN);
	}
	judge(b);
	cr_assert(b->job.n_blocks == JOB_BLOCKS_MAX && b->job.cut);
	bench_free(b);
}

Test(job, every_shipped_profile)
{
	struct tables tables;
	struct err err = {0};
	struct job *job = malloc(sizeof *job);

	cr_assert_not_null(job);
	cr_assert(table_file_load(&tables, &err) == 0, "%s", err.text);
	for (int k = 0; shipped_profile(k); k++) {
		struct text_unit *unit = shipped_unit(shipped_profile(k));

		job_make(job, &unit->profile, &unit->net, &tables, NULL, 0);
		cr_assert(job->next == JOB_LOOK && job->n_standing >= 3 && !job->cut);
		for (int i = 0; i < JOB_PHASES; i++)
			cr_assert(job->progress[i].done == 0);
		free(unit);
	}
	tables_release(&tables);
	free(job);
}

/* A point is done when it has a result that counts, a null when it is as low as asked or as low as
 * it goes. */
Test(job, calibration_is_the_sheet_and_the_nulls)
{
	struct bench *b = bench_make();
	struct profile *p = &b->unit->profile;

	cr_assert(b->job.progress[JOB_CALIBRATE].of == 0);
	p->points[p->n_points++] = (struct profile_point){
		.name = "P1", .unit = UNIT_VOLT, .scale = 1, .applied = 10, .resolution = NAN,
		.full_scale = NAN, .tolerance = {.given = true, .reading = 0.05},
		.reference = {.given = true, .reading = 0.001}};
	p->nulls[p->n_nulls++] = (struct profile_null){
		.name = "hum", .control = {"R1", "R2"}, .n_controls = 2, .scale = 1, .below = 3};
	judge(b);
	cr_assert(b->job.progress[JOB_CALIBRATE].of == 2 &&
	          b->job.progress[JOB_CALIBRATE].done == 0);
	put(b, ENTRY_CAL, "P1", "as-found", "", 12);
	cr_assert(b->job.progress[JOB_CALIBRATE].done == 1 &&
	          b->job.progress[JOB_CALIBRATE].findings == 1);
	put(b, ENTRY_NULL, "R1", "hum", "", 9);
	put(b, ENTRY_NULL, "R2", "hum", "", 5);
	cr_assert(b->job.progress[JOB_CALIBRATE].done == 1, "it still falls");
	put(b, ENTRY_NULL, "R1", "hum", "", 2.9);
	cr_assert(b->job.progress[JOB_CALIBRATE].done == 2);
	cr_assert_str_eq(b->job.progress[JOB_CALIBRATE].summary,
	                 "2 of 2 points and nulls, 1 fails");
	bench_free(b);
}
