/* core/session/session_probes.c - what a voltmeter says in a power-up */
#include "session_probes.h"

#include <math.h>
#include <string.h>

#include "mainstair/base/text.h"

void session_probes_forget(struct session *s)
{
	for (int i = 0; i < NET_RAILS_MAX; i++)
		s->rail_probes[i].seconds = -1.0;
	for (int i = 0; i < NET_WINDINGS_MAX; i++)
		s->winding_probes[i].seconds = -1.0;
}

/* A voltmeter reading outside its limits, taken where the line still stands. */
static bool is_against(const struct session *s, const struct session_probe *p)
{
	return p->seconds >= s->volts_since_s && session_last_is_here(s) &&
	       (p->verdict == VERDICT_UNDER || p->verdict == VERDICT_OVER);
}

const struct session_probe *session_probe_against(const struct session *s, enum observed *what,
                                                  int *index)
{
	for (int i = 0; i < s->net->n_rails; i++)
		if (is_against(s, &s->rail_probes[i])) {
			*what = OBSERVED_RAIL_VOLTS;
			*index = i;
			return &s->rail_probes[i];
		}
	for (int i = 0; i < s->net->n_windings; i++)
		if (is_against(s, &s->winding_probes[i])) {
			*what = OBSERVED_WINDING_VOLTS;
			*index = i;
			return &s->winding_probes[i];
		}
	return NULL;
}

bool session_rail_is_well(const struct session *s, int rail, int stage)
{
	const struct session_probe *p = &s->rail_probes[rail];

	return p->seconds >= 0.0 && p->verdict == VERDICT_IN_BAND &&
	       plan_stage_at(s->plan, p->line_volts) == stage;
}

/* Outside while heaters still warm up is to be read again, once they have settled. */
static void judge_probe(const struct session *s, enum observed what, int index,
                        struct session_probe *p)
{
	p->verdict = VERDICT_UNKNOWN;
	if (!(p->line_volts > 0.0) ||
	    !probe_band_at(s->net, p->line_volts, what, index, &p->band))
		return;
	p->verdict = probe_judge(&p->band, p->volts);
	if (!p->settled && (p->verdict == VERDICT_UNDER || p->verdict == VERDICT_OVER))
		p->verdict = VERDICT_SETTLING;
}

static void keep_probe(struct session *s, struct event *ev, enum observed what, int index,
                       struct session_probe *ret)
{
	*ret = (struct session_probe){
		.seconds = s->now_s, .volts = ev->volts,
		.line_volts = s->have_reading ? s->last.volts : (double)NAN,
		.settled = s->settled,
	};
	judge_probe(s, what, index, ret);
	ev->verdict = ret->verdict;
	/* the stage stays passed: what its watts ruled out they still do */
	if (is_against(s, ret) && s->first_finding.seconds < 0.0)
		s->first_finding = *ev;
}

void session_probe_take(struct session *s, struct event *ev)
{
	ev->verdict = VERDICT_UNKNOWN;
	for (int i = 0; i < s->net->n_rails && strncmp(ev->note, "rail ", 5) == 0; i++)
		if (text_same(ev->note + 5, s->net->rails[i].name))
			keep_probe(s, ev, OBSERVED_RAIL_VOLTS, i, &s->rail_probes[i]);
	for (int i = 0; i < s->net->n_windings && strncmp(ev->note, "heater ", 7) == 0; i++)
		if (text_same(ev->note + 7, s->net->windings[i].name))
			keep_probe(s, ev, OBSERVED_WINDING_VOLTS, i, &s->winding_probes[i]);
}

void session_probes_judge(struct session *s)
{
	for (int i = 0; i < s->net->n_rails; i++)
		if (s->rail_probes[i].seconds >= 0.0)
			judge_probe(s, OBSERVED_RAIL_VOLTS, i, &s->rail_probes[i]);
	for (int i = 0; i < s->net->n_windings; i++)
		if (s->winding_probes[i].seconds >= 0.0)
			judge_probe(s, OBSERVED_WINDING_VOLTS, i, &s->winding_probes[i]);
}
