/* ui/widget/sheet_plot.c - see sheet_plot.h */
#include "ui/widget/sheet_plot.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"

enum { ACROSS_MAX = 512, DOWN_MAX = 256, TICKS_MAX = 40, LABEL_MAX = 16 };

/* A dot shows the highest of what falls into it. */
enum layer { L_NONE, L_BAND, L_LIMIT, L_CURVE, L_POINT };

struct axis {
	bool log;
	double from, to; /* of the value, or of its logarithm to the base of ten */
	double tick[TICKS_MAX];
	char label[TICKS_MAX][LABEL_MAX];
	int n_ticks;
};

struct area {
	struct canvas *c;
	int row, col, rows, cols; /* of the dots */
	int across, down;         /* dots in a cell */
	int n_x, n_y;             /* dots */
	struct axis x, y;
	uint8_t dot[DOWN_MAX][ACROSS_MAX];
};

/* --- axes --------------------------------------------------------------------------------- */

/* A value on its axis; NAN where it cannot be shown. */
static double on_axis(const struct axis *a, double value)
{
	if (a->log)
		return value > 0 && isfinite(value) ? log10(value) : NAN;
	return isfinite(value) ? value : NAN;
}

static void span(struct axis *a, double value)
{
	double v = on_axis(a, value);
	if (isnan(v))
		return;
	a->from = fmin(a->from, v);
	a->to = fmax(a->to, v);
}

/* Does it show anything?  Room at both ends, and some width even for a single value. */
static bool settle(struct axis *a)
{
	if (!(a->from <= a->to))
		return false;
	double least = a->log ? 0.3 : fmax(1e-9, 0.02 * fmax(fabs(a->from), fabs(a->to)));
	double middle = 0.5 * (a->from + a->to);
	double half = 0.5 * fmax(a->to - a->from, least) * 1.04;
	a->from = middle - half;
	a->to = middle + half;
	return isfinite(half);
}

static void add_tick(struct axis *a, double value)
{
	double at = a->log ? log10(value) : value;
	if (at < a->from || at > a->to || a->n_ticks == TICKS_MAX)
		return;
	a->tick[a->n_ticks] = at;
	char *label = a->label[a->n_ticks++];
	if (fabs(value) > 0 && (fabs(value) < 1e-4 || fabs(value) >= 1e6))
		snprintf(label, LABEL_MAX, "%.0e", value);
	else
		num_print_unit(label, LABEL_MAX, value, UNIT_NONE, 6);
}

static void ticks(struct axis *a, int most)
{
	if (a->log) {
		static const double between[] = {1, 2, 5};
		int decades = (int)(floor(a->to) - floor(a->from));
		int every = decades / TICKS_MAX + 1;
		for (int d = (int)floor(a->from); d <= (int)floor(a->to); d += every)
			for (int k = 0; k < (decades <= 2 ? 3 : 1); k++)
				add_tick(a, between[k] * pow(10, d));
		return;
	}
	double step = pow(10, floor(log10((a->to - a->from) / most)));
	static const double times[] = {1, 2, 5, 10};
	for (size_t i = 0; i < sizeof times / sizeof *times; i++)
		if (times[i] * step * most >= a->to - a->from || i == 3) {
			step *= times[i];
			break;
		}
	double first = ceil(a->from / step);
	for (int i = 0; i < TICKS_MAX && (first + i) * step <= a->to; i++)
		add_tick(a, (first + i) * step);
}

/* The dot that a value falls into, from 0; below or above the picture: -1 or n. */
static int dot_of(const struct axis *a, double at, int n)
{
	double share = (at - a->from) / (a->to - a->from);
	return !(share >= 0) ? -1 : share >= 1 ? n : (int)(share * n);
}

/* --- dots --------------------------------------------------------------------------------- */

static void set(struct area *p, int x, int y, enum layer what)
{
	if (x >= 0 && x < p->n_x && y >= 0 && y < p->n_y && p->dot[y][x] < what)
		p->dot[y][x] = (uint8_t)what;
}

static int clamp(int value, int least, int most)
{
	return value < least ? least : value > most ? most : value;
}

/* The curve between its points, straight on the axes; an edge that cannot be shown (nought on a
 * logarithmic axis) lies below the picture. */
