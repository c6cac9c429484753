/* The pages behind the dashboard: this stage in full, rails and heaters, the record. */
#include "ui/screen/screen.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ui/widget/gauge.h"
#include "ui/widget/pager.h"
#include "ui/screen/frame.h"

/* Top of a page; the pager's window is what is between it and the bottom. */
static struct pager open_page(const struct view *v, struct canvas *c, const char *title)
{
	int needs = frame_needs(c, v->instruction), most = c->rows / 4;
	int row = frame_top(v, c, needs < most ? needs : most, 0);
	frame_number(v, c, row++);
	canvas_rule(c, row++, title);
	return (struct pager){.c = c, .top = row, .col = 2, .rows = c->rows - 2 - row,
		.cols = c->cols - 4, .scroll = v->around.scroll};
}

/* The bottom last: an answer of several rows stands over what is there.  As pager_more(). */
static int close_page(const struct view *v, struct canvas *c, const struct pager *p)
{
	frame_bottom(v, c);
	return pager_more(p);
}

static void measure_next(const struct view *v, struct pager *p)
{
	if (v->around.n_measures == 0)
		return;
	pager_text(p, 0, ROLE_DIM, "measure next on the unit, to narrow the band");
	for (int i = 0; i < v->around.n_measures; i++)
		pager_marked(p, GLYPH_DOT, ROLE_STRONG, ROLE_PLAIN, v->around.measures[i]);
}

/* The power-up laid under, stage by stage as far as this one has come. */
static void say_like(const struct view *v, struct pager *p)
{
	char text[LIKE_NAME_MAX + 64], low[16], high[16];

	if (!v->around.like)
		return;
	snprintf(text, sizeof text, "laid under: %s", v->around.like->name);
	pager_text(p, 0, ROLE_DIM, text);
	for (int i = 0; i < v->n_stages; i++) {
		const struct view_stage *s = &v->stages[i];
		if (!s->have_reading)
			continue;
		gauge_watts(s->like_low, low);
		gauge_watts(s->like_high, high);
		if (!isfinite(s->like_low))
			snprintf(text, sizeof text, "%.1f V: nothing had settled there",
				s->read_volts);
		else
			snprintf(text, sizeof text, "%.1f V: %s to %s W there, %.2f here: %s",
				s->read_volts, low, high, s->read_watts, s->like_judged
				? compare_verdict_word(s->like_verdict) : "not settled");
		enum role role = s->like_judged ? view_like_role(s->like_verdict) : ROLE_PLAIN;
		pager_text(p, 2, role, text);
	}
	pager_blank(p);
}

/* An explanation: a name a row, and the odds of them all. */
static void say_fit(const struct fit *fit, struct pager *p)
{
	const char *name = fit->words, *more;
	char text[SUSPECT_WORDS_MAX];

	for (bool first = true; name; first = false, name = more ? more + 2 : NULL) {
		more = strstr(name, "; or ");
		snprintf(text, sizeof text, "%.*s", more ? (int)(more - name) : INT_MAX, name);
		if (first)
			pager_marked(p, GLYPH_OVER, ROLE_CAUTION, ROLE_PLAIN, text);
		else
			pager_text(p, 2, ROLE_PLAIN, text);
	}
	if (fit->odds[0]) {
		snprintf(text, sizeof text, "odds: %s", fit->odds);
		pager_text(p, 2, ROLE_DIM, text);
	}
}

/* Which faults fit the readings: all their names. */
static void say_fits(const struct view *v, struct pager *p)
{
	const struct surroundings *a = &v->around;

	if (!a->poor[0] && a->n_fits == 0 && !a->fits_healthy)
		return;
	pager_text(p, 0, ROLE_DIM, a->fits_of_abort
		? "what fitted the readings of the abort, best first"
		: "what fits the readings, best first");
	if (a->poor[0])
		pager_text(p, 2, ROLE_CAUTION, a->poor);
	else if (a->fits_healthy)
		pager_text(p, 2, ROLE_PLAIN, "no known fault fits them better than a healthy unit");
	if (a->n_fits > 0 && !a->fits_told_apart)
		pager_text(p, 2, ROLE_CAUTION, a->n_fits > 1
			? "the first two cannot be told apart yet"
			: "it cannot be told apart from a healthy unit yet");
	for (int i = 0; i < a->n_fits; i++)
		say_fit(&a->fits[i], p);
	if (a->separate[0]) {
		pager_text(p, 0, ROLE_DIM, "what would tell");
		/* nobody is sent back to volts at which there was an abort */
		pager_text(p, 2, ROLE_STRONG, a->fits_of_abort
			? "plug out, capacitors discharged: ohms of each of these" : a->separate);
	}
	pager_blank(p);
}

