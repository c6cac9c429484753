/* Capacitors being re-formed: where each stands, and its leakage over time. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/desk.h"
#include "report/parts.h"

enum { CURVE_STEPS = 40, RUNS_MAX = 12 };
static const double amp_to_ma = 1e3;

static enum doc_role state_role(enum desk_state state)
{
	switch (state) {
	case DESK_FORMED:
	case DESK_REPLACED:
		return DOC_GOOD;
	case DESK_OLDER_ONLY:
	case DESK_ACCEPTED:
	case DESK_STUCK:
	case DESK_FORMING:
		return DOC_CAUTION;
	case DESK_FAILING:
		return DOC_DANGER;
	case DESK_UNTOUCHED:
	case DESK_STATES:
		break;
	}
	return DOC_OPEN;
}

/* The runs of a section that are told: ends as desk_runs() gives them, oldest first. */
struct runs {
	size_t all, n, end[RUNS_MAX];
};

/* Did a run end because the part was replaced? */
static bool replaced_at(const struct report_data *r, int index, size_t end)
{
	const struct entry *e = end < r->n_entries ? &r->entries[end] : NULL;

	return e && e->kind == ENTRY_CAP_EVENT && strcmp(e->word, "out") == 0 &&
	       strcmp(e->subject, r->profile->capacitors[index].place) == 0;
}

/* Earlier runs of the part, a thin line each, over their own time under volts. */
static void add_earlier(struct figure *f, const struct report_data *r, int index,
                        const struct runs *runs, struct desk_section *work)
{
	size_t first = 0;

	for (size_t k = 0; k + 1 < runs->n; k++)
		if (replaced_at(r, index, runs->end[k]))
			first = k + 1;
	for (size_t k = first; k + 1 < runs->n; k++) {
		desk_section_make(work, r->profile, index, r->entries, runs->end[k]);
		figure_line(f, LINE_EARLIER);
		for (size_t i = 0; i < work->n; i++)
			figure_point(f, fmax(work->reading[i].seconds, 1) / 60,
			             work->reading[i].amps * amp_to_ma);
	}
	if (first + 1 < runs->n)
		(void)snprintf(f->line_name[LINE_EARLIER], sizeof f->line_name[0], "%s",
		               first + 2 < runs->n ? "earlier runs" : "an earlier run");
}

/* The curve of the run at hand: readings, what the fit says, and the limits. */
static void add_curve(struct document *d, const struct report_data *r, int index,
                      const struct desk_section *s, const struct runs *runs,
                      struct desk_section *spare, struct reform_work *work)
{
	struct figure *f = document_figure(d);
	const struct reform_reading *first = &s->reading[s->judgement.stretch];
	const struct reform_reading *last = &s->reading[s->n - 1];
	double modern = s->limits[REFORM_CV_1];
	char amps[FIGURE_TEXT_MAX], volts[FIGURE_TEXT_MAX], limit[FIGURE_TEXT_MAX];

	if (!f)
		return;
	(void)snprintf(f->title, sizeof f->title, "%s: leakage over time", s->capacitor->place);
	(void)snprintf(f->desc, sizeof f->desc,
	               "%zu reading%s; the last is %s at %s. The limit is %s. %s", s->n,
	               s->n == 1 ? "" : "s",
	               with_unit(amps, last->amps, UNIT_AMPERE, 3),
	               with_unit(volts, last->volts, UNIT_VOLT, 4),
	               with_unit(limit, s->aim.limit_amps, UNIT_AMPERE, 3), s->words);
	(void)snprintf(f->x.title, sizeof f->x.title, "minutes under volts");
	(void)snprintf(f->y.title, sizeof f->y.title, "leakage (mA)");
	f->x.log = f->y.log = true;
	(void)snprintf(f->band_name, sizeof f->band_name, "fit, 90 %% of it");
	(void)snprintf(f->line_name[LINE_EXPECTED], sizeof f->line_name[0], "fit, median");
	(void)snprintf(f->line_name[LINE_LIMIT], sizeof f->line_name[0], "limit");
	(void)snprintf(f->mark_name[MARK_READING], sizeof f->mark_name[0], "reading");
	(void)snprintf(f->mark_name[MARK_PASSING], sizeof f->mark_name[0], "at volts before");
	if (s->judgement.fitted && last->seconds > first->seconds) {
		/* from the first reading of the stretch to three times as far, evenly in log time
		 */
		const double from = log(fmax(first->seconds, 1)), to = log(last->seconds * 3);

		for (int i = 0; i <= CURVE_STEPS; i++) {
			const double t = exp(from + (to - from) * i / CURVE_STEPS);
			const struct reform_range at = reform_fit_at(work, fmax(t, first->seconds));

			figure_band(f, t / 60, at.low * amp_to_ma, at.high * amp_to_ma);
		}
		figure_line(f, LINE_EXPECTED);
		for (int i = 0; i <= CURVE_STEPS; i++) {
			const double t = exp(from + (to - from) * i / CURVE_STEPS);

			figure_point(f, t / 60,
			             reform_fit_at(work, fmax(t, first->seconds)).median *
			                     amp_to_ma);
		}
	}
	add_earlier(f, r, index, runs, spare);
	/* a logarithm has no room for the moment nought */
	for (size_t i = 0; i < s->n; i++)
		figure_dot(f, fmax(s->reading[i].seconds, 1) / 60, s->reading[i].amps * amp_to_ma,
		           i >= s->judgement.stretch ? MARK_READING : MARK_PASSING);
	if (isfinite(s->aim.limit_amps))
		figure_level(f, s->aim.limit_amps * amp_to_ma,
		             s->aim.rule < REFORM_RULES ? reform_rules[s->aim.rule].name
		                                        : "own limit");
	if (s->aim.rule != REFORM_CV_1 && isfinite(modern))
		figure_level(f, modern * amp_to_ma, reform_rules[REFORM_CV_1].name);
	d->failed |= f->failed;
}

