/*
 * The state is kept as plain facts (where the volts are, since when, which prompts are up);
 * phase and instruction are worked out from them anew after every event and tick, so that
 * neither can contradict the facts and replay cannot differ from what was live.
 */
#include "mainstair/core/session.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"
#include "session_probes.h"

/* The line has moved when it is further than this from where it last came to rest. */
static const double moved_share = 0.02; /* of nameplate volts */
/* From the variac's last move to a typed line: look up, read, type (common practice, no source). */
static const double typed_after_s = 5.0;
/* No heater takes longer than this to settle, however low the volts. */
static const double longest_settling_s = 600.0;

static const char recognised[] = "recognised";
static const char ruled_out[] = "ruled out at ";

/* Where follow-up events go. */
struct follow {
	struct event *list;
	size_t n, max;
};

static void follow_up(struct follow *f, enum event_kind kind, double seconds, int stage,
                      double volts, double watts, const char *format, ...)
        __attribute__((format(printf, 7, 8)));

static void follow_up(struct follow *f, enum event_kind kind, double seconds, int stage,
                      double volts, double watts, const char *format, ...)
{
	struct event *ev;
	va_list ap;

	if (f->n >= f->max)
		return;
	ev = &f->list[f->n++];
	memset(ev, 0, sizeof *ev);
	ev->seconds = seconds;
	ev->kind = kind;
	ev->stage = stage;
	ev->volts = volts;
	ev->watts = watts;
	ev->amps = NAN;
	ev->power_factor = NAN;
	ev->verdict = VERDICT_UNKNOWN;
	va_start(ap, format);
	(void)vsnprintf(ev->note, sizeof ev->note, format, ap);
	va_end(ap);
}

void session_init(struct session *s, const struct network *net, const struct plan *plan,
                  const struct abort_rule *rule, const struct meter_accuracy *meter, double watch_s)
{
	memset(s, 0, sizeof *s);
	s->net = net;
	s->plan = plan;
	s->rule = rule;
	s->meter = meter;
	s->watch_s = watch_s;
	s->stage = -1;
	s->target = -1;
	s->volts_moved_to = NAN;
	warming_init(&s->warming, net);
	s->looked_ahead_s = -1.0;
	s->first_finding.seconds = -1.0;
	session_probes_forget(s);
	s->phase = PHASE_CAUTIONS;
	s->instruction = DO_ACKNOWLEDGE;
}

/* --- what the facts mean ---------------------------------------------------------------- */

/* When the hold of the current stage is over. */
static double hold_until_s(const struct session *s)
{
	return fmax(fmax(s->stages[s->stage].entered_s, s->volts_since_s) +
	            s->plan->stages[s->stage].hold_s, s->settles_at_s);
}

bool session_last_is_here(const struct session *s)
{
	return s->stage >= 0 && s->have_reading && s->last.stage == s->stage;
}

static bool probe_holds(const struct session *s)
{
	enum observed what;
	int index;

	return session_probe_against(s, &what, &index) != NULL;
}

/* May one go on from this stage: was the last reading taken here, after the hold, and good, and
 * does no voltmeter speak against it? */
static bool may_go_on(const struct session *s)
{
	return session_last_is_here(s) && s->last.verdict == VERDICT_IN_BAND && s->settled &&
	       s->last.seconds >= hold_until_s(s) && !probe_holds(s);
}

static bool looks_answered(const struct session *s)
{
	const struct session_stage *at = &s->stages[s->stage];

	/* one that was not so is asked again until it is */
	return at->looks_answered == (1u << s->plan->stages[s->stage].n_looks) - 1u &&
	       at->looks_not_so == 0;
}

static bool is_finding(enum verdict v)
{
	return v == VERDICT_OVER || v == VERDICT_UNDER || v == VERDICT_ABORT;
}

static void instruct(struct session *s, enum instruction what, double volts, double seconds)
{
	s->instruction = what;
	s->instruction_volts = volts;
	s->instruction_s = seconds;
}

