/*
 * app/lamp.h - the bench's series lamp at the volts that are to come next, for the screen
 *
 * Layer: app.  Some ten solves of lamp and unit, so it is worked out aside, once for each stage.
 */
#ifndef MAINSTAIR_APP_LAMP_H
#define MAINSTAIR_APP_LAMP_H

#include "mainstair/core/limiter.h"
#include "mainstair/core/session.h"
#include "ui/view.h"

struct lamp {
	struct series_lamp lamp;  /* watts 0: there is none */
	double most_line_volts;
	double unit_volts;        /* what it was worked out for; NAN: not yet */
	double line_volts;        /* that leave the unit so much; NAN: none do */
	struct limited at;
};

/** `lamp`: as marked, watts 0 for none; most_line_volts: what the outlet gives. */
void lamp_init(struct lamp *l, struct series_lamp lamp, double most_line_volts);

/** Is it to be worked out for other volts than it was? */
bool lamp_wanted(const struct lamp *l, const struct session *s);

/** For the volts of the session's stage: what the variac must stand at, and what both then take. */
void lamp_work_out(struct lamp *l, const struct session *s);

/** Put it into *a, in words. */
void lamp_show(const struct lamp *l, const struct session *s, struct surroundings *a);

#endif
