/* app/page/compare.c - this unit beside a known-good one, or an earlier record, on the same signal
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/page/before.h"
#include "mainstair/base/num.h"
#include "mainstair/base/text.h"
#include "mainstair/core/compare.h"

enum { TEXT_MAX = 64 };

static const struct typed_form forms[] = {
        {"output: 1.02 V +/- 2 %, 1.00 V +/- 1 %", "this unit's reading, then the other's"},
        {"dial: 1010 Hz +/- 5 Hz, 1000 Hz +/- 1 Hz",
         "uncertainties in the unit; without one: cannot "
         "tell"},
        {"…, the blue one", "behind a second comma: what the other is"},
        {"drop", "the row in hand does not count; or drop output"},
        {NULL, NULL},
};

struct comparing {
	struct compare_list list;
};

static void *open_page(const struct bench_desk *desk)
{
	(void)desk;
	return calloc(1, sizeof(struct comparing));
}

static enum role role_of(enum compare_verdict verdict)
{
	switch (verdict) {
	case COMPARE_AGREE:
		return ROLE_GOOD;
	case COMPARE_DIFFER:
		return ROLE_CAUTION;
	case COMPARE_CANNOT_TELL:
		break;
	}
	return ROLE_DIM;
}

static enum glyph mark_of(const struct compare_result *r)
{
	switch (r->verdict) {
	case COMPARE_AGREE:
		return GLYPH_GOOD;
	case COMPARE_DIFFER:
		return r->difference > 0 ? GLYPH_OVER : GLYPH_UNDER;
	case COMPARE_CANNOT_TELL:
		break;
	}
	return GLYPH_UNKNOWN;
}

static const char *print(double value, enum unit unit, int digits, char out[TEXT_MAX])
{
	if (isnan(value))
		return "-";
	(void)num_print_unit(out, TEXT_MAX, value, unit, digits);
	return out;
}

static void add_row(const struct compare_line *line, struct sheet *s)
{
	const struct compare_result *r = &line->result;
	struct sheet_row *row = sheet_row(s, role_of(r->verdict), mark_of(r));
	const double *number = line->entry->number;
	char name[TEXT_MAX], text[TEXT_MAX];
	const enum unit unit = compare_unit(line->entry->subject, name, sizeof name);

	if (!row)
		return;
	sheet_cell(row, 0, "%s", name);
	sheet_cell(row, 1, "%s", print(number[0], unit, 5, text));
	sheet_cell(row, 2, "%s", print(number[2], unit, 5, text));
	sheet_cell(row, 3, "%s",
	           print(r->difference, unit == UNIT_DBM ? UNIT_DECIBEL : unit, 3, text));
	sheet_cell(row, 4, "%s",
	           print(r->expanded, unit == UNIT_DBM ? UNIT_DECIBEL : unit, 2, text));
	sheet_cell(row, 5, "%s", print(r->en, UNIT_NONE, 2, text));
	sheet_cell(row, 6, "%s", compare_verdict_word(r->verdict));
}

static void say_line(const struct compare_line *line, struct sheet *s)
{
	const struct compare_result *r = &line->result;
	const double *number = line->entry->number;
	const enum unit unit = compare_unit(line->entry->subject, NULL, 0);
	const enum unit apart = unit == UNIT_DBM ? UNIT_DECIBEL : unit;
	char a[TEXT_MAX], b[TEXT_MAX];

	if (line->entry->note[0])
		sheet_detail(s, ROLE_PLAIN, "the other: %s", line->entry->note);
	sheet_detail(s, ROLE_PLAIN, "known to +/- %s here, +/- %s there",
	             print(number[1], apart, 2, a), print(number[3], apart, 2, b));
	if (!isnan(r->matters))
		sheet_detail(s, ROLE_PLAIN, "a difference of %s is taken to matter",
		             print(r->matters, apart, 2, a));
	if (r->why != COMPARE_PLAIN)
		sheet_detail(s, ROLE_CAUTION, "%s", compare_why_text(r->why));
}

static void fill(void *self, const struct bench_desk *desk, int *in_hand, struct sheet *s)
{
	struct comparing *c = self;
	const struct compare_list *list = &c->list;

	compare_list_make(&c->list, desk->profile, desk->entries, desk->n_entries);
	(void)snprintf(s->title, sizeof s->title, "comparison: %d agree, %d differ, %d cannot tell",
	               list->count[COMPARE_AGREE], list->count[COMPARE_DIFFER],
	               list->count[COMPARE_CANNOT_TELL]);
	sheet_column(s, "quantity", false, false);
	sheet_column(s, "this unit", true, false);
	sheet_column(s, "the other", true, false);
	sheet_column(s, "difference", true, true);
	sheet_column(s, "+/-", true, true);
	sheet_column(s, "of +/-", true, true);
	sheet_column(s, "", false, false);
	s->verdict_column = 6;
	(void)snprintf(s->instruction, sizeof s->instruction,
	               "the same signal into both: enter what each reads");
	(void)snprintf(s->how, sizeof s->how,
	               "output: 1.02 V +/- 2 %%, 1.00 V +/- 1 %%, the other's "
	               "name");
	(void)snprintf(
	        s->caution, sizeof s->caution,
	        "two units under power: never join the chassis of sets without a transformer");
	for (int i = 0; i < list->n; i++)
		add_row(&list->line[i], s);
	if (list->n == 0)
		return;
	before_hand(s, in_hand);
	say_line(&list->line[*in_hand], s);
	if (list->beyond > 0)
		sheet_detail(s, ROLE_CAUTION, "%d more are kept and not shown", list->beyond);
	sheet_detail(s, ROLE_DIM, "agree: the difference is at most 1 of its +/- (E_n of ISO/IEC "
	             "17043, ISO 13528; from memory)");
}

static enum page_answer enter(void *self, const struct bench_desk *desk, int in_hand,
                              const char *line, struct entry_draft *ret, char *echo)
{
	struct compare_list *list = &((struct comparing *)self)->list;
	enum page_answer answer;
	char drop[ENTRY_LINE_MAX];

	compare_list_make(list, desk->profile, desk->entries, desk->n_entries);
	if (text_same(line, "drop") && in_hand >= 0 && in_hand < list->n) {
		(void)snprintf(drop, sizeof drop, "drop %s", list->line[in_hand].entry->subject);
		line = drop;
	}
	entry_draft_init(ret, ENTRY_COMPARE);
	answer = before_answer(
	        compare_understand(desk->entries, desk->n_entries, line, ret, echo));
	return answer == PAGE_TAKEN ? PAGE_STAY : answer;
}

const struct page_ops page_compare = {
        .phase = JOB_COMPARE,
        .word = "compare",
        .forms = forms,
        .open = open_page,
        .close = free,
        .fill = fill,
        .enter = enter,
};
