/*
 * app/curve.h - the band over line volts for the plots, worked out a point at a time
 *
 * Layer: app.  The first picture has the stages' own bands; the points between are worked out
 * while the loop has nothing better to do, because all of them at once would keep a key waiting.
 */
#ifndef MAINSTAIR_APP_CURVE_H
#define MAINSTAIR_APP_CURVE_H

#include "app/run.h"
#include "ui/view.h"

enum { CURVE_POINTS_MAX = PLAN_STAGES_MAX + 64 };

struct curve {
	const struct run_unit *unit; /* borrowed */
	double top_volts;            /* right end */
	struct curve_point points[CURVE_POINTS_MAX];
	int n;
	struct load_start start;
};

/** Begin with the bands of the plan's stages, which are known already.  unit is borrowed. */
void curve_init(struct curve *c, const struct run_unit *unit);

/** Work out one more point; false when the curve is fine enough (nothing was done). */
bool curve_step(struct curve *c);

#endif
