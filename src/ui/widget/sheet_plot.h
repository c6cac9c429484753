/*
 * ui/widget/sheet_plot.h - a sheet's plot: points, a fit with its band, limit lines, two axes
 *
 * Layer: ui; pure.  Braille dots where the canvas has marks (two across, four down in a cell), else
 * ASCII with two levels in a cell.  Axes are logarithmic or linear as the plot says; a logarithmic
 * one is ticked at powers of ten, and at 2 and 5 between them when it spans few.  What a
 * logarithmic axis cannot show (nought, less, NAN) is left out; where that leaves nothing, it says
 * so.  Points lie over the curve, the curve over limit lines, these over the shaded band; the band
 * is cut at the picture's edge, points and limit lines never are.
 */
#ifndef MAINSTAIR_UI_SHEET_PLOT_H
#define MAINSTAIR_UI_SHEET_PLOT_H

#include "ui/canvas.h"
#include "ui/sheet.h"

enum { SHEET_PLOT_ROWS_MIN = 5, SHEET_PLOT_COLS_MIN = 24 };

/** Draw it in the rectangle: the titles in its first row, x ticks in its last.  Less than the
 *  least rows or columns: nothing is drawn.  Beyond 256 columns or 64 rows the rest stays empty. */
void sheet_plot_draw(const struct sheet_plot *plot, struct canvas *c, int row, int col, int rows,
                     int cols);

#endif
