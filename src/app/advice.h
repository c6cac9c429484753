/*
 * app/advice.h - what to measure next on this unit, for the screen
 *
 * Layer: app.  It takes two envelopes with their sensitivities, some ten milliseconds each, so it
 * is worked out when there is nothing better to do, and again when the next stage is another one.
 */
#ifndef MAINSTAIR_APP_ADVICE_H
#define MAINSTAIR_APP_ADVICE_H

#include "mainstair/core/measure_next.h"
#include "mainstair/core/session.h"
#include "ui/view.h"

struct advice {
	bool known;        /* false: work it out (anew) */
	int next;          /* stage that it is for, besides full line */
	int n;
	struct measure_gain_both list[SURROUNDINGS_MEASURES];
	char line[SURROUNDINGS_MEASURES][MEASURED_LINE_MAX]; /* to type when it was measured */
};

/** Is there none yet for the stage that comes next? */
bool advice_wanted(const struct advice *a, const struct session *s);

/** Rank the measurements for the stage that comes next and for full line (measure_next_both());
 *  takes as long as two bands. */
void advice_work_out(struct advice *a, const struct session *s);

/** Put it into *around, in words. */
void advice_show(const struct advice *a, const struct session *s, struct surroundings *around);

#endif