/* At a stage, or on the way between two. */
static void instruct_on_the_way(struct session *s)
{
	const struct stage *stages = s->plan->stages;
	const bool top = s->stage == s->plan->n_stages - 1;
	const double next = top ? stages[s->stage].volts : stages[s->stage + 1].volts;
	const double before = s->stage > 0 ? stages[s->stage - 1].volts : 0.0;
	const double longest_s = stages[s->stage].longest_s;
	const double left_s = hold_until_s(s) - s->now_s;

	if ((is_finding(s->last.verdict) || probe_holds(s)) &&
	    (s->target < 0 || s->target >= s->stage))
		instruct(s, DO_HOLD_HERE, s->last.volts, 0.0);
	else if (s->target >= 0)
		instruct(s, DO_SET_VARIAC, stages[s->target].volts, 0.0);
	else if (!session_last_is_here(s))
		instruct(s, DO_SET_VARIAC,
		         s->stages[s->stage].passed && s->last.volts > stages[s->stage].volts ?
		                 next : stages[s->stage].volts, 0.0);
	else if (s->last.verdict == VERDICT_UNKNOWN)
		instruct(s, DO_READ, s->last.volts, 0.0);
	else if (left_s > 0.0)
		instruct(s, DO_HOLD, stages[s->stage].volts, left_s);
	else if (!may_go_on(s))
		instruct(s, DO_READ, stages[s->stage].volts, 0.0);
	else if (!looks_answered(s))
		instruct(s, DO_LOOK, next, 0.0);
	else if (top)
		instruct(s, DO_SOAK, next, 0.0);
	else
		instruct(s, DO_STEP_UP, next, 0.0);

	if (s->target < 0 && longest_s > 0.0 && session_last_is_here(s) &&
	    s->now_s - s->stages[s->stage].entered_s > longest_s)
		instruct(s, DO_STEP_DOWN, may_go_on(s) && !top ? next : before, 0.0);
}

static void work_out(struct session *s)
{
	const bool top = s->stage == s->plan->n_stages - 1;

	if (s->ended)
		s->phase = PHASE_ENDED;
	else if (s->stop_up)
		s->phase = PHASE_STOPPED;
	else if (s->abort_up)
		s->phase = PHASE_ABORT;
	else if (!s->cautions_read)
		s->phase = PHASE_CAUTIONS;
	else
		s->phase = top && may_go_on(s) && !s->blind ? PHASE_SOAK : PHASE_STAGES;

	switch (s->phase) {
	case PHASE_ENDED:
		instruct(s, DO_NOTHING, 0.0, 0.0);
		return;
	case PHASE_STOPPED:
	case PHASE_ABORT:
		instruct(s, DO_ABORT, 0.0, 0.0);
		return;
	case PHASE_CAUTIONS:
		instruct(s, DO_ACKNOWLEDGE, 0.0, 0.0);
		return;
	case PHASE_STAGES:
	case PHASE_SOAK:
		break;
	}
	if (s->must_zero || s->blind)
		instruct(s, DO_ZERO_VARIAC, 0.0, 0.0);
	else if (s->stage >= 0)
		instruct_on_the_way(s);
	else
		instruct(s, DO_SET_VARIAC, s->plan->stages[s->target >= 0 ? s->target : 0].volts,
		         0.0);
}

/* --- events ----------------------------------------------------------------------------- */

static void remember_point(struct session *s, const struct event *ev)
{
	const size_t at = (s->points_first + s->n_points) % SESSION_READINGS_MAX;

	s->points[at] = (struct session_point){
		.seconds = s->now_s, .volts = ev->volts, .watts = ev->watts, .verdict = ev->verdict,
		.low = (float)s->band.low, .high = (float)s->band.high,
		.abort_watts = (float)s->band.abort_watts, .settled = s->settled,
	};
	if (s->n_points < SESSION_READINGS_MAX)
		s->n_points++;
	else
		s->points_first = (s->points_first + 1) % SESSION_READINGS_MAX;
}

/* Place `back` before the next free one of the ring of shown events. */
static size_t shown_place(const struct session *s, size_t back)
{
	return (s->shown_first + s->n_shown + SESSION_EVENTS_SHOWN - back) % SESSION_EVENTS_SHOWN;
}

/* Does it say no more than the two before it? */
static bool repeats(const struct session *s, const struct event *ev)
{
	for (size_t back = 1; back <= 2; back++) {
		const struct event *before = &s->shown[shown_place(s, back)];

		if (s->n_shown < back || ev->kind != EVENT_READING || before->kind != EVENT_READING ||
		    before->verdict != ev->verdict || before->stage != ev->stage)
			return false;
	}
	return true;
}

