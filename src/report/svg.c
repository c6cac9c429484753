#include "report/svg.h"

#include <math.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "report/escape.h"
#include "report/scale.h"

/* In the drawing's own units; it is scaled to the width there is. */
enum { WIDE = 440, HIGH = 300, LEFT = 50, RIGHT = 12, TOP = 22, BOTTOM = 42, TICKS = 6 };
/* Of a polyline's points that are closer together, the first, the lowest and the highest are
 * drawn. */
static const double least_step = 0.4;

static const char *const line_class[FIGURE_LINES] = {"expected", "abort", "limit", "earlier",
                                                     "like",     "readings"};
static const char *const mark_class[FIGURE_MARKS] = {"m-good",  "m-over",    "m-under",
                                                     "m-abort", "m-passing", "m-reading"};

static void put(struct buf *out, double value)
{
	char digits[32];
	size_t n = num_print(digits, sizeof digits, value, 1);

	if (n > 2 && strcmp(digits + n - 2, ".0") == 0)
		n -= 2;
	buf_add(out, digits, n);
}

static void put_pair(struct buf *out, double x, double y)
{
	put(out, x);
	buf_addc(out, ',');
	put(out, y);
}

/* attribute="value" */
static void put_at(struct buf *out, const char *name, double value)
{
	buf_addf(out, " %s=\"", name);
	put(out, value);
	buf_addc(out, '"');
}

static void mark(struct buf *out, enum figure_mark kind, double x, double y)
{
	const char *class = mark_class[kind];

	switch (kind) {
	case MARK_GOOD:
		buf_addf(out, "<circle class=\"%s\" r=\"3\"", class);
		put_at(out, "cx", x);
		put_at(out, "cy", y);
		break;
	case MARK_PASSING:
		buf_addf(out, "<circle class=\"%s\" r=\"1.8\"", class);
		put_at(out, "cx", x);
		put_at(out, "cy", y);
		break;
	case MARK_OVER:
	case MARK_UNDER: {
		double up = kind == MARK_OVER ? 1 : -1;

		buf_addf(out, "<path class=\"%s\" d=\"M", class);
		put_pair(out, x, y - 5 * up);
		buf_adds(out, "L");
		put_pair(out, x + 4.5, y + 4 * up);
		buf_adds(out, "L");
		put_pair(out, x - 4.5, y + 4 * up);
		buf_adds(out, "Z\"");
		break;
	}
	case MARK_ABORT:
		buf_addf(out, "<path class=\"%s\" d=\"M", class);
		put_pair(out, x - 4.5, y - 4.5);
		buf_adds(out, "L");
		put_pair(out, x + 4.5, y + 4.5);
		buf_adds(out, "M");
		put_pair(out, x - 4.5, y + 4.5);
		buf_adds(out, "L");
		put_pair(out, x + 4.5, y - 4.5);
		buf_addc(out, '"');
		break;
	case MARK_READING:
	case FIGURE_MARKS:
		buf_addf(out, "<path class=\"%s\" d=\"M", class);
		put_pair(out, x, y - 4);
		buf_adds(out, "L");
		put_pair(out, x + 4, y);
		buf_adds(out, "L");
		put_pair(out, x, y + 4);
		buf_adds(out, "L");
		put_pair(out, x - 4, y);
		buf_adds(out, "Z\"");
		break;
	}
	buf_adds(out, "/>");
}

static void grow(double *low, double *high, double value, bool log)
{
	if (!isfinite(value) || (log && !(value > 0)))
		return;
	*low = isnan(*low) ? value : fmin(*low, value);
	*high = isnan(*high) ? value : fmax(*high, value);
}

