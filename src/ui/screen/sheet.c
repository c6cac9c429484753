/*
 * A page of the job: the list with the row in hand, what there is to say about it, perhaps a plot.
 * On a wide screen the details stand beside the list, else below it.  The instruction, the row in
 * hand and the entry line stay whatever the size.
 */
#include "ui/sheet.h"

#include <stdio.h>
#include <string.h>

#include "ui/screen/frame.h"
#include "ui/widget/pager.h"
#include "ui/widget/sheet_plot.h"
#include "ui/widget/statusbar.h"

enum {
	WIDE_COLS = 120,     /* from here on the details stand beside the list */
	BESIDE_COLS = 60,    /* and are content with so many */
	GAP = 2,             /* cells between columns */
	LEFT = 4,            /* the hand, the mark, a blank each */
	LIST_ROWS_LEAST = 3, /* without its header */
	CELL_LEAST = 6
};

struct area {
	int row, col, rows, cols;
};

struct widths {
	int of[SHEET_COLUMNS_MAX]; /* 0: left out */
};

static int total(const struct sheet *s, const struct widths *w)
{
	int sum = LEFT;
	for (int k = 0; k < s->n_columns; k++)
		sum += w->of[k] > 0 ? w->of[k] + GAP : 0;
	return sum;
}

static void natural(const struct sheet *s, const struct canvas *c, struct widths *w)
{
	for (int k = 0; k < s->n_columns; k++) {
		w->of[k] = canvas_width(c, s->column[k].title);
		if (w->of[k] < s->column[k].least)
			w->of[k] = s->column[k].least;
		for (int i = 0; i < s->n_rows; i++) {
			int cells = canvas_width(c, s->row[i].cell[k]);
			if (cells > w->of[k])
				w->of[k] = cells;
		}
	}
}

/* The widest column that may be cut further; -1: none. */
static int widest(const struct sheet *s, const struct widths *w, bool yields)
{
	int found = -1;
	for (int k = 0; k < s->n_columns; k++)
		if (s->column[k].yields == yields && w->of[k] > CELL_LEAST &&
		    (found < 0 || w->of[k] > w->of[found]))
			found = k;
	return found;
}

/* Cut what yields, then leave it out, then cut the rest, until the list fits. */
static void fit(const struct sheet *s, const struct canvas *c, int cols, struct widths *w)
{
	int k;

	natural(s, c, w);
	while (total(s, w) - GAP > cols && (k = widest(s, w, true)) >= 0)
		w->of[k]--;
	for (k = s->n_columns - 1; k >= 0 && total(s, w) - GAP > cols; k--)
		if (s->column[k].yields)
			w->of[k] = 0;
	while (total(s, w) - GAP > cols && (k = widest(s, w, false)) >= 0)
		w->of[k]--;
}

static void draw_cell(struct canvas *c, int row, int col, int cols, bool right, enum role role,
                      const char *text)
{
	int cells = right ? canvas_width(c, text) : cols;
	canvas_text(c, row, cells < cols ? col + cols - cells : col, cols, role, text);
}

static void draw_row(const struct sheet *s, int i, const struct widths *w, struct canvas *c,
                     const struct area *a, int row)
{
	const struct sheet_row *r = &s->row[i];
	int col = a->col + LEFT;

	if (i == s->in_hand)
		canvas_glyph(c, row, a->col, ROLE_MUST, GLYPH_HERE);
	canvas_glyph(c, row, a->col + 2, r->role, r->mark);
	for (int k = 0; k < s->n_columns; k++) {
		enum role role = k == s->verdict_column ? r->role
			: i == s->in_hand ? ROLE_STRONG : ROLE_PLAIN;
		int room = a->col + a->cols - col;
		if (w->of[k] <= 0 || room <= 0)
			continue;
		draw_cell(c, row, col, w->of[k] < room ? w->of[k] : room, s->column[k].right, role,
			r->cell[k]);
		col += w->of[k] + GAP;
	}
}

/* Header and rows, so scrolled that the row in hand is among them.  Returns the rows below. */
static int draw_list(const struct sheet *s, struct canvas *c, const struct area *a)
{
	struct widths w;
	int col = a->col + LEFT, rows = a->rows - 1, first = 0;

	fit(s, c, a->cols, &w);
	for (int k = 0; k < s->n_columns; k++) {
		int room = a->col + a->cols - col;
		if (w.of[k] <= 0 || room <= 0)
			continue;
		draw_cell(c, a->row, col, w.of[k] < room ? w.of[k] : room, s->column[k].right,
			ROLE_DIM, s->column[k].title);
		col += w.of[k] + GAP;
	}
	if (s->in_hand >= 0 && s->n_rows > rows) {
		first = s->in_hand - rows / 2;
		if (first > s->n_rows - rows)
			first = s->n_rows - rows;
		if (first < 0)
			first = 0;
	}
	for (int i = 0; i < rows && first + i < s->n_rows; i++)
		draw_row(s, first + i, &w, c, a, a->row + 1 + i);
	if (first > 0)
		canvas_format(c, a->row, a->col, LEFT, ROLE_DIM, "%d^", first);
	return first + rows < s->n_rows ? s->n_rows - first - rows : 0;
}

static int details_rows(const struct sheet *s, int cols)
{
	int rows = 0;
	for (int i = 0; i < s->n_details; i++)
		rows += canvas_wrap(NULL, 0, 0, 99, cols, ROLE_PLAIN, s->detail[i].text);
	return rows;
}

