/* ui/widget/plot.c - see plot.h */
#include "ui/widget/plot.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { DOTS_MAX = 1024 }; /* across; wider plots leave the rest empty */
static const double time_window_s = 600;

/* What one column of dots shows, in watts; NAN where there is nothing. */
struct dot_column {
	double low, high, abort_watts;
	double like_low, like_high; /* edges of the band of the power-up laid under */
	double least, most; /* of the readings that fall into it */
	enum verdict worst;
};

struct plot {
	struct canvas *c;
	int row, col, rows, cols; /* without the axis */
	double top;               /* watts at the upper edge */
	int across, down;         /* dots in a cell */
	int n;
	struct dot_column dots[DOTS_MAX];
};

static int worse(enum verdict v)
{
	static const int ranks[] = {
		[VERDICT_IN_BAND] = 0, [VERDICT_SETTLING] = 1, [VERDICT_UNKNOWN] = 2,
		[VERDICT_UNDER] = 3, [VERDICT_OVER] = 4, [VERDICT_ABORT] = 5,
	};
	return ranks[v];
}

static const struct session_point *point_at(const struct view *v, size_t i)
{
	return &v->points[(v->points_first + i) % SESSION_READINGS_MAX];
}

static void plot_init(struct plot *p, struct canvas *c, int row, int col, int rows, int cols)
{
	*p = (struct plot){.c = c, .row = row, .col = col, .rows = rows - 1, .cols = cols,
		.across = c->marks ? 2 : 1, .down = c->marks ? 4 : 2};
	p->n = cols * p->across < DOTS_MAX ? cols * p->across : DOTS_MAX;
	for (int i = 0; i < p->n; i++)
		p->dots[i] = (struct dot_column){NAN, NAN, NAN, NAN, NAN, NAN, NAN,
			VERDICT_IN_BAND};
}

/* The scale's end above `watts`: 1, 1.5, 2, 3, 4, 5, 6 or 8 times a power of ten. */
static double round_up(double watts)
{
	static const double steps[] = {1, 1.5, 2, 3, 4, 5, 6, 8, 10};
	if (!(watts > 0.1))
		return 0.1;
	double ten = pow(10, floor(log10(watts)));
	for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
		if (steps[i] * ten >= watts)
			return steps[i] * ten;
	return 10 * ten;
}

/* The row of dots that `watts` falls into, 0 the lowest; may lie outside. */
static int dot_row(const struct plot *p, double watts)
{
	double y = watts / p->top * (p->rows * p->down);
	return y > 1e6 ? 1000000 : y < 0 ? -1 : (int)y;
}

/* Is the dot row y part of a line that has `watts` in this column and `last` in the one before?
 * Joined upright between its columns. */
static bool on_line(const struct plot *p, double watts, double last, int y)
{
	if (!isfinite(watts))
		return false;
	int here = dot_row(p, watts), before = isfinite(last) ? dot_row(p, last) : here;
	if (before < here)
		return y > before && y <= here;
	return y == here || (y > here && y < before);
}

static bool on_abort_line(const struct plot *p, int x, int y)
{
	return on_line(p, p->dots[x].abort_watts, x > 0 ? p->dots[x - 1].abort_watts : NAN, y);
}

static bool on_like_edge(const struct plot *p, int x, int y)
{
	return on_line(p, p->dots[x].like_low, x > 0 ? p->dots[x - 1].like_low : NAN, y) ||
		on_line(p, p->dots[x].like_high, x > 0 ? p->dots[x - 1].like_high : NAN, y);
}

static bool in_band(const struct plot *p, int x, int y)
{
	const struct dot_column *d = &p->dots[x];
	return isfinite(d->low) && y >= dot_row(p, d->low) && y <= dot_row(p, d->high);
}

static bool in_readings(const struct plot *p, int x, int y)
{
	const struct dot_column *d = &p->dots[x];
	return isfinite(d->least) && y >= dot_row(p, d->least) && y <= dot_row(p, d->most);
}