static void remember_shown(struct session *s, const struct event *ev)
{
	const bool again = repeats(s, ev);
	const size_t at = shown_place(s, again ? 1 : 0);

	s->shown[at] = *ev;
	s->shown_number[at] = s->n_events - 1; /* counted already */
	if (again)
		return;
	if (s->n_shown < SESSION_EVENTS_SHOWN)
		s->n_shown++;
	else
		s->shown_first = (s->shown_first + 1) % SESSION_EVENTS_SHOWN;
}

/* The volts have come to stage k, or below the first one (k < 0). */
static void move_to(struct session *s, int k, const struct event *ev, struct follow *f)
{
	const int from = s->stage;

	s->stage = k;
	if (s->target == k)
		s->target = -1;
	if (k < 0) {
		if (from >= 0)
			follow_up(f, EVENT_STAGE, ev->seconds, -1, 0.0, NAN, "%s: below the first",
			          recognised);
		return;
	}
	s->from_bottom = s->from_bottom && k > 0;
	s->stages[k].visited = true;
	s->stages[k].entered_s = s->now_s;
	if (k > from + 1)
		follow_up(f, EVENT_STAGE, ev->seconds, k, s->plan->stages[k].volts, NAN,
		          "%s, %d left out", recognised, k - from - 1);
	else
		follow_up(f, EVENT_STAGE, ev->seconds, k, s->plan->stages[k].volts, NAN, "%s%s",
		          recognised, k < from ? ", going down" : "");
}

/* Which stage do these volts belong to, and does that move the session? */
static void recognise(struct session *s, const struct event *ev, struct follow *f)
{
	const bool below = ev->stage < 0 && ev->volts < s->plan->stages[0].volts;

	if (s->abort_up || s->stop_up)
		return; /* the way down is not a walk along the stages */
	if (s->must_zero) {
		if (ev->stage > 0 || (ev->stage < 0 && !below))
			return; /* never from the middle */
		s->must_zero = false;
	}
	if (below || (ev->stage >= 0 && ev->stage != s->stage))
		move_to(s, below ? -1 : ev->stage, ev, f);
	else if (ev->stage >= 0 && ev->stage == s->target)
		s->target = -1;
}

/* "5.20 W" */
static const char *print_value(char out[40], double value, int decimals, enum unit unit)
{
	const size_t n = num_print(out, 32, value, decimals);

	(void)snprintf(out + n, 40 - n, " %s", unit_symbol(unit));
	return out;
}

/* Had another stage that was passed ruled this out? */
static bool known_before(const struct session *s, const char *fact)
{
	for (int k = 0; k < s->plan->n_stages; k++)
		for (int i = 0; k != s->stage && s->stages[k].passed &&
		                i < s->plan->stages[k].n_proved; i++)
			if (strcmp(fact, s->plan->stages[k].proved[i]) == 0)
				return true;
	return false;
}

/* What passing the stage has ruled out, for the record; whole facts only. */
static void tell_proof(struct session *s, const struct event *ev, struct follow *f)
{
	const struct stage *st = &s->plan->stages[s->stage];
	char facts[EVENT_NOTE_MAX - 80] = "", volts[40];
	size_t used = 0;
	int left_out = 0;

	if (s->stages[s->stage].proof_told || st->n_proved + st->n_not_proved == 0)
		return;
	s->stages[s->stage].proof_told = true;
	for (int i = 0; i < st->n_proved; i++) {
		const size_t n = strcspn(st->proved[i], ":");

		if (known_before(s, st->proved[i]))
			continue;
		if (used + n + 3 > sizeof facts) {
			left_out++;
			continue;
		}
		used += (size_t)snprintf(facts + used, sizeof facts - used, "%s%.*s",
		                         used ? "; " : "", (int)n, st->proved[i]);
	}
	print_value(volts, st->volts, 0, UNIT_VOLT);
	if (left_out > 0)
		follow_up(f, EVENT_NOTE, ev->seconds, s->stage, NAN, NAN, "%s%s: %s; and %d more",
		          ruled_out, volts, facts, left_out);
	else
		follow_up(f, EVENT_NOTE, ev->seconds, s->stage, NAN, NAN, "%s%s: %s",
		          ruled_out, volts, used ? facts : "nothing more");
}

static void note_at_stage(struct session *s, const struct event *ev, struct follow *f)
{
	struct session_stage *at;

	if (!session_last_is_here(s))
		return;
	at = &s->stages[s->stage];
	if (s->settled || !at->have_reading || !at->settled) {
		at->reading = *ev;
		at->have_reading = true;
		at->settled = s->settled;
		at->low = s->band.low;
		at->high = s->band.high;
	}
	if (may_go_on(s)) {
		at->passed = true;
		tell_proof(s, ev, f);
	} else if (is_finding(ev->verdict)) {
		at->passed = false;
	}
}

