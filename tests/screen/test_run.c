/* A power-up under way: judged, recorded, synced; and a disk that refuses. */
#include "walked_unit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "app/feed_bench.h"
#include "app/fits.h"
#include "app/headless.h"
#include "app/live.h"

TestSuite(run, .timeout = 400);

static struct event reading(double seconds, double volts, double watts)
{
	return (struct event){.seconds = seconds,
	                      .kind = EVENT_READING,
	                      .stage = -1,
	                      .volts = volts,
	                      .watts = watts,
	                      .amps = NAN,
	                      .power_factor = NAN,
	                      .note = "typed"};
}

static size_t count(const char *path, enum event_kind kind)
{
	struct record *r = NULL;
	struct err err = {0};
	size_t n = 0;
	cr_assert(record_open(path, &r, &err) == 0, "%s", err.text);
	for (size_t i = 0; i < record_n_events(r); i++)
		n += record_entries(r)[i].kind == kind;
	record_close(r);
	return n;
}

Test(run, a_reading_over_the_line_is_an_abort_when_put_returns)
{
	struct loaded_unit *u = walked_unit("bench-oscillator.ini");
	struct run_unit unit = judged_by(u);
	struct run run;
	struct err err = {0};
	char path[64], where[4096];

	struct record_writer *w = new_record(u, path);
	cr_assert(run_init(&run, &unit, 0, w, "test", &err) == 0);
	run_note(&run, 1, EVENT_CAUTIONS, "");
	struct event ev = reading(2, 20, 1.1);
	run_put(&run, &ev);
	cr_assert(run.session->phase == PHASE_STAGES && ev.verdict != VERDICT_ABORT &&
	          ev.stage == 0);
	ev = reading(3, 20, 15);
	run_put(&run, &ev);
	cr_assert(ev.verdict == VERDICT_ABORT && run.session->phase == PHASE_ABORT);
	cr_assert(run_wants_sync(&run, 3));
	run_sync(&run);
	cr_assert(!run_wants_sync(&run, 3) && run_recorded(&run) == run.session->n_events);
	cr_assert(run_finish(&run, where, sizeof where, &err) == 0);
	cr_assert_str_eq(where, path);
	cr_assert(count(path, EVENT_START) == 1 && count(path, EVENT_READING) == 2);
	cr_assert(count(path, EVENT_ABORT_RAISED) == 1 && count(path, EVENT_STAGE) == 1);
	remove_record(path);
	walked_unit_free(u);
}

/* A cold unit is judged by the band of its moment, and the stage keeps which that was. */
Test(run, a_stage_keeps_the_band_that_its_reading_was_judged_by)
{
	struct loaded_unit *u = walked_unit("bench-oscillator.ini");
	struct run_unit unit = judged_by(u);
	struct run run;
	struct err err = {0};
	char path[64], where[4096];

	struct record_writer *w = new_record(u, path);
	cr_assert(run_init(&run, &unit, 0, w, "test", &err) == 0);
	const struct session_stage *at = &run.session->stages[0];
	run_note(&run, 1, EVENT_CAUTIONS, "");
	struct event ev = reading(2, 20, 1.1);
	run_put(&run, &ev);
	cr_assert(!at->settled && at->high > 1.2 * u->plan->stages[0].band.high);
	for (int i = 1; i <= 200; i++) {
		ev = reading(2 + 4 * i, 20, 1.1);
		run_put(&run, &ev);
	}
	cr_assert(at->settled && fabs(at->high - u->plan->stages[0].band.high) < 1e-6);
	cr_assert(fabs(at->low - u->plan->stages[0].band.low) < 1e-6);
	cr_assert(run_finish(&run, where, sizeof where, &err) == 0);
	remove_record(path);
	walked_unit_free(u);
}

