/* The walk up the stages, on a unit whose watts can be worked out in the head (shunt_unit.h). */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "shunt_unit.h"

TestSuite(session, .timeout = 60);

static struct event follow[SESSION_FOLLOW_MAX];
static size_t n_follow;

/* Apply as an application does: what follows is applied in turn. */
static struct event put(struct session *s, struct event ev)
{
	n_follow = session_apply(s, &ev, follow, SESSION_FOLLOW_MAX);
	for (size_t i = 0; i < n_follow; i++) {
		struct event copy = follow[i];

		cr_assert_eq(session_apply(s, &copy, NULL, 0), 0, "what follows raises nothing");
	}
	return ev;
}

static void tick(struct session *s, double now_s)
{
	n_follow = session_tick(s, now_s, follow, SESSION_FOLLOW_MAX);
	for (size_t i = 0; i < n_follow; i++) {
		struct event copy = follow[i];

		(void)session_apply(s, &copy, NULL, 0);
	}
}

static struct shunt_unit *begun(double watch_s)
{
	struct shunt_unit *u = shunt_unit_new(watch_s);

	put(&u->session, an_event(0, EVENT_START));
	put(&u->session, an_event(0, EVENT_CAUTIONS));
	return u;
}

static double right_watts(double volts)
{
	return volts * volts / 500;
}

/* Stand at stage k from `at_s` on with a good reading after its hold. */
static void pass_stage(struct shunt_unit *u, int k, double at_s)
{
	const double volts = u->plan.stages[k].volts;

	put(&u->session, a_reading(at_s, volts, right_watts(volts)));
	put(&u->session, a_reading(at_s + 61, volts, right_watts(volts)));
	for (int i = 0; i < u->plan.stages[k].n_looks; i++) {
		struct event look = an_event(at_s + 61, EVENT_LOOK);

		snprintf(look.note, sizeof look.note, "yes: %.100s", u->plan.stages[k].looks[i]);
		put(&u->session, look);
	}
	cr_assert(u->session.stages[k].passed);
}

Test(session, the_unit_is_what_its_header_says)
{
	struct shunt_unit *u = shunt_unit_new(0);
	const struct band *band = &u->plan.stages[1].band;

	cr_assert(band->at.converged);
	cr_assert_float_eq(band->expected, 5.0, 1e-6);
	cr_assert_float_eq(band->low, 4.75, 1e-6);
	cr_assert_float_eq(band->high, 5.25, 1e-6);
	cr_assert_float_eq(band->abort_watts, 7.005, 1e-6);
	free(u);
}

Test(session, cautions_come_first_and_once)
{
	struct shunt_unit *u = shunt_unit_new(0);
	struct session *s = &u->session;

	put(s, an_event(0, EVENT_START));
	cr_assert_eq(s->phase, PHASE_CAUTIONS);
	cr_assert_eq(s->instruction, DO_ACKNOWLEDGE);
	put(s, a_reading(1, 30, 1.8));
	cr_assert_eq(s->phase, PHASE_CAUTIONS, "a reading does not acknowledge them");
	put(s, an_event(2, EVENT_CAUTIONS));
	cr_assert_eq(s->phase, PHASE_STAGES);
	put(s, an_event(3, EVENT_CAUTIONS));
	cr_assert_eq(s->phase, PHASE_STAGES);
	free(u);
}

Test(session, one_stage_from_setting_to_stepping_up)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct event ev;

	cr_assert_eq(s->instruction, DO_SET_VARIAC);
	cr_assert_float_eq(s->instruction_volts, 30, 1e-9);
	ev = put(s, a_reading(10, 30.4, right_watts(30.4)));
	cr_assert_eq(ev.verdict, VERDICT_IN_BAND);
	cr_assert_eq(ev.stage, 0);
	cr_assert_eq(n_follow, 1);
	cr_assert_eq(follow[0].kind, EVENT_STAGE);
	cr_assert_eq(follow[0].stage, 0);
	cr_assert_str_eq(follow[0].note, "recognised");
	cr_assert_eq(s->stage, 0);
	cr_assert_eq(s->instruction, DO_HOLD);
	cr_assert_float_eq(s->instruction_s, 60, 1e-9);
	tick(s, 34);
	cr_assert_eq(s->instruction, DO_HOLD);
	cr_assert_float_eq(s->instruction_s, 36, 1e-9);
	cr_assert_not(s->stages[0].passed, "in band, but not held yet");
	tick(s, 70);
	cr_assert_eq(s->instruction, DO_READ, "the reading from before the hold proves nothing");
	put(s, a_reading(71, 30.1, right_watts(30.1)));
	cr_assert_eq(s->instruction, DO_STEP_UP);
	cr_assert_float_eq(s->instruction_volts, 50, 1e-9);
	cr_assert(s->stages[0].passed);
	free(u);
}