/* Axes that hold all there is, unless the figure asks for others. */
static void make_axes(const struct figure *f, struct scale *x, struct scale *y)
{
	double x0 = NAN, x1 = NAN, y0 = NAN, y1 = NAN;

	for (size_t i = 0; i < f->n_band; i++) {
		grow(&x0, &x1, f->band[i].x, f->x.log);
		grow(&y0, &y1, f->band[i].low, f->y.log);
		grow(&y0, &y1, f->band[i].high, f->y.log);
	}
	for (size_t i = 0; i < f->n_points; i++) {
		grow(&x0, &x1, f->point[i].x, f->x.log);
		grow(&y0, &y1, f->point[i].y, f->y.log);
	}
	for (size_t i = 0; i < f->n_dots; i++) {
		grow(&x0, &x1, f->dot[i].x, f->x.log);
		grow(&y0, &y1, f->dot[i].y, f->y.log);
	}
	for (int i = 0; i < f->n_levels; i++)
		grow(&y0, &y1, f->level[i].y, f->y.log);
	scale_make(x, f->x.log, isnan(f->x.low) ? x0 : f->x.low, isnan(f->x.high) ? x1 : f->x.high,
	           LEFT, WIDE - RIGHT, TICKS);
	scale_make(y, f->y.log, isnan(f->y.low) ? y0 : f->y.low, isnan(f->y.high) ? y1 : f->y.high,
	           HIGH - BOTTOM, TOP, TICKS);
}

static void tick_text(struct buf *out, const struct scale *s, double value)
{
	char digits[32];
	int decimals = s->decimals;

	if (decimals < 0)
		decimals = value >= 1 ? 0 : (int)ceil(-log10(value) - 1e-9);
	if (s->log && value >= 1e4) {
		buf_addf(out, "%.0fk", value / 1000);
		return;
	}
	(void)num_print(digits, sizeof digits, value, decimals);
	buf_adds(out, digits);
}

static void draw_axes(struct buf *out, const struct figure *f, const struct scale *x,
                      const struct scale *y)
{
	buf_adds(out, "<g class=\"grid\">");
	for (int i = 0; i < x->n_ticks; i++) {
		buf_adds(out, "<path d=\"M");
		put_pair(out, scale_at(x, x->tick[i]), TOP);
		buf_addf(out, "V%d\"/>", HIGH - BOTTOM);
	}
	for (int i = 0; i < y->n_ticks; i++) {
		buf_adds(out, "<path d=\"M");
		put_pair(out, LEFT, scale_at(y, y->tick[i]));
		buf_addf(out, "H%d\"/>", WIDE - RIGHT);
	}
	buf_addf(out, "</g><path class=\"axis\" d=\"M%d,%dV%dH%d\"/><g class=\"tick\">", LEFT, TOP,
	         HIGH - BOTTOM, WIDE - RIGHT);
	for (int i = 0; i < x->n_ticks; i++) {
		buf_addf(out, "<text y=\"%d\"", HIGH - BOTTOM + 15);
		put_at(out, "x", scale_at(x, x->tick[i]));
		buf_adds(out, " text-anchor=\"middle\">");
		tick_text(out, x, x->tick[i]);
		buf_adds(out, "</text>");
	}
	for (int i = 0; i < y->n_ticks; i++) {
		buf_addf(out, "<text x=\"%d\"", LEFT - 5);
		put_at(out, "y", scale_at(y, y->tick[i]) + 4);
		buf_adds(out, " text-anchor=\"end\">");
		tick_text(out, y, y->tick[i]);
		buf_adds(out, "</text>");
	}
	buf_addf(out, "</g><g class=\"name\"><text x=\"%d\" y=\"%d\" text-anchor=\"end\">",
	         WIDE - RIGHT, HIGH - 8);
	escape_html(out, f->x.title, strlen(f->x.title));
	buf_addf(out, "</text><text x=\"%d\" y=\"13\">", 4);
	escape_html(out, f->y.title, strlen(f->y.title));
	buf_adds(out, "</text></g>");
}

static bool in_sight(const struct scale *s, double at)
{
	return isfinite(at) && at >= fmin(s->from, s->to) - 0.5 && at <= fmax(s->from, s->to) + 0.5;
}

static double clamp_to(const struct scale *s, double at)
{
	return fmin(fmax(at, fmin(s->from, s->to)), fmax(s->from, s->to));
}

