/* app/page/tubes.c - tubes, place by place, as the tester or a supply and a voltmeter show them */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/page/before.h"
#include "mainstair/base/num.h"
#include "mainstair/core/tube_test.h"

static const struct typed_form forms[] = {
        {"good, weak, bad", "the tester's verdict; words behind it are kept as a note"},
        {"good 85 %", "with a figure: per cent of new, 1200 umho, 1200 of 1600 umho"},
        {"short heater-cathode", "what is shorted or leaks; blocks power"},
        {"strikes 118 holds 105", "a gas regulator's volts; or one of them; or: no strike"},
        {"good known one", "without a tester: after another of its type, known to be good, was put in"},
        {"override tubes-not-tested WHY",
         "without a tester, typed on the job's page: power is tried with tubes that nobody tested; "
         "the first stages then show an open heater, and hardly a short"},
        {"not tested", "take back what was entered here"},
        {NULL, NULL},
};

struct testing {
	struct tube_list list;
	struct tube_state state[PROFILE_TUBES_MAX];
	bool begun;
};

static void *open_page(const struct bench_desk *desk)
{
	(void)desk;
	return calloc(1, sizeof(struct testing));
}

static void look_at(struct testing *t, const struct bench_desk *desk)
{
	tube_list_make(&t->list, desk->profile, desk->tables);
	tube_states(&t->list, desk->entries, desk->n_entries, t->state);
}

/* --- the list ----------------------------------------------------------------------------- */

static enum role role_of(const struct tube_place *p, enum tube_result result)
{
	switch (result) {
	case TUBE_GOOD:
		return ROLE_GOOD;
	case TUBE_WEAK:
	case TUBE_BAD:
	case TUBE_SHORTED:
		return tube_blocks(p, result) ? ROLE_DANGER : ROLE_CAUTION;
	case TUBE_NOT_TESTED:
		break;
	}
	return ROLE_DIM;
}

static enum glyph mark_of(const struct tube_place *p, enum tube_result result)
{
	switch (result) {
	case TUBE_GOOD:
		return GLYPH_GOOD;
	case TUBE_WEAK:
	case TUBE_BAD:
	case TUBE_SHORTED:
		return tube_blocks(p, result) ? GLYPH_ABORT : GLYPH_UNDER;
	case TUBE_NOT_TESTED:
		break;
	}
	return GLYPH_UNKNOWN;
}

static void print_figure(const struct tube_state *s, char out[64])
{
	char a[24], b[24];

	out[0] = '\0';
	if (!isnan(s->strikes) || !isnan(s->holds)) {
		(void)num_print_unit(a, sizeof a, s->strikes, UNIT_VOLT, 3);
		(void)num_print_unit(b, sizeof b, s->holds, UNIT_VOLT, 3);
		(void)snprintf(out, 64, "%s / %s", isfinite(s->strikes) ? a : "-",
		               isfinite(s->holds) ? b : "-");
	} else if (!isnan(s->figure / s->of)) {
		/* a tester's needle at its stop, or a slip of the keys: no per cent to believe */
		if (fabs(s->figure / s->of) < 1e6) {
			(void)num_print(a, sizeof a, 100.0 * s->figure / s->of, 0);
			(void)snprintf(out, 64, "%s %%", a);
		} else {
			(void)snprintf(out, 64, "over-range");
		}
	} else if (isinf(s->figure)) {
		(void)snprintf(out, 64, "over-range");
	} else if (!isnan(s->figure)) {
		(void)num_print_unit(out, 64, s->figure, UNIT_NONE, 6);
	}
}

static const char *duty_of(const struct tube_place *p)
{
	static const char *const words[] = {
	        [TUBE_DUTY_STAGE] = "",
	        [TUBE_DUTY_RECTIFIER] = "rectifier",
	        [TUBE_DUTY_REGULATOR] = "regulator",
	        [TUBE_DUTY_PASS] = "pass tube",
	};

	return words[p->duty];
}

static void add_row(const struct testing *t, int i, struct sheet *s)
{
	const struct tube_place *p = &t->list.place[i];
	const struct tube_state *state = &t->state[i];
	struct sheet_row *row = sheet_row(s, role_of(p, state->result), mark_of(p, state->result));
	char figure[64];

	if (!row)
		return;
	print_figure(state, figure);
	sheet_cell(row, 0, "%s", p->place);
	sheet_cell(row, 1, "%s", p->type);
	sheet_cell(row, 2, "%s", duty_of(p));
	sheet_cell(row, 3, "%s", state->result == TUBE_NOT_TESTED ? "-" : tube_word(state->result));
	sheet_cell(row, 4, "%s", figure);
	sheet_cell(row, 5, "%s", state->entry ? state->entry->note : "");
}

