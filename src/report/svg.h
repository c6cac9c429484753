/*
 * report/svg.h - a figure as an SVG that stands inside an HTML page
 *
 * Layer: report; pure.  Colours come from the page's style sheet (style.h) by class, so that one
 * drawing serves light, dark and paper; shapes and dashes say the same as colours do.
 */
#ifndef REPORT_SVG_H
#define REPORT_SVG_H

#include "mainstair/base/buf.h"
#include "report/figure.h"

/** Append the drawing with its title and description. */
void svg_figure(struct buf *out, const struct figure *f);

/** Append the legend of what the figure holds, as a list. */
void svg_legend(struct buf *out, const struct figure *f);

#endif