/* A polyline under way. */
struct trace {
	struct buf *out;
	bool begun;                        /* the newest point joins the one before */
	struct figure_point first;         /* of the points that are too close to tell apart */
	struct figure_point low, high, last; /* of those behind it; low.x NAN: there are none */
};

static void trace_to(struct trace *t, struct figure_point to)
{
	buf_addc(t->out, t->begun ? 'L' : 'M');
	put_pair(t->out, to.x, to.y);
	t->begun = true;
}

/* Draw what was held back, as far as it reaches beyond the first. */
static void trace_flush(struct trace *t)
{
	const bool lower = t->low.y < t->first.y, higher = t->high.y > t->first.y;

	if (isnan(t->low.x))
		return;
	if (lower && !(higher && t->high.x < t->low.x))
		trace_to(t, t->low);
	if (higher)
		trace_to(t, t->high);
	if (lower && higher && t->high.x < t->low.x)
		trace_to(t, t->low);
	t->low.x = NAN;
}

static void trace_add(struct trace *t, double x, double y)
{
	const struct figure_point at = {x, y};

	if (t->begun && x - t->first.x < least_step) {
		const bool alone = isnan(t->low.x);

		t->low = alone || y < t->low.y ? at : t->low;
		t->high = alone || y > t->high.y ? at : t->high;
		t->last = at;
		return;
	}
	trace_flush(t);
	trace_to(t, at);
	t->first = t->last = at;
}

/* What comes next is not joined. */
static void trace_end(struct trace *t)
{
	const struct figure_point last = t->last;

	if (t->begun) {
		trace_flush(t);
		if (last.x > t->first.x)
			trace_to(t, last);
	}
	t->begun = false;
}

static struct trace trace_begin(struct buf *out)
{
	return (struct trace){.out = out, .low = {NAN, NAN}};
}

/* One stretch of the band, from index i on; returns where the next begins. */
static size_t draw_stretch(struct buf *out, const struct figure *f, const struct scale *x,
                           const struct scale *y, size_t i)
{
	size_t n = 0;
	struct buf low = BUF_INIT, high = BUF_INIT;
	struct trace along_low = trace_begin(&low), along_high = trace_begin(&high);

	for (; i < f->n_band; i++) {
		double at = scale_at(x, f->band[i].x), bottom = scale_at(y, f->band[i].low);
		double top = scale_at(y, f->band[i].high);

		if (!isfinite(f->band[i].x))
			break;
		if (f->y.log && !(f->band[i].low > 0))
			bottom = y->from;
		if (!isfinite(at) || !isfinite(bottom) || !isfinite(top))
			continue;
		trace_add(&along_low, clamp_to(x, at), clamp_to(y, bottom));
		trace_add(&along_high, clamp_to(x, at), clamp_to(y, top));
		n++;
	}
	trace_end(&along_low);
	trace_end(&along_high);
	if (n > 1) {
		/* the area: along the low edge, and back along the high one */
		buf_adds(out, "<path class=\"band\" d=\"");
		buf_adds(out, low.data);
		for (const char *at = high.data + high.len; at > high.data;) {
			const char *end = at;

			do
				at--;
			while (*at != 'L' && *at != 'M');
			buf_addc(out, 'L');
			buf_add(out, at + 1, (size_t)(end - at - 1));
		}
		buf_addf(out, "Z\"/><path class=\"edge\" d=\"%s\"/><path class=\"edge\" d=\"%s\"/>",
		         low.data, high.data);
	}
	out->failed |= low.failed || high.failed;
	buf_release(&low);
	buf_release(&high);
	return i + 1;
}

static void draw_line(struct buf *out, const struct figure *f, const struct figure_run *run,
                      const struct scale *x, const struct scale *y)
{
	struct trace along = trace_begin(out);

	buf_addf(out, "<path class=\"%s\" d=\"", line_class[run->line]);
	for (size_t i = run->first; i < run->first + run->n; i++) {
		double at = scale_at(x, f->point[i].x), up = scale_at(y, f->point[i].y);

		if (in_sight(x, at) && in_sight(y, up))
			trace_add(&along, at, up);
		else
			trace_end(&along);
	}
	trace_end(&along);
	buf_adds(out, "\"/>");
}

