/* The power-ups: watts over volts and over time inside their bands, findings, soak. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/parts.h"

static enum figure_mark mark_of(enum verdict v)
{
	switch (v) {
	case VERDICT_IN_BAND:
		return MARK_GOOD;
	case VERDICT_OVER:
		return MARK_OVER;
	case VERDICT_UNDER:
		return MARK_UNDER;
	case VERDICT_ABORT:
		return MARK_ABORT;
	case VERDICT_UNKNOWN:
	case VERDICT_SETTLING:
		break;
	}
	return MARK_PASSING;
}

static enum doc_role role_of(enum verdict v)
{
	switch (v) {
	case VERDICT_IN_BAND:
		return DOC_GOOD;
	case VERDICT_OVER:
	case VERDICT_UNDER:
		return DOC_CAUTION;
	case VERDICT_ABORT:
		return DOC_DANGER;
	case VERDICT_UNKNOWN:
	case VERDICT_SETTLING:
		break;
	}
	return DOC_OPEN;
}

static enum doc_role like_role(enum compare_verdict v)
{
	switch (v) {
	case COMPARE_AGREE:
		return DOC_GOOD;
	case COMPARE_DIFFER:
		return DOC_CAUTION;
	case COMPARE_CANNOT_TELL:
		break;
	}
	return DOC_OPEN;
}

static void name_marks(struct figure *f)
{
	(void)snprintf(f->mark_name[MARK_GOOD], sizeof f->mark_name[0], "in band");
	(void)snprintf(f->mark_name[MARK_OVER], sizeof f->mark_name[0], "over");
	(void)snprintf(f->mark_name[MARK_UNDER], sizeof f->mark_name[0], "under");
	(void)snprintf(f->mark_name[MARK_ABORT], sizeof f->mark_name[0], "abort");
	(void)snprintf(f->mark_name[MARK_PASSING], sizeof f->mark_name[0], "still settling");
	(void)snprintf(f->line_name[LINE_EXPECTED], sizeof f->line_name[0], "expected");
	(void)snprintf(f->line_name[LINE_ABORT], sizeof f->line_name[0], "abort line");
	(void)snprintf(f->line_name[LINE_READINGS], sizeof f->line_name[0], "watts read");
}

/* How many readings drawn had each verdict, for who does not see the marks. */
static void tell_marks(char *out, size_t size, const struct report_power *p)
{
	size_t count[FIGURE_MARKS] = {0};

	for (size_t i = 0; i < p->n_points; i++)
		count[mark_of(p->point[i].verdict)]++;
	(void)snprintf(out, size, "%zu in band, %zu over, %zu under, %zu abort, %zu while settling",
	               count[MARK_GOOD], count[MARK_OVER], count[MARK_UNDER], count[MARK_ABORT],
	               count[MARK_PASSING]);
}

/* What the power-up laid under it leads to expect, an edge a line. */
static void like_edge(struct figure *f, const struct report_power *p, bool high)
{
	enum { STEPS = 6 };
	const struct like_curve *like = &p->like;
	struct like_band band;

	figure_line(f, LINE_LIKE);
	for (int i = 0; i < like->n; i++) {
		const double to = like->volts[i + 1 < like->n ? i + 1 : i];

		for (int k = 0; k < (i + 1 < like->n ? STEPS : 1); k++) {
			const double volts = like->volts[i] + (to - like->volts[i]) * k / STEPS;

			like_at(like, &p->meter, volts, &band);
			if (band.have)
				figure_point(f, volts, high ? band.high : band.low);
		}
	}
}