static void begin(struct testing *t, int *in_hand)
{
	t->begun = true;
	for (int i = 0; i < t->list.n; i++)
		if (t->state[i].result == TUBE_NOT_TESTED) {
			*in_hand = i;
			return;
		}
}

/* --- the place in hand -------------------------------------------------------------------- */

static void say_range(const struct tube_place *p, struct sheet *s)
{
	char strike[24], low[24], high[24];

	(void)num_print_unit(strike, sizeof strike, p->strike_most, UNIT_VOLT, 3);
	(void)num_print_unit(low, sizeof low, p->hold_low, UNIT_VOLT, 3);
	(void)num_print_unit(high, sizeof high, p->hold_high, UNIT_VOLT, 3);
	sheet_detail(s, ROLE_PLAIN,
	             "expected: strikes at %s or less (later in the dark), holds between %s and %s",
	             strike, low, high);
	before_source(s, p->source, p->basis);
}

static void say_place(const struct testing *t, const struct bench_desk *desk, int i,
                      struct sheet *s)
{
	const struct tube_place *p = &t->list.place[i];
	const struct tube_state *state = &t->state[i];
	char how[SHEET_DETAIL_MAX];

	(void)snprintf(s->instruction, sizeof s->instruction, "test %s%s%s", p->place,
	               p->type[0] ? ": " : "", p->type);
	tube_how(p, how, sizeof how);
	sheet_detail(s, ROLE_PLAIN, "%s", how);
	if (!isnan(p->hold))
		say_range(p, s);
	else
		sheet_detail(s, ROLE_DIM,
		             "a figure under 66 %% of the book's is weak: makers passed new tubes "
		             "down to that (a dealer's published article, second hand)");
	if (p->rail >= 0)
		sheet_detail(s, ROLE_PLAIN, "%s of rail %s", duty_of(p),
		             desk->profile->rails[p->rail].name);
	if (state->result > TUBE_GOOD)
		sheet_detail(s, role_of(p, state->result), "%s: %s%s", tube_word(state->result),
		             tube_finding(p, state->result),
		             tube_blocks(p, state->result) ? "; power is blocked" : "");
	if (state->result > TUBE_GOOD && state->entry &&
	    strcmp(state->entry->word, tube_word(state->result)) != 0)
		sheet_detail(s, ROLE_CAUTION, "entered as %s; its volts say %s", state->entry->word,
		             tube_word(state->result));
	if (p->row && p->row->note[0])
		sheet_detail(s, ROLE_DIM, "tube table: %s", p->row->note);
}

static void fill(void *self, const struct bench_desk *desk, int *in_hand, struct sheet *s)
{
	struct testing *t = self;
	int tested = 0;

	look_at(t, desk);
	for (int i = 0; i < t->list.n; i++)
		tested += t->state[i].result != TUBE_NOT_TESTED;
	(void)snprintf(s->title, sizeof s->title, "tubes: %d of %d tested", tested, t->list.n);
	sheet_column(s, "place", false, false);
	sheet_column(s, "type", false, false);
	sheet_column(s, "duty", false, true);
	sheet_column(s, "result", false, false);
	sheet_column(s, "figure", true, false);
	sheet_column(s, "note", false, true);
	s->verdict_column = 3;
	for (int i = 0; i < t->list.n; i++)
		add_row(t, i, s);
	(void)snprintf(s->caution, sizeof s->caution,
	               "a tester's socket and a regulator's supply can kill; hot glass burns");
	(void)snprintf(s->how, sizeof s->how,
	               "good, weak, bad or short, with a figure if there is one");
	if (t->list.n == 0) {
		(void)snprintf(s->instruction, sizeof s->instruction, "the profile names no tubes");
		*in_hand = 0;
		return;
	}
	if (!t->begun)
		begin(t, in_hand);
	before_hand(s, in_hand);
	say_place(t, desk, *in_hand, s);
}

static enum page_answer enter(void *self, const struct bench_desk *desk, int in_hand,
                              const char *line, struct entry_draft *ret, char *echo)
{
	struct testing *t = self;
	enum page_answer answer;

	look_at(t, desk);
	if (in_hand < 0 || in_hand >= t->list.n) {
		(void)snprintf(echo, PAGE_ECHO_MAX, "no tube is in hand");
		return PAGE_WRONG;
	}
	answer = before_answer(tube_understand(&t->list.place[in_hand], line, ret, echo));
	/* what it means for the unit is read where it stands */
	if (answer == PAGE_TAKEN && (strcmp(ret->word, tube_word(TUBE_BAD)) == 0 ||
	                             strcmp(ret->word, tube_word(TUBE_SHORTED)) == 0))
		return PAGE_STAY;
	return answer;
}

const struct page_ops page_tubes = {
        .phase = JOB_TUBES,
        .word = "tubes",
        .forms = forms,
        .open = open_page,
        .close = free,
        .fill = fill,
        .enter = enter,
};