static void draw_curve(struct area *p, const struct sheet_plot *plot)
{
	int before = 0;
	bool joined = false;
	for (int x = 0, i = 0; x < p->n_x; x++) {
		double at = p->x.from + (x + 0.5) / p->n_x * (p->x.to - p->x.from);
		while (i + 1 < plot->n_curve && !(on_axis(&p->x, plot->curve[i + 1].x) >= at))
			i++;
		if (i + 1 >= plot->n_curve)
			break;
		double left = on_axis(&p->x, plot->curve[i].x);
		double right = on_axis(&p->x, plot->curve[i + 1].x);
		if (!(at >= left) || !(right > left)) {
			joined = false;
			continue;
		}
		double share = (at - left) / (right - left);
		const double a[3] = {plot->curve[i].low, plot->curve[i].middle, plot->curve[i].high};
		const double b[3] = {plot->curve[i + 1].low, plot->curve[i + 1].middle,
			plot->curve[i + 1].high};
		int y[3];
		for (int k = 0; k < 3; k++)
			y[k] = dot_of(&p->y, (1 - share) * on_axis(&p->y, a[k]) +
				share * on_axis(&p->y, b[k]), p->n_y);
		for (int k = clamp(y[0], 0, p->n_y); k <= y[2] && k < p->n_y; k++)
			set(p, x, k, L_BAND);
		int step = joined && before < y[1] ? -1 : 1;
		set(p, x, y[1], L_CURVE);
		for (int k = y[1] + step; joined && (before - k) * step > 0; k += step)
			set(p, x, k, L_CURVE);
		before = y[1];
		joined = true;
	}
}

static void draw_limits(struct area *p, const struct sheet_plot *plot)
{
	for (int i = 0; i < plot->n_limits; i++) {
		double at = on_axis(&p->y, plot->limit[i].y);
		if (isnan(at))
			continue;
		for (int x = 0; x < p->n_x; x++)
			if (x % (2 * p->across) < p->across)
				set(p, x, dot_of(&p->y, at, p->n_y), L_LIMIT);
	}
}

/* Bit of the braille cell for dot (across, up from the lowest of four). */
static uint32_t braille_bit(int across, int up)
{
	static const uint8_t bits[2][4] = {{0x40, 0x04, 0x02, 0x01}, {0x80, 0x20, 0x10, 0x08}};
	return bits[across][up];
}

static void draw_cell(const struct area *p, int r, int k)
{
	static const enum role roles[] = {[L_NONE] = ROLE_PLAIN, [L_BAND] = ROLE_BAND,
		[L_LIMIT] = ROLE_DIM, [L_CURVE] = ROLE_STRONG, [L_POINT] = ROLE_PLAIN};
	int rank = L_NONE;
	uint32_t bits = 0;
	bool half[2] = {false, false};
	for (int a = 0; a < p->across; a++)
		for (int u = 0; u < p->down; u++) {
			int x = k * p->across + a, y = (p->rows - 1 - r) * p->down + u;
			int what = p->dot[y][x];
			if (what == L_NONE)
				continue;
			rank = what > rank ? what : rank;
			half[u * 2 / p->down] = true;
			/* the band is a grey of every other dot */
			if (p->across == 2 && (what > L_BAND || (x + y) % 2 == 0))
				bits |= braille_bit(a, u);
		}
	if (rank == L_NONE)
		return;
	if (p->across == 2) {
		canvas_put(p->c, p->row + r, p->col + k, roles[rank], 0x2800 + bits);
		return;
	}
	char mark = half[0] && half[1] ? ':' : half[0] ? '.' : '\'';
	if (rank >= L_LIMIT)
		mark = rank == L_LIMIT ? '-' : rank == L_CURVE ? '*' : 'o';
	canvas_put(p->c, p->row + r, p->col + k, roles[rank], (uint32_t)mark);
}

/* Few points are marks that can be seen, many are dots; the newest is a mark in any case. */
static void draw_points(struct area *p, const struct sheet_plot *plot, bool marks)
{
	for (int i = 0; i < plot->n_points; i++) {
		double x = on_axis(&p->x, plot->point[i].x), y = on_axis(&p->y, plot->point[i].y);
		bool newest = i == plot->n_points - 1;
		if (isnan(x) || isnan(y))
			continue;
		int at_x = clamp(dot_of(&p->x, x, p->n_x), 0, p->n_x - 1);
		int at_y = clamp(dot_of(&p->y, y, p->n_y), 0, p->n_y - 1);
		if (!marks)
			set(p, at_x, at_y, L_POINT);
		else if (newest || plot->n_points <= p->cols / 2)
			canvas_glyph(p->c, p->row + p->rows - 1 - at_y / p->down,
				p->col + at_x / p->across, newest ? ROLE_STRONG : ROLE_PLAIN,
				GLYPH_POINT);
	}
}

/* --- words -------------------------------------------------------------------------------- */

static int cell_row(const struct area *p, double at)
{
	return p->row + p->rows - 1 - clamp(dot_of(&p->y, at, p->n_y), 0, p->n_y - 1) / p->down;
}

/* Names of the limits, above their lines at the left end, where a fall leaves room; names that
 * would fall on one row stand side by side. */