static void over_volts(struct document *d, const struct report_power *p)
{
	struct figure *f = document_figure(d);
	char told[200];

	if (!f)
		return;
	(void)snprintf(f->title, sizeof f->title, "Watts over line volts");
	tell_marks(told, sizeof told, p);
	(void)snprintf(f->desc, sizeof f->desc,
	               "The settled band rises with the line volts; the "
	               "readings are marked by their verdict: %s.",
	               told);
	(void)snprintf(f->x.title, sizeof f->x.title, "line volts (V)");
	(void)snprintf(f->y.title, sizeof f->y.title, "watts (W)");
	(void)snprintf(f->band_name, sizeof f->band_name, "settled band");
	name_marks(f);
	f->x.low = f->y.low = 0;
	for (int i = 0; i < p->n_curve; i++)
		figure_band(f, p->curve_volts[i], p->curve[i].low, p->curve[i].high);
	figure_line(f, LINE_EXPECTED);
	for (int i = 0; i < p->n_curve; i++)
		figure_point(f, p->curve_volts[i], p->curve[i].expected);
	figure_line(f, LINE_ABORT);
	for (int i = 0; i < p->n_curve; i++)
		figure_point(f, p->curve_volts[i], p->curve[i].abort_watts);
	if (p->like.n > 0) {
		(void)snprintf(f->line_name[LINE_LIKE], sizeof f->line_name[0], "as the one laid under");
		like_edge(f, p, false);
		like_edge(f, p, true);
	}
	/* in the band of its moment is not yet in the settled band that is drawn here */
	for (size_t i = 0; i < p->n_points; i++) {
		const struct report_point *at = &p->point[i];
		const enum figure_mark mark = mark_of(at->verdict);

		figure_dot(f, at->volts, at->watts,
		           mark == MARK_GOOD && !at->settled ? MARK_PASSING : mark);
	}
	d->failed |= f->failed;
}

static void over_time(struct document *d, const struct report_power *p)
{
	struct figure *f = document_figure(d);
	const bool hours = p->duration_s > 3 * 3600;
	const double unit_s = hours ? 3600 : 60;
	enum verdict before = VERDICT_IN_BAND;
	char told[200], took[WHEN_MAX];

	if (!f)
		return;
	(void)snprintf(f->title, sizeof f->title, "Watts over time");
	tell_marks(told, sizeof told, p);
	(void)snprintf(f->desc, sizeof f->desc,
	               "The power-up took %s. The band is what was expected "
	               "at each moment, warming heaters in it. Readings: %s.",
	               how_long(took, p->duration_s), told);
	(void)snprintf(f->x.title, sizeof f->x.title,
	               hours ? "hours since the start" : "minutes since the start");
	(void)snprintf(f->y.title, sizeof f->y.title, "watts (W)");
	(void)snprintf(f->band_name, sizeof f->band_name, "band of that moment");
	name_marks(f);
	f->x.low = f->y.low = 0;
	for (size_t i = 0; i < p->n_points; i++)
		figure_band(f, p->point[i].seconds / unit_s, p->point[i].low, p->point[i].high);
	figure_line(f, LINE_READINGS);
	for (size_t i = 0; i < p->n_points; i++)
		figure_point(f, p->point[i].seconds / unit_s, p->point[i].watts);
	/* a mark where the verdict changes and for all that is a finding; the line tells the rest
	 */
	for (size_t i = 0; i < p->n_points; i++) {
		const struct report_point *at = &p->point[i];
		const enum figure_mark mark = mark_of(at->verdict);

		if (p->n_points < 60 || (mark != MARK_GOOD && mark != MARK_PASSING) ||
		    (at->verdict != before && mark == MARK_GOOD))
			figure_dot(f, at->seconds / unit_s, at->watts, mark);
		before = at->verdict;
	}
	d->failed |= f->failed;
}

/* "power-2-stages": the same in every report. */
static const char *table_name(char out[DOC_NAME_MAX], int number, const char *what)
{
	(void)snprintf(out, DOC_NAME_MAX, "power-%d-%s", number, what);
	return out;
}

static void stages_table(struct document *d, const struct report_power *p, int number)
{
	char name[DOC_NAME_MAX];

	document_table(d, table_name(name, number, "stages"),
	               "Stages, each with its last settled reading or that of its abort");
	document_number_column(d, "stage", UNIT_VOLT, DOC_DECIMALS, 0, "");
	document_number_column(d, "volts", UNIT_VOLT, DOC_DECIMALS, 1, "");
	document_number_column(d, "watts", UNIT_WATT, DOC_DECIMALS, 2, "");
	document_number_column(d, "low", UNIT_WATT, DOC_DECIMALS, 2, "");
	document_number_column(d, "expected", UNIT_WATT, DOC_DECIMALS, 2, "");
	document_number_column(d, "high", UNIT_WATT, DOC_DECIMALS, 2, "");
	document_number_column(d, "abort above", UNIT_WATT, DOC_DECIMALS, 2, "");
	document_column(d, "verdict");
	document_number_column(d, "stayed", UNIT_SECOND, DOC_DECIMALS, 0, "");
	document_column(d, "looked");
	for (int i = 0; i < p->n_stages; i++) {
		const struct report_stage *s = &p->stage[i];
		const struct report_point *at = &s->reading;
		const int answered = s->looks_yes + s->looks_no;

		document_number(d, DOC_PLAIN, s->volts);
		document_number(d, DOC_PLAIN, at->volts);
		document_number(d, DOC_PLAIN, at->watts);
		document_number(d, DOC_PLAIN, at->low);
		document_number(d, DOC_PLAIN, s->expected);
		document_number(d, DOC_PLAIN, at->high);
		document_number(d, DOC_PLAIN, at->abort_watts);
		if (!s->reached)
			document_cell(d, DOC_OPEN, "not reached");
		else if (s->aborted)
			document_cell(d, DOC_DANGER, "abort");
		else if (!s->judged)
			document_cell(d, DOC_OPEN, "never settled");
		else
			document_cell(d, role_of(at->verdict), "%s", verdict_word(at->verdict));
		document_number(d, DOC_PLAIN, s->reached ? s->stayed_s : NAN);
		document_cell(d, s->looks_no > 0 ? DOC_CAUTION : DOC_PLAIN, "%d of %d%s",
		              answered < s->looks ? answered : s->looks, s->looks,
		              s->looks_no > 0 ? ", one not so" : "");
	}
}

