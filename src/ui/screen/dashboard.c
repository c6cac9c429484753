/*
 * The dashboard, in the order in which the eye must find things: what to do now; is this
 * number right; where am I; the picture; rails and heaters; the record.
 *
 * Rows are given out by need: title, instruction, number, entry line and keys always stand;
 * what is left goes to one thing after the other until it is used up, and what a large
 * terminal has over goes to the plots.
 */
#include "ui/screen/screen.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ui/widget/bignum.h"
#include "ui/widget/gauge.h"
#include "ui/widget/plot.h"
#include "ui/widget/statusbar.h"
#include "ui/screen/frame.h"

enum { STAGE_COLS = 45, PROOF_COLS_MIN = 30, THREE_COLUMNS = 130 };

/* Rows given to each part; 0: left out. */
struct layout {
	int instruction, how, notice, stages, plots, rails, events, health;
	bool heads; /* rules with headings over stages and plots */
	bool three; /* rails beside the stages instead of below the plots */
};

/* Line volts that count as the same for a voltmeter's reading, as a share of nameplate. */
static const double read_near = 0.03;

static int take(int *left, int want)
{
	int got = *left < want ? *left : want;
	*left -= got;
	return got;
}

static struct layout lay_out(const struct view *v, const struct canvas *c)
{
	const int rows = c->rows, cols = c->cols, how = frame_needs(c, v->how);
	struct layout l = {.three = cols >= THREE_COLUMNS};
	/* title, a row of the instruction, the number, entry line, keys */
	int left = rows - (2 + BIGNUM_ROWS + 2);

	l.instruction = 1 + take(&left, frame_needs(c, v->instruction) - 1);
	l.stages = take(&left, 1);
	l.how = take(&left, 1);
	if (rows < SCREEN_ROWS_FULL || cols < SCREEN_COLS_FULL)
		l.notice = take(&left, 1);
	l.health = take(&left, 1);
	if (left > 1) {
		l.heads = true;
		left--;
	}
	l.stages += take(&left, 3);
	if (!l.three)
		l.rails = take(&left, 1);
	l.events = take(&left, 1);
	/* all of what is said, if the plots can spare it */
	if (left > PLOT_ROWS_MIN + 1 && how > l.how) {
		int spare = left - (PLOT_ROWS_MIN + 1), more = how - l.how;
		more = more < spare ? more : spare;
		l.how += more;
		left -= more;
	}
	if (cols >= 2 * PLOT_COLS_MIN + 3 && left >= PLOT_ROWS_MIN + 1) {
		left--; /* their rule */
		l.plots = take(&left, PLOT_ROWS_MIN + 1);
	}
	/* What is left over: stages up to all of them, some more of the record, then the plots. */
	int lines = l.three && v->n_meters + 1 > v->n_stages ? v->n_meters + 1 : v->n_stages;
	int proofs = v->n_proved + v->n_not_proved;
	if (proofs > lines)
		lines = proofs;
	int half = left / 2, more = lines - l.stages;
	if (more > 0) {
		int want = more < half ? more : half;
		l.stages += want;
		left -= want;
	}
	if (left > 6)
		l.events += take(&left, left / 6);
	if (l.plots > 0)
		l.plots += take(&left, left);
	else
		l.events += take(&left, left);
	return l;
}

static void draw_number(const struct view *v, struct canvas *c, int row)
{
	char watts[24] = "-.--";
	int dot = c->cols >= 72 ? 2 : 1;
	enum role role = ROLE_DIM;

	if (v->have_reading && fabs(v->watts) < 1e5) {
		snprintf(watts, sizeof watts, "%.*f", v->watts < 99.995 ? 2 : 1, v->watts);
		role = v->blind ? ROLE_DIM : theme_verdict_role(v->verdict);
	}
	int col = 2 + bignum_draw(c, row, 2, dot, role, watts);
	canvas_text(c, row + BIGNUM_ROWS - 1, col + 1, 1, ROLE_DIM, "W");

	col += 4;
	int room = c->cols - col - 1;
	char clock[16];
	if (!v->have_reading) {
		if (isfinite(v->expected))
			canvas_format(c, row, col, room, ROLE_DIM,
			              "to come at %.0f V:", v->at_volts);
		else
			canvas_text(c, row, col, room, ROLE_DIM, "no reading yet");
	} else if (v->blind) {
		view_clock(v->age_s, clock);
		canvas_format(c, row, col, room, ROLE_CAUTION, "? BLIND %s", clock);
	} else {
		int used = frame_verdict(c, row, col, room, v->verdict);
		if (v->moment)
			used += frame_moment(v, c, row, col + used + 2, room - used - 2);
		if (v->around.have_then && used + 4 < room)
			canvas_format(c, row, col + used + 2, room - used - 2,
				theme_verdict_role(v->around.verdict_then), "then: %s",
				verdict_word(v->around.verdict_then));
	}
	if (v->have_reading) {
		int used = canvas_format(c, row + 1, col, room, ROLE_STRONG, "%.1f V", v->volts);
		if (isfinite(v->amps) && used + 10 <= room)
			used += canvas_format(c, row + 1, col + used, room - used, ROLE_PLAIN,
				"   %.3f A", v->amps);
		if (isfinite(v->power_factor) && used + 10 <= room)
			used += canvas_format(c, row + 1, col + used, room - used, ROLE_PLAIN,
				"   pf %.2f", v->power_factor);
		if (used + 16 <= room) {
			view_clock(v->age_s, clock);
			canvas_format(c, row + 1, col + used, room - used, ROLE_DIM, "   %s ago",
			              clock);
		}
	}
	gauge_draw(v, c, row + 2, col, room);
}

