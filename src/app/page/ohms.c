/* app/page/ohms.c - what a multimeter should read, and what it reads, before power */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/page/before.h"
#include "mainstair/core/ohms_results.h"

static const struct typed_form forms[] = {
        {"21.4", "what the meter reads, in ohms; 2k2, 4M7, 22 ohm"},
        {"OL", "over-range, as the meter shows it; open does as well"},
        {">20M", "more than the meter's last range"},
        {"2k2; warm", "words behind a `;` are kept as a note"},
        {"not read", "take back what was entered here"},
        {"[rail NAME]", "in the profile: a rail is listed here, and asked for under power, only "
                        "when it has such a section there"},
        {NULL, NULL},
};

struct reading {
	struct ohms_list list;
	struct ohms_state state[OHMS_CHECKS_MAX];
	bool begun;
};

static void *open_page(const struct bench_desk *desk)
{
	(void)desk;
	return calloc(1, sizeof(struct reading));
}

static void look_at(struct reading *r, const struct bench_desk *desk)
{
	ohms_list_make(&r->list, desk->network, desk->profile);
	ohms_states(&r->list, desk->entries, desk->n_entries, r->state);
}

/* --- the list ----------------------------------------------------------------------------- */

static enum role role_of(const struct ohms_check *c, enum ohms_verdict verdict)
{
	switch (verdict) {
	case OHMS_PASS:
		return ROLE_GOOD;
	case OHMS_LOW:
	case OHMS_HIGH:
		return ohms_blocks(c, verdict) ? ROLE_DANGER : ROLE_CAUTION;
	case OHMS_UNKNOWN:
		break;
	}
	return ROLE_DIM;
}

static enum glyph mark_of(const struct ohms_check *c, enum ohms_verdict verdict)
{
	switch (verdict) {
	case OHMS_PASS:
		return GLYPH_GOOD;
	case OHMS_LOW:
		return ohms_blocks(c, verdict) ? GLYPH_ABORT : GLYPH_UNDER;
	case OHMS_HIGH:
		return ohms_blocks(c, verdict) ? GLYPH_ABORT : GLYPH_OVER;
	case OHMS_UNKNOWN:
		break;
	}
	return GLYPH_UNKNOWN;
}

static void add_row(const struct reading *r, int i, struct sheet *s)
{
	const struct ohms_check *c = &r->list.check[i];
	const struct ohms_state *state = &r->state[i];
	struct sheet_row *row =
	        sheet_row(s, role_of(c, state->verdict), mark_of(c, state->verdict));
	char range[OHMS_RANGE_MAX], said[32];

	if (!row)
		return;
	sheet_cell(row, 0, "%s", c->what);
	sheet_cell(row, 1, "%s", ohms_say_range(c, range));
	sheet_cell(row, 2, "%s", ohms_say(c, state->reading, said));
	sheet_cell(row, 3, "%s",
	           state->verdict == OHMS_UNKNOWN ? "-" : ohms_verdict_word(state->verdict));
}

static void begin(struct reading *r, int *in_hand)
{
	r->begun = true;
	for (int i = 0; i < r->list.n; i++)
		if (r->state[i].verdict == OHMS_UNKNOWN && r->list.check[i].kind != OHMS_BALANCE) {
			*in_hand = i;
			return;
		}
}

/* --- the check in hand -------------------------------------------------------------------- */

static void say_check(const struct reading *r, int i, struct sheet *s)
{
	const struct ohms_check *c = &r->list.check[i];
	const struct ohms_state *state = &r->state[i];
	const char *finding = ohms_finding(c, state->verdict);
	char range[OHMS_RANGE_MAX], expected[32];

	(void)snprintf(s->instruction, sizeof s->instruction, "read %s", c->what);
	sheet_detail(s, ROLE_PLAIN, "how: %s", c->how);
	if (isfinite(c->expected))
		sheet_detail(s, ROLE_PLAIN, "expected: %s, about %s", ohms_say_range(c, range),
		             ohms_say(c, c->expected, expected));
	else
		sheet_detail(s, ROLE_PLAIN, "expected: %s", ohms_say_range(c, range));
	if (*finding)
		sheet_detail(s, role_of(c, state->verdict), "%s: %s%s",
		             ohms_verdict_word(state->verdict), finding,
		             ohms_blocks(c, state->verdict) ? "; power is blocked" : "");
	sheet_detail(s, ROLE_PLAIN, "why: %s", c->why);
	if (ohms_is_of_model(c, state->reading))
		sheet_detail(s, ROLE_DIM, "this reading is in the load model, as measured");
	else if (c->measured_as[0])
		sheet_detail(s, ROLE_DIM,
		             "a reading that passes goes into the load model, as measured");
	if (state->entry && state->entry->note[0])
		sheet_detail(s, ROLE_PLAIN, "note: %s", state->entry->note);
	before_source(s, c->source, c->basis);
}

static void fill(void *self, const struct bench_desk *desk, int *in_hand, struct sheet *s)
{
	struct reading *r = self;

	look_at(r, desk);
	(void)snprintf(s->title, sizeof s->title, "ohms: %d of %d read",
	               desk->job->progress[JOB_OHMS].done, desk->job->progress[JOB_OHMS].of);
	sheet_column(s, "between", false, true);
	sheet_column(s, "expected", true, false);
	sheet_column(s, "read", true, false);
	sheet_column(s, "verdict", false, false);
	s->verdict_column = 3;
	for (int i = 0; i < r->list.n; i++)
		add_row(r, i, s);
	if (!r->begun)
		begin(r, in_hand);
	before_hand(s, in_hand);
	before_caution(desk, s);
	(void)snprintf(s->how, sizeof s->how, "what the meter reads: 21.4, 2k2, 4M7, or OL");
	say_check(r, *in_hand, s);
}

static enum page_answer enter(void *self, const struct bench_desk *desk, int in_hand,
                              const char *line, struct entry_draft *ret, char *echo)
{
	struct reading *r = self;
	enum page_answer answer;

	look_at(r, desk);
	if (in_hand < 0 || in_hand >= r->list.n) {
		(void)snprintf(echo, PAGE_ECHO_MAX, "no reading is in hand");
		return PAGE_WRONG;
	}
	answer = before_answer(ohms_understand(&r->list.check[in_hand], line, ret, echo));
	/* what it points to is read where it stands */
	if (answer == PAGE_TAKEN &&
	    *ohms_finding(&r->list.check[in_hand],
	                  ohms_judge(&r->list.check[in_hand], ret->entry.number[0])))
		return PAGE_STAY;
	return answer;
}

const struct page_ops page_ohms = {
        .phase = JOB_OHMS,
        .word = "ohms",
        .forms = forms,
        .open = open_page,
        .close = free,
        .fill = fill,
        .enter = enter,
};
