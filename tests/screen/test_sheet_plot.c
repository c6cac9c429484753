/* Points, bands and limit lines on two axes: where they come to lie, and what is never shown. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ui/term_dump.h"
#include "ui/widget/sheet_plot.h"

TestSuite(sheet_plot, .timeout = 20);

static struct sheet_plot plot; /* large, and its own process for each test */

static struct canvas make(int rows, int cols, bool utf8)
{
	struct canvas c;
	canvas_init(&c, utf8, utf8);
	cr_assert(canvas_resize(&c, rows, cols) == 0);
	return c;
}

static void add(double x, double y)
{
	plot.point[plot.n_points].x = x;
	plot.point[plot.n_points++].y = y;
}

/* The cell of the newest point, which is bold; false when there is none, or more than one. */
static bool find_newest(const struct canvas *c, int *row, int *col)
{
	int found = 0;
	for (int i = 0; i < c->rows * c->cols; i++)
		if (c->cells[i].code == canvas_glyph_code(c, GLYPH_POINT) &&
				c->cells[i].role == ROLE_STRONG) {
			*row = i / c->cols;
			*col = i % c->cols;
			found++;
		}
	return found == 1;
}

static bool shows(const struct canvas *c, const char *words)
{
	char *text = term_dump_text(c);
	bool found = strstr(text, words) != NULL;
	free(text);
	return found;
}

/* A run that falls as 1/t is a straight line on logarithmic axes. */
static void falling(void)
{
	plot = (struct sheet_plot){.x_title = "minutes", .y_title = "leakage, uA", .log_x = true,
		.log_y = true, .n_limits = 2};
	for (double t = 1; t < 101; t *= 1.5)
		add(t, 5000 / t);
	for (int i = 0; i < 40; i++) {
		double t = pow(10, i / 13.0);
		plot.curve[i].x = t;
		plot.curve[i].middle = 5000 / t;
		plot.curve[i].low = t < 90 ? 4700 / t : 5000 / t * pow(90 / t, 0.3);
		plot.curve[i].high = t < 90 ? 5300 / t : 5000 / t * pow(t / 90, 0.5);
		plot.n_curve = i + 1;
	}
	plot.limit[0].y = 1100;
	plot.limit[1].y = 90;
	snprintf(plot.limit[0].name, sizeof plot.limit[0].name, "older");
	snprintf(plot.limit[1].name, sizeof plot.limit[1].name, "cv-0.01");
}

Test(sheet_plot, golden)
{
	static const struct { int rows, cols; bool utf8; } forms[] = {
		{16, 72, true}, {16, 72, false}, {8, 38, true}, {8, 38, false},
	};
	const char *dir = getenv("GOLDEN_DIR");
	int wrong = 0;
	cr_assert_not_null(dir);
	falling();
	for (size_t i = 0; i < sizeof forms / sizeof *forms; i++) {
		struct canvas c = make(forms[i].rows, forms[i].cols, forms[i].utf8);
		char path[512], expected[16384];
		sheet_plot_draw(&plot, &c, 0, 0, forms[i].rows, forms[i].cols);
		char *text = term_dump_text(&c);
		snprintf(path, sizeof path, "%s/sheet_plot-%dx%d-%s.screen", dir, forms[i].cols,
			forms[i].rows, forms[i].utf8 ? "utf8" : "ascii");
		FILE *f = fopen(path, getenv("GOLDEN_UPDATE") ? "wb" : "rb");
		cr_assert_not_null(f, "%s", path);
		if (getenv("GOLDEN_UPDATE")) {
			fputs(text, f);
		} else {
			expected[fread(expected, 1, sizeof expected - 1, f)] = 0;
			if (strcmp(text, expected) != 0) {
				wrong++;
				fprintf(stderr, "%s differs; now:\n%s\n", path, text);
			}
		}
		fclose(f);
		free(text);
		canvas_release(&c);
	}
	cr_assert(wrong == 0);
}

