#include "app/lamp.h"

#include <math.h>
#include <stdio.h>

/* The unit's volts to come: where the walk says to go, else where it is. */
static double volts_to_come(const struct session *s)
{
	if ((s->instruction == DO_SET_VARIAC || s->instruction == DO_STEP_UP) &&
	    s->instruction_volts > 0)
		return s->instruction_volts;
	return s->plan->stages[s->stage >= 0 ? s->stage : 0].volts;
}

void lamp_init(struct lamp *l, struct series_lamp lamp, double most_line_volts)
{
	*l = (struct lamp){.lamp = lamp, .most_line_volts = most_line_volts,
		.unit_volts = (double)NAN};
}

bool lamp_wanted(const struct lamp *l, const struct session *s)
{
	return l->lamp.watts > 0 && !(fabs(l->unit_volts - volts_to_come(s)) < 0.01);
}

void lamp_work_out(struct lamp *l, const struct session *s)
{
	l->unit_volts = volts_to_come(s);
	l->line_volts = limiter_line_volts(s->net, &l->lamp, l->unit_volts, l->most_line_volts,
		&l->at);
}

void lamp_show(const struct lamp *l, const struct session *s, struct surroundings *a)
{
	const size_t size = sizeof a->lamp;

	a->lamp[0] = '\0';
	a->series_lamp = l->lamp.watts > 0;
	if (!a->series_lamp || lamp_wanted(l, s))
		return;
	if (!l->at.converged)
		snprintf(a->lamp, size, "lamp %.0f W %.0f V: cannot be worked out at %.0f V",
			l->lamp.watts, l->lamp.volts, l->unit_volts);
	else if (isfinite(l->line_volts))
		snprintf(a->lamp, size, "variac near %.0f V leaves the unit %.0f V, %.1f W; "
			"lamp %.1f W, %.0f %% of its light", l->line_volts, l->at.unit_volts,
			l->at.unit_watts, l->at.lamp_watts, 100 * l->at.brightness);
	else
		snprintf(a->lamp, size, "at %.0f V the lamp leaves the unit %.0f V, no more: a "
			"larger lamp, or none, for %.0f V", l->most_line_volts, l->at.unit_volts,
			l->unit_volts);
}
