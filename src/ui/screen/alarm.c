/*
 * The abort and the stop: the whole screen, until acknowledged by a typed word.  Live watts
 * stay on it, because "is it off now?" is the next question.
 */
#include "ui/screen/screen.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ui/widget/bignum.h"
#include "ui/screen/frame.h"

/* Rows are written from the top; below a certain height the less needed are left out. */
struct notice {
	struct canvas *c;
	int row, last; /* next row to write, first row that is not for writing */
};

static void line(struct notice *s, const char *text)
{
	int room = s->c->cols - 4;
	s->row += canvas_wrap(s->c, s->row, 2, s->last - s->row, room, ROLE_ALARM, text);
}

static void live(const struct view *v, struct notice *s, bool large)
{
	char now[96] = "now: no reading", clock[16], watts[24];
	if (v->have_reading) {
		view_clock(v->age_s, clock);
		snprintf(now, sizeof now, "now %.2f W at %.1f V, read %s ago%s", v->watts, v->volts,
			clock, v->blind ? ": BLIND" : "");
	}
	if (large && v->have_reading && fabs(v->watts) < 1e5) {
		snprintf(watts, sizeof watts, "%.*f", v->watts < 99.995 ? 2 : 1, v->watts);
		int used =
		        bignum_draw(s->c, s->row, 4, s->c->cols >= 72 ? 2 : 1, ROLE_ALARM, watts);
		canvas_text(s->c, s->row + BIGNUM_ROWS - 1, 5 + used, 1, ROLE_ALARM, "W");
		s->row += BIGNUM_ROWS + (s->row + BIGNUM_ROWS + 1 < s->last);
	}
	line(s, now);
}

/* How much is said of an explanation: all names, so many as a line holds, the first. */
enum names { ALL_NAMES, SOME_NAMES, ONE_NAME };

static void append_fit(char *text, size_t size, const struct fit *fit, enum names names)
{
	const char *words = names == ALL_NAMES ? fit->words : fit->brief;
	const size_t n = strlen(text);
	const char *end = names == ONE_NAME ? strstr(words, "; or ") : NULL;

	snprintf(text + n, size - n, "%.*s", end ? (int)(end - words) : INT_MAX, words);
}

/* What fits the readings best, or at least what has not been ruled out.  As many names as leave
 * `spare` rows for what follows; where not even one does, nothing. */
static void what_fits(const struct view *v, struct notice *s, int spare)
{
	const struct surroundings *a = &v->around;
	char text[2 * SUSPECT_WORDS_MAX + 640], first[VIEW_FACT_MAX], second[VIEW_FACT_MAX] = "";
	const char *poor = a->poor[0] ? a->poor + 1 : ""; /* its first letter: a capital */
	const int room = s->c->cols - 4;

	for (enum names names = ALL_NAMES; a->n_fits > 0 && names <= ONE_NAME; names++) {
		bool or_else = a->n_fits > 1 && !a->fits_told_apart && names != ONE_NAME;
		bool which = a->n_fits > 1 && !a->fits_told_apart;
		snprintf(text, sizeof text, "%s%s%s%s: ", *poor ? "N" : "", poor, *poor ? ". " : "",
			*poor ? "Nearest" : "Fits best");
		append_fit(text, sizeof text, &a->fits[0], names);
		if (or_else) {
			strcat(text, "; or ");
			append_fit(text, sizeof text, &a->fits[1], names);
		}
		strcat(text, which || strstr(a->fits[0].words, "; or ")
			? ". It cannot be told yet which." : ".");
		int rows = canvas_wrap(NULL, 0, 0, INT_MAX, room, ROLE_ALARM, text);
		if (s->row + rows + spare <= s->last) {
			line(s, text);
			return;
		}
	}
	if (*poor) {
		snprintf(text, sizeof text, "N%s.", poor);
	} else if (v->n_not_proved > 0 && a->n_fits == 0) {
		view_essence(v->not_proved[0], first);
		if (v->n_not_proved > 1)
			view_essence(v->not_proved[1], second);
		snprintf(text, sizeof text, "Not ruled out before it: %s%s%s.", first,
			second[0] ? "; " : "", second);
	} else {
		return;
	}
	if (spare == 0 && v->around.typed_only)
		spare = 2; /* how to see whether it is off is worth more */
	if (s->row + canvas_wrap(NULL, 0, 0, INT_MAX, room, ROLE_ALARM, text) + spare <= s->last)
		line(s, text);
}

int screen_alarm(const struct view *v, struct canvas *c)
{
	bool stop = v->screen == SCREEN_STOP;
	const char *word = stop ? "STOP" : "ABORT";
	bool roomy = c->rows >= 24 && c->cols >= 60;
	char text[EVENT_NOTE_MAX + 96], clock[16];

	/* How to acknowledge stands above the entry line whatever the height. */
	const char *how = c->cols >= 60 ? "When it is at zero and unplugged: type  off  and Enter."
		: c->rows >= 9 ? "Zero and unplugged? Type off, Enter" : "type off, Enter";
	int how_rows =
	        v->around.replay ? 0 : canvas_wrap(NULL, 0, 0, 3, c->cols - 4, ROLE_ALARM, how);
	struct notice s = {.c = c, .last = c->rows - 2 - how_rows};

	canvas_fill(c, 0, 0, c->rows, c->cols, ROLE_ALARM);
	canvas_fill(c, c->rows - 2, 0, 1, c->cols, ROLE_PLAIN);
	if (roomy) {
		s.row = 1;
		bignum_draw(c, s.row, (c->cols - bignum_width(word, 3)) / 2, 3, ROLE_ALARM, word);
		s.row += BIGNUM_ROWS + 1;
	} else {
		canvas_format(c, s.row++, 2, c->cols - 4, ROLE_ALARM, "***  %s  ***", word);
	}
	line(&s, v->around.replay ? "REPLAY: so it was then.  VARIAC TO ZERO.  PLUG OUT."
	                          : "VARIAC TO ZERO.  PLUG OUT.");
	if (roomy)
		s.row++;
	else
		live(v, &s, false);

	view_clock(v->alarm.seconds, clock);
	if (stop)
		snprintf(text, sizeof text, "Stopped at %s: smoke, smell, hum or arcing.%s%s",
		         clock, v->alarm.note[0] ? "  " : "", v->alarm.note);
	else if (v->alarm.kind == EVENT_ABORT_RAISED)
		snprintf(text, sizeof text, "Raised at %s: %s", clock, v->alarm.note);
	else
		snprintf(text, sizeof text, "Raised at %s: %.2f W at %.1f V", clock, v->alarm.watts,
			v->alarm.volts);
	line(&s, text);
	line(&s, "Capacitors are charged: discharge and measure before you touch.");
	if (!stop)
		what_fits(v, &s, roomy ? 2 : 0);
	if (roomy) {
		s.row++;
		live(v, &s, s.row + BIGNUM_ROWS + 1 <= s.last); /* and its volts and age below */
	}
	if (v->around.typed_only && s.row + 1 < s.last)
		line(&s, "Type volts and watts to see whether it is off.");
	canvas_wrap(c, s.last, 2, how_rows, c->cols - 4, ROLE_ALARM, how);
	frame_bottom(v, c);
	return 0;
}