/* The settled reading of each stage beside what was laid under. */
static void like_table(struct document *d, const struct report_power *p, int number)
{
	char name[DOC_NAME_MAX], caption[LIKE_NAME_MAX + 40];

	if (p->like_path[0] && p->like_trouble[0])
		document_para(d, DOC_CAUTION,
		              "It was laid over an earlier power-up, %s, whose record cannot be read, "
		              "so nothing of that is told here: %s",
		              p->like_path, p->like_trouble);
	if (p->like.n == 0)
		return;
	(void)snprintf(caption, sizeof caption, "Beside the power-up laid under it: %s", p->like.name);
	document_table(d, table_name(name, number, "like"), caption);
	document_number_column(d, "stage", UNIT_VOLT, DOC_DECIMALS, 0, "");
	document_number_column(d, "volts", UNIT_VOLT, DOC_DECIMALS, 1, "");
	document_number_column(d, "watts", UNIT_WATT, DOC_DECIMALS, 2, "");
	document_number_column(d, "low", UNIT_WATT, DOC_DECIMALS, 2, "");
	document_number_column(d, "expected", UNIT_WATT, DOC_DECIMALS, 2, "");
	document_number_column(d, "high", UNIT_WATT, DOC_DECIMALS, 2, "");
	document_column(d, "compared");
	for (int i = 0; i < p->n_stages; i++) {
		const struct report_stage *s = &p->stage[i];
		struct compare_result result;
		struct like_band band;

		if (!s->reached || !isfinite(s->reading.volts))
			continue;
		like_at(&p->like, &p->meter, s->reading.volts, &band);
		like_judge(&band, s->judged && !s->aborted ? s->reading.watts : NAN, &result);
		document_number(d, DOC_PLAIN, s->volts);
		document_number(d, DOC_PLAIN, s->reading.volts);
		document_number(d, DOC_PLAIN, s->reading.watts);
		document_number(d, DOC_PLAIN, band.have ? band.low : NAN);
		document_number(d, DOC_PLAIN, band.have ? band.expected : NAN);
		document_number(d, DOC_PLAIN, band.have ? band.high : NAN);
		document_cell(d, like_role(result.verdict), "%s",
		              compare_verdict_word(result.verdict));
	}
}

static void tell_finding(struct document *d, const struct report_finding *f)
{
	char volts[FIGURE_TEXT_MAX], watts[FIGURE_TEXT_MAX];

	(void)with_unit(volts, f->volts, UNIT_VOLT, 4);
	(void)with_unit(watts, f->watts, UNIT_WATT, 4);
	switch (f->kind) {
	case EVENT_READING:
		document_cell(d, f->verdict == VERDICT_ABORT ? DOC_DANGER : DOC_CAUTION,
		              "%s: %s at %s%s", f->what, watts, volts,
		              f->readings > 1 ? ", and more readings like it" : "");
		return;
	case EVENT_ABORT_RAISED:
		document_cell(d, DOC_DANGER, "abort: %s", f->what);
		return;
	case EVENT_STOP:
		document_cell(d, DOC_DANGER, "stop key%s%s", f->what[0] ? ": " : "", f->what);
		return;
	case EVENT_LOOK:
		document_cell(d, DOC_CAUTION, "looked, and not so: %s",
		              strncmp(f->what, "no: ", 4) == 0 ? f->what + 4 : f->what);
		return;
	case EVENT_BLIND:
		document_cell(d, DOC_CAUTION, "blind: %s", f->what);
		return;
	case EVENT_START:
	case EVENT_CAUTIONS:
	case EVENT_STAGE:
	case EVENT_RAIL:
	case EVENT_MEASURED:
	case EVENT_QUESTIONED:
	case EVENT_IMPOSSIBLE:
	case EVENT_ABORT_ACKNOWLEDGED:
	case EVENT_STOP_ACKNOWLEDGED:
	case EVENT_METER:
	case EVENT_NOTE:
	case EVENT_END:
	case EVENT_KINDS:
		break;
	}
	document_cell(d, DOC_CAUTION, "%s", f->what);
}

