#include "app/headless.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double step_s = 0.25;
static const double soak_s = 120, held_s = 60, off_s = 30; /* patience */
static const double endless_s = 4 * 3600;

/* The variac goes where the instruction says. */
static void follow(const struct run *run, const struct feed *feed)
{
	const struct session *s = run->session;
	switch (s->instruction) {
	case DO_SET_VARIAC:
	case DO_STEP_UP:
	case DO_STEP_DOWN:
		feed->ops->turn(feed->self, s->instruction_volts);
		break;
	case DO_ABORT:
	case DO_ZERO_VARIAC:
		feed->ops->turn(feed->self, 0);
		break;
	case DO_ACKNOWLEDGE:
	case DO_READ:
	case DO_HOLD:
	case DO_LOOK:
	case DO_HOLD_HERE:
	case DO_SOAK:
	case DO_NOTHING:
		break;
	}
}

static void answer_looks(struct run *run)
{
	const struct session *s = run->session;
	char text[EVENT_NOTE_MAX];
	const struct stage *stage = &s->plan->stages[s->stage];
	for (int i = 0; i < stage->n_looks; i++) {
		if (s->stages[s->stage].looks_answered >> i & 1)
			continue;
		snprintf(text, sizeof text, "yes: %s", stage->looks[i]);
		run_note(run, s->now_s, EVENT_LOOK, text);
	}
}

void headless_run(struct run *run, const struct feed *feed, struct headless_result *ret)
{
	const struct session *s = run->session;
	double end_at = (double)INFINITY; /* when patience ends */
	enum instruction before = DO_ACKNOWLEDGE;
	struct event ev;

	*ret = (struct headless_result){.end = HEADLESS_ENDLESS};
	run_note(run, 0, EVENT_CAUTIONS, "headless");
	for (double now = step_s; now < endless_s && now < end_at; now += step_s) {
		feed->ops->step(feed->self, 0, now);
		while (feed->ops->next(feed->self, &ev)) {
			run_put(run, &ev);
			if (s->phase != PHASE_ABORT) {
				memcpy(ret->stages, s->stages, sizeof ret->stages);
				ret->last = s->last.verdict;
				ret->reading = s->last;
			} else if (ret->end != HEADLESS_ABORTED) {
				ret->end = HEADLESS_ABORTED;
				ret->abort = s->abort_event;
				ret->abort_band = s->band;
				fits_rank(&ret->fits, s);
				end_at = now + off_s;
			}
		}
		run_tick(run, now);
		if (run_wants_sync(run, now))
			run_sync(run);
		if (s->instruction == DO_LOOK)
			answer_looks(run);
		follow(run, feed);
		if (ret->end == HEADLESS_ABORTED)
			continue;
		if (s->instruction != before)
			end_at = s->instruction == DO_SOAK ? now + soak_s
				: s->instruction == DO_HOLD_HERE ? now + held_s : (double)INFINITY;
		if (s->instruction == DO_SOAK)
			ret->end = HEADLESS_SOAKED;
		else if (s->instruction == DO_HOLD_HERE)
			ret->end = HEADLESS_HELD;
		else
			ret->end = HEADLESS_ENDLESS;
		before = s->instruction;
	}
	if (ret->end == HEADLESS_HELD)
		fits_rank(&ret->fits, s);
	if (ret->end == HEADLESS_SOAKED)
		session_soak(s, &ret->soak);
	ret->seconds = s->now_s;
	feed->ops->turn(feed->self, 0);
	run_note(run, s->now_s, EVENT_END, "ended: headless walk done");
	run_sync(run);
}