static int draw_details(const struct sheet *s, struct canvas *c, const struct area *a)
{
	struct pager p = {.c = c, .top = a->row, .col = a->col, .rows = a->rows, .cols = a->cols,
		.scroll = s->scroll};
	for (int i = 0; i < s->n_details; i++)
		pager_text(&p, 0, s->detail[i].role, s->detail[i].text);
	return pager_more(&p);
}

/* Details above, the plot in what is left when that is enough for one. */
static int draw_beside(const struct sheet *s, struct canvas *c, struct area a)
{
	int wanted = details_rows(s, a.cols);
	int plot = s->has_plot && a.cols >= SHEET_PLOT_COLS_MIN ? a.rows - wanted - 1 : 0;

	if (s->has_plot && plot < a.rows / 2)
		plot = a.rows / 2;
	if (plot < SHEET_PLOT_ROWS_MIN || a.cols < SHEET_PLOT_COLS_MIN)
		plot = 0;
	if (plot > 0) {
		sheet_plot_draw(&s->plot, c, a.row + a.rows - plot, a.col, plot, a.cols);
		a.rows -= plot + 1;
	}
	return draw_details(s, c, &a);
}

static void draw_kept(const struct sheet *s, struct canvas *c, int row)
{
	if (s->kept_failed) {
		canvas_fill(c, row, 0, 1, c->cols, ROLE_ALARM);
		canvas_format(c, row, 1, c->cols - 2, ROLE_ALARM, "NOT RECORDED: %s", s->kept);
	} else {
		canvas_text(c, row, 1, c->cols - 2, ROLE_DIM, s->kept);
	}
}

static void draw_title(const struct sheet *s, struct canvas *c)
{
	const char *right = s->invented ? "DEMONSTRATION" : s->title;
	int width = canvas_width(c, right), room = c->cols - width - 4;

	canvas_fill(c, 0, 0, 1, c->cols, ROLE_TITLE);
	canvas_text(c, 0, 1, room > 0 ? room : 0, ROLE_TITLE, s->unit);
	canvas_text(c, 0, room > 0 ? c->cols - width - 1 : 1, c->cols - 2, ROLE_TITLE, right);
}

/* Title, instruction, how, caution; returns the next row. */
static int draw_top(const struct sheet *s, struct canvas *c, bool roomy)
{
	int row = 2, room = c->cols - 4;

	draw_title(s, c);
	int needs = canvas_wrap(NULL, 0, 0, roomy ? 4 : 2, room, ROLE_PLAIN, s->instruction);
	canvas_fill(c, 1, 0, needs > 0 ? needs : 1, c->cols, s->instruction_role);
	canvas_glyph(c, 1, 1, s->instruction_role, GLYPH_HERE);
	row = 1 + canvas_wrap(c, 1, 3, needs, room, s->instruction_role, s->instruction);
	if (roomy && s->how[0])
		row += canvas_wrap(c, row, 3, 3, room, ROLE_PLAIN, s->how);
	if (s->caution[0]) {
		canvas_glyph(c, row, 1, ROLE_CAUTION, GLYPH_OVER);
		row += canvas_wrap(c, row, 3, roomy ? 4 : 2, room, ROLE_CAUTION, s->caution);
	}
	return row;
}

int screen_sheet(const struct sheet *s, struct canvas *c)
{
	int more = 0, rule = -1;

	canvas_fill(c, 0, 0, c->rows, c->cols, ROLE_PLAIN);
	int top = draw_top(s, c, c->rows >= 16);
	int bottom = c->rows - (c->rows >= 16 ? 3 : 2); /* kept, entry, keys */
	struct area all = {top, 0, bottom - top, c->cols};

	if (c->cols >= WIDE_COLS && (s->n_details > 0 || s->has_plot)) {
		struct widths w;
		natural(s, c, &w);
		int list = total(s, &w), most = c->cols - BESIDE_COLS;
		all.cols = list < most ? list : most;
		if (all.cols < c->cols / 3)
			all.cols = c->cols / 3;
		more = draw_beside(s, c, (struct area){top, all.cols + 2, all.rows,
			c->cols - all.cols - 3});
	} else {
		int wanted = details_rows(s, c->cols - 4) + (s->has_plot ? 10 : 0);
		int list = s->n_rows + 1, least = LIST_ROWS_LEAST + 1;
		int below = all.rows - (list < least ? least : list) - 1;
		int share = all.rows * 11 / 20;
		/* a list that would miss a row or two stays whole */
		if (below < wanted && share - below > 2)
			below = wanted < share ? wanted : share;
		if (below > all.rows - least - 1)
			below = all.rows - least - 1;
		if (below >= 2 && wanted > 0) {
			all.rows -= below + 1;
			rule = top + all.rows;
			more = draw_beside(s, c, (struct area){top + all.rows + 1, 2, below,
				c->cols - 4});
		}
	}
	int hidden = draw_list(s, c, &all);
	char left[32] = "";
	if (hidden > 0)
		snprintf(left, sizeof left, "%d more below", hidden);
	if (rule >= 0)
		canvas_rule(c, rule, left);
	else if (hidden > 0)
		canvas_text(c, top + all.rows - 1, all.cols - (int)strlen(left) - 1,
			(int)strlen(left), ROLE_DIM, left);
	if (c->rows >= 16)
		draw_kept(s, c, c->rows - 3);
	frame_line(s->question, s->prompt, s->echo_role, s->echo, c, c->rows - 2,
		c->rows >= 12 ? 3 : 1);
	statusbar_hints(s->contexts, false, c);
	return more;
}