static void findings_table(struct document *d, const struct report_power *p, int number)
{
	char at[WHEN_MAX], name[DOC_NAME_MAX];

	if (p->n_findings == 0) {
		document_para(d, DOC_GOOD,
		              "No finding in this power-up: no reading over, under or abort, "
		              "no stop, no look answered with no.");
		return;
	}
	document_table(d, table_name(name, number, "findings"), "Findings and how they ended");
	document_column(d, "at");
	document_column(d, "what");
	document_column(d, "how it ended");
	for (int i = 0; i < p->n_findings; i++) {
		const struct report_finding *f = &p->finding[i];

		document_cell(d, DOC_PLAIN, "%s", how_long(at, f->seconds));
		tell_finding(d, f);
		if (isnan(f->ended_s))
			document_cell(d, DOC_CAUTION, "it stood when the record ended");
		else
			document_cell(d, DOC_PLAIN, "%s, after %s", f->end,
			              how_long(at, f->ended_s - f->seconds));
	}
	if (p->findings_beyond > 0)
		document_para(d, DOC_CAUTION, "%d more findings are in the record and not here.",
		              p->findings_beyond);
}

/* What a voltmeter showed, beside what it should have. */
static void probes_table(struct document *d, const struct report_power *p, int number)
{
	char name[DOC_NAME_MAX], at[WHEN_MAX];

	if (p->n_probes == 0)
		return;
	document_table(d, table_name(name, number, "volts"),
	               "Rails and heaters, read with a voltmeter, and what a healthy unit has there");
	document_column(d, "at");
	document_number_column(d, "line", UNIT_VOLT, DOC_DECIMALS, 1, "");
	document_column(d, "where");
	document_number_column(d, "read", UNIT_VOLT, DOC_DECIMALS, 1, "");
	document_number_column(d, "low", UNIT_VOLT, DOC_DECIMALS, 1, "");
	document_number_column(d, "expected", UNIT_VOLT, DOC_DECIMALS, 1, "");
	document_number_column(d, "high", UNIT_VOLT, DOC_DECIMALS, 1, "");
	document_column(d, "verdict");
	for (int i = 0; i < p->n_probes; i++) {
		const struct report_probe *r = &p->probe[i];

		document_cell(d, DOC_PLAIN, "%s", how_long(at, r->seconds));
		document_number(d, DOC_PLAIN, r->line_volts);
		document_cell(d, DOC_PLAIN, "%s", r->where);
		document_number(d, DOC_PLAIN, r->volts);
		document_number(d, DOC_PLAIN, r->low);
		document_number(d, DOC_PLAIN, r->expected);
		document_number(d, DOC_PLAIN, r->high);
		document_cell(d, role_of(r->verdict), "%s",
		              r->verdict == VERDICT_UNKNOWN ? "not judged"
		                                            : verdict_word(r->verdict));
	}
	if (p->probes_beyond > 0)
		document_para(d, DOC_CAUTION,
		              "%d more readings of a voltmeter are in the record and not here.",
		              p->probes_beyond);
}

static void tell_soak(struct document *d, const struct report_power *p)
{
	const struct soak *s = &p->soak;
	char took[WHEN_MAX], drift[FIGURE_TEXT_MAX], slope[FIGURE_TEXT_MAX], error[FIGURE_TEXT_MAX];
	char volts[FIGURE_TEXT_MAX];

	if (!p->soaked) {
		document_para(d, DOC_OPEN, "Soak: the last stage was not reached.");
		return;
	}
	(void)with_unit(volts, p->soak_volts, UNIT_VOLT, 4);
	(void)how_long(took, p->soak_s);
	if (!s->known) {
		document_para(d, DOC_OPEN,
		              "Soak: %s at %s, too short or too few readings to tell whether "
		              "it comes to rest.",
		              took, volts);
		return;
	}
	(void)num_print(drift, sizeof drift, s->drift_watts, 2);
	(void)num_print(slope, sizeof slope, s->slope_w_per_h, 2);
	(void)num_print(error, sizeof error, s->slope_error, 2);
	document_para(d, s->stable ? DOC_GOOD : DOC_CAUTION,
	              "Soak: %s at %s; drift %s W, at the end %s W an hour +/- %s W: %s", took,
	              volts, drift, slope, error, s->stable ? "stable." : "not stable yet.");
}

