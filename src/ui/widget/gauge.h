/*
 * ui/widget/gauge.h - watts against low, expected, high and abort on one line
 *
 * Layer: ui; pure.
 */
#ifndef MAINSTAIR_UI_GAUGE_H
#define MAINSTAIR_UI_GAUGE_H

#include "ui/canvas.h"
#include "ui/view.h"

enum { GAUGE_ROWS = 3 }; /* hand, bar, figures */

/** Draw the gauge of the view's number; without a reading there is no hand.  Draws nothing
 *  when no band is known. */
void gauge_draw(const struct view *v, struct canvas *c, int row, int col, int cols);

/** Watts with three figures or so: "0.45", "5.20", "28.3", "145".  ret: 16 bytes. */
void gauge_watts(double watts, char ret[16]);

#endif