Test(session, looks_are_answered_before_the_step_up)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct event look = an_event(200, EVENT_LOOK);

	pass_stage(u, 0, 10);
	put(s, a_reading(100, 50, 5));
	put(s, a_reading(161, 50, 5));
	cr_assert_eq(s->instruction, DO_LOOK);
	cr_assert_float_eq(s->instruction_volts, 70, 1e-9);
	strcpy(look.note, "no: pilot lamp I1 lit?");
	put(s, look);
	cr_assert_eq(s->instruction, DO_LOOK);
	strcpy(look.note, "yes: something else?");
	put(s, look);
	cr_assert_eq(s->instruction, DO_LOOK);
	strcpy(look.note, "yes: no smell: of anything?");
	put(s, look);
	cr_assert_eq(s->stages[1].looks_answered, 3u);
	cr_assert_eq(s->instruction, DO_LOOK, "the pilot lamp was not as it should be");
	cr_assert_eq(s->stages[1].looks_not_so, 1u);
	strcpy(look.note, "yes: pilot lamp I1 lit?");
	put(s, look);
	cr_assert_eq(s->instruction, DO_STEP_UP);
	cr_assert_eq(s->stages[1].looks_not_so, 0u);
	free(u);
}

/* Smoke is no matter of opinion: "not so" does what the stop key does, in the same keystroke. */
Test(session, a_look_of_danger_that_is_not_so_is_a_stop)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct event look = an_event(80, EVENT_LOOK);

	u->plan.stages[1].look_dangers = 1u << 1;
	put(s, a_reading(10, 50, right_watts(50)));
	put(s, a_reading(75, 50, right_watts(50)));
	strcpy(look.note, "no: pilot lamp I1 lit?");
	put(s, look);
	cr_assert_eq(n_follow, 0);
	cr_assert_eq(s->phase, PHASE_STAGES, "a dark lamp is none");
	strcpy(look.note, "no: no smell: of anything?");
	put(s, look);
	cr_assert_eq(n_follow, 1);
	cr_assert_eq(follow[0].kind, EVENT_STOP);
	cr_assert(strstr(follow[0].note, "no smell: of anything?"), "%s", follow[0].note);
	cr_assert_float_eq(follow[0].volts, 50, 1e-9);
	cr_assert_eq(s->phase, PHASE_STOPPED);
	cr_assert_eq(s->instruction, DO_ABORT);
	cr_assert_eq(s->first_finding.kind, EVENT_STOP);
	free(u);
}

Test(session, all_the_way_to_the_soak)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;

	for (int k = 0; k < 4; k++)
		pass_stage(u, k, 100 * k + 10);
	cr_assert_eq(s->phase, PHASE_SOAK);
	cr_assert_eq(s->instruction, DO_SOAK);
	cr_assert(s->first_finding.seconds < 0);
	tick(s, 5000);
	cr_assert_eq(s->phase, PHASE_SOAK, "the last stage has no longest stay");
	put(s, a_reading(5001, 117, 29));
	cr_assert_eq(s->phase, PHASE_STAGES);
	cr_assert_eq(s->instruction, DO_HOLD_HERE);
	put(s, an_event(5002, EVENT_END));
	cr_assert_eq(s->phase, PHASE_ENDED);
	cr_assert_eq(s->instruction, DO_NOTHING);
	put(s, an_event(5003, EVENT_CAUTIONS));
	cr_assert_eq(s->phase, PHASE_ENDED);
	free(u);
}

Test(session, a_unit_with_nothing_to_warm_up_is_judged_at_once)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;

	cr_assert_eq(put(s, a_reading(10, 50, 6)).verdict, VERDICT_OVER);
	cr_assert_eq(s->instruction, DO_HOLD_HERE);
	cr_assert_float_eq(s->first_finding.seconds, 10, 1e-9);
	cr_assert_eq(put(s, a_reading(80, 50, 4)).verdict, VERDICT_UNDER);
	cr_assert_float_eq(s->first_finding.seconds, 10, 1e-9, "the first one stays");
	cr_assert_eq(put(s, a_reading(90, 50, 5)).verdict, VERDICT_IN_BAND);
	cr_assert_eq(s->instruction, DO_LOOK);
	free(u);
}