/* Bit of the braille cell for dot (across, up from the lowest of four). */
static uint32_t braille_bit(int across, int up)
{
	static const uint8_t bits[2][4] = {{0x40, 0x04, 0x02, 0x01}, {0x80, 0x20, 0x10, 0x08}};
	return bits[across][up];
}

static void draw_cell(const struct plot *p, int r, int k)
{
	uint32_t bits = 0;
	int lower = 0, upper = 0; /* ASCII: what the two halves of the cell show */
	enum role role = ROLE_BAND;
	/* band 1, edges of the one laid under 2, abort line 3, readings 4: the highest gives the
	 * colour */
	int rank = 0;

	for (int a = 0; a < p->across; a++) {
		int x = k * p->across + a;
		if (x >= p->n)
			continue;
		for (int u = 0; u < p->down; u++) {
			int y = (p->rows - 1 - r) * p->down + u, what = 0;
			if (in_readings(p, x, y))
				what = 4;
			else if (on_abort_line(p, x, y))
				what = 3;
			else if (on_like_edge(p, x, y))
				what = 2;
			else if (in_band(p, x, y))
				what = 1;
			if (what == 0)
				continue;
			if (what > rank || (what == 4 && worse(p->dots[x].worst) > 0)) {
				rank = what > rank ? what : rank;
				role = what == 4 ? theme_verdict_role(p->dots[x].worst)
					: what == 3 ? ROLE_DANGER
					: what == 2 ? ROLE_PLAIN : ROLE_BAND;
			}
			/* the band is a grey of every other dot */
			if (what > 1 || (x + y) % 2 == 0)
				bits |= p->across == 2 ? braille_bit(a, u) : 0;
			*(u == 0 ? &lower : &upper) = what;
		}
	}
	if (rank == 0)
		return;
	if (p->across == 2) {
		canvas_put(p->c, p->row + r, p->col + k, role, 0x2800 + bits);
		return;
	}
	char mark = lower && upper ? ':' : lower ? '.' : '\'';
	if (rank == 4)
		mark = 'o';
	else if (rank == 3)
		mark = '-';
	else if (rank == 2)
		mark = '=';
	canvas_put(p->c, p->row + r, p->col + k, role, (uint32_t)mark);
}

static void draw_dots(const struct plot *p)
{
	for (int r = 0; r < p->rows; r++)
		for (int k = 0; k < p->cols; k++)
			draw_cell(p, r, k);
	canvas_format(p->c, p->row, p->col, p->cols, ROLE_DIM, "%g W", p->top);
}

/* A reading as a mark of its own, over the dots; cut off at the upper edge, never lost. */
static void draw_point(const struct plot *p, double x_share, double watts, enum verdict verdict)
{
	int k = (int)(x_share * p->cols);
	int r = p->rows - 1 - dot_row(p, watts) / p->down;
	if (!(x_share >= 0) || !(watts >= 0))
		return;
	if (k >= p->cols)
		k = p->cols - 1;
	canvas_glyph(p->c, p->row + (r < 0 ? 0 : r), p->col + k, theme_verdict_role(verdict),
		verdict == VERDICT_ABORT ? GLYPH_ABORT : GLYPH_POINT);
}

static void draw_axis(const struct plot *p)
{
	for (int k = 0; k < p->cols; k++)
		canvas_glyph(p->c, p->row + p->rows, p->col + k, ROLE_DIM, GLYPH_RULE);
}

/* Write `text` on the axis, centred at cell `at`, unless it would touch another label. */
static void axis_label(const struct plot *p, int at, const char *text)
{
	int row = p->row + p->rows, width = (int)strlen(text), from = at - width / 2;
	if (from + width > p->cols)
		from = p->cols - width;
	if (from < 0)
		from = 0;
	for (int k = from - 1; k <= from + width; k++)
		if (k >= 0 && k < p->cols && p->c->cells[row * p->c->cols + p->col + k].code !=
				canvas_glyph_code(p->c, GLYPH_RULE))
			return;
	canvas_text(p->c, row, p->col + from, width, ROLE_DIM, text);
}

