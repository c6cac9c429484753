/* After power: calibration as found and as left, nulls, comparison. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/calibrate.h"
#include "mainstair/core/compare.h"
#include "mainstair/core/null_hunt.h"
#include "report/parts.h"

enum { DIGITS = 4, NULLS_MAX = 32 };

/* --- calibration ------------------------------------------------------------------------------ */

static enum doc_role cal_role(enum cal_verdict verdict)
{
	switch (verdict) {
	case CAL_PASS:
		return DOC_GOOD;
	case CAL_CONDITIONAL_PASS:
	case CAL_CONDITIONAL_FAIL:
		return DOC_CAUTION;
	case CAL_FAIL:
		return DOC_DANGER;
	case CAL_UNKNOWN:
	case CAL_UNPROVED:
		break;
	}
	return DOC_OPEN;
}

/* What it indicated, and by how much that was off. */
static void reading_cells(struct document *d, const struct profile_point *point,
                          const struct cal_reading *reading)
{
	char text[FIGURE_TEXT_MAX];

	if (!reading->have) {
		document_cell(d, DOC_PLAIN, "%s", "");
		document_cell(d, DOC_PLAIN, "%s", "");
		return;
	}
	document_cell(d, DOC_PLAIN, "%s",
	              cal_print(text, sizeof text, point, reading->indicated, DIGITS));
	document_cell(d, DOC_PLAIN, "%s",
	              cal_print_error(text, sizeof text, point, reading->error, DIGITS));
}

static void add_point(struct document *d, const struct cal_point *c)
{
	const struct profile_point *p = c->point;
	const struct cal_reading *result = &c->result;
	char text[FIGURE_TEXT_MAX], low[FIGURE_TEXT_MAX], high[FIGURE_TEXT_MAX];

	document_cell(d, DOC_PLAIN, "%s", p->name);
	document_cell(d, DOC_PLAIN, "%s", p->function);
	document_cell(d, DOC_PLAIN, "%s", cal_print(text, sizeof text, p, p->applied, DIGITS));
	reading_cells(d, p, &c->found);
	if (c->adjustings > 1)
		document_cell(d, DOC_PLAIN, "%s, %d times", p->control[0] ? p->control : "yes",
		              c->adjustings);
	else if (c->adjustings == 1)
		document_cell(d, DOC_PLAIN, "%s", p->control[0] ? p->control : "yes");
	else
		document_cell(d, DOC_PLAIN, "no");
	reading_cells(d, p, &c->left);
	if (result->have)
		document_cell(d, DOC_PLAIN, "%s to %s",
		              cal_print(low, sizeof low, p, result->low, DIGITS),
		              cal_print(high, sizeof high, p, result->high, DIGITS));
	else
		document_cell(d, DOC_PLAIN, "%s", "");
	document_cell(d, DOC_PLAIN, "%s",
	              result->have && isfinite(result->expanded)
	                      ? with_unit(text, result->expanded, p->unit, 2)
	                      : "");
	document_number(d, DOC_PLAIN, result->have ? result->test_ratio : NAN);
	document_cell(d, cal_role(result->have ? result->verdict : CAL_UNKNOWN), "%s",
	              cal_verdict_word(result->have ? result->verdict : CAL_UNKNOWN));
}