static void tables_for_data(struct document *d, const struct report_power *p, int number)
{
	char name[DOC_NAME_MAX];

	document_data_table(d, table_name(name, number, "readings"), "Readings of the power-up");
	document_number_column(d, "seconds", UNIT_SECOND, DOC_DECIMALS, 3, "");
	document_number_column(d, "volts", UNIT_VOLT, DOC_DECIMALS, 3, "");
	document_number_column(d, "watts", UNIT_WATT, DOC_DECIMALS, 3, "");
	document_number_column(d, "low", UNIT_WATT, DOC_DECIMALS, 3, "");
	document_number_column(d, "high", UNIT_WATT, DOC_DECIMALS, 3, "");
	document_number_column(d, "abort above", UNIT_WATT, DOC_DECIMALS, 3, "");
	document_column(d, "settled");
	document_column(d, "verdict");
	for (size_t i = 0; i < p->n_points; i++) {
		const struct report_point *at = &p->point[i];

		document_number(d, DOC_PLAIN, at->seconds);
		document_number(d, DOC_PLAIN, at->volts);
		document_number(d, DOC_PLAIN, at->watts);
		document_number(d, DOC_PLAIN, at->low);
		document_number(d, DOC_PLAIN, at->high);
		document_number(d, DOC_PLAIN, at->abort_watts);
		document_cell(d, DOC_PLAIN, at->settled ? "yes" : "no");
		document_cell(d, DOC_PLAIN, "%s", verdict_word(at->verdict));
	}
	document_data_table(d, table_name(name, number, "events"),
	                    "Events of the power-up, readings left out");
	document_number_column(d, "seconds", UNIT_SECOND, DOC_DECIMALS, 3, "");
	document_column(d, "event");
	document_number_column(d, "volts", UNIT_VOLT, DOC_DECIMALS, 3, "");
	document_number_column(d, "watts", UNIT_WATT, DOC_DECIMALS, 3, "");
	document_column(d, "note");
	for (int i = 0; i < p->n_events; i++) {
		const struct report_event *e = &p->event[i];

		document_number(d, DOC_PLAIN, e->seconds);
		document_cell(d, DOC_PLAIN, "%s", event_word(e->kind));
		document_number(d, DOC_PLAIN, e->volts);
		document_number(d, DOC_PLAIN, e->watts);
		document_cell(d, DOC_PLAIN, "%s", e->note);
	}
}

/* What was noted, measured or typed and not believed. */
static void said_in_it(struct document *d, const struct report_power *p)
{
	char at[WHEN_MAX];

	for (int i = 0; i < p->n_events; i++) {
		const struct report_event *e = &p->event[i];

		(void)how_long(at, e->seconds);
		if (e->kind == EVENT_NOTE && strstr(e->note, ": nothing more"))
			continue; /* a stage that ruled nothing out */
		if (e->kind == EVENT_NOTE && strncmp(e->note, like_noted, strlen(like_noted)) == 0)
			continue; /* its table tells that */
		if (e->kind == EVENT_NOTE)
			document_item(d, DOC_PLAIN, "%s: %s", at, e->note);
		else if (e->kind == EVENT_MEASURED)
			document_item(d, DOC_PLAIN, "%s: measured %s", at, e->note);
		else if (e->kind == EVENT_METER)
			document_item(d, DOC_CAUTION, "%s: meter: %s", at, e->note);
	}
}

/* What it came to, in a few words: how it ended first, for that is what counts. */
static const char *came_to(const struct report_power *p)
{
	const bool full = strcmp(p->word, "full-line") == 0;
	bool alarmed = false;

	if (p->trouble[0])
		return full ? "full line reached" : p->word[0] ? p->word : "no record";
	if (strcmp(p->word, "abort") == 0)
		return p->soaked ? "full line, then an abort" : "an abort";
	if (strcmp(p->word, "stop") == 0)
		return p->soaked ? "full line, then the stop key" : "the stop key";
	if (!p->soaked)
		return "left before full line";
	if (p->stage[p->n_stages - 1].reading.verdict != VERDICT_IN_BAND)
		return "full line, not in band";
	for (int i = 0; i < p->n_findings; i++)
		alarmed |= p->finding[i].kind == EVENT_STOP ||
		           p->finding[i].kind == EVENT_ABORT_RAISED;
	if (!full)
		return "full line, in band, left before its time there was over";
	return alarmed ? "full line, in band, after an abort or a stop" : "full line, in band";
}

