/* ui/screen/frame.c - see frame.h */
#include "ui/screen/frame.h"

#include <limits.h>
#include <math.h>

#include "ui/screen/screen.h"
#include "ui/widget/gauge.h"
#include "ui/widget/statusbar.h"

int frame_needs(const struct canvas *c, const char *text)
{
	return text[0] ? canvas_wrap(NULL, 0, 0, INT_MAX, c->cols - 4, ROLE_PLAIN, text) : 1;
}

int frame_top(const struct view *v, struct canvas *c, int rows, int how_rows)
{
	static const char rest[] = "all: Tab";
	int room = c->cols - 4, less = (int)sizeof rest;

	statusbar_title(v, c);
	canvas_fill(c, 1, 0, rows, c->cols, v->instruction_role);
	canvas_glyph(c, 1, 1, v->instruction_role, GLYPH_HERE);
	canvas_wrap(c, 1, 3, rows, room, v->instruction_role, v->instruction);
	if (how_rows > 0 && frame_needs(c, v->how) > how_rows) {
		canvas_wrap(c, 1 + rows, 3, how_rows, room - less, ROLE_PLAIN, v->how);
		canvas_text(c, rows + how_rows, 3 + room - less + 1, less, ROLE_DIM, rest);
	} else {
		canvas_wrap(c, 1 + rows, 3, how_rows, room, ROLE_PLAIN, v->how);
	}
	return 1 + rows + how_rows;
}

int frame_verdict(struct canvas *c, int row, int col, int cols, enum verdict verdict)
{
	enum role role = theme_verdict_role(verdict);
	canvas_glyph(c, row, col, role, view_verdict_glyph(verdict));
	return 2 + canvas_text(c, row, col + 2, cols - 2, role, view_verdict_name(verdict));
}

int frame_moment(const struct view *v, struct canvas *c, int row, int col, int cols)
{
	const char *words = v->verdict == VERDICT_SETTLING ? "outside the band of now"
		: "by the band of now, still settling";

	if (canvas_width(c, words) > cols)
		words = "band of now";
	if (canvas_width(c, words) > cols)
		return 0;
	return canvas_text(c, row, col, cols, ROLE_DIM, words) + 2;
}

void frame_number(const struct view *v, struct canvas *c, int row)
{
	int col = 1;
	if (!v->have_reading) {
		canvas_text(c, row, col, c->cols - col, ROLE_DIM, "no reading yet");
		return;
	}
	if (v->blind)
		col += canvas_text(c, row, col, c->cols - col, ROLE_CAUTION, "? BLIND") + 2;
	else
		col += frame_verdict(c, row, col, c->cols - col, v->verdict) + 2;
	col += canvas_format(c, row, col, c->cols - col, ROLE_STRONG, "%.2f W at %.1f V",
		v->watts, v->volts) + 2;
	if (isfinite(v->low)) {
		char low[16], high[16], stop[16];
		gauge_watts(v->low, low);
		gauge_watts(v->high, high);
		gauge_watts(v->abort_watts, stop);
		canvas_format(c, row, col, c->cols - col, ROLE_PLAIN, "band%s %s to %s, abort %s W",
			v->moment ? " now" : "", low, high, stop);
	}
}

void frame_entry(const struct view *v, struct canvas *c, int row)
{
	const struct surroundings *a = &v->around;
	/* above it an alarm says how it is acknowledged: that must stay */
	bool alarm = v->screen == SCREEN_ABORT || v->screen == SCREEN_STOP;
	frame_line(a->question, a->prompt, a->echo_role, a->echo, c, row,
		alarm || c->rows < SCREEN_ROWS_LEAST ? 1 : 3);
}

/* Text in as many rows as it needs, at most `rows`, the last of them `row`; `ground` fills them. */
static void upward(struct canvas *c, int row, int rows, int cols, enum role ground, enum role role,
                   const char *text)
{
	int needs = canvas_wrap(NULL, 0, 0, rows, cols, role, text);
	int top = row - (needs > 0 ? needs : 1) + 1;

	canvas_fill(c, top, 0, row - top + 1, c->cols, ground);
	canvas_wrap(c, top, 1, needs, cols, role, text);
}

void frame_line(const char *question, const struct prompt *prompt, enum role echo_role,
                const char *echo, struct canvas *c, int row, int rows)
{
	static const char answers[] = "y / n";

	if (question[0]) {
		int less = (int)sizeof answers, room = c->cols - 2 - less;
		int used = canvas_width(c, question);
		upward(c, row, rows, room > 1 ? room : 1, ROLE_CAUTION, ROLE_CAUTION, question);
		canvas_text(c, row, used < room ? used + 2 : c->cols - less, less, ROLE_KEY,
			answers);
		return;
	}
	int col = 1, room = c->cols - 2;
	if (prompt) { /* what is being typed comes first; the echo has the rest of the row */
		int cols = canvas_width(c, prompt->text) + 4;
		prompt_draw(prompt, c, row, col, cols < room ? cols : room);
		col += cols + 1;
	}
	/* and rows above when that is not enough */
	if (rows > 1 && canvas_width(c, echo) > c->cols - 1 - col)
		upward(c, row - 1, rows - 1, room, ROLE_PLAIN, echo_role, echo);
	else
		canvas_text(c, row, col, c->cols - 1 - col, echo_role, echo);
}

void frame_bottom(const struct view *v, struct canvas *c)
{
	frame_entry(v, c, c->rows - 2);
	statusbar_keys(v, c);
}