static void add_row(struct document *d, const struct desk_section *s)
{
	const struct reform_reading *last = s->n > 0 ? &s->reading[s->n - 1] : NULL;
	char at[WHEN_MAX], took[WHEN_MAX];

	document_cell(d, DOC_PLAIN, "%s", s->capacitor->place);
	document_number(d, DOC_PLAIN, s->aim.part.farad);
	document_number(d, DOC_PLAIN, s->aim.part.volts);
	document_number(d, DOC_PLAIN, last ? last->volts : NAN);
	document_number(d, DOC_PLAIN, last ? last->amps : NAN);
	document_number(d, DOC_PLAIN, s->aim.limit_amps);
	document_cell(d, DOC_PLAIN, "%s",
	              s->aim.rule < REFORM_RULES ? reform_rules[s->aim.rule].name : "own");
	document_number(d, DOC_PLAIN, s->limits[REFORM_CV_1]);
	document_cell(d, DOC_PLAIN, "%s",
	              last ? how_long(took, last->seconds - s->reading[0].seconds) : "");
	document_cell(d, state_role(s->state), "%s", desk_state_word(s->state));
	document_cell(d, DOC_PLAIN, "%s", isnan(s->last_utc_s) ? "" : when(at, s->last_utc_s));
}

static void add_words(struct document *d, const struct desk_section *s)
{
	if (s->words[0])
		document_item(d, state_role(s->state), "%s: %s%s%s", s->capacitor->place, s->words,
		              s->accepted && s->accepted_why ? ". Accepted because: " : "",
		              s->accepted && s->accepted_why ? s->accepted_why : "");
	if (s->must_discharge)
		document_item(d, DOC_DANGER,
		              "%s: still charged as far as is known: discharge it before "
		              "it is touched",
		              s->capacitor->place);
}

/* Every run of the sections that had more than the one drawn, the newest last. */
static void tell_runs(struct document *d, const struct report_data *r,
                      const struct desk_section *section, const struct runs *runs,
                      struct desk_section *work)
{
	const int n = r->profile->n_capacitors;
	char at[WHEN_MAX], took[WHEN_MAX];
	bool any = false;

	for (int i = 0; i < n; i++)
		any |= runs[i].n > (section[i].n > 0);
	if (!any)
		return;
	document_table(d, "capacitor-runs",
	               "Runs of re-forming, where a section had more than the last one");
	document_column(d, "section");
	document_number_column(d, "run", UNIT_NONE, DOC_DECIMALS, 0, "");
	document_column(d, "begun");
	document_column(d, "took");
	document_number_column(d, "readings", UNIT_NONE, DOC_DECIMALS, 0, "");
	document_number_column(d, "leakage first", UNIT_AMPERE, DOC_PREFIX, 3, "");
	document_number_column(d, "leakage last", UNIT_AMPERE, DOC_PREFIX, 3, "");
	document_number_column(d, "at", UNIT_VOLT, DOC_PREFIX, 4, "");
	document_column(d, "then");
	for (int i = 0; i < n; i++)
		for (size_t k = 0; k < runs[i].n && runs[i].n > (section[i].n > 0); k++) {
			const struct reform_reading *first = &work->reading[0], *last;

			desk_section_make(work, r->profile, i, r->entries, runs[i].end[k]);
			desk_judge(work, NULL);
			last = &work->reading[work->n - 1];
			document_cell(d, DOC_PLAIN, "%s", work->capacitor->place);
			document_number(d, DOC_PLAIN, (double)(runs[i].all - runs[i].n + k + 1));
			document_cell(d, DOC_PLAIN, "%s", when(at, work->first_utc_s));
			document_cell(d, DOC_PLAIN, "%s",
			              how_long(took, last->seconds - first->seconds));
			document_number(d, DOC_PLAIN, (double)work->n_taken);
			document_number(d, DOC_PLAIN, first->amps);
			document_number(d, DOC_PLAIN, last->amps);
			document_number(d, DOC_PLAIN, last->volts);
			document_cell(d, state_role(work->state), "%s%s",
			              desk_state_word(work->state),
			              replaced_at(r, i, runs[i].end[k]) ? ", then replaced" : "");
		}
	for (int i = 0; i < n; i++)
		if (runs[i].all > runs[i].n)
			document_para(d, DOC_PLAIN,
			              "%s: %zu older runs are in the unit's file and not here.",
			              r->profile->capacitors[i].place, runs[i].all - runs[i].n);
}

