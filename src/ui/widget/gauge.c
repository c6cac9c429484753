/* ui/widget/gauge.c - see gauge.h */
#include "ui/widget/gauge.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

void gauge_watts(double watts, char ret[16])
{
	if (!isfinite(watts) || fabs(watts) > 1e6)
		snprintf(ret, 16, "-");
	else if (fabs(watts) < 9.995)
		snprintf(ret, 16, "%.2f", watts);
	else
		snprintf(ret, 16, "%.*f", fabs(watts) < 99.95 ? 1 : 0, watts);
}

/* The cell of a bar of `cols` cells that `watts` falls into. */
static int cell_of(double watts, double full, int cols)
{
	int k = (int)lround(watts / full * (cols - 1));
	return k < 0 ? 0 : k >= cols ? cols - 1 : k;
}

void gauge_draw(const struct view *v, struct canvas *c, int row, int col, int cols)
{
	if (!isfinite(v->low) || !isfinite(v->high) || !isfinite(v->abort_watts) || cols < 12)
		return;
	/* The abort mark stands at three quarters, so that what lies beyond it has room. */
	double full = v->abort_watts / 0.75;
	if (!(full > 0))
		return;
	int low = cell_of(v->low, full, cols), high = cell_of(v->high, full, cols);
	int expected = cell_of(v->expected, full, cols), stop = cell_of(v->abort_watts, full, cols);

	for (int k = 0; k < cols; k++) {
		enum role role = k >= stop ? ROLE_DANGER
			: k < low || k > high ? ROLE_CAUTION : ROLE_GOOD;
		enum glyph glyph = k >= low && k <= high ? GLYPH_SHADE : GLYPH_RULE;
		canvas_glyph(c, row + 1, col + k, role, glyph);
	}
	canvas_glyph(c, row + 1, col + low, ROLE_GOOD, GLYPH_EDGE_LOW);
	canvas_glyph(c, row + 1, col + high, ROLE_GOOD, GLYPH_EDGE_HIGH);
	canvas_glyph(c, row + 1, col + expected, ROLE_GOOD, GLYPH_UPRIGHT);
	canvas_glyph(c, row + 1, col + stop, ROLE_DANGER, GLYPH_ABORT);

	if (v->have_reading && isfinite(v->watts)) {
		canvas_glyph(c, row, col + cell_of(v->watts, full, cols),
			theme_verdict_role(v->verdict), GLYPH_POINTER);
		if (v->watts > full)
			canvas_text(c, row, col + cols - 13, 12, ROLE_DANGER, "off the scale");
	}

	char w[4][16];
	gauge_watts(v->low, w[0]);
	gauge_watts(v->expected, w[1]);
	gauge_watts(v->high, w[2]);
	gauge_watts(v->abort_watts, w[3]);
	/* In words where they fit, else by their place. */
	char text[96];
	int stop_cols = 8 + (int)strlen(w[3]);
	snprintf(text, sizeof text, "low %s   expected %s   high %s   ", w[0], w[1], w[2]);
	if ((int)strlen(text) + stop_cols > cols)
		snprintf(text, sizeof text, "%s .. %s .. %s   ", w[0], w[1], w[2]);
	bool tight = (int)strlen(text) + stop_cols > cols;
	if (tight)
		snprintf(text, sizeof text, "%s..%s ", w[0], w[2]);
	int used = canvas_text(c, row + 2, col, cols, ROLE_PLAIN, text);
	if (tight)
		canvas_glyph(c, row + 2, col + used, ROLE_DANGER, GLYPH_ABORT);
	else
		canvas_text(c, row + 2, col + used, cols - used, ROLE_DANGER, "abort");
	used += tight ? 2 : 6;
	canvas_format(c, row + 2, col + used, cols - used, ROLE_DANGER, "%s W", w[3]);
}
