/* What was looked at, tested and measured before power. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/core/look.h"
#include "mainstair/core/ohms_results.h"
#include "mainstair/core/tube_test.h"
#include "report/parts.h"

static const char *entered(char out[WHEN_MAX], const struct entry *entry)
{
	return entry ? when(out, entry->utc_s) : "";
}

static const char *note_of(const struct entry *entry)
{
	return entry ? entry->note : "";
}

/* --- what was there before ----------------------------------------------------------------- */

static bool same_result(const struct entry *a, const struct entry *b)
{
	const double x = a->number[0], y = b->number[0];

	return strcmp(a->word, b->word) == 0 && strcmp(a->note, b->note) == 0 &&
	       ((isnan(x) && isnan(y)) || (!(x < y) && !(x > y) && !isnan(x) && !isnan(y)));
}

/* One result as it was entered: "finding: cord cracked", "45 ohm". */
static void say_result(struct buf *out, const struct entry *e)
{
	char number[FIGURE_TEXT_MAX] = "";

	if (isinf(e->number[0]))
		(void)snprintf(number, sizeof number, "over-range");
	else if (isfinite(e->number[0]))
		(void)num_print_unit(number, sizeof number, e->number[0],
		                     e->kind == ENTRY_OHMS ? UNIT_OHM : UNIT_NONE, 4);
	if (e->kind == ENTRY_OHMS && !number[0])
		buf_adds(out, "not read");
	buf_addf(out, "%s%s%s%s%s", e->word, e->word[0] && number[0] ? " " : "", number,
	         e->note[0] && (e->word[0] || number[0]) ? ": " : "", e->note);
}

/* What stood at a row before what stands now, oldest first: what was mended is not forgotten. */
static void tell_earlier(struct document *d, const struct report_data *r, enum entry_kind kind,
                         const char *subject, const char *what)
{
	const struct entry *before = NULL;
	struct buf chain = BUF_INIT;
	char at[WHEN_MAX];
	int n = 0;

	for (size_t i = 0; i < r->n_entries; i++) {
		const struct entry *e = &r->entries[i];

		if (e->kind != kind || strcmp(e->subject, subject) != 0 ||
		    (before && same_result(before, e)))
			continue;
		if (n++ > 0)
			buf_adds(&chain, "; then ");
		say_result(&chain, e);
		buf_addf(&chain, " (%s)", when(at, e->utc_s));
		before = e;
	}
	d->failed |= chain.failed;
	if (n > 1)
		document_item(d, DOC_PLAIN, "%s was %s", what, chain.data);
	buf_release(&chain);
}

/* --- look ------------------------------------------------------------------------------------- */

static enum doc_role look_role(enum look_result result)
{
	switch (result) {
	case LOOK_OK:
	case LOOK_MENDED:
		return DOC_GOOD;
	case LOOK_FINDING:
		return DOC_CAUTION;
	case LOOK_NOT_LOOKED:
		break;
	}
	return DOC_OPEN;
}

void part_look(struct document *d, const struct report_data *r)
{
	struct look_list *list = malloc(sizeof *list);
	struct look_state *state = malloc(LOOK_CHECKS_MAX * sizeof *state);
	char at[WHEN_MAX];

	document_section(d, 2, "look", "What was looked at");
	if (!list || !state) {
		d->failed = true;
		goto out;
	}
	look_list_make(list, r->profile);
	look_states(list, r->entries, r->n_entries, state);
	document_table(d, "look", "Looked over with the case open and the plug out");
	document_column(d, "check");
	document_column(d, "result");
	document_column(d, "note");
	document_column(d, "when");
	for (int i = 0; i < list->n; i++) {
		/* places that nobody singled out are told by the check of them all */
		if (list->check[i].kind == LOOK_TUBE &&
		    (state[i].by_complement || state[i].result == LOOK_NOT_LOOKED))
			continue;
		document_cell(d, DOC_PLAIN, "%s", list->check[i].what);
		document_cell(d, look_role(state[i].result), "%s",
		              state[i].result == LOOK_NOT_LOOKED ? "not looked at"
		                                                 : look_word(state[i].result));
		document_cell(d, DOC_PLAIN, "%s", note_of(state[i].entry));
		document_cell(d, DOC_PLAIN, "%s", entered(at, state[i].entry));
	}
	/* what a finding means, once each */
	for (int i = 0; i < list->n; i++)
		if (state[i].result == LOOK_FINDING && !state[i].by_complement)
			document_item(d, DOC_CAUTION, "%s: %s%s%s", list->check[i].what,
			              note_of(state[i].entry)[0] ? note_of(state[i].entry)
			                                         : "finding",
			              list->check[i].why[0] ? "; " : "", list->check[i].why);
	for (int i = 0; i < list->n; i++)
		tell_earlier(d, r, ENTRY_LOOK, list->check[i].key, list->check[i].what);
out:
	free(list);
	free(state);
}