Test(session, slow_drift_of_the_line_counts_as_a_move_when_it_adds_up)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;

	put(s, a_reading(0, 50, 5));
	put(s, a_reading(50, 51.5, right_watts(51.5)));
	cr_assert_float_eq(s->volts_since_s, 0, 1e-9);
	put(s, a_reading(55, 52.5, right_watts(52.5))); /* 2.5 V of 117 from where it stood */
	cr_assert_float_eq(s->volts_since_s, 55, 1e-9);
	cr_assert_eq(put(s, a_reading(100, 52.5, 7)).verdict, VERDICT_OVER);
	free(u);
}

Test(session, between_stages_a_reading_is_judged_at_its_own_volts)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct event ev;

	put(s, a_reading(0, 30, 1.8));
	ev = put(s, a_reading(10, 40, 3.2));
	cr_assert_eq(ev.stage, -1);
	cr_assert_eq(ev.verdict, VERDICT_IN_BAND);
	cr_assert_float_eq(s->band.expected, 3.2, 1e-6);
	cr_assert_eq(s->stage, 0, "still the stage it came from");
	cr_assert_eq(s->instruction, DO_SET_VARIAC);
	cr_assert_float_eq(s->instruction_volts, 30, 1e-9, "not passed: back to it");
	cr_assert_eq(put(s, a_reading(29, 40, 4)).verdict, VERDICT_OVER);
	free(u);
}

Test(session, abort_is_up_within_the_apply_that_crosses_the_line)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct event ev = a_reading(10, 50, 7.2), raised[SESSION_FOLLOW_MAX];
	size_t n = session_apply(s, &ev, raised, SESSION_FOLLOW_MAX);

	cr_assert_eq(ev.verdict, VERDICT_ABORT);
	cr_assert_eq(s->phase, PHASE_ABORT);
	cr_assert_eq(s->instruction, DO_ABORT);
	cr_assert_eq(n, 2);
	cr_assert_eq(raised[0].kind, EVENT_STAGE);
	cr_assert_eq(raised[1].kind, EVENT_ABORT_RAISED);
	cr_assert(strstr(raised[1].note, "7.20 W at 50.0 V: over the abort line, 7.0"), "%s",
	          raised[1].note);
	cr_assert_float_eq(s->abort_event.watts, 7.2, 1e-9);
	free(u);
}

Test(session, abort_stays_until_acknowledged_and_starts_again_from_the_first_stage)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;

	pass_stage(u, 0, 10);
	pass_stage(u, 1, 100);
	put(s, a_reading(200, 70, 20));
	cr_assert_eq(s->phase, PHASE_ABORT);
	put(s, a_reading(201, 70, 25));
	cr_assert_eq(n_follow, 0, "one prompt is enough");
	put(s, a_reading(205, 0, 0));
	cr_assert_eq(s->phase, PHASE_ABORT, "zero volts do not acknowledge it");
	cr_assert_float_eq(s->last.watts, 0, 1e-9, "but are seen: it is off now");
	tick(s, 1000);
	cr_assert_eq(s->phase, PHASE_ABORT);

	put(s, an_event(1001, EVENT_ABORT_ACKNOWLEDGED));
	cr_assert_eq(s->phase, PHASE_STAGES);
	cr_assert_eq(s->instruction, DO_ZERO_VARIAC);
	cr_assert_eq(s->stage, -1);
	for (int k = 0; k < 4; k++)
		cr_assert_not(s->stages[k].visited || s->stages[k].passed);
	put(s, a_reading(1010, 70, right_watts(70)));
	cr_assert_eq(s->stage, -1, "never from the middle");
	cr_assert_eq(s->instruction, DO_ZERO_VARIAC);
	struct event chosen = an_event(1011, EVENT_STAGE);
	chosen.stage = 2;
	put(s, chosen);
	cr_assert_eq(s->instruction, DO_ZERO_VARIAC);
	put(s, a_reading(1020, 30, 1.8));
	cr_assert_eq(s->stage, 0);
	cr_assert_eq(s->instruction, DO_HOLD);
	cr_assert_float_eq(s->first_finding.seconds, 200, 1e-9, "what was found stays found");
	free(u);
}

