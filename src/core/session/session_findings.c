/* core/session/session_findings.c - what the readings of a session say together */
#include <math.h>

#include "mainstair/core/session.h"

/* Volts that count as the same line voltage: a variac's dial is no better. */
static const double same_volts = 0.02; /* of nameplate */

static void observe(struct observation *ret, int max, int *n, double line_volts,
                    enum observed what, int index, double value)
{
	if (*n < max && isfinite(value) && line_volts > 0.0)
		ret[(*n)++] = (struct observation){ line_volts, what, index, value };
}

int session_observations(const struct session *s, struct observation *ret, int max)
{
	const bool finding = s->have_reading && (s->last.verdict == VERDICT_ABORT ||
	                     (s->settled && (s->last.verdict == VERDICT_OVER ||
	                                     s->last.verdict == VERDICT_UNDER)));
	int n = 0;

	for (int i = 0; i < s->plan->n_stages; i++)
		if (s->stages[i].have_reading && s->stages[i].settled)
			observe(ret, max, &n, s->stages[i].reading.volts, OBSERVED_WATTS, -1,
			        fmax(s->stages[i].reading.watts, 0.0));
	for (int r = 0; r < s->net->n_rails; r++)
		if (s->rail_probes[r].seconds >= 0.0)
			observe(ret, max, &n, s->rail_probes[r].line_volts, OBSERVED_RAIL_VOLTS, r,
			        s->rail_probes[r].volts);
	for (int w = 0; w < s->net->n_windings; w++)
		if (s->winding_probes[w].seconds >= 0.0)
			observe(ret, max, &n, s->winding_probes[w].line_volts,
			        OBSERVED_WINDING_VOLTS, w, s->winding_probes[w].volts);
	if (finding)
		observe(ret, max, &n, s->last.volts, OBSERVED_WATTS, -1, fmax(s->last.watts, 0.0));
	return n;
}

static bool outside(enum verdict v)
{
	return v == VERDICT_OVER || v == VERDICT_UNDER || v == VERDICT_ABORT;
}

void session_soak(const struct session *s, struct soak *ret)
{
	enum { POINTS = 1024 }; /* the last ten minutes at two a second, and a long way back
	                           beyond */
	struct soak_point points[POINTS];
	const double full = s->plan->stages[s->plan->n_stages - 1].volts;
	size_t n = 0, first = s->n_points;

	/* back to where the line last was elsewhere, heaters still warmed up, or a reading lay outside:
	 * whatever that was, the drift begins behind it */
	while (first > 0 && s->n_points - first < SESSION_READINGS_MAX) {
		const struct session_point *p =
			&s->points[(s->points_first + first - 1) % SESSION_READINGS_MAX];

		if (!p->settled || outside(p->verdict) ||
		    fabs(p->volts - full) > same_volts * s->net->line_volts)
			break;
		first--;
	}
	/* thinned evenly when there are more than fit, the last one always among them */
	const size_t have = s->n_points - first, every = have / POINTS + 1;
	for (size_t i = 0; i < have; i++)
		if ((have - 1 - i) % every == 0 && n < POINTS) {
			const struct session_point *p =
				&s->points[(s->points_first + first + i) % SESSION_READINGS_MAX];

			points[n++] = (struct soak_point){ p->seconds, p->watts };
		}
	soak_judge(points, n, s->band.abort_watts, ret);
}