/* What the screen is told of a ranking. */
Test(run, that_no_fault_fits_is_told_though_healthy_leads)
{
	struct loaded_unit *u = walked_unit("bench-oscillator.ini");
	struct session *s = calloc(1, sizeof *s);
	struct fits *f = calloc(1, sizeof *f);
	struct surroundings *a = calloc(1, sizeof *a);
	struct suspicion *c = &f->suspicion;

	session_init(s, u->network, u->plan, &u->rule, &u->accuracy, 0);
	s->have_reading = true;
	s->phase = PHASE_STAGES;
	s->last.verdict = VERDICT_OVER;
	f->ranked = true;
	c->n = 2;
	c->n_readings = 3;
	c->list[0] = (struct suspect){.kind = SUSPECT_HEALTHY, .index = -1, .words = "healthy"};
	c->list[1] = (struct suspect){.kind = SUSPECT_MAINS_SHUNT, .index = -1, .size = 390,
		.log_odds = 3, .words = "about 390 ohm across the mains", .n_also = 1,
		.also = {{SUSPECT_SHORTED_TURN, -1, 37}}};
	fits_show(f, s, a);
	cr_assert(a->n_fits == 0 && a->fits_healthy && a->poor[0] == '\0');
	c->poor_fit = true;
	snprintf(c->odd, sizeof c->odd, "the one at 70 V");
	fits_show(f, s, a);
	cr_assert(a->n_fits == 0 && strstr(a->poor, "none of the known faults fits"));
	cr_assert_not_null(strstr(a->poor, "the one at 70 V"));

	struct suspect healthy = c->list[0];
	c->list[0] = c->list[1];
	c->list[1] = healthy;
	fits_show(f, s, a);
	cr_assert(a->n_fits == 1 && a->fits[0].odds[0] == '\0', "odds of what fits badly mislead");
	c->poor_fit = false;
	fits_show(f, s, a);
	cr_assert(a->n_fits == 1 && !a->poor[0] && !a->fits_healthy);
	cr_assert_str_eq(a->fits[0].words,
		"about 390 ohm across the mains; or a shorted turn taking about 37 W at full line");
	cr_assert_str_eq(a->fits[0].odds, "20 to 1 against healthy");

	/* an abort's explanation outlives its acknowledgement */
	f->phase = PHASE_ABORT;
	s->last.verdict = VERDICT_IN_BAND;
	fits_show(f, s, a);
	cr_assert(a->n_fits == 1 && a->fits_of_abort);
	f->phase = PHASE_STAGES;
	fits_show(f, s, a);
	cr_assert(a->n_fits == 0);
	free(a);
	free(f);
	free(s);
	walked_unit_free(u);
}

Test(run, what_cannot_be_is_recorded_and_not_believed)
{
	struct loaded_unit *u = walked_unit("bench-oscillator.ini");
	struct run_unit unit = judged_by(u);
	static const double rows[][2] = {{50, -7}, {900, 5}, {NAN, 5}, {50, NAN}, {INFINITY, 1},
		{-3, 1}};
	struct run run;
	struct err err = {0};
	char path[64], where[4096];

	struct record_writer *w = new_record(u, path);
	cr_assert(run_init(&run, &unit, 0, w, "test", &err) == 0);
	run_note(&run, 1, EVENT_CAUTIONS, "");
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct event ev = reading(2 + (double)i, rows[i][0], rows[i][1]);
		run_put(&run, &ev);
		cr_assert(ev.kind == EVENT_IMPOSSIBLE, "row %zu", i);
		cr_assert(!run.session->have_reading && run.session->instruction == DO_SET_VARIAC);
	}
	cr_assert(run_finish(&run, where, sizeof where, &err) == 0);
	cr_assert(count(path, EVENT_IMPOSSIBLE) == sizeof rows / sizeof *rows);
	remove_record(path);
	walked_unit_free(u);
}

