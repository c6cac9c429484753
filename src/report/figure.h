/*
 * report/figure.h - what is plotted, before it is drawn
 *
 * Layer: report; base/ only; pure.  Values are in the axes' units; what is not finite, or not
 * above nought on a logarithmic axis, is not drawn.  Added to without limit; out of memory is
 * sticky (`failed`).
 */
#ifndef REPORT_FIGURE_H
#define REPORT_FIGURE_H

#include <stdbool.h>
#include <stddef.h>

/* What a mark says; a shape each, because colour is never alone. */
enum figure_mark {
	MARK_GOOD,    /* a filled circle */
	MARK_OVER,    /* a triangle, up */
	MARK_UNDER,   /* a triangle, down */
	MARK_ABORT,   /* a cross */
	MARK_PASSING, /* a small ring: settling, unknown */
	MARK_READING, /* a filled diamond: a reading without a verdict */
	FIGURE_MARKS  /* how many */
};

enum figure_line {
	LINE_EXPECTED,
	LINE_ABORT,
	LINE_LIMIT,
	LINE_EARLIER,
	LINE_LIKE, /* what something else leads to expect */
	LINE_READINGS,
	FIGURE_LINES
};

struct figure_axis {
	char title[48]; /* with its unit */
	bool log;
	double low, high; /* asked for; NAN: from what is plotted */
};

struct figure_band_point {
	double x, low, high;
};
struct figure_point {
	double x, y;
};
struct figure_dot {
	double x, y;
	enum figure_mark mark;
};
struct figure_run {
	enum figure_line line;
	size_t first, n;
}; /* points in a row, joined */
struct figure_level {
	double y;
	char name[48];
}; /* a horizontal limit */

struct figure {
	char title[128];
	char desc[512]; /* what there is to see, for who does not see it */
	struct figure_axis x, y;
	char band_name[48], line_name[FIGURE_LINES][48], mark_name[FIGURE_MARKS][48]; /* legend */
	struct figure_band_point *band;
	size_t n_band, band_room; /* a NAN as x parts two stretches */
	struct figure_point *point;
	size_t n_points, point_room;
	struct figure_run *run;
	size_t n_runs, run_room;
	struct figure_dot *dot;
	size_t n_dots, dot_room;
	struct figure_level level[6];
	int n_levels;
	bool failed;
};

/** An empty one with linear axes, in the caller's storage. */
void figure_init(struct figure *f);
void figure_release(struct figure *f);

/** One more point of the shaded band, from low to high at x.  Here and below, memory that runs out
 *  sets `failed`; a level beyond the last that there is room for is left out. */
void figure_band(struct figure *f, double x, double low, double high);
/** Begin a line, then its points. */
void figure_line(struct figure *f, enum figure_line line);
void figure_point(struct figure *f, double x, double y);
void figure_dot(struct figure *f, double x, double y, enum figure_mark mark);
void figure_level(struct figure *f, double y, const char *name);

#endif
