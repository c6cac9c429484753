/* A record played: forwards, backwards and by jumps it is the session that it was live. */
#include "walked_unit.h"

#include <math.h>
#include <string.h>

#include "app/feed_bench.h"
#include "app/headless.h"
#include "app/player.h"

TestSuite(player, .timeout = 400);

/* A walk on the virtual bench, recorded. */
static struct record *recorded_walk(const struct loaded_unit *u, const char *fault, char path[64])
{
	struct run_unit unit = judged_by(u);
	struct headless_result *r = malloc(sizeof *r);
	struct record *record = NULL;
	struct feed feed;
	struct run run;
	struct err err = {0};
	char where[4096];

	struct record_writer *w = new_record(u, path);
	cr_assert(feed_bench_open(&feed, u->network, &fault, fault ? 1 : 0, &err) == 0, "%s",
	          err.text);
	cr_assert(run_init(&run, &unit, 5, w, "test", &err) == 0);
	headless_run(&run, &feed, r);
	cr_assert(run_finish(&run, where, sizeof where, &err) == 0);
	feed_close(&feed);
	free(r);
	cr_assert(record_open(path, &record, &err) == 0, "%s", err.text);
	return record;
}

static void same(const struct session *a, const struct session *b, size_t at)
{
	cr_assert(a->n_events == b->n_events && a->n_readings == b->n_readings, "after %zu events",
	          at);
	cr_assert(a->phase == b->phase && a->instruction == b->instruction, "after %zu events", at);
	cr_assert(a->stage == b->stage && a->have_reading == b->have_reading, "after %zu events",
	          at);
	cr_assert(a->n_points == b->n_points && a->points_first == b->points_first);
	if (a->have_reading)
		cr_assert(a->last.verdict == b->last.verdict &&
			memcmp(&a->last.watts, &b->last.watts, sizeof a->last.watts) == 0);
	for (int i = 0; i < a->plan->n_stages; i++)
		cr_assert(a->stages[i].passed == b->stages[i].passed &&
			a->stages[i].looks_answered == b->stages[i].looks_answered);
}

Test(player, any_way_to_an_event_gives_the_same_state)
{
	struct loaded_unit *u = walked_unit("table-radio.ini");
	struct run_unit unit = judged_by(u);
	struct player straight, jumping;
	struct err err = {0};
	char path[64];
	struct record *record = recorded_walk(u, NULL, path);
	size_t n = record_n_events(record);

	cr_assert(n > 600);
	cr_assert(player_init(&jumping, record, &unit, &err) == 0);
	jumping.copy_every = 16; /* so that copies are thinned out on the way */
	player_seek(&jumping, n);
	cr_assert(player_work(&jumping, INFINITY) && jumping.at == n);
	size_t goal = 7;
	for (int i = 0; i < 12; i++) {
		goal = (goal * 7919 + 13) % (n + 1);
		player_seek(&jumping, goal);
		cr_assert(player_work(&jumping, INFINITY) && jumping.at == goal);
		cr_assert(player_init(&straight, record, &unit, &err) == 0);
		player_seek(&straight, goal);
		cr_assert(player_work(&straight, INFINITY));
		same(jumping.session, straight.session, goal);
		cr_assert(jumping.have_then == straight.have_then);
		if (jumping.have_then)
			cr_assert(jumping.verdict_then == straight.verdict_then);
		player_release(&straight);
	}
	player_release(&jumping);
	record_close(record);
	remove_record(path);
	walked_unit_free(u);
}

Test(player, the_same_profile_judges_as_it_did)
{
	struct loaded_unit *u = walked_unit("bench-oscillator.ini");
	struct run_unit unit = judged_by(u);
	struct player p;
	struct event ev;
	enum verdict then;
	struct err err = {0};
	char path[64];
	struct record *record = recorded_walk(u, "rail main leak 5k", path);

	cr_assert(player_init(&p, record, &unit, &err) == 0);
	for (size_t i = 0; i < record_n_events(record); i++) {
		cr_assert(player_step(&p, &ev, &then, &err) == 0, "%s", err.text);
		if (ev.kind == EVENT_READING)
			cr_assert(ev.verdict == then, "event %zu at %g V: %s, then %s", i, ev.volts,
				verdict_word(ev.verdict), verdict_word(then));
	}
	player_release(&p);
	record_close(record);
	remove_record(path);
	walked_unit_free(u);
}

Test(player, another_profile_judges_anew_and_outlives_its_own_aborts)
{
	struct loaded_unit *u = walked_unit("bench-oscillator.ini");
	struct loaded_unit *other = walked_unit("solid-state.ini");
	struct run_unit unit = judged_by(other);
	struct player p;
	struct event ev;
	enum verdict then;
	struct err err = {0};
	char path[64];
	struct record *record = recorded_walk(u, NULL, path);
	size_t differ = 0, aborts = 0;

	cr_assert(player_init(&p, record, &unit, &err) == 0);
	for (size_t i = 0; i < record_n_events(record); i++) {
		cr_assert(player_step(&p, &ev, &then, &err) == 0, "%s", err.text);
		differ += ev.kind == EVENT_READING && ev.verdict != then;
		aborts += ev.kind == EVENT_READING && ev.verdict == VERDICT_ABORT;
	}
	cr_assert(differ > 10 && aborts > 10);
	cr_assert(p.session->phase == PHASE_ENDED);
	player_release(&p);
	record_close(record);
	remove_record(path);
	walked_unit_free(other);
	walked_unit_free(u);
}

Test(player, jumps)
{
	struct loaded_unit *u = walked_unit("bench-oscillator.ini");
	struct run_unit unit = judged_by(u);
	struct player p;
	struct err err = {0};
	char path[64];
	struct record *record = recorded_walk(u, "rail main short", path);
	const struct record_entry *e = record_entries(record);

	cr_assert(player_init(&p, record, &unit, &err) == 0);
	size_t finding = player_finding(&p);
	cr_assert(finding > 0 && (e[finding - 1].verdict == VERDICT_OVER ||
		e[finding - 1].verdict == VERDICT_ABORT));
	for (size_t i = 0; i + 1 < finding; i++)
		cr_assert(e[i].kind != EVENT_READING || (e[i].verdict != VERDICT_OVER &&
			e[i].verdict != VERDICT_UNDER && e[i].verdict != VERDICT_ABORT));
	int stages = 0;
	for (size_t goal = player_next_stage(&p); goal > p.at; goal = player_next_stage(&p)) {
		cr_assert(e[goal - 1].kind == EVENT_STAGE);
		player_seek(&p, goal);
		cr_assert(player_work(&p, INFINITY));
		stages++;
	}
	cr_assert(stages >= 3);
	size_t last = p.at;
	size_t back = player_previous_stage(&p);
	cr_assert(back < last && e[back - 1].kind == EVENT_STAGE);
	player_seek(&p, back);
	cr_assert(player_work(&p, INFINITY) && p.at == back);
	player_release(&p);
	record_close(record);
	remove_record(path);
	walked_unit_free(u);
}