void part_calibrate(struct document *d, const struct report_data *r)
{
	struct cal_sheet *sheet = malloc(sizeof *sheet);
	char warm[WHEN_MAX];

	document_section(d, 2, "calibration", "Calibration as found and as left");
	if (!sheet) {
		d->failed = true;
		return;
	}
	cal_sheet_make(sheet, r->profile, r->entries, r->n_entries);
	if (sheet->n == 0) {
		document_para(d, DOC_OPEN,
		              "The profile has no calibration sheet, so nothing was "
		              "calibrated by it.");
		free(sheet);
		return;
	}
	document_table(d, "calibration", "Calibration sheet");
	document_column(d, "point");
	document_column(d, "function");
	document_column(d, "applied");
	document_column(d, "as found");
	document_column(d, "error found");
	document_column(d, "adjusted");
	document_column(d, "as left");
	document_column(d, "error left");
	document_column(d, "within");
	document_column(d, "U (k = 2)");
	document_number_column(d, "TUR", UNIT_NONE, DOC_DECIMALS, 1, "");
	document_column(d, "result");
	for (int i = 0; i < sheet->n; i++)
		add_point(d, &sheet->point[i]);
	document_para(d, DOC_PLAIN, "Decision rule: %s", cal_rule_text(r->profile->guard_band));
	for (int v = CAL_UNPROVED; v <= CAL_FAIL; v++)
		if (sheet->count[v] > 0)
			document_item(d, cal_role((enum cal_verdict)v), "%s, %d of %d: %s",
			              cal_verdict_word((enum cal_verdict)v), sheet->count[v],
			              sheet->n, cal_verdict_meaning((enum cal_verdict)v));
	for (int i = 0; i < sheet->n; i++) {
		if (sheet->point[i].found_late)
			document_item(d, DOC_CAUTION,
			              "%s: what it was as found is not known, something was "
			              "adjusted before",
			              sheet->point[i].point->name);
		if (sheet->point[i].left_stale)
			document_item(d, DOC_CAUTION, "%s: adjusted since it was last read",
			              sheet->point[i].point->name);
	}
	if (sheet->cold > 0 && isfinite(sheet->warm_up_s))
		document_item(d, DOC_CAUTION,
		              "%d of %d results were read before %s at full line had "
		              "passed, or it is not known that they had",
		              sheet->cold, sheet->n, how_long(warm, sheet->warm_up_s));
	document_data_table(d, "calibration-values", "Results as plain numbers, in base units");
	document_column(d, "point");
	document_column(d, "unit");
	document_number_column(d, "applied", UNIT_NONE, DOC_PREFIX, DIGITS, "");
	document_number_column(d, "as found", UNIT_NONE, DOC_PREFIX, DIGITS, "");
	document_number_column(d, "as left", UNIT_NONE, DOC_PREFIX, DIGITS, "");
	document_number_column(d, "low", UNIT_NONE, DOC_PREFIX, DIGITS, "none");
	document_number_column(d, "high", UNIT_NONE, DOC_PREFIX, DIGITS, "none");
	document_number_column(d, "U", UNIT_NONE, DOC_PREFIX, DIGITS, "");
	document_number_column(d, "TUR", UNIT_NONE, DOC_PREFIX, DIGITS, "");
	document_column(d, "result");
	for (int i = 0; i < sheet->n; i++) {
		const struct cal_point *c = &sheet->point[i];
		const struct cal_reading *result = &c->result;

		document_cell(d, DOC_PLAIN, "%s", c->point->name);
		document_cell(d, DOC_PLAIN, "%s", unit_symbol(c->point->unit));
		document_number(d, DOC_PLAIN, c->point->applied);
		document_number(d, DOC_PLAIN, c->found.have ? c->found.indicated : NAN);
		document_number(d, DOC_PLAIN, c->left.have ? c->left.indicated : NAN);
		document_number(d, DOC_PLAIN, result->have ? result->low : NAN);
		document_number(d, DOC_PLAIN, result->have ? result->high : NAN);
		document_number(d, DOC_PLAIN, result->have ? result->expanded : NAN);
		document_number(d, DOC_PLAIN, result->have ? result->test_ratio : NAN);
		document_cell(d, DOC_PLAIN, "%s",
		              cal_verdict_word(result->have ? result->verdict : CAL_UNKNOWN));
	}
	free(sheet);
}

/* --- nulls ------------------------------------------------------------------------------------ */

static enum doc_role null_role(enum null_state state)
{
	return state == NULL_REACHED ? DOC_GOOD : state == NULL_TOO_FEW ? DOC_OPEN : DOC_CAUTION;
}