/* The stage's reading, and the band that it was judged by. */
static void say_judged(const struct view *v, struct pager *p)
{
	const struct view_stage *s = &v->stages[v->plan_stage_index];
	char text[160], low[16], high[16];

	if (!s->have_reading)
		return;
	gauge_watts(s->low, low);
	gauge_watts(s->high, high);
	snprintf(text, sizeof text, "read %.2f W at %.1f V: %s by %s to %s W%s", s->read_watts,
		s->read_volts, verdict_word(s->verdict), low, high, !s->moment ? ""
		: s->here ? ", the band of now" : ", the band of then");
	pager_text(p, 0, ROLE_PLAIN, text);
}

int screen_stage(const struct view *v, struct canvas *c)
{
	char title[64] = "stage", text[160], low[16], high[16], stop[16];
	const struct stage *stage = v->plan_stage;
	if (stage)
		snprintf(title, sizeof title, "stage %d of %d: %.0f V", v->plan_stage_index + 1,
			v->n_stages, stage->volts);
	struct pager p = open_page(v, c, title);

	/* what the dashboard may have had no room for; what fits has a part of its own */
	if (frame_needs(c, v->how) > 1 && v->around.n_fits == 0 && !v->around.poor[0]) {
		pager_text(&p, 0, ROLE_DIM, "how to follow it, or why");
		pager_text(&p, 2, ROLE_PLAIN, v->how);
		pager_blank(&p);
	}
	say_fits(v, &p);
	if (stage) {
		char hold[16], longest[16] = "";
		gauge_watts(stage->band.low, low);
		gauge_watts(stage->band.high, high);
		gauge_watts(stage->band.abort_watts, stop);
		view_clock(stage->hold_s, hold);
		view_clock(stage->longest_s, longest);
		pager_text(&p, 0, ROLE_STRONG, stage->why);
		snprintf(text, sizeof text, "settled: %s to %s W, abort at %s W; hold %s%s%s", low,
		         high, stop, hold, stage->longest_s > 0 ? ", no longer than " : "",
		         stage->longest_s > 0 ? longest : "");
		pager_text(&p, 0, ROLE_PLAIN, text);
		say_judged(v, &p);
		pager_blank(&p);
		pager_text(&p, 0, ROLE_DIM, "look, listen, smell");
		for (int i = 0; i < stage->n_looks; i++) {
			bool answered = v->looks_answered >> i & 1;
			bool not_so = v->looks_not_so >> i & 1;
			snprintf(text, sizeof text, "%s%s", not_so ? "not so: " : "", stage->looks[i]);
			pager_marked(&p, not_so ? GLYPH_OVER : answered ? GLYPH_GOOD : GLYPH_HERE,
				not_so ? ROLE_CAUTION : answered ? ROLE_GOOD : ROLE_STRONG, ROLE_PLAIN,
				text);
		}
		pager_blank(&p);
	}
	if (v->around.lamp[0]) {
		pager_text(&p, 0, ROLE_DIM, v->around.meter_ahead ?
			"series lamp; the meter is ahead of it, its readings are split" :
			"series lamp; the meter is behind it");
		pager_text(&p, 2, ROLE_PLAIN, v->around.lamp);
		pager_blank(&p);
	}
	if (v->soaking) {
		char lines[VIEW_SOAK_LINES][VIEW_FACT_MAX];
		int n = view_soak_lines(&v->soak, lines);
		bool soon = v->instruction_role == ROLE_CAUTION;
		pager_text(&p, 0, ROLE_DIM, "soak");
		for (int i = 0; i < n; i++)
			pager_text(&p, 2, soon && i == n - 1 ? ROLE_CAUTION : ROLE_PLAIN, lines[i]);
		pager_blank(&p);
	}
	say_like(v, &p);
	pager_text(&p, 0, ROLE_DIM, "ruled out so far");
	for (int i = 0; i < v->n_proved; i++)
		pager_marked(&p, GLYPH_GOOD, ROLE_GOOD, ROLE_PLAIN, v->proved[i]);
	if (v->n_proved == 0)
		pager_text(&p, 2, ROLE_PLAIN, "nothing yet");
	pager_blank(&p);
	pager_text(&p, 0, ROLE_DIM, "not ruled out yet");
	for (int i = 0; i < v->n_not_proved; i++)
		pager_marked(&p, GLYPH_UNKNOWN, ROLE_CAUTION, ROLE_PLAIN, v->not_proved[i]);
	return close_page(v, c, &p);
}