static void draw_stage_row(const struct view *v, struct canvas *c, int row, int i)
{
	const struct view_stage *s = &v->stages[i];
	bool next = !s->here && i == v->stage_next;
	enum role role = s->here ? ROLE_STRONG : s->visited || next ? ROLE_PLAIN : ROLE_DIM;
	char low[16], high[16];
	int cols = c->cols < STAGE_COLS ? c->cols : STAGE_COLS;

	if (s->here)
		canvas_glyph(c, row, 1, ROLE_STRONG, GLYPH_HERE);
	else if (s->passed)
		canvas_glyph(c, row, 1, ROLE_GOOD, GLYPH_GOOD);
	gauge_watts(s->low, low);
	gauge_watts(s->high, high);
	bool narrow = c->cols < STAGE_COLS;
	int read = narrow ? 21 : 27;
	if (narrow) {
		canvas_format(c, row, 3, cols - 3, role, "%3.0f V  %s..%s", s->volts, low, high);
		if (s->moment)
			canvas_glyph(c, row, read - 1, ROLE_CAUTION, GLYPH_SETTLING);
	} else {
		/* the band that the reading beside it was judged by, be it that of a moment */
		canvas_format(c, row, 3, cols - 3, role, "%3.0f V  %s to %s %s", s->volts, low, high,
			!s->moment ? "W" : s->here ? "now" : "then");
	}
	if (s->have_reading) {
		canvas_format(c, row, read, 7, role, "%6.*f", s->read_watts < 99.995 ? 2 : 1,
		              s->read_watts);
		frame_verdict(c, row, read + 8, cols - read - 8, s->verdict);
		/* beside the model's word: the power-up laid under says = or ! */
		if (s->like_judged && s->like_verdict != COMPARE_CANNOT_TELL)
			canvas_text(c, row, read + 7, 1, view_like_role(s->like_verdict),
				s->like_verdict == COMPARE_AGREE ? "=" : "!");
	} else if (next) {
		canvas_text(c, row, read + 2, cols - read - 2, ROLE_STRONG, "next");
	}
}

/* The stages around the one that matters, in as many rows as there are. */
static void draw_stages(const struct view *v, struct canvas *c, int row, int rows)
{
	int centre = v->stage_next >= 0 ? v->stage_next : v->stage >= 0 ? v->stage : 0;
	int first = centre - rows / 2;
	if (v->stage >= 0 && first > v->stage && v->stage > centre - rows)
		first = v->stage;
	if (first > v->n_stages - rows)
		first = v->n_stages - rows;
	if (first < 0)
		first = 0;
	for (int k = 0; k < rows && first + k < v->n_stages; k++)
		draw_stage_row(v, c, row + k, first + k);
}

/* A fact in one row.  One too long says its essence. */
static void draw_fact(struct canvas *c, int row, int col, int cols, enum glyph mark, enum role role,
                      const char *fact)
{
	char text[VIEW_FACT_MAX];
	if (canvas_width(c, fact) <= cols - 2)
		snprintf(text, sizeof text, "%s", fact);
	else
		view_essence(fact, text);
	canvas_glyph(c, row, col, role, mark);
	canvas_text(c, row, col + 2, cols - 2, ROLE_PLAIN, text);
}