/* The indication over the entries, logarithmic but for dB. */
static void null_curve(struct document *d, const struct report_data *r, const struct null_hunt *h,
                       const char *name)
{
	const bool level = h->profile && unit_is_level(h->profile->unit);
	const double scale = h->profile && h->profile->scale > 0 ? h->profile->scale : 1;
	struct figure *f = document_figure(d);
	char text[FIGURE_TEXT_MAX];
	int k = 0;

	if (!f)
		return;
	(void)snprintf(f->title, sizeof f->title, "Null %s: the indication, turn by turn", name);
	(void)snprintf(f->desc, sizeof f->desc, "%d reading%s; the lowest is %s.", h->entries,
	               h->entries == 1 ? "" : "s",
	               null_print(h, h->best, text, sizeof text));
	(void)snprintf(f->x.title, sizeof f->x.title, "turn");
	(void)snprintf(f->y.title, sizeof f->y.title, "indication%s%.12s%s",
	               h->profile && h->profile->written[0] ? " (" : "",
	               h->profile ? h->profile->written : "",
	               h->profile && h->profile->written[0] ? ")" : "");
	(void)snprintf(f->mark_name[MARK_READING], sizeof f->mark_name[0], "reading");
	(void)snprintf(f->line_name[LINE_LIMIT], sizeof f->line_name[0], "what the profile asks");
	f->y.log = !level;
	figure_line(f, LINE_READINGS);
	for (size_t i = 0; i < r->n_entries; i++) {
		const struct entry *e = &r->entries[i];

		if (e->kind != ENTRY_NULL || strcmp(e->word, name) != 0)
			continue;
		k++;
		figure_point(f, k, e->number[0] / scale);
		figure_dot(f, k, e->number[0] / scale, MARK_READING);
	}
	if (h->profile && isfinite(h->profile->below))
		figure_level(f, h->profile->below / scale, "asked");
	d->failed |= f->failed;
}

void part_nulls(struct document *d, const struct report_data *r)
{
	const char *name[NULLS_MAX];
	struct null_hunt *hunt = malloc(NULLS_MAX * sizeof *hunt);
	char text[NULL_TEXT_MAX], best[FIGURE_TEXT_MAX], first[FIGURE_TEXT_MAX], at[WHEN_MAX];
	int n;

	if (!hunt) {
		d->failed = true;
		return;
	}
	n = null_names(r->profile, r->entries, r->n_entries, name, NULLS_MAX);
	if (n == 0) {
		free(hunt); /* most units have none: no section */
		return;
	}
	document_section(d, 2, "nulls", "Null adjustments");
	document_table(d, "nulls", "Nulls, chased with controls that interact");
	document_column(d, "null");
	document_number_column(d, "readings", UNIT_NONE, DOC_DECIMALS, 0, "");
	document_number_column(d, "rounds", UNIT_NONE, DOC_DECIMALS, 0, "");
	document_column(d, "at first");
	document_column(d, "lowest");
	document_column(d, "when");
	document_column(d, "state");
	document_column(d, "what then");
	for (int i = 0; i < n; i++) {
		struct null_hunt *h = &hunt[i];

		null_hunt_make(h, r->profile, name[i], r->entries, r->n_entries);
		document_cell(d, DOC_PLAIN, "%s", name[i][0] ? name[i] : "(unnamed)");
		document_number(d, DOC_PLAIN, h->entries);
		document_number(d, DOC_PLAIN, h->rounds);
		document_cell(d, DOC_PLAIN, "%s",
		              h->entries > 0 ? null_print(h, h->first, first, sizeof first) : "");
		document_cell(d, DOC_PLAIN, "%s",
		              h->best_entry >= 0 ? null_print(h, h->best, best, sizeof best) : "");
		document_cell(d, DOC_PLAIN, "%s",
		              h->best_entry >= 0 ? when(at, h->best_utc_s) : "");
		document_cell(d, null_role(h->state), "%s",
		              h->entries > 0 ? null_state_word(h->state) : "not done");
		document_cell(d, DOC_PLAIN, "%s",
		              h->entries > 0 ? null_advice(h, text, sizeof text) : "");
	}
	for (int i = 0; i < n; i++)
		if (hunt[i].entries > 1)
			null_curve(d, r, &hunt[i], name[i]);
	free(hunt);
}

/* --- comparison ------------------------------------------------------------------------------- */

static enum doc_role compare_role(enum compare_verdict verdict)
{
	return verdict == COMPARE_AGREE    ? DOC_GOOD
	       : verdict == COMPARE_DIFFER ? DOC_CAUTION
	                                   : DOC_OPEN;
}

