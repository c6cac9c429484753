/* core/session/session_lamp.c - readings of a meter that stands ahead of the series lamp */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/core/session.h"

void session_behind_lamp(const struct session *s, struct event *ev)
{
	struct limited split;
	char volts[32], watts[32], lamp[32];
	const size_t used = strnlen(ev->note, sizeof ev->note - 1);

	if (!s->ahead || ev->kind != EVENT_READING || !(ev->volts > 1.0) || !(ev->watts >= 0.0))
		return;
	limiter_split(s->net, s->ahead, ev->volts, ev->watts, ev->amps, &split);
	if (!split.converged)
		return;
	num_print(volts, sizeof volts, ev->volts, 1);
	num_print(watts, sizeof watts, ev->watts, 2);
	num_print(lamp, sizeof lamp, split.lamp_watts, 2);
	(void)snprintf(ev->note + used, sizeof ev->note - used, "%s%s V %s W ahead of the lamp, %s W "
	               "in it", used ? "; " : "", volts, watts, lamp);
	ev->volts = split.unit_volts;
	ev->watts = split.unit_watts;
	ev->power_factor = (double)NAN; /* that of both together */
}