/* One fact a row where they fit on one; those that find no room are counted. */
static void draw_proofs(const struct view *v, struct canvas *c, int row, int rows, int col,
                        int cols)
{
	int n = v->n_proved + v->n_not_proved;
	int shown = n <= rows ? n : rows - 1;
	/* Short of room both kinds have half of it, or what the other one leaves. */
	int not_proved = v->n_not_proved, proved = v->n_proved;
	if (n > shown) {
		int half = (shown + 1) / 2;
		not_proved = not_proved < half       ? not_proved
		             : shown - proved > half ? shown - proved
		                                     : half;
		proved = shown - not_proved;
	}
	int at = row;
	for (int i = 0; i < proved; i++, at++) /* the newest, which the higher stages proved */
		draw_fact(c, at, col, cols, GLYPH_GOOD, ROLE_GOOD,
		          v->proved[v->n_proved - proved + i]);
	for (int i = 0; i < not_proved; i++, at++)
		draw_fact(c, at, col, cols, GLYPH_UNKNOWN, ROLE_CAUTION, v->not_proved[i]);
	if (n > shown)
		canvas_format(c, at, col + 2, cols - 2, ROLE_DIM, "and %d more: Tab", n - shown);
}

/* What a voltmeter read at these volts; at others it says nothing of what stands beside it. */
static bool read_here(const struct view *v, const struct view_meter *m)
{
	return isfinite(m->read_volts) &&
		fabs(m->read_line_volts - v->at_volts) <= read_near * v->nameplate_volts;
}

/* "main 92 V 12 mA (read 90)"; without the milliamps where room is short. */
static int meter_text(const struct view *v, const struct view_meter *m, bool milliamps, char *ret,
                      size_t size)
{
	char read[32] = "", second[24] = "";
	const char *what = m->what; /* rails go by their name alone, and so does "heater" */
	if (strncmp(what, "rail ", 5) == 0)
		what += 5;
	else if (strcmp(what, "heater heater") == 0)
		what += 7;
	if (read_here(v, m))
		snprintf(read, sizeof read, " (read %.*f)",
			(isnan(m->volts) ? m->read_volts : m->volts) < 20 ? 1 : 0, m->read_volts);
	if (isfinite(m->share))
		snprintf(second, sizeof second, " %.0f%%", m->share * 100);
	else if (milliamps && isfinite(m->milliamps))
		snprintf(second, sizeof second, " %.0f mA", m->milliamps);
	if (isnan(m->volts)) /* next to nothing flows there: nobody knows */
		return snprintf(ret, size, "%s ? V%s%s", what, second, read);
	return snprintf(ret, size, "%s %.*f V%s%s", what, m->volts < 20 ? 1 : 0, m->volts, second,
	                read);
}

static void draw_rails_row(const struct view *v, struct canvas *c, int row)
{
	static const char rest[] = "Tab: more";
	char text[128];
	int col = 1;
	if (v->n_meters == 0)
		return;
	col += canvas_format(c, row, col, c->cols - col, ROLE_DIM, "at %.0f V: ", v->at_volts);
	for (int i = 0; i < v->n_meters; i++) {
		meter_text(v, &v->meters[i], false, text, sizeof text);
		int width = canvas_width(c, text);
		int behind = i + 1 < v->n_meters ? 3 + (int)sizeof rest - 1 : 0;
		if (col + width + behind + 1 > c->cols) {
			canvas_text(c, row, col, c->cols - col, ROLE_DIM, rest);
			return;
		}
		enum role role = read_here(v, &v->meters[i]) ? ROLE_STRONG : ROLE_PLAIN;
		col += canvas_text(c, row, col, width, role, text);
		if (i + 1 < v->n_meters) {
			canvas_glyph(c, row, col + 1, ROLE_DIM, GLYPH_DOT);
			col += 3;
		}
	}
}

static void draw_rails_column(const struct view *v, struct canvas *c, int row, int rows, int col,
                              int cols)
{
	char text[128];
	for (int i = 0; i < v->n_meters && i < rows; i++) {
		const struct view_meter *m = &v->meters[i];
		if (i == rows - 1 && v->n_meters > rows) {
			canvas_text(c, row + i, col, cols, ROLE_DIM, "more: Tab");
			return;
		}
		meter_text(v, m, true, text, sizeof text);
		int used = canvas_text(c, row + i, col, cols,
			isfinite(m->read_volts) ? ROLE_STRONG : ROLE_PLAIN, text);
		if (m->note[0] && used + 3 < cols)
			canvas_text(c, row + i, col + used + 2, cols - used - 2, ROLE_DIM, m->note);
	}
}