static void readings_for_data(struct document *d, const struct report_data *r)
{
	char at[WHEN_MAX];

	document_data_table(d, "capacitor-readings", "Every leakage reading");
	document_column(d, "section");
	document_column(d, "when");
	document_number_column(d, "seconds since 1970", UNIT_SECOND, DOC_DECIMALS, 3, "");
	document_number_column(d, "volts", UNIT_VOLT, DOC_PREFIX, 4, "");
	document_number_column(d, "leakage", UNIT_AMPERE, DOC_PREFIX, 4, "");
	for (size_t i = 0; i < r->n_entries; i++) {
		const struct entry *e = &r->entries[i];

		if (e->kind != ENTRY_CAP_READING)
			continue;
		document_cell(d, DOC_PLAIN, "%s", e->subject);
		document_cell(d, DOC_PLAIN, "%s", when(at, e->utc_s));
		document_number(d, DOC_PLAIN, e->utc_s);
		document_number(d, DOC_PLAIN, e->number[0]);
		document_number(d, DOC_PLAIN, e->number[1]);
	}
}

void part_capacitors(struct document *d, const struct report_data *r)
{
	const int n = r->profile->n_capacitors;
	struct desk_section *section = calloc((size_t)n + 1, sizeof *section); /* and a spare one */
	struct runs *runs = calloc((size_t)n + 1, sizeof *runs);
	struct reform_work *work = malloc(sizeof *work);

	document_section(d, 2, "capacitors", "Capacitors");
	if (!section || !runs || !work) {
		d->failed = true;
		goto out;
	}
	if (n == 0) {
		document_para(d, DOC_PLAIN, "The profile names no electrolytic capacitors.");
		goto out;
	}
	for (int i = 0; i < n; i++) {
		desk_section_make(&section[i], r->profile, i, r->entries, r->n_entries);
		desk_judge(&section[i], work);
		runs[i].all = desk_runs(&section[n], r->profile, i, r->entries, r->n_entries,
		                        runs[i].end, RUNS_MAX);
		runs[i].n = runs[i].all < RUNS_MAX ? runs[i].all : RUNS_MAX;
	}
	document_table(d, "capacitors", "Sections, each lifted out of circuit to be re-formed");
	document_column(d, "section");
	document_number_column(d, "capacitance", UNIT_FARAD, DOC_PREFIX, 3, "");
	document_number_column(d, "rated", UNIT_VOLT, DOC_PREFIX, 3, "");
	document_number_column(d, "last at", UNIT_VOLT, DOC_PREFIX, 4, "");
	document_number_column(d, "leakage", UNIT_AMPERE, DOC_PREFIX, 3, "");
	document_number_column(d, "limit", UNIT_AMPERE, DOC_PREFIX, 3, "");
	document_column(d, "rule");
	document_number_column(d, "like new below", UNIT_AMPERE, DOC_PREFIX, 3, "");
	document_column(d, "took");
	document_column(d, "state");
	document_column(d, "when");
	for (int i = 0; i < n; i++)
		add_row(d, &section[i]);
	for (int i = 0; i < n; i++)
		add_words(d, &section[i]);
	/* the fit is in the workspace of the section judged last */
	for (int i = 0; i < n; i++)
		if (section[i].n > 0) {
			desk_judge(&section[i], work);
			add_curve(d, r, i, &section[i], &runs[i], &section[n], work);
		}
	tell_runs(d, r, section, runs, &section[n]);
	for (int i = 0; i < REFORM_RULES; i++) {
		bool used = i == REFORM_CV_1;

		for (int k = 0; k < n; k++)
			used |= section[k].aim.rule == (enum reform_rule)i;
		if (used)
			document_item(d, DOC_PLAIN, "Limit %s, %s: %s (%s)", reform_rules[i].name,
			              reform_rules[i].title,
			              reform_rules[i].formula, reform_rules[i].source);
	}
	readings_for_data(d, r);
out:
	free(section);
	free(runs);
	free(work);
}
