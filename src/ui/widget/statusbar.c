/* ui/widget/statusbar.c - see statusbar.h */
#include "ui/widget/statusbar.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Where the run stands in the record: in a narrow window without pace and clock. */
static void replay_words(const struct view *v, int cols, char ret[96])
{
	const struct surroundings *a = &v->around;
	const char *what = a->invented ? "REPLAY of VIRTUAL BENCH" : "REPLAY";
	char clock[16];

	view_clock(v->seconds, clock);
	snprintf(ret, 96, "%s %s %gx  %lu/%lu  %s", what, a->replay_paused ? "paused" : "playing",
		a->replay_speed, a->replay_at, a->replay_events, clock);
	if ((int)strlen(ret) > cols - 2)
		snprintf(ret, 96, "%s%s  %lu/%lu", what, a->replay_paused ? " paused" : "",
			a->replay_at, a->replay_events);
	if ((int)strlen(ret) > cols - 2)
		snprintf(ret, 96, "%s  %lu", what, a->replay_at);
}

void statusbar_title(const struct view *v, struct canvas *c)
{
	const struct surroundings *a = &v->around;
	const char *source = a->source ? a->source : "";
	char right[96], clock[16];

	view_clock(v->seconds, clock);
	if (a->replay)
		replay_words(v, c->cols, right);
	else
		snprintf(right, sizeof right, "%.*s  %s",
			(int)(c->cols < 60 ? strcspn(source, ",") : strlen(source)), source, clock);
	canvas_fill(c, 0, 0, 1, c->cols, ROLE_TITLE);
	int width = canvas_width(c, right);
	int room = c->cols - width - 4;
	int col = c->cols - width - 1;
	canvas_text(c, 0, 1, room, ROLE_TITLE, a->title ? a->title : "");
	canvas_text(c, 0, col > 0 ? col : 0, c->cols, ROLE_TITLE, right);
}

void statusbar_keys(const struct view *v, struct canvas *c)
{
	statusbar_hints(v->around.contexts, v->screen == SCREEN_ABORT || v->screen == SCREEN_STOP, c);
}

/* Where room is short the word before the colon must do. */
static int hint_width(const struct canvas *c, const struct key_row *k)
{
	const char *colon = strchr(k->hint, ':');

	return colon && c->cols < 60 ? (int)(colon - k->hint) : canvas_width(c, k->hint);
}

/* Returns the next free column. */
static int put_hint(struct canvas *c, int col, const struct key_row *k, bool alarm)
{
	const int row = c->rows - 1, key = canvas_width(c, k->key), hint = hint_width(c, k);
	const bool stop = k->request == REQUEST_STOP;
	char text[64];

	canvas_text(c, row, col, key, alarm ? ROLE_ALARM : stop ? ROLE_DANGER : ROLE_KEY, k->key);
	snprintf(text, sizeof text, "%.*s", hint, k->hint);
	canvas_text(c, row, col + key + 1, hint,
		alarm ? ROLE_ALARM : stop ? ROLE_DANGER : ROLE_PLAIN, text);
	return col + key + 1 + hint + 2;
}

void statusbar_hints(unsigned contexts, bool alarm, struct canvas *c)
{
	const struct key_row *help = NULL;
	int col = 1, kept = 0;

	/* the way to all the others has its place, but in a narrow window, where a key that acts
	 * now would have to give way to it */
	for (size_t i = 0; i < keymap_rows && !help && c->cols >= 60; i++)
		if (keymap[i].request == REQUEST_HELP && (keymap[i].where & contexts))
			help = &keymap[i];
	if (help)
		kept = canvas_width(c, help->key) + 1 + hint_width(c, help) + 2;
	for (size_t i = 0; i < keymap_rows; i++) {
		const struct key_row *k = &keymap[i];
		if (!k->hint || !(k->where & contexts))
			continue;
		const int width = canvas_width(c, k->key) + 1 + hint_width(c, k);
		if (k == help)
			kept = 0;
		if (col + width + kept > c->cols)
			break;
		col = put_hint(c, col, k, alarm);
	}
	if (kept > 0 && col + kept - 2 <= c->cols)
		put_hint(c, col, help, alarm);
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