/* The newest events, the newest last.  Of readings that follow each other with the same verdict
 * at the same stage only the newest is shown: the others say nothing new. */
static void draw_events(const struct view *v, struct canvas *c, int row, int rows)
{
	const struct event *newer = NULL;
	char clock[16], line[640];
	int at = row + rows - 1;

	for (size_t k = 0; k < v->n_events && at >= row; k++) {
		size_t i = (v->events_first + v->n_events - 1 - k) % SESSION_EVENTS_SHOWN;
		const struct event *ev = &v->events[i];
		bool repeats = newer && newer->kind == EVENT_READING && ev->kind == EVENT_READING &&
			newer->verdict == ev->verdict && newer->stage == ev->stage;
		newer = ev;
		if (repeats)
			continue;
		view_clock(ev->seconds, clock);
		view_event_line(ev, line, sizeof line);
		if (v->event_number[i] >= v->around.recorded) /* not on the disk yet */
			canvas_glyph(c, at, 0, ROLE_CAUTION, GLYPH_SETTLING);
		canvas_format(c, at, 1, 8, ROLE_DIM, "%7s", clock);
		canvas_text(c, at--, 10, c->cols - 11, ROLE_DIM, line);
	}
}

/* Headings that begin at these columns, in a rule. */
static void role_head(struct canvas *c, int row, int col, int cols, enum role role,
                      const char *text)
{
	canvas_format(c, row, col - 1, cols + 1, role, " %s ", text);
}

static void rule_head(struct canvas *c, int row, int col, int cols, const char *text)
{
	role_head(c, row, col, cols, ROLE_DIM, text);
}

static void draw_where(const struct view *v, struct canvas *c, int row, const struct layout *l)
{
	int proof_col = STAGE_COLS + 2, proof_cols = c->cols - proof_col - 1;
	int rails_cols = 0;
	if (l->three) {
		rails_cols = (c->cols - proof_col) * 2 / 5;
		proof_cols -= rails_cols + 3;
	}
	bool proofs = proof_cols >= PROOF_COLS_MIN;
	if (l->heads) {
		char head[48];
		canvas_rule(c, row, NULL);
		rule_head(c, row, 3, c->cols - 4, c->cols >= STAGE_COLS
			? "stage  band             read" : "stages");
		if (proofs)
			rule_head(c, row, proof_col, proof_cols, "ruled out so far, and not yet");
		snprintf(head, sizeof head, "expected at %.0f V", v->at_volts);
		if (l->three && v->n_meters > 0)
			rule_head(c, row, c->cols - rails_cols, rails_cols - 1, head);
		row++;
	}
	draw_stages(v, c, row, l->stages);
	if (proofs)
		draw_proofs(v, c, row, l->stages, proof_col, proof_cols);
	if (l->three)
		draw_rails_column(v, c, row, l->stages, c->cols - rails_cols, rails_cols - 1);
}

static void draw_plots(const struct view *v, struct canvas *c, int row, int rows)
{
	int half = (c->cols - 3) / 2;
	canvas_rule(c, row, NULL);
	if (v->like[0])
		role_head(c, row, 3, half - 3, v->like_role, v->like);
	else
		rule_head(c, row, 3, half - 3, "watts over line volts");
	rule_head(c, row, half + 4, half - 3, "watts over time");
	plot_volts(v, c, row + 1, 1, rows, half - 1);
	plot_time(v, c, row + 1, half + 2, rows, half - 1);
}

int screen_dashboard(const struct view *v, struct canvas *c)
{
	struct layout l = lay_out(v, c);
	int row = frame_top(v, c, l.instruction, l.how);

	draw_number(v, c, row);
	row += BIGNUM_ROWS;
	draw_where(v, c, row, &l);
	row += l.heads + l.stages;
	if (l.plots > 0) {
		draw_plots(v, c, row, l.plots);
		row += 1 + l.plots;
	}
	if (l.rails > 0)
		draw_rails_row(v, c, row);
	row += l.rails;
	draw_events(v, c, row, l.events);
	row += l.events;
	if (l.health > 0)
		statusbar_health(v, c, row);
	row += l.health;
	if (l.notice > 0)
		canvas_format(c, row, 1, c->cols - 2, ROLE_DIM,
		              "%dx%d shows all of it; this is %dx%d", SCREEN_COLS_FULL,
		              SCREEN_ROWS_FULL, c->cols, c->rows);
	frame_bottom(v, c);
	return 0;
}