/* Decades are equally far apart. */
Test(sheet_plot, a_logarithmic_axis_is_one)
{
	int row[3], col[3];
	falling();
	for (int i = 0; i < 3; i++) {
		struct canvas c = make(40, 120, false);
		plot.n_curve = plot.n_limits = plot.n_points = 0;
		add(0.1, 0.1);
		add(1000, 1000);
		add(pow(10, i), pow(10, i)); /* the newest is bold */
		sheet_plot_draw(&plot, &c, 0, 0, 40, 120);
		cr_assert(find_newest(&c, &row[i], &col[i]));
		canvas_release(&c);
	}
	cr_assert(abs((row[0] - row[1]) - (row[1] - row[2])) <= 1 && row[0] - row[1] >= 8);
	cr_assert(abs((col[1] - col[0]) - (col[2] - col[1])) <= 1 && col[1] - col[0] >= 24);
}

Test(sheet_plot, linear_axes_have_round_ticks_below_nought_too)
{
	struct canvas c = make(14, 60, true);
	plot = (struct sheet_plot){.x_title = "turn", .y_title = "indicated, mV"};
	for (int i = 0; i < 8; i++)
		add(i, 12.0 * pow(-0.6, i));
	sheet_plot_draw(&plot, &c, 0, 0, 14, 60);
	cr_assert(shows(&c, "indicated, mV over turn") && shows(&c, "10+") && shows(&c, "0+") &&
		shows(&c, "-6+"));
	canvas_release(&c);
}

Test(sheet_plot, what_cannot_be_shown_is_left_out)
{
	static const double odd[] = {0, -1, NAN, INFINITY, -INFINITY, 1e300, 1e-300};
	struct canvas c = make(20, 60, true);
	falling();
	plot.n_points = plot.n_curve = 0;
	sheet_plot_draw(&plot, &c, 0, 0, 20, 60);
	cr_assert(shows(&c, "nothing to show yet"), "limits alone are no picture");
	for (int i = 0; i < 3; i++)
		add(i, odd[i]);
	canvas_fill(&c, 0, 0, 20, 60, ROLE_PLAIN);
	sheet_plot_draw(&plot, &c, 0, 0, 20, 60);
	cr_assert(shows(&c, "nothing to show yet"));
	canvas_release(&c);

	/* whatever they are, and however the axes: no harm, and one good point is seen */
	for (int form = 0; form < 8; form++) {
		int row, col;
		c = make(20, 60, form & 1);
		plot.n_points = 0;
		plot.log_x = form & 2;
		plot.log_y = form & 4;
		for (int i = 0; i < 7; i++)
			for (int k = 0; k < 7; k++)
				add(odd[i], odd[k]);
		for (int i = 0; i < 7; i++) {
			plot.curve[i].x = odd[i];
			plot.curve[i].low = plot.curve[i].middle = plot.curve[i].high = odd[6 - i];
		}
		plot.n_curve = 7;
		plot.limit[0].y = NAN;
		plot.limit[1].y = -1e300;
		sheet_plot_draw(&plot, &c, 0, 0, 20, 60);
		canvas_fill(&c, 0, 0, 20, 60, ROLE_PLAIN);
		plot.n_points = plot.n_curve = plot.n_limits = 0;
		add(3, 4);
		sheet_plot_draw(&plot, &c, 0, 0, 20, 60);
		cr_assert(find_newest(&c, &row, &col), "%d", form);
		plot.n_limits = 2;
		canvas_release(&c);
	}
}

Test(sheet_plot, nothing_outside_its_rectangle)
{
	falling();
	for (int rows = 0; rows < 30; rows++)
		for (int cols = 0; cols < 90; cols += 7) {
			struct canvas c = make(34, 96, rows & 1);
			sheet_plot_draw(&plot, &c, 2, 3, rows, cols);
			for (int i = 0; i < c.rows * c.cols; i++) {
				int row = i / c.cols - 2, col = i % c.cols - 3;
				cr_assert(c.cells[i].code == ' ' || (row >= 0 && row < rows &&
					col >= 0 && col < cols), "%dx%d at %d %d", rows, cols, row,
					col);
			}
			canvas_release(&c);
		}
	struct canvas huge = make(100, 700, true);
	sheet_plot_draw(&plot, &huge, 0, 0, 100, 700);
	canvas_release(&huge);
}