/* The row under a rail that a voltmeter was on: what it says, and by what. */
static void rail_judged(struct canvas *c, int row, const struct view_meter *m, int places)
{
	int col = 23;

	canvas_text(c, row, 4, col - 5, ROLE_DIM, m->note);
	col += canvas_format(c, row, col, c->cols - col - 1, theme_verdict_role(m->read_verdict),
		"read: %s,", verdict_word(m->read_verdict));
	canvas_format(c, row, col, c->cols - col - 1, ROLE_PLAIN, " %.*f to %.*f V expected there",
		places, m->read_band.low, places, m->read_band.high);
}

int screen_rails(const struct view *v, struct canvas *c)
{
	char title[64] = "rails and heaters";
	if (isfinite(v->at_volts))
		snprintf(title, sizeof title, "rails and heaters, expected at %.1f V", v->at_volts);
	struct pager p = open_page(v, c, title);

	int row = pager_row(&p);
	if (row >= 0)
		canvas_text(c, row, 2, c->cols - 3, ROLE_DIM,
			"                       volts       mA    rated   read");
	for (int i = 0; i < v->n_meters; i++) {
		const struct view_meter *m = &v->meters[i];
		const bool judged = isfinite(m->read_volts) && m->read_verdict != VERDICT_UNKNOWN;
		int places = m->volts < 20 ? 2 : 1;

		row = pager_row(&p);
		if (row < 0) { /* above or below the window, its second row perhaps not */
			if (judged && (row = pager_row(&p)) >= 0)
				rail_judged(c, row, m, places);
			continue;
		}
		canvas_text(c, row, 2, 20, ROLE_PLAIN, m->what);
		if (isnan(m->volts))
			canvas_format(c, row, 23, 9, ROLE_DIM, "%8s", "?");
		else
			canvas_format(c, row, 23, 9, ROLE_STRONG, "%8.*f", places, m->volts);
		if (isfinite(m->milliamps))
			canvas_format(c, row, 32, 9, ROLE_PLAIN, "%8.1f", m->milliamps);
		if (isfinite(m->share))
			canvas_format(c, row, 41, 9, ROLE_PLAIN, "%6.0f %%", m->share * 100);
		int col = 51;
		if (isfinite(m->read_volts)) {
			char clock[16];
			view_clock(m->read_age_s, clock);
			col += canvas_format(c, row, col, c->cols - col - 1, ROLE_STRONG, "%.*f V",
				places, m->read_volts);
			if (isfinite(m->read_line_volts))
				col += canvas_format(c, row, col, c->cols - col - 1, ROLE_DIM,
					" at %.0f V,", m->read_line_volts);
			col += canvas_format(c, row, col, c->cols - col - 1, ROLE_DIM, " %s ago",
			                     clock);
			col += 2;
		}
		if (!judged)
			canvas_text(c, row, col, c->cols - col - 1, ROLE_DIM, m->note);
		else if ((row = pager_row(&p)) >= 0)
			rail_judged(c, row, m, places);
	}
	pager_blank(&p);
	measure_next(v, &p);
	if (v->around.n_measures > 0)
		pager_blank(&p);
	if (v->around.prompt)
		pager_text(&p, 0, ROLE_DIM, "A meter on a rail or a heater: type  rail NAME volts  "
			"or  heater NAME volts.");
	return close_page(v, c, &p);
}

int screen_record(const struct view *v, struct canvas *c)
{
	char title[320], clock[16], line[640], text[680];
	const char *name = strrchr(v->around.record, '/'); /* the path is told at the end */
	snprintf(title, sizeof title, "record%s%s", v->around.record[0] ? ": " : "",
	         name && !v->around.record_failed ? name + 1 : v->around.record);
	struct pager p = open_page(v, c, title);
	/* The newest last and always in sight: scrolling goes back in time. */
	int n = (int)v->n_events, first = n - p.rows - v->around.scroll;
	if (first < 0)
		first = 0;
	p.scroll = 0;
	for (int i = first; i < n && p.n < p.rows; i++) {
		const size_t at = (v->events_first + (size_t)i) % SESSION_EVENTS_SHOWN;
		const struct event *ev = &v->events[at];
		int row = pager_row(&p);
		view_clock(ev->seconds, clock);
		view_event_line(ev, line, sizeof line);
		snprintf(text, sizeof text, "%8s  %s", clock, line);
		canvas_text(c, row, 1, c->cols - 2, ROLE_PLAIN, text);
		if (v->event_number[at] >= v->around.recorded)
			canvas_glyph(c, row, 0, ROLE_CAUTION, GLYPH_SETTLING);
	}
	frame_bottom(v, c);
	return first;
}

