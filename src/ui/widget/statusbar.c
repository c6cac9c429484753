/* ui/widget/statusbar.c - see statusbar.h */
#include "ui/widget/statusbar.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

void statusbar_title(const struct view *v, struct canvas *c)
{
	const struct surroundings *a = &v->around;
	const char *source = a->source ? a->source : "";
	char right[96], clock[16];

	view_clock(v->seconds, clock);
	if (a->replay)
		snprintf(right, sizeof right, "REPLAY%s %s %gx  %lu/%lu  %s",
		         a->invented ? " of VIRTUAL BENCH" : "",
		         a->replay_paused ? "paused" : "playing", a->replay_speed, a->replay_at,
		         a->replay_events, clock);
	else
		snprintf(right, sizeof right, "%.*s  %s",
			(int)(c->cols < 60 ? strcspn(source, ",") : strlen(source)), source, clock);
	canvas_fill(c, 0, 0, 1, c->cols, ROLE_TITLE);
	int width = canvas_width(c, right);
	int room = c->cols - width - 4;
	canvas_text(c, 0, 1, room, ROLE_TITLE, a->title ? a->title : "");
	canvas_text(c, 0, c->cols - width - 1, width, ROLE_TITLE, right);
}

void statusbar_keys(const struct view *v, struct canvas *c)
{
	statusbar_hints(v->around.contexts, v->screen == SCREEN_ABORT || v->screen == SCREEN_STOP, c);
}

void statusbar_hints(unsigned contexts, bool alarm, struct canvas *c)
{
	int row = c->rows - 1, col = 1;

	for (size_t i = 0; i < keymap_rows; i++) {
		const struct key_row *k = &keymap[i];
		if (!k->hint || !(k->where & contexts))
			continue;
		/* Where room is short the word before the colon must do. */
		int hint = canvas_width(c, k->hint);
		const char *colon = strchr(k->hint, ':');
		if (colon && c->cols < 60)
			hint = (int)(colon - k->hint);
		int key = canvas_width(c, k->key);
		if (col + key + 1 + hint > c->cols)
			break;
		bool stop = k->request == REQUEST_STOP;
		enum role key_role = alarm ? ROLE_ALARM : stop ? ROLE_DANGER : ROLE_KEY;
		enum role role = alarm ? ROLE_ALARM : stop ? ROLE_DANGER : ROLE_PLAIN;
		canvas_text(c, row, col, key, key_role, k->key);
		col += key + 1;
		char text[64];
		snprintf(text, sizeof text, "%.*s", hint, k->hint);
		canvas_text(c, row, col, hint, role, text);
		col += hint + 2;
	}
}

void statusbar_health(const struct view *v, struct canvas *c, int row)
{
	const struct surroundings *a = &v->around;
	char age[48] = "no reading yet", clock[16];
	int col = 1;

	if (a->record_failed) {
		canvas_fill(c, row, 0, 1, c->cols, ROLE_ALARM);
		canvas_format(c, row, 1, c->cols - 2, ROLE_ALARM, "NOT RECORDED: %s", a->record);
		return;
	}
	if (v->have_reading) {
		view_clock(v->age_s, clock);
		snprintf(age, sizeof age, "last reading %s ago", clock);
	}
	/* A meter on a line tells its own age, and more. */
	bool on_line = a->meter[0] && !isfinite(a->variac_volts);
	if (!on_line)
		col += canvas_text(c, row, col, c->cols - col,
		                   v->blind ? ROLE_CAUTION : ROLE_DIM, age);
	if (a->meter[0] && !on_line) {
		canvas_glyph(c, row, col + 1, ROLE_DIM, GLYPH_DOT);
		col += 3;
	}
	if (a->meter[0])
		col += canvas_text(c, row, col, c->cols - col, a->meter_role, a->meter);
	if (a->record[0] && col + 12 < c->cols) {
		canvas_glyph(c, row, col + 1, ROLE_DIM, GLYPH_DOT);
		col += 3;
		const char *name = strrchr(a->record, '/');
		name = name ? name + 1 : a->record;
		if (a->replay)
			canvas_text(c, row, col, c->cols - col - 1, ROLE_DIM, name);
		else
			canvas_format(c, row, col, c->cols - col - 1, ROLE_DIM,
			              "%lu recorded in %s", a->recorded, name);
	}
}