static void raise_abort(struct session *s, const struct event *ev, struct follow *f)
{
	const double fuse = s->net->fuse_amps;
	char read[40], volts[40], limit[40];

	print_value(volts, ev->volts, 1, UNIT_VOLT);
	/* as many digits as it takes to tell them apart */
	for (int decimals = 2; decimals <= 5; decimals++) {
		print_value(read, ev->watts, decimals, UNIT_WATT);
		print_value(limit, s->band.abort_watts, decimals, UNIT_WATT);
		if (strcmp(read, limit) != 0)
			break;
	}
	if (s->band.at.converged && ev->watts > s->band.abort_watts) {
		follow_up(f, EVENT_ABORT_RAISED, ev->seconds, ev->stage, ev->volts, ev->watts,
		          "%s at %s: over the abort line, %s", read, volts, limit);
	} else {
		print_value(limit, fuse, 2, UNIT_AMPERE);
		if (ev->amps > fuse)
			print_value(read, ev->amps, 2, UNIT_AMPERE);
		follow_up(f, EVENT_ABORT_RAISED, ev->seconds, ev->stage, ev->volts, ev->watts,
		          "%s at %s: over the fuse, %s", read, volts, limit);
	}
	s->abort_up = true;
	s->abort_event = *ev;
}

/* The verdict on a reading at s->settled, which a doubt takes back.  The solve starts cold, so that
 * it depends on this reading alone and not on the way to it. */
static enum verdict judge(struct session *s, const struct event *ev)
{
	band_cache_at(s->bands, s->net, s->rule, s->meter, ev->volts, NULL, &s->band);
	warming_band(&s->warming, s->net, s->rule, s->meter, &s->band);
	/* a little below nought is the meter's own zero */
	const enum verdict v = warming_excuse(&s->warming, s->net,
		judge_reading(&s->band, s->net->fuse_amps, fmax(ev->watts, 0.0), ev->amps,
		              s->settled && !s->warming.doubt));

	if (s->settled && v == VERDICT_SETTLING) { /* if it was off in between, it has not */
		s->settled = false;
		s->settles_at_s = s->warming.excused_until_s;
	}
	return v;
}

static void apply_reading(struct session *s, struct event *ev, struct follow *f)
{
	char why[JUDGE_WHY_MAX];

	ev->verdict = VERDICT_UNKNOWN;
	ev->stage = -1;
	if (!judge_possible(s->net->line_volts, s->meter->offset_watts, ev->volts, ev->watts,
	                    ev->amps, ev->power_factor, why)) {
		char source[EVENT_NOTE_MAX];

		memcpy(source, ev->note, sizeof source);
		source[sizeof source - 1] = '\0';
		ev->kind = EVENT_IMPOSSIBLE;
		(void)snprintf(ev->note, sizeof ev->note, "%s%s%.300s", why, *source ? "; " : "",
		               source);
		s->n_impossible++;
		return;
	}

	ev->stage = plan_stage_at(s->plan, ev->volts);
	if (!(fabs(ev->volts - s->volts_moved_to) <= moved_share * s->net->line_volts)) {
		s->volts_moved_to = ev->volts;
		s->volts_since_s = s->now_s;
	}
	recognise(s, ev, f);

	/* who types has looked first: the volts have stood for a while, if not since before the
	 * last reading */
	if (event_typed(ev)) /* read off a display that stood: no mean over the variac's move */
		warming_reading(&s->warming, s->net,
			fmax(s->now_s - typed_after_s, s->last.seconds), ev->volts);
	warming_reading(&s->warming, s->net, s->now_s, ev->volts);
	s->settled = warming_settled(&s->warming, s->net);
	/* looked ahead once a second at most: a meter may read ten times as often */
	if (s->settled) {
		s->settles_at_s = s->now_s;
	} else if (!(s->now_s < s->looked_ahead_s + 1.0) || s->volts_since_s >= s->now_s) {
		s->settles_at_s = s->now_s +
			warming_seconds_left(&s->warming, s->net, longest_settling_s);
		s->looked_ahead_s = s->now_s;
	}
	ev->verdict = judge(s, ev);

	s->last = *ev;
	s->last.seconds = s->now_s;
	s->have_reading = true;
	s->n_readings++;
	s->blind = false;
	s->watch_from_s = s->now_s;
	if (isfinite(ev->watts))
		remember_point(s, ev);
	note_at_stage(s, ev, f);
	if (is_finding(ev->verdict) && s->first_finding.seconds < 0.0)
		s->first_finding = *ev;
	if (ev->verdict == VERDICT_ABORT && !s->abort_up)
		raise_abort(s, ev, f);
}