/* The judging goes on, the trouble is told, and nothing is lost once there is room again. */
Test(run, a_full_disk_is_told_and_made_up_for)
{
	struct loaded_unit *u = walked_unit("bench-oscillator.ini");
	struct run_unit unit = judged_by(u);
	struct rlimit before, small;
	struct run run;
	struct err err = {0};
	char path[64], where[4096];

	struct record_writer *w = new_record(u, path);
	cr_assert(run_init(&run, &unit, 0, w, "test", &err) == 0);
	run_sync(&run);
	cr_assert(run_recorded(&run) == 1 && run.trouble[0] == '\0');
	getrlimit(RLIMIT_FSIZE, &before);
	small = before;
	small.rlim_cur = 1;
	setrlimit(RLIMIT_FSIZE, &small);
	run_note(&run, 1, EVENT_CAUTIONS, "");
	struct event ev = reading(2, 20, 15);
	run_put(&run, &ev);
	run_sync(&run);
	setrlimit(RLIMIT_FSIZE, &before);
	cr_assert(run.session->phase == PHASE_ABORT);
	cr_assert(run.trouble[0] != '\0' && run_recorded(&run) == 1);
	cr_assert(isfinite(run_sync_due(&run)), "it is tried again");
	run_sync(&run);
	cr_assert(run.trouble[0] == '\0', "%s", run.trouble);
	cr_assert(run_recorded(&run) >= run.session->n_events);
	cr_assert(run_finish(&run, where, sizeof where, &err) == 0);
	cr_assert(count(path, EVENT_ABORT_RAISED) == 1 && count(path, EVENT_READING) == 1);
	remove_record(path);
	walked_unit_free(u);
}

static void walk(const char *profile, const char *fault, struct headless_result *ret)
{
	struct loaded_unit *u = walked_unit(profile);
	struct run_unit unit = judged_by(u);
	struct feed feed;
	struct run run;
	struct err err = {0};
	char where[64];

	cr_assert(feed_bench_open(&feed, u->network, &fault, fault ? 1 : 0, &err) == 0, "%s",
	          err.text);
	cr_assert(run_init(&run, &unit, feed.watch_s, NULL, "test", &err) == 0);
	headless_run(&run, &feed, ret);
	cr_assert(run_finish(&run, where, sizeof where, &err) == 0 && where[0] == '\0');
	feed_close(&feed);
	walked_unit_free(u);
}

Test(run, a_healthy_unit_walks_up_to_full_line)
{
	struct headless_result *r = malloc(sizeof *r);
	walk("table-radio.ini", NULL, r);
	cr_assert(r->end == HEADLESS_SOAKED && r->last == VERDICT_IN_BAND);
	free(r);
}

Test(run, a_shorted_primary_ends_on_the_first_stage)
{
	struct headless_result *r = malloc(sizeof *r);
	walk("bench-oscillator.ini", "primary short 40 ohm", r);
	cr_assert(r->end == HEADLESS_ABORTED && r->abort.volts < 25);
	free(r);
}

/* Common practice, no source: a rail short behind a tube rectifier does not show before the
 * rectifier is warm, about half of line voltage. */
Test(run, a_short_behind_a_tube_rectifier_shows_late)
{
	struct headless_result *r = malloc(sizeof *r);
	walk("bench-oscillator.ini", "rail main short", r);
	cr_assert(r->end == HEADLESS_HELD || r->end == HEADLESS_ABORTED);
	cr_assert(r->stages[0].passed && r->stages[1].passed);
	cr_assert(r->reading.volts > 0.4 * 117);
	free(r);
}

/* What was passed before an alarm is no answer to it, and was passed all the same. */
Test(run, how_it_ended_is_what_came_last)
{
	struct plan plan = {.n_stages = 2};
	struct session *s = calloc(1, sizeof *s);
	struct live_end end = {"left", NAN, NAN};
	double full_line_s = NAN;

	cr_assert_not_null(s);
	s->plan = &plan;
	s->have_reading = true;
	s->phase = PHASE_SOAK;
	s->stages[1].passed = true;
	s->last.volts = 117;
	s->now_s = 600;
	live_end_follow(&end, s, &full_line_s);
	s->now_s = 900;
	live_end_follow(&end, s, &full_line_s);
	cr_assert(strcmp(end.word, "full-line") == 0 && fabs(end.soak_s - 300) < 1e-9);
	s->phase = PHASE_ABORT; /* on the way down, at another stage: the last one stays passed */
	live_end_follow(&end, s, &full_line_s);
	s->phase = PHASE_STAGES;
	s->last.volts = 20;
	s->now_s = 1000;
	live_end_follow(&end, s, &full_line_s);
	cr_assert_str_eq(end.word, "abort");
	cr_assert(fabs(end.soak_s - 300) < 1e-9 && fabs(end.top_volts - 117) < 1e-9);
	s->phase = PHASE_SOAK;
	live_end_follow(&end, s, &full_line_s);
	cr_assert(strcmp(end.word, "full-line") == 0 && end.soak_s <= 0);
	free(s);
}