/* From the first stage, never from the middle: also when the restorer chooses. */
Test(session, after_an_abort_no_stage_is_chosen_past_the_first)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct event chosen = an_event(40, EVENT_STAGE);

	chosen.stage = 2;
	cr_assert(session_may_choose(s, 2), "nothing happened yet");
	put(s, a_reading(10, 50, 50));
	put(s, an_event(20, EVENT_ABORT_ACKNOWLEDGED));
	put(s, a_reading(30, 0, 0));
	cr_assert_not(session_may_choose(s, 2));
	cr_assert(session_may_choose(s, 0));
	put(s, chosen);
	cr_assert_eq(s->target, -1);
	put(s, a_reading(50, 30, right_watts(30)));
	cr_assert(session_may_choose(s, 2), "the first stage has been reached");
	put(s, chosen);
	cr_assert_eq(s->target, 2);
	free(u);
}

Test(session, an_abort_that_was_acknowledged_and_goes_on_comes_back)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;

	put(s, a_reading(10, 50, 20));
	put(s, an_event(11, EVENT_ABORT_ACKNOWLEDGED));
	put(s, a_reading(12, 50, 20));
	cr_assert_eq(s->phase, PHASE_ABORT);
	cr_assert_eq(follow[n_follow - 1].kind, EVENT_ABORT_RAISED);
	free(u);
}

Test(session, the_stop_key_works_from_anywhere)
{
	struct shunt_unit *u = shunt_unit_new(0);
	struct session *s = &u->session;

	put(s, an_event(0, EVENT_START));
	put(s, an_event(1, EVENT_STOP));
	cr_assert_eq(s->phase, PHASE_STOPPED, "over the cautions");
	cr_assert_eq(s->instruction, DO_ABORT);
	put(s, an_event(2, EVENT_STOP_ACKNOWLEDGED));
	cr_assert_eq(s->phase, PHASE_CAUTIONS, "which are still to be read");
	put(s, an_event(3, EVENT_CAUTIONS));
	put(s, a_reading(4, 50, 20));
	put(s, an_event(5, EVENT_STOP));
	cr_assert_eq(s->phase, PHASE_STOPPED, "over an abort");
	put(s, an_event(6, EVENT_STOP_ACKNOWLEDGED));
	cr_assert_eq(s->phase, PHASE_ABORT, "which is still up");
	put(s, an_event(7, EVENT_ABORT_ACKNOWLEDGED));
	cr_assert_eq(s->instruction, DO_ZERO_VARIAC);
	cr_assert_eq(s->first_finding.kind, EVENT_STOP);
	put(s, a_reading(8, 30, 1.8));
	put(s, an_event(9, EVENT_STOP));
	put(s, a_reading(10, 30, 20));
	cr_assert_eq(s->phase, PHASE_STOPPED);
	put(s, an_event(11, EVENT_STOP_ACKNOWLEDGED));
	cr_assert_eq(s->phase, PHASE_ABORT, "crossed while stopped");
	free(u);
}

Test(session, no_reading_within_the_watch_is_blind)
{
	struct shunt_unit *u = begun(5);
	struct session *s = &u->session;

	tick(s, 5);
	cr_assert_eq(n_follow, 0);
	tick(s, 5.5);
	cr_assert_eq(n_follow, 1);
	cr_assert_eq(follow[0].kind, EVENT_BLIND);
	cr_assert_str_eq(follow[0].note, "no reading for 5.5 s");
	cr_assert(s->blind);
	cr_assert_eq(s->instruction, DO_ZERO_VARIAC);
	tick(s, 30);
	cr_assert_eq(n_follow, 0, "told once");
	put(s, a_reading(31, 30, 1.8));
	cr_assert_not(s->blind);
	cr_assert_eq(s->instruction, DO_HOLD);
	put(s, a_reading(34, -5, 1.8));
	tick(s, 36.5);
	cr_assert(s->blind, "an impossible value is no reading");
	free(u);
}

/* What lay outside is no drift, and what came before it says nothing of what comes after. */
Test(session, a_soak_begins_anew_behind_a_finding)
{
	struct shunt_unit *u = begun(0);
	struct soak soak;

	for (int i = 0; i <= 60; i++)
		put(&u->session, a_reading(10 + 10 * i, 117, right_watts(117) * (i == 30 ? 1.05 : 1)));
	session_soak(&u->session, &soak);
	cr_assert(soak.known);
	cr_assert_float_eq(soak.window_s, 290, 1, "%g s", soak.window_s);
	cr_assert(fabs(soak.drift_watts) < 1e-6, "%g W", soak.drift_watts);
	free(u);
}

Test(session, soak_is_over_when_blind)
{
	struct shunt_unit *u = begun(100);
	struct session *s = &u->session;

	for (int k = 0; k < 4; k++)
		pass_stage(u, k, 100 * k + 10);
	cr_assert_eq(s->phase, PHASE_SOAK);
	tick(s, 600);
	cr_assert_eq(s->phase, PHASE_STAGES);
	cr_assert_eq(s->instruction, DO_ZERO_VARIAC);
	free(u);
}