static void name_limits(const struct area *p, const struct sheet_plot *plot)
{
	int used[64] = {0};
	for (int i = 0; i < plot->n_limits; i++) {
		double at = on_axis(&p->y, plot->limit[i].y);
		if (isnan(at))
			continue;
		int row = cell_row(p, at), *from = &used[row - p->row];
		char name[sizeof plot->limit[i].name + 2];
		snprintf(name, sizeof name, "%s ", plot->limit[i].name);
		*from += canvas_text(p->c, row, p->col + *from, p->cols - *from, ROLE_DIM, name);
	}
}

static void draw_axes(const struct area *p)
{
	struct canvas *c = p->c;
	int below = p->row + p->rows, last = -1;
	for (int r = 0; r < p->rows; r++)
		canvas_glyph(c, p->row + r, p->col - 1, ROLE_DIM, GLYPH_UPRIGHT);
	/* from the top down, whole powers first: a row holds one label */
	for (int pass = 0; pass < 2; pass++)
		for (int i = 0; i < p->y.n_ticks; i++) {
			int row = cell_row(p, p->y.tick[i]);
			bool round = p->y.label[i][0] == '1' || p->y.label[i][0] == '0';
			int width = (int)strlen(p->y.label[i]);
			if (round != (pass == 0) ||
					c->cells[row * c->cols + p->col - 1].code == '+')
				continue;
			canvas_put(c, row, p->col - 1, ROLE_DIM, '+');
			canvas_text(c, row, p->col - 1 - width, width, ROLE_DIM, p->y.label[i]);
		}
	for (int i = 0; i < p->x.n_ticks; i++) {
		int width = (int)strlen(p->x.label[i]);
		int at = clamp(dot_of(&p->x, p->x.tick[i], p->n_x), 0, p->n_x - 1) / p->across;
		int from = clamp(at - width / 2, 0, p->cols - width);
		if (from <= last || from < 0)
			continue;
		canvas_text(c, below, p->col + from, width, ROLE_DIM, p->x.label[i]);
		last = from + width;
	}
}

static int widest(const struct axis *a)
{
	int most = 1;
	for (int i = 0; i < a->n_ticks; i++) {
		int width = (int)strlen(a->label[i]);
		most = width > most ? width : most;
	}
	return most;
}

static bool find_spans(struct area *p, const struct sheet_plot *plot)
{
	p->x = (struct axis){.log = plot->log_x, .from = INFINITY, .to = -INFINITY};
	p->y = (struct axis){.log = plot->log_y, .from = INFINITY, .to = -INFINITY};
	for (int i = 0; i < plot->n_points; i++) {
		if (isnan(on_axis(&p->x, plot->point[i].x)) || isnan(on_axis(&p->y, plot->point[i].y)))
			continue;
		span(&p->x, plot->point[i].x);
		span(&p->y, plot->point[i].y);
	}
	for (int i = 0; i < plot->n_curve; i++) {
		span(&p->x, plot->curve[i].x);
		span(&p->y, plot->curve[i].middle);
	}
	if (!(p->y.from <= p->y.to)) /* limits alone are no picture */
		return false;
	for (int i = 0; i < plot->n_limits; i++)
		span(&p->y, plot->limit[i].y);
	return settle(&p->x) && settle(&p->y);
}

void sheet_plot_draw(const struct sheet_plot *plot, struct canvas *c, int row, int col, int rows,
	int cols)
{
	static const int frame_rows = 2; /* titles and x ticks */
	struct area p = {.c = c, .across = c->marks ? 2 : 1, .down = c->marks ? 4 : 2};
	if (rows < SHEET_PLOT_ROWS_MIN || cols < SHEET_PLOT_COLS_MIN || row < 0 || col < 0 ||
			row + rows > c->rows || col + cols > c->cols)
		return;
	canvas_format(c, row, col, cols, ROLE_DIM, "%s over %s", plot->y_title, plot->x_title);
	if (!find_spans(&p, plot)) {
		canvas_text(c, row + 1, col, cols, ROLE_DIM, "nothing to show yet");
		return;
	}
	p.row = row + 1;
	p.rows = clamp(rows - frame_rows, 1, DOWN_MAX / 4);
	ticks(&p.y, p.rows);
	int left = widest(&p.y) + 1;
	p.col = col + left;
	p.cols = clamp(cols - left, 1, ACROSS_MAX / 2);
	ticks(&p.x, p.cols / 8 > 0 ? p.cols / 8 : 1);
	p.n_x = p.cols * p.across;
	p.n_y = p.rows * p.down;
	draw_curve(&p, plot);
	draw_limits(&p, plot);
	draw_points(&p, plot, false);
	for (int r = 0; r < p.rows; r++)
		for (int k = 0; k < p.cols; k++)
			draw_cell(&p, r, k);
	draw_axes(&p);
	name_limits(&p, plot);
	draw_points(&p, plot, true);
}