/* --- tubes ------------------------------------------------------------------------------------ */

static enum doc_role tube_role(enum tube_result result)
{
	switch (result) {
	case TUBE_GOOD:
		return DOC_GOOD;
	case TUBE_WEAK:
		return DOC_CAUTION;
	case TUBE_BAD:
	case TUBE_SHORTED:
		return DOC_DANGER;
	case TUBE_NOT_TESTED:
		break;
	}
	return DOC_OPEN;
}

static const char *duty_word(enum tube_duty duty)
{
	switch (duty) {
	case TUBE_DUTY_RECTIFIER:
		return "rectifier";
	case TUBE_DUTY_REGULATOR:
		return "regulator";
	case TUBE_DUTY_PASS:
		return "series pass";
	case TUBE_DUTY_STAGE:
		break;
	}
	return "stage";
}

/* "92 %", "3900 of 4100"; its unit, if any, is in the note.  Returns out. */
static const char *say_figure(char out[FIGURE_TEXT_MAX], const struct tube_state *s)
{
	char figure[FIGURE_TEXT_MAX], of[FIGURE_TEXT_MAX];

	out[0] = '\0';
	if (isnan(s->figure))
		return out;
	(void)with_unit(figure, s->figure, UNIT_NONE, 4);
	(void)with_unit(of, s->of, UNIT_NONE, 4);
	if (isnan(s->of))
		(void)snprintf(out, FIGURE_TEXT_MAX, "%.40s", figure);
	else if (s->of > 99.99 && s->of < 100.01)
		(void)snprintf(out, FIGURE_TEXT_MAX, isfinite(s->figure) ? "%.40s %%" : "%.40s",
		               figure);
	else
		(void)snprintf(out, FIGURE_TEXT_MAX, "%.20s of %.20s", figure, of);
	return out;
}

/* The figures as numbers. */
static void tube_values(struct document *d, const struct tube_list *list,
                        const struct tube_state *state)
{
	document_data_table(d, "tube-values", "Tubes' figures as plain numbers");
	document_column(d, "place");
	document_column(d, "result");
	document_number_column(d, "figure", UNIT_NONE, DOC_PREFIX, 4, "");
	document_number_column(d, "of", UNIT_NONE, DOC_PREFIX, 4, "");
	document_number_column(d, "strikes", UNIT_VOLT, DOC_PREFIX, 4, "does not");
	document_number_column(d, "holds", UNIT_VOLT, DOC_PREFIX, 4, "");
	for (int i = 0; i < list->n; i++) {
		document_cell(d, DOC_PLAIN, "%s", list->place[i].place);
		document_cell(d, DOC_PLAIN, "%s", tube_word(state[i].result));
		document_number(d, DOC_PLAIN, state[i].figure);
		document_number(d, DOC_PLAIN, state[i].of);
		document_number(d, DOC_PLAIN, state[i].strikes);
		document_number(d, DOC_PLAIN, state[i].holds);
	}
}

void part_tubes(struct document *d, const struct report_data *r)
{
	struct tube_list *list = malloc(sizeof *list);
	struct tube_state *state = malloc(PROFILE_TUBES_MAX * sizeof *state);
	char at[WHEN_MAX], figure[FIGURE_TEXT_MAX];

	document_section(d, 2, "tubes", "Tubes");
	if (!list || !state) {
		d->failed = true;
		goto out;
	}
	tube_list_make(list, r->profile, r->tables);
	tube_states(list, r->entries, r->n_entries, state);
	if (list->n == 0) {
		document_para(d, DOC_PLAIN, "The profile names no tubes.");
		goto out;
	}
	document_table(d, "tubes", "Tubes, each in its place");
	document_column(d, "place");
	document_column(d, "type");
	document_column(d, "does");
	document_column(d, "result");
	document_column(d, "figure");
	document_number_column(d, "strikes", UNIT_VOLT, DOC_DECIMALS, 1, "does not");
	document_number_column(d, "holds", UNIT_VOLT, DOC_DECIMALS, 1, "");
	document_column(d, "note");
	document_column(d, "when");
	for (int i = 0; i < list->n; i++) {
		document_cell(d, DOC_PLAIN, "%s", list->place[i].place);
		document_cell(d, DOC_PLAIN, "%s",
		              list->place[i].type[0] ? list->place[i].type : "own ratings");
		document_cell(d, DOC_PLAIN, "%s", duty_word(list->place[i].duty));
		document_cell(d, tube_role(state[i].result), "%s",
		              state[i].result == TUBE_NOT_TESTED ? "not tested"
		                                                 : tube_word(state[i].result));
		document_cell(d, DOC_PLAIN, "%s", say_figure(figure, &state[i]));
		document_number(d, DOC_PLAIN, state[i].strikes);
		document_number(d, DOC_PLAIN, state[i].holds);
		document_cell(d, DOC_PLAIN, "%s", note_of(state[i].entry));
		document_cell(d, DOC_PLAIN, "%s", entered(at, state[i].entry));
	}
	for (int i = 0; i < list->n; i++)
		if (tube_finding(&list->place[i], state[i].result)[0])
			document_item(d, tube_role(state[i].result), "%s %s, %s: %s",
			              list->place[i].place, list->place[i].type,
			              tube_word(state[i].result),
			              tube_finding(&list->place[i], state[i].result));
	for (int i = 0; i < list->n; i++)
		tell_earlier(d, r, ENTRY_TUBE, list->place[i].place, list->place[i].place);
	tube_values(d, list, state);
out:
	free(list);
	free(state);
}