Test(session, manual_entry_is_never_blind)
{
	struct shunt_unit *u = begun(0);

	tick(&u->session, 1e6);
	cr_assert_not(u->session.blind);
	cr_assert_eq(n_follow, 0);
	free(u);
}

Test(session, the_impossible_is_recorded_and_not_believed)
{
	static const struct event rows[] = {
		{ .volts = 50, .watts = -5, .amps = NAN, .power_factor = NAN },
		{ .volts = 50, .watts = NAN, .amps = NAN, .power_factor = NAN },
		{ .volts = 900, .watts = 5, .amps = NAN, .power_factor = NAN },
		{ .volts = 50, .watts = 50, .amps = 0.02, .power_factor = NAN },
		{ .volts = INFINITY, .watts = INFINITY, .amps = INFINITY, .power_factor = 1 },
	};
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;

	put(s, a_reading(1, 30, 1.8));
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct event ev = rows[i];

		ev.kind = EVENT_READING;
		ev.seconds = 2;
		strcpy(ev.note, "modbus");
		ev = put(s, ev);
		cr_assert_eq(ev.kind, EVENT_IMPOSSIBLE, "row %zu", i);
		cr_assert_eq(ev.verdict, VERDICT_UNKNOWN);
		cr_assert_eq(memcmp(&ev.watts, &rows[i].watts, sizeof ev.watts), 0, "kept raw");
		cr_assert(strstr(ev.note, "; modbus"), "%s", ev.note);
		cr_assert_eq(s->n_impossible, i + 1);
		cr_assert_float_eq(s->last.volts, 30, 1e-9);
		cr_assert_eq(s->n_points, 1);
		cr_assert_eq(s->phase, PHASE_STAGES);
	}
	free(u);
}

Test(session, a_long_note_of_an_impossible_reading_stays_within_bounds)
{
	struct shunt_unit *u = begun(0);
	struct event ev = a_reading(1, 50, -5);

	memset(ev.note, 'x', sizeof ev.note); /* not even ended */
	ev = put(&u->session, ev);
	cr_assert_eq(ev.kind, EVENT_IMPOSSIBLE);
	cr_assert(strnlen(ev.note, sizeof ev.note) < sizeof ev.note);
	free(u);
}

Test(session, jumps_and_steps_down_are_allowed_and_told)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;

	put(s, a_reading(1, 70, right_watts(70)));
	cr_assert_eq(s->stage, 2);
	cr_assert_str_eq(follow[0].note, "recognised, 2 left out");
	put(s, a_reading(2, 50, 5));
	cr_assert_str_eq(follow[0].note, "recognised, going down");
	cr_assert_eq(follow[0].stage, 1);
	put(s, a_reading(3, 1, 0));
	cr_assert_eq(s->stage, -1);
	cr_assert_eq(follow[0].stage, -1);
	cr_assert_str_eq(follow[0].note, "recognised: below the first");
	put(s, a_reading(4, 0, 0));
	cr_assert_eq(n_follow, 0);
	free(u);
}

Test(session, a_chosen_stage_is_where_to_go_not_where_it_is)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct event chosen = an_event(100, EVENT_STAGE);

	pass_stage(u, 0, 10);
	chosen.stage = 2;
	chosen.volts = 70;
	put(s, chosen);
	cr_assert_eq(s->stage, 0);
	cr_assert_eq(s->instruction, DO_SET_VARIAC);
	cr_assert_float_eq(s->instruction_volts, 70, 1e-9);
	put(s, a_reading(101, 30, 1.8)); /* a meter reports before the hand has moved */
	cr_assert_eq(s->stage, 0);
	cr_assert_eq(s->instruction, DO_SET_VARIAC);
	put(s, a_reading(102, 70, right_watts(70)));
	cr_assert_eq(s->stage, 2);
	cr_assert_eq(s->instruction, DO_HOLD);
	chosen.stage = 99;
	put(s, chosen);
	cr_assert_eq(s->instruction, DO_HOLD, "no such stage");
	free(u);
}

Test(session, an_over_reading_holds_but_lets_one_go_down)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct event chosen = an_event(200, EVENT_STAGE);

	put(s, a_reading(1, 50, 6));
	put(s, a_reading(62, 50, 6));
	chosen.stage = 2;
	put(s, chosen);
	cr_assert_eq(s->instruction, DO_HOLD_HERE);
	chosen.stage = 0;
	put(s, chosen);
	cr_assert_eq(s->instruction, DO_SET_VARIAC);
	cr_assert_float_eq(s->instruction_volts, 30, 1e-9);
	free(u);
}