/* A number of the unit changed: what was read stays, what it means may not. */
static void rejudge(struct session *s, struct follow *f)
{
	for (int i = 0; i < s->plan->n_stages; i++) {
		struct session_stage *at = &s->stages[i];
		struct band band;

		if (!at->have_reading || !at->settled)
			continue;
		band_cache_at(s->bands, s->net, s->rule, s->meter, at->reading.volts, NULL, &band);
		at->reading.verdict = judge_reading(&band, s->net->fuse_amps,
		                                    fmax(at->reading.watts, 0.0),
		                                    at->reading.amps, true);
		at->low = band.low;
		at->high = band.high;
		at->passed = at->passed && at->reading.verdict == VERDICT_IN_BAND;
		if (is_finding(at->reading.verdict) && s->first_finding.seconds < 0.0)
			s->first_finding = at->reading;
	}
	session_probes_judge(s);
	if (!s->have_reading)
		return;
	/* one that was an abort has had its prompt; after one the line is taken to be at zero */
	const bool told = s->last.verdict == VERDICT_ABORT || s->abort_up || s->stop_up ||
	                  s->must_zero;
	s->last.verdict = judge(s, &s->last);
	note_at_stage(s, &s->last, f);
	if (is_finding(s->last.verdict) && s->first_finding.seconds < 0.0)
		s->first_finding = s->last;
	if (s->last.verdict == VERDICT_ABORT && !told) {
		struct event now = s->last;

		now.seconds = s->now_s;
		raise_abort(s, &now, f);
	}
}

bool session_may_choose(const struct session *s, int stage)
{
	return stage == 0 || !(s->must_zero || s->from_bottom);
}

/* The stage that the restorer chose to go to.  One that the session recognised by itself is
 * known already. */
static void apply_stage(struct session *s, const struct event *ev)
{
	if (strncmp(ev->note, recognised, sizeof recognised - 1) == 0)
		return;
	if (ev->stage < 0 || ev->stage >= s->plan->n_stages || !session_may_choose(s, ev->stage))
		return;
	s->target = ev->stage == s->stage && session_last_is_here(s) ? -1 : ev->stage;
}

/* Back to the first stage, never to the middle; nobody knows how long the unit was off. */
static void restart(struct session *s)
{
	if (s->abort_up || s->stop_up)
		return;
	memset(s->stages, 0, sizeof s->stages);
	session_probes_forget(s);
	s->stage = -1;
	s->target = -1;
	s->must_zero = s->from_bottom = true;
	s->settled = false;
	s->volts_moved_to = NAN;
	warming_init(&s->warming, s->net);
}

/* The same prompt but for its numbers: "about 62 % of its light", "about 63 % of its light".  A
 * number behind a letter is a name's (I1, V2). */
static bool same_but_numbers(const char *a, const char *b)
{
	static const char digits[] = "0123456789.";
	char before = ' ';

	while (*a && *b) {
		const bool named = (before >= 'A' && before <= 'Z') ||
		                   (before >= 'a' && before <= 'z') ||
		                   (before >= '0' && before <= '9');
		const size_t m = strspn(a, digits), n = strspn(b, digits);

		if (!named && m > 0 && n > 0) {
			a += m;
			b += n;
			before = ' ';
		} else if (*a != *b) {
			return false;
		} else {
			before = *a++;
			b++;
		}
	}
	return *a == *b;
}

static void raise_stop(struct session *s, const struct event *ev)
{
	s->stop_up = true;
	s->stop_event = *ev;
	if (s->first_finding.seconds < 0.0)
		s->first_finding = *ev;
}

/* Bits of the stage's looks that `prompt` is, to the letter or else but for its numbers. */
static unsigned looks_that_are(const struct stage *stage, const char *prompt)
{
	unsigned exact = 0, near = 0;

	for (int i = 0; i < stage->n_looks; i++) {
		exact |= strcmp(prompt, stage->looks[i]) == 0 ? 1u << i : 0;
		near |= same_but_numbers(prompt, stage->looks[i]) ? 1u << i : 0;
	}
	return exact ? exact : near;
}