/* The unit that ends a subject, "hum V"; *ret_len: of the subject without it. */
static enum unit unit_of(const char *subject, int *ret_len)
{
	const char *last = strrchr(subject, ' ');

	*ret_len = (int)strlen(subject);
	for (int unit = UNIT_VOLT; last && unit <= UNIT_DBM; unit++)
		if (strcmp(last + 1, unit_symbol((enum unit)unit)) == 0) {
			*ret_len = (int)(last - subject);
			return (enum unit)unit;
		}
	return UNIT_NONE;
}

static void compare_table(struct document *d, const struct compare_list *list)
{
	document_table(d, "comparison", "The same signal into this unit and into another");
	document_column(d, "quantity");
	document_column(d, "this unit");
	document_column(d, "U");
	document_column(d, "the other");
	document_column(d, "U of it");
	document_column(d, "difference");
	document_number_column(d, "E_n", UNIT_NONE, DOC_DECIMALS, 2, "");
	document_column(d, "verdict");
	document_column(d, "with");
	for (int i = 0; i < list->n; i++) {
		const struct entry *e = list->line[i].entry;
		const struct compare_result *c = &list->line[i].result;
		char text[FIGURE_TEXT_MAX];
		int length;
		const enum unit unit = unit_of(e->subject, &length);

		document_cell(d, DOC_PLAIN, "%.*s", length, e->subject);
		for (int k = 0; k < ENTRY_NUMBERS; k++)
			document_cell(d, DOC_PLAIN, "%s",
			              with_unit(text, e->number[k], unit, k % 2 == 0 ? 4 : 2));
		document_cell(d, DOC_PLAIN, "%s", with_unit(text, c->difference, unit, 3));
		document_number(d, DOC_PLAIN, c->en);
		document_cell(d, compare_role(c->verdict), "%s%s%s",
		              compare_verdict_word(c->verdict),
		              compare_why_text(c->why)[0] ? ": " : "", compare_why_text(c->why));
		document_cell(d, DOC_PLAIN, "%s", e->note);
	}
}

static void compare_values_table(struct document *d, const struct compare_list *list)
{
	static const char *const number[ENTRY_NUMBERS] = {"this unit", "U", "the other", "U of it"};

	document_data_table(d, "comparison-values", "The same as plain numbers, in base units");
	document_column(d, "quantity and unit");
	for (int k = 0; k < ENTRY_NUMBERS; k++)
		document_number_column(d, number[k], UNIT_NONE, DOC_PREFIX, 6, "");
	document_number_column(d, "difference", UNIT_NONE, DOC_PREFIX, 6, "");
	document_number_column(d, "E_n", UNIT_NONE, DOC_PREFIX, 6, "");
	document_column(d, "verdict");
	for (int i = 0; i < list->n; i++) {
		const struct compare_result *c = &list->line[i].result;

		document_cell(d, DOC_PLAIN, "%s", list->line[i].entry->subject);
		for (int k = 0; k < ENTRY_NUMBERS; k++)
			document_number(d, DOC_PLAIN, list->line[i].entry->number[k]);
		document_number(d, DOC_PLAIN, c->difference);
		document_number(d, DOC_PLAIN, c->en);
		document_cell(d, DOC_PLAIN, "%s", compare_verdict_word(c->verdict));
	}
}

void part_compare(struct document *d, const struct report_data *r)
{
	struct compare_list *list = malloc(sizeof *list);

	document_section(d, 2, "comparison", "Comparison");
	if (!list) {
		d->failed = true;
		return;
	}
	compare_list_make(list, r->profile, r->entries, r->n_entries);
	if (list->n == 0) {
		document_para(d, DOC_OPEN, "This unit was not compared with another one.");
		free(list);
		return;
	}
	compare_table(d, list);
	compare_values_table(d, list);
	document_para(d, DOC_PLAIN,
	              "U are expanded uncertainties (k = 2). E_n is the difference over "
	              "both of them combined; up to 1 they agree.");
	if (list->beyond > 0)
		document_para(d, DOC_CAUTION,
		              "%d more quantities are in the unit's file and not here.",
		              list->beyond);
	free(list);
}