Test(session, a_stage_has_a_longest_stay)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;

	pass_stage(u, 0, 10);
	tick(s, 911);
	cr_assert_eq(s->instruction, DO_STEP_DOWN);
	cr_assert_float_eq(s->instruction_volts, 50, 1e-9, "good: on is the way");
	put(s, a_reading(912, 30, 2.5));
	cr_assert_eq(s->instruction, DO_STEP_DOWN);
	cr_assert_float_eq(s->instruction_volts, 0, 1e-9, "not good: down");
	free(u);
}

Test(session, time_never_goes_back)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;

	put(s, a_reading(100, 30, 1.8));
	put(s, a_reading(50, 30, 1.8));
	cr_assert_float_eq(s->now_s, 100, 1e-9);
	tick(s, 20);
	cr_assert_float_eq(s->now_s, 100, 1e-9);
	free(u);
}

Test(session, rings_are_bounded_and_keep_the_newest)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	const int n = SESSION_READINGS_MAX + 100;

	for (int i = 0; i < n; i++)
		put(s, a_reading(i, 30, 1.8));
	cr_assert_eq(s->n_points, SESSION_READINGS_MAX);
	cr_assert_float_eq(s->points[s->points_first].seconds, 100, 1e-9);
	cr_assert_float_eq(
		s->shown[(s->shown_first + s->n_shown - 1) % SESSION_EVENTS_SHOWN].seconds, n - 1,
		1e-9);
	cr_assert(s->n_shown < 16, "readings that say the same do not push the rest out");
	cr_assert_eq(s->shown_number[s->n_shown - 1], s->n_events - 1);
	cr_assert(s->shown[0].kind != EVENT_READING, "what came before them is still there");
	for (int i = 0; i < 2 * SESSION_EVENTS_SHOWN; i++) {
		struct event note = a_reading(n + i, NAN, NAN);

		note.kind = EVENT_NOTE;
		put(s, note);
	}
	cr_assert_eq(s->n_shown, SESSION_EVENTS_SHOWN);
	cr_assert_float_eq(
		s->shown[(s->shown_first + s->n_shown - 1) % SESSION_EVENTS_SHOWN].seconds,
		n + 2 * SESSION_EVENTS_SHOWN - 1, 1e-9);
	cr_assert_eq(s->n_readings, (unsigned long)n);
	free(u);
}

Test(session, a_voltmeter_reading_is_kept_by_name)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct event rail = an_event(20, EVENT_RAIL);

	put(s, a_reading(10, 30, 1.8));
	rail.volts = 210;
	strcpy(rail.note, "rail MAIN");
	put(s, rail);
	cr_assert_float_eq(s->rail_probes[0].volts, 210, 1e-9);
	cr_assert_float_eq(s->rail_probes[0].line_volts, 30, 1e-9);
	strcpy(rail.note, "rail nowhere");
	rail.volts = 1;
	put(s, rail);
	cr_assert_float_eq(s->rail_probes[0].volts, 210, 1e-9);
	free(u);
}

/* --- any sequence of events at all ------------------------------------------------------- */

static unsigned random_state;

static unsigned pick(unsigned n)
{
	random_state = random_state * 1664525u + 1013904223u;
	return (random_state >> 8) % n;
}

static struct event random_event(double t)
{
	static const double volts[] = { 0, 15, 30, 31, 40, 50, 52.4, 60, 70, 117, 118, 900, -3 };
	struct event ev = an_event(t, (enum event_kind)pick(EVENT_KINDS));

	if (pick(3) > 0)
		ev.kind = EVENT_READING;
	if (ev.kind == EVENT_END && pick(20) > 0)
		ev.kind = EVENT_NOTE;
	ev.volts = volts[pick(13)];
	ev.watts = right_watts(ev.volts) * (pick(8) == 0 ? 3.0 : 0.9 + 0.02 * pick(11));
	ev.amps = pick(2) ? NAN : ev.watts / fmax(ev.volts, 1);
	ev.stage = ev.kind == EVENT_STAGE ? (int)pick(6) - 1 : -1;
	if (ev.kind == EVENT_LOOK)
		strcpy(ev.note,
		       pick(2) ? "yes: pilot lamp I1 lit?" : "yes: no smell: of anything?");
	return ev;
}

enum { LOG_MAX = 4000 };