/* --- ohms ------------------------------------------------------------------------------------- */

static enum doc_role ohms_role(const struct ohms_check *check, enum ohms_verdict verdict)
{
	if (verdict == OHMS_PASS)
		return DOC_GOOD;
	if (verdict == OHMS_UNKNOWN)
		return DOC_OPEN;
	return ohms_blocks(check, verdict) ? DOC_DANGER : DOC_CAUTION;
}

void part_ohms(struct document *d, const struct report_data *r)
{
	struct ohms_list *list = malloc(sizeof *list);
	struct ohms_state *state = malloc(OHMS_CHECKS_MAX * sizeof *state);
	char reading[32], range[OHMS_RANGE_MAX], at[WHEN_MAX];

	document_section(d, 2, "ohms", "Ohms before volts");
	if (!list || !state) {
		d->failed = true;
		goto out;
	}
	ohms_list_make(list, r->network, r->profile);
	ohms_states(list, r->entries, r->n_entries, state);
	document_table(d, "ohms", "Read with a multimeter, unplugged, capacitors discharged");
	document_column(d, "between");
	document_column(d, "read");
	document_column(d, "should be");
	document_column(d, "verdict");
	document_column(d, "limit from");
	document_column(d, "when");
	for (int i = 0; i < list->n; i++) {
		const struct ohms_check *c = &list->check[i];

		document_cell(d, DOC_PLAIN, "%s", c->what);
		document_cell(d, DOC_PLAIN, "%s",
		              isnan(state[i].reading) ? ""
		                                      : ohms_say(c, state[i].reading, reading));
		document_cell(d, DOC_PLAIN, "%s", ohms_say_range(c, range));
		document_cell(d, ohms_role(c, state[i].verdict), "%s",
		              state[i].verdict == OHMS_UNKNOWN
		                      ? "not read"
		                      : ohms_verdict_word(state[i].verdict));
		document_cell(d, DOC_PLAIN, "%s", c->source);
		document_cell(d, DOC_PLAIN, "%s", entered(at, state[i].entry));
	}
	for (int i = 0; i < list->n; i++)
		if (state[i].verdict == OHMS_LOW || state[i].verdict == OHMS_HIGH)
			document_item(d, ohms_role(&list->check[i], state[i].verdict), "%s, %s: %s",
			              list->check[i].what, ohms_verdict_word(state[i].verdict),
			              ohms_finding(&list->check[i], state[i].verdict));
	for (int i = 0; i < list->n; i++)
		tell_earlier(d, r, ENTRY_OHMS, list->check[i].what, list->check[i].what);
	document_data_table(d, "ohms-values", "The same as plain numbers");
	document_column(d, "between");
	document_number_column(d, "read", UNIT_NONE, DOC_PREFIX, 4, "over range");
	document_number_column(d, "low", UNIT_NONE, DOC_PREFIX, 4, "none");
	document_number_column(d, "expected", UNIT_NONE, DOC_PREFIX, 4, "none");
	document_number_column(d, "high", UNIT_NONE, DOC_PREFIX, 4, "none");
	document_column(d, "unit");
	document_column(d, "verdict");
	for (int i = 0; i < list->n; i++) {
		document_cell(d, DOC_PLAIN, "%s", list->check[i].what);
		document_number(d, DOC_PLAIN, state[i].reading);
		document_number(d, DOC_PLAIN, list->check[i].low);
		document_number(d, DOC_PLAIN, list->check[i].expected);
		document_number(d, DOC_PLAIN, list->check[i].high);
		document_cell(d, DOC_PLAIN, list->check[i].kind == OHMS_BALANCE ? "ratio" : "ohm");
		document_cell(d, DOC_PLAIN, "%s", ohms_verdict_word(state[i].verdict));
	}
out:
	free(list);
	free(state);
}
