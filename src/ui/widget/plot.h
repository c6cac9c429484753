/*
 * ui/widget/plot.h - watts over line volts, and watts over time, with the band shaded
 *
 * Layer: ui; pure.  Braille dots where the terminal has them (two across, four down in a
 * cell), else ASCII with two levels in a cell.  Readings are drawn over the band in the
 * colour of their verdict, the newest on top.
 */
#ifndef MAINSTAIR_UI_PLOT_H
#define MAINSTAIR_UI_PLOT_H

#include "ui/canvas.h"
#include "ui/view.h"

enum { PLOT_ROWS_MIN = 4, PLOT_COLS_MIN = 20 };

/** Watts over line volts: band and abort line of the curve, the edges of what a
 *  power-up laid under leads to expect, the readings, the stages marked on
 *  the axis.  The last of the rows is the axis. */
void plot_volts(const struct view *v, struct canvas *c, int row, int col, int rows, int cols);

/** Watts over the last minutes, with the band that the volts of each moment allowed. */
void plot_time(const struct view *v, struct canvas *c, int row, int col, int rows, int cols);

#endif