Test(session, replay_is_the_same_as_live_and_the_rules_hold_on_the_way)
{
	struct event *log = calloc(LOG_MAX, sizeof *log);

	for (random_state = 1; random_state < 40; random_state++) {
		const unsigned seed = random_state;
		struct shunt_unit *live = shunt_unit_new(7), *again = shunt_unit_new(0);
		struct session *s = &live->session;
		bool abort_due = false, stop_due = false;
		size_t n = 0;
		double t = 0;
		const char *what;

		while (n < LOG_MAX - 2 * SESSION_FOLLOW_MAX && t < 3000) {
			struct event raised[SESSION_FOLLOW_MAX], ev;
			size_t k;

			t += pick(20) * 0.5;
			k = session_tick(s, t, raised, SESSION_FOLLOW_MAX);
			for (size_t i = 0; i < k; i++) {
				(void)session_apply(s, &raised[i], NULL, 0);
				log[n++] = raised[i];
			}
			ev = random_event(t);
			k = session_apply(s, &ev, raised, SESSION_FOLLOW_MAX);
			log[n++] = ev;
			if (!s->ended) {
				abort_due |= ev.kind == EVENT_READING &&
				             ev.verdict == VERDICT_ABORT;
				abort_due |= ev.kind == EVENT_ABORT_RAISED;
				abort_due &= ev.kind != EVENT_ABORT_ACKNOWLEDGED;
				stop_due |= ev.kind == EVENT_STOP;
				stop_due &= ev.kind != EVENT_STOP_ACKNOWLEDGED;
				cr_assert_eq(s->phase == PHASE_STOPPED, stop_due, "seed %u", seed);
				cr_assert_eq(s->phase == PHASE_ABORT, abort_due && !stop_due,
				             "seed %u", seed);
			}
			cr_assert(s->instruction != DO_STEP_UP ||
			          (s->last.verdict == VERDICT_IN_BAND && s->settled &&
			           s->stages[s->stage].passed && !s->blind && !s->must_zero));
			for (size_t i = 0; i < k; i++) {
				(void)session_apply(s, &raised[i], NULL, 0);
				log[n++] = raised[i];
			}
			random_state += seed;
		}
		for (size_t i = 0; i < n; i++) {
			struct event copy = log[i];

			(void)session_apply(&again->session, &copy, NULL, 0);
			cr_assert_eq(copy.verdict, log[i].verdict);
			cr_assert_eq(copy.stage, log[i].stage);
		}
		(void)session_tick(&again->session, t, NULL, 0);
		what = session_differs(s, &again->session);
		cr_assert(!what, "seed %u: %s", seed, what);
		free(live);
		free(again);
		random_state = seed;
	}
	free(log);
}

/* --- the unit turns out to be another ------------------------------------------------------ */

/* The unit turns out to be another resistor; its looks have other numbers and another order. */
static void measure_anew(struct shunt_unit *u, double at_s, double ohms)
{
	struct plan *before = malloc(sizeof *before);

	*before = u->plan;
	u->net.line_shunt_siemens = 1.0 / ohms;
	for (int i = 0; i < u->plan.n_stages; i++)
		envelope_at(&u->net, &u->rule, &u->meter, u->plan.stages[i].volts, NULL,
		            &u->plan.stages[i].band, NULL);
	strcpy(u->plan.stages[1].looks[0], "no smell: of anything?");
	strcpy(u->plan.stages[1].looks[1], "pilot lamp I1 lit? about 12 % of its light");
	session_carry_looks(&u->session, before);
	put(&u->session, an_event(at_s, EVENT_MEASURED));
	free(before);
}

Test(session, a_number_measured_judges_again_what_was_read)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;

	pass_stage(u, 0, 10);
	put(s, a_reading(200, 50, 5.2));
	cr_assert(s->last.verdict == VERDICT_IN_BAND && s->stages[1].settled);
	measure_anew(u, 210, 600); /* 4.17 W expected */
	cr_assert_eq(s->last.verdict, VERDICT_OVER);
	cr_assert_eq(s->stages[1].reading.verdict, VERDICT_OVER);
	cr_assert_eq(s->instruction, DO_HOLD_HERE);
	cr_assert_float_eq(s->band.expected, 2500.0 / 600, 1e-6);
	cr_assert(!s->stages[0].passed, "1.8 W at 30 V is over for 600 ohm as well");
	cr_assert_float_eq(s->last.watts, 5.2, 1e-12, "what was read stays");
	measure_anew(u, 220, 500);
	cr_assert_eq(s->last.verdict, VERDICT_IN_BAND);
	measure_anew(u, 230, 2000); /* 1.25 W expected, abort from 3.2 W on */
	cr_assert_eq(s->phase, PHASE_ABORT);
	cr_assert_eq(s->abort_event.seconds, 230);
	free(u);
}

