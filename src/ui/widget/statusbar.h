/*
 * ui/widget/statusbar.h - the title bar at the top and the keys at the bottom
 *
 * Layer: ui; pure.
 */
#ifndef MAINSTAIR_UI_STATUSBAR_H
#define MAINSTAIR_UI_STATUSBAR_H

#include "ui/canvas.h"
#include "ui/view.h"

/** Row 0: instrument, where the readings come from, time since the start. */
void statusbar_title(const struct view *v, struct canvas *c);

/** The last row: the keys that act now, as many as fit, the stop key first. */
void statusbar_keys(const struct view *v, struct canvas *c);
/** The same from IN_… bits; alarm: on a ground of alarm. */
void statusbar_hints(unsigned contexts, bool alarm, struct canvas *c);

/** One row of meter health and record, or the alarm that nothing is recorded. */
void statusbar_health(const struct view *v, struct canvas *c, int row);

#endif