static void tell_power(struct document *d, const struct report_power *p, int number)
{
	char start[WHEN_MAX], took[WHEN_MAX], id[DOC_NAME_MAX], volts[FIGURE_TEXT_MAX];

	(void)snprintf(id, sizeof id, "power-%d", number);
	document_section(d, 3, id, "Power-up %d: %s", number, came_to(p));
	if (p->virtual_bench)
		document_para(d, DOC_CAUTION,
		              "VIRTUAL BENCH: these readings were computed for a "
		              "demonstration. Nothing was measured.");
	if (isfinite(p->entered_s))
		document_fact(d, "entered", "%s", when(start, p->entered_s));
	if (p->mended[0])
		document_fact(d, "what it was, mended", "%s (%s)", p->mended,
		              when(start, p->mended_s));
	if (p->trouble[0]) {
		document_fact(d, "record", "%s", p->path[0] ? p->path : "none");
		document_fact(d, "in the unit's file", "%s, up to %s, %s at full line", p->word,
		              with_unit(volts, p->told_volts, UNIT_VOLT, 4),
		              how_long(took, p->told_soak_s));
		document_para(d, DOC_CAUTION,
		              "Its record cannot be read, so nothing more of it is told "
		              "here: %s",
		              p->trouble);
		return;
	}
	document_fact(d, "record", "%s, begun %s", p->path, when(start, p->started_s));
	document_fact(d, "lasted", "%s, %zu reading%s (%s), up to %s", how_long(took, p->duration_s),
	              p->readings, p->readings == 1 ? "" : "s", p->source[0] ? p->source : "none",
	              with_unit(volts, p->readings > 0 ? p->highest_volts : NAN, UNIT_VOLT, 4));
	if (!p->ended)
		document_fact(d, "end", "the record breaks off: the run was not closed");
	if (p->impossible > 0)
		document_fact(d, "not believed", "%zu reading%s that cannot be", p->impossible,
		              p->impossible == 1 ? "" : "s");
	if (p->remark[0])
		document_fact(d, "the record", "%s", p->remark);
	if (p->other_profile)
		document_para(d, DOC_CAUTION,
		              "Judged here by another profile than when it was taken (%s); "
		              "%zu of %zu verdicts differ.",
		              p->profile, p->changed, p->readings);
	else if (p->changed > 0)
		document_para(d, DOC_CAUTION,
		              "%zu of %zu readings are judged otherwise now than when they "
		              "were taken: the program or what was measured on the unit has "
		              "changed since.",
		              p->changed, p->readings);
	if (p->n_points > 0) {
		over_volts(d, p);
		over_time(d, p);
	}
	if (p->thinned)
		document_para(d, DOC_PLAIN,
		              "Drawn are %zu of %zu readings: of each stretch the lowest and "
		              "highest watts and volts, the worst verdict and the last. The record "
		              "has all of them.",
		              p->n_points, p->readings);
	stages_table(d, p, number);
	like_table(d, p, number);
	findings_table(d, p, number);
	probes_table(d, p, number);
	tell_soak(d, p);
	said_in_it(d, p);
	if (p->events_beyond > 0)
		document_para(d, DOC_CAUTION, "%d more events are in the record and not here.",
		              p->events_beyond);
	tables_for_data(d, p, number);
}

void part_power(struct document *d, const struct report_data *r)
{
	document_section(d, 2, "power", "Power-up and soak");
	if (r->n_powers == 0)
		document_para(d, DOC_OPEN, "No power-up is in this unit's file.");
	else
		document_para(
		        d, DOC_PLAIN,
		        "At every moment the watts that this very unit should draw were "
		        "computed from its profile, as a band in which some 99 of 100 healthy ones "
		        "lie. A reading in its band is no promise that the unit is sound.");
	for (int i = 0; i < r->n_powers; i++)
		tell_power(d, &r->power[i], i + 1);
	if (r->powers_beyond > 0)
		document_para(d, DOC_CAUTION,
		              "%d older power-ups are in the unit's file and not here.",
		              r->powers_beyond);
}