static void draw_levels(struct buf *out, const struct figure *f, const struct scale *y)
{
	double taken = NAN;

	for (int i = 0; i < f->n_levels; i++) {
		double up = scale_at(y, f->level[i].y), text = up - 4;

		if (!in_sight(y, up))
			continue;
		buf_adds(out, "<path class=\"limit\" d=\"M");
		put_pair(out, LEFT, up);
		buf_addf(out, "H%d\"/>", WIDE - RIGHT);
		if (fabs(text - taken) < 13) /* two limits close together */
			text = up + 13;
		taken = text;
		buf_addf(out, "<text class=\"level\" text-anchor=\"end\" x=\"%d\"",
		         WIDE - RIGHT - 3);
		put_at(out, "y", fmax(text, TOP + 10));
		buf_addc(out, '>');
		escape_html(out, f->level[i].name, strlen(f->level[i].name));
		buf_adds(out, "</text>");
	}
}

void svg_figure(struct buf *out, const struct figure *f)
{
	struct scale x, y;

	make_axes(f, &x, &y);
	/* the first child names it for who does not see it, <desc> tells what there is */
	buf_addf(out, "<svg role=\"img\" viewBox=\"0 0 %d %d\"><title>", WIDE, HIGH);
	escape_html(out, f->title, strlen(f->title));
	buf_adds(out, "</title><desc>");
	escape_html(out, f->desc, strlen(f->desc));
	buf_adds(out, "</desc>");
	draw_axes(out, f, &x, &y);
	for (size_t i = 0; i < f->n_band;)
		i = draw_stretch(out, f, &x, &y, i);
	for (size_t i = 0; i < f->n_runs; i++)
		draw_line(out, f, &f->run[i], &x, &y);
	draw_levels(out, f, &y);
	/* what needs to be seen is drawn last */
	for (int pass = 0; pass < 2; pass++)
		for (size_t i = 0; i < f->n_dots; i++) {
			double at = scale_at(&x, f->dot[i].x), up = scale_at(&y, f->dot[i].y);

			if ((f->dot[i].mark == MARK_PASSING) == (pass == 0) && in_sight(&x, at) &&
			    in_sight(&y, up))
				mark(out, f->dot[i].mark, at, up);
		}
	buf_adds(out, "</svg>\n");
}

static void legend_entry(struct buf *out, const char *name)
{
	buf_adds(out, "</svg> ");
	escape_html(out, name, strlen(name));
	buf_adds(out, "</li>");
}

void svg_legend(struct buf *out, const struct figure *f)
{
	static const char open[] =
	        "<li><svg class=\"key\" viewBox=\"0 0 22 12\" aria-hidden=\"true\">";
	bool there[FIGURE_MARKS] = {false}, line[FIGURE_LINES] = {false};

	for (size_t i = 0; i < f->n_dots; i++)
		there[f->dot[i].mark] = true;
	for (size_t i = 0; i < f->n_runs; i++)
		line[f->run[i].line] |= f->run[i].n > 1;
	line[LINE_LIMIT] |= f->n_levels > 0;
	buf_adds(out, "<ul class=\"legend\">");
	if (f->n_band > 1) {
		buf_addf(out,
		         "%s<path class=\"band\" d=\"M0,1H22V11H0Z\"/>"
		         "<path class=\"edge\" d=\"M0,1H22M0,11H22\"/>",
		         open);
		legend_entry(out, f->band_name);
	}
	for (int i = 0; i < FIGURE_LINES; i++)
		if (line[i] && f->line_name[i][0]) {
			buf_addf(out, "%s<path class=\"%s\" d=\"M0,6H22\"/>", open, line_class[i]);
			legend_entry(out, f->line_name[i]);
		}
	for (int i = 0; i < FIGURE_MARKS; i++)
		if (there[i] && f->mark_name[i][0]) {
			buf_adds(out, open);
			mark(out, (enum figure_mark)i, 11, 6);
			legend_entry(out, f->mark_name[i]);
		}
	buf_adds(out, "</ul>\n");
}