void plot_volts(const struct view *v, struct canvas *c, int row, int col, int rows, int cols)
{
	struct plot p;
	if (rows < PLOT_ROWS_MIN || cols < PLOT_COLS_MIN)
		return;
	plot_init(&p, c, row, col, rows, cols);

	double right = v->nameplate_volts, most = 0;
	if (v->around.n_curve > 0)
		right = fmax(right, v->around.curve[v->around.n_curve - 1].volts);
	for (size_t i = 0; i < v->n_points; i++) {
		right = fmax(right, point_at(v, i)->volts);
		most = fmax(most, point_at(v, i)->watts);
	}
	for (int i = 0; i < p.n; i++) {
		struct curve_point at;
		struct like_band like = {.have = false};
		/* its own meter stands for this one's: the edges on the picture are a guide */
		if (v->around.like)
			like_at(v->around.like, &v->around.like->meter,
				(i + 0.5) / p.n * right, &like);
		if (like.have) {
			p.dots[i].like_low = like.low;
			p.dots[i].like_high = like.high;
			most = fmax(most, like.high);
		}
		if (!view_curve_at(v, (i + 0.5) / p.n * right, &at))
			continue;
		p.dots[i].low = at.low;
		p.dots[i].high = at.high;
		p.dots[i].abort_watts = at.abort_watts;
		most = fmax(most, at.abort_watts);
	}
	p.top = round_up(most);
	draw_dots(&p);
	for (size_t i = 0; i < v->n_points; i++) {
		const struct session_point *q = point_at(v, i);
		draw_point(&p, q->volts / right, q->watts, q->verdict);
	}

	char text[16];
	draw_axis(&p);
	for (int i = v->n_stages - 1; i >= 0; i--) { /* the last one in any case */
		bool last = i == v->n_stages - 1;
		snprintf(text, sizeof text, "%.0f%s", v->stages[i].volts, last ? " V" : "");
		axis_label(&p, (int)(v->stages[i].volts / right * cols), text);
	}
}

void plot_time(const struct view *v, struct canvas *c, int row, int col, int rows, int cols)
{
	struct plot p;
	if (rows < PLOT_ROWS_MIN || cols < PLOT_COLS_MIN)
		return;
	plot_init(&p, c, row, col, rows, cols);

	double start = v->n_points > 0 ? point_at(v, 0)->seconds : v->seconds;
	double span = fmin(fmax(v->seconds - start, 60), time_window_s);
	double left = v->seconds - span, most = 0;
	size_t inside = 0;

	/* Each reading rules the band from its moment to the next one's. */
	for (size_t i = 0; i < v->n_points; i++) {
		const struct session_point *q = point_at(v, i);
		double until = i + 1 < v->n_points ? point_at(v, i + 1)->seconds : v->seconds;
		if (until < left)
			continue;
		int from = (int)((q->seconds - left) / span * p.n);
		int to = (int)((until - left) / span * p.n);
		for (int x = from < 0 ? 0 : from; x <= to && x < p.n; x++) {
			p.dots[x].low = q->low;
			p.dots[x].high = q->high;
			p.dots[x].abort_watts = q->abort_watts;
			most = fmax(most, q->abort_watts);
		}
		if (q->seconds < left)
			continue;
		most = fmax(most, q->watts);
		inside++;
		struct dot_column *d = &p.dots[from < p.n ? from : p.n - 1];
		d->least = fmin(d->least, q->watts);
		d->most = fmax(d->most, q->watts);
		if (worse(q->verdict) > worse(d->worst))
			d->worst = q->verdict;
	}
	p.top = round_up(most);
	draw_dots(&p);
	if (inside <= (size_t)cols / 2) /* few: each one as a mark that can be seen */
		for (size_t i = 0; i < v->n_points; i++) {
			const struct session_point *q = point_at(v, i);
			if (q->seconds >= left)
				draw_point(&p, (q->seconds - left) / span, q->watts, q->verdict);
		}

	char clock[16], text[24];
	draw_axis(&p);
	view_clock(span, clock);
	snprintf(text, sizeof text, "-%s", clock);
	axis_label(&p, 0, text);
	axis_label(&p, cols, "now");
}