Test(session, looks_stay_answered_when_their_numbers_change)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct event look;

	strcpy(u->plan.stages[1].looks[0], "pilot lamp I1 lit? about 9.5 % of its light");
	put(s, a_reading(10, 50, 5));
	look = an_event(11, EVENT_LOOK);
	strcpy(look.note, "yes: pilot lamp I1 lit? about 10 % of its light");
	put(s, look);
	cr_assert_eq(s->stages[1].looks_answered, 1u);
	measure_anew(u, 20, 500);
	cr_assert_eq(s->stages[1].looks_answered, 2u, "it stands second now");
	strcpy(look.note, "yes: pilot lamp I2 lit? about 10 % of its light");
	look.seconds = 30;
	s->stages[1].looks_answered = 0;
	put(s, look);
	cr_assert_eq(s->stages[1].looks_answered, 0u, "another lamp");
	free(u);
}

Test(session, what_a_passed_stage_ruled_out_is_told_once_and_only_what_is_new)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	struct stage *st = u->plan.stages;

	strcpy(st[0].proved[st[0].n_proved++], "a short: ruled out");
	strcpy(st[1].proved[st[1].n_proved++], "a short: ruled out");
	strcpy(st[1].proved[st[1].n_proved++], "a turn: ruled out");
	strcpy(st[2].proved[st[2].n_proved++], "a turn: ruled out");
	put(s, a_reading(10, 30, 1.8));
	cr_assert(n_follow == 1 && follow[0].kind == EVENT_STAGE);
	put(s, a_reading(71, 30, 1.8));
	cr_assert(n_follow == 1 && follow[0].kind == EVENT_NOTE);
	cr_assert_str_eq(follow[0].note, "ruled out at 30 V: a short");
	cr_assert_eq(follow[0].stage, 0);
	put(s, a_reading(72, 30, 1.8));
	cr_assert_eq(n_follow, 0, "told once");
	put(s, a_reading(80, 50, 5));
	put(s, a_reading(141, 50, 5));
	cr_assert_str_eq(follow[0].note, "ruled out at 50 V: a turn");
	put(s, a_reading(150, 70, 9.8));
	put(s, a_reading(211, 70, 9.8));
	cr_assert_str_eq(follow[0].note, "ruled out at 70 V: nothing more");
	free(u);
}

Test(session, a_long_list_of_what_was_ruled_out_loses_no_half_fact)
{
	struct shunt_unit *u = begun(0);
	struct stage *st = u->plan.stages;

	for (int i = 0; i < PLAN_LOOKS_MAX; i++)
		snprintf(st[0].proved[st[0].n_proved++], sizeof st[0].proved[0],
		         "%d %0100d: ruled out", i, i);
	put(&u->session, a_reading(10, 30, 1.8));
	put(&u->session, a_reading(71, 30, 1.8));
	cr_assert(n_follow == 1 && strlen(follow[0].note) < EVENT_NOTE_MAX);
	cr_assert(strstr(follow[0].note, "; and 5 more"), "%s", follow[0].note);
	free(u);
}

/* A meter ahead of a lamp reads both; the unit's part is judged, and what was read is kept. */
Test(session, a_meter_ahead_of_the_lamp_is_split)
{
	struct shunt_unit *u = begun(0);
	struct session *s = &u->session;
	const struct series_lamp lamp = { 60, 120 };
	struct limited at;
	struct typed typed;
	char line[64];

	limiter_solve(s->net, &lamp, 60, &at);
	cr_assert(at.converged);
	snprintf(line, sizeof line, "60 %.3f", at.total_watts);
	s->ahead = &lamp;
	session_understand(s, line, &typed);
	cr_assert_eq(typed.kind, TYPED_READING, "%s", typed.echo);
	cr_assert_float_eq(typed.event.volts, at.unit_volts, 0.1);
	cr_assert_float_eq(typed.event.watts, at.unit_watts, 0.02);
	cr_assert(strstr(typed.echo, "at the unit"), "%s", typed.echo);
	cr_assert(strncmp(typed.event.note, "typed; 60.0 V ", 14) == 0, "%s", typed.event.note);
	cr_assert(event_typed(&typed.event));
	s->ahead = NULL;
	session_understand(s, line, &typed);
	cr_assert_float_eq(typed.event.volts, 60, 1e-9);
	free(u);
}