static void apply_look(struct session *s, const struct event *ev, struct follow *f)
{
	const char *prompt = strstr(ev->note, ": ");

	if (!prompt || s->stage < 0)
		return;
	struct session_stage *at = &s->stages[s->stage];
	const unsigned looks = looks_that_are(&s->plan->stages[s->stage], prompt + 2);

	at->looks_answered |= looks;
	if (strncmp(ev->note, "no: ", 4) != 0) {
		at->looks_not_so &= ~looks;
		return;
	}
	at->looks_not_so |= looks;
	if (!(looks & s->plan->stages[s->stage].look_dangers) || s->stop_up)
		return;
	/* what the stop key would have said */
	follow_up(f, EVENT_STOP, ev->seconds, s->stage, s->have_reading ? s->last.volts : (double)NAN,
	          s->have_reading ? s->last.watts : (double)NAN, "not so: %.400s", prompt + 2);
	if (f->n > 0)
		raise_stop(s, &f->list[f->n - 1]);
}

void session_carry_looks(struct session *s, const struct plan *before)
{
	for (int k = 0; k < s->plan->n_stages && k < before->n_stages; k++) {
		const unsigned answered = s->stages[k].looks_answered;
		const unsigned not_so = s->stages[k].looks_not_so;

		s->stages[k].looks_answered = s->stages[k].looks_not_so = 0;
		for (int i = 0; i < before->stages[k].n_looks; i++) {
			const unsigned looks = looks_that_are(&s->plan->stages[k],
			                                      before->stages[k].looks[i]);

			s->stages[k].looks_answered |= answered >> i & 1 ? looks : 0;
			s->stages[k].looks_not_so |= not_so >> i & 1 ? looks : 0;
		}
	}
}

static void apply_kind(struct session *s, struct event *ev, struct follow *f)
{
	switch (ev->kind) {
	case EVENT_READING:
		apply_reading(s, ev, f);
		break;
	case EVENT_CAUTIONS:
		if (!s->cautions_read)
			s->watch_from_s = s->now_s;
		s->cautions_read = true;
		break;
	case EVENT_STAGE:
		apply_stage(s, ev);
		break;
	case EVENT_RAIL:
		session_probe_take(s, ev);
		break;
	case EVENT_LOOK:
		apply_look(s, ev, f);
		break;
	case EVENT_IMPOSSIBLE:
		s->n_impossible++;
		break;
	case EVENT_ABORT_RAISED:
		s->abort_event = *ev; /* its note names the limit that was crossed */
		s->abort_up = true;
		break;
	case EVENT_ABORT_ACKNOWLEDGED:
		if (s->abort_up) {
			s->abort_up = false;
			restart(s);
		}
		break;
	case EVENT_STOP:
		raise_stop(s, ev);
		break;
	case EVENT_STOP_ACKNOWLEDGED:
		if (s->stop_up) {
			s->stop_up = false;
			restart(s);
		}
		break;
	case EVENT_BLIND:
		s->blind = true;
		break;
	case EVENT_END:
		s->ended = true;
		break;
	case EVENT_MEASURED:
		rejudge(s, f);
		break;
	case EVENT_START:
	case EVENT_QUESTIONED:
	case EVENT_METER:
	case EVENT_NOTE:
	case EVENT_KINDS:
		break; /* told in the record and shown; they change no state */
	}
}

static void pass_time(struct session *s, double seconds)
{
	if (seconds > s->now_s)
		s->now_s = seconds;
}

size_t session_apply(struct session *s, struct event *ev, struct event *follow, size_t max)
{
	struct follow f = { follow, 0, max };

	pass_time(s, ev->seconds);
	if (!s->ended)
		apply_kind(s, ev, &f);
	s->n_events++;
	remember_shown(s, ev);
	work_out(s);
	return f.n;
}

size_t session_tick(struct session *s, double now_s, struct event *follow, size_t max)
{
	struct follow f = { follow, 0, max };
	const double silent_s = fmax(now_s, s->now_s) - s->watch_from_s;

	pass_time(s, now_s);
	if (s->watch_s > 0.0 && s->cautions_read && !s->ended && !s->blind &&
	    silent_s > s->watch_s) {
		char number[40];

		s->blind = true;
		num_print(number, sizeof number, silent_s, 1);
		follow_up(&f, EVENT_BLIND, s->now_s, s->stage, NAN, NAN, "no reading for %s s",
		          number);
	}
	work_out(s);
	return f.n;
}
