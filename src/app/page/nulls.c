/* app/page/nulls.c - null adjustments: a reading after each turn, and whether it still falls */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/page/before.h"
#include "mainstair/base/num.h"
#include "mainstair/base/text.h"
#include "mainstair/core/null_hunt.h"

enum { NULLS_MAX = 16, ROUNDS_SHOWN = 6, TEXT_MAX = 64 };

static const struct typed_form forms[] = {
        {"3.2", "what the meter reads after the next control in turn was turned"},
        {"R5 3.2 mV", "after that control was turned"},
        {"R5 41.5: 3.2", "the same, and where it stands now: for the way back"},
        {"null NAME", "begin a null that the profile does not name"},
        {NULL, NULL},
};

struct hunting {
	struct null_hunt hunt[NULLS_MAX];
	int n;
	char added[ENTRY_WORD_MAX]; /* by `null NAME`, no reading yet; "": none */
	bool hand_it;               /* bring the added one into hand */
};

static void *open_page(const struct bench_desk *desk)
{
	(void)desk;
	return calloc(1, sizeof(struct hunting));
}

static void look_at(struct hunting *h, const struct bench_desk *desk)
{
	const char *names[NULLS_MAX];
	bool there = !h->added[0];

	h->n = null_names(desk->profile, desk->entries, desk->n_entries, names, NULLS_MAX);
	for (int i = 0; i < h->n; i++) {
		null_hunt_make(&h->hunt[i], desk->profile, names[i], desk->entries,
		               desk->n_entries);
		there |= text_same(names[i], h->added);
	}
	if (!there && h->n < NULLS_MAX) {
		null_hunt_make(&h->hunt[h->n], desk->profile, h->added, desk->entries,
		               desk->n_entries);
		h->n++;
	}
}

/* --- the list ----------------------------------------------------------------------------- */

static enum role role_of(enum null_state state)
{
	switch (state) {
	case NULL_REACHED:
		return ROLE_GOOD;
	case NULL_FALLING:
		return ROLE_STRONG;
	case NULL_SLOWING:
	case NULL_WANDERING:
		return ROLE_CAUTION;
	case NULL_TOO_FEW:
		break;
	}
	return ROLE_DIM;
}

static enum glyph mark_of(enum null_state state)
{
	switch (state) {
	case NULL_REACHED:
		return GLYPH_GOOD;
	case NULL_FALLING:
		return GLYPH_SETTLING;
	case NULL_SLOWING:
	case NULL_WANDERING:
		return GLYPH_OVER;
	case NULL_TOO_FEW:
		break;
	}
	return GLYPH_UNKNOWN;
}

static void add_row(const struct null_hunt *hunt, struct sheet *s)
{
	struct sheet_row *row = sheet_row(s, role_of(hunt->state), mark_of(hunt->state));
	char text[TEXT_MAX];

	if (!row)
		return;
	sheet_cell(row, 0, "%s", hunt->name[0] ? hunt->name : "(no name)");
	sheet_cell(row, 1, "%d", hunt->entries);
	sheet_cell(row, 2, "%d", hunt->rounds);
	if (hunt->entries > 0) {
		sheet_cell(row, 3, "%s", null_print(hunt, hunt->first, text, sizeof text));
		sheet_cell(row, 4, "%s", null_print(hunt, hunt->last, text, sizeof text));
		sheet_cell(row, 5, "%s", null_print(hunt, hunt->best, text, sizeof text));
	}
	if (hunt->profile && !isnan(hunt->profile->below))
		sheet_cell(row, 6, "%s", null_print(hunt, hunt->profile->below, text, sizeof text));
	sheet_cell(row, 7, "%s", hunt->entries > 0 ? null_state_word(hunt->state) : "-");
}

/* --- the null in hand --------------------------------------------------------------------- */

static void say_rounds(const struct null_hunt *hunt, struct sheet *s)
{
	char lowest[TEXT_MAX], change[TEXT_MAX];

	/* the newest first: what does not fit is old */
	for (int i = hunt->n_rounds - 1; i >= 0 && i >= hunt->n_rounds - ROUNDS_SHOWN; i--) {
		const struct null_round *round = &hunt->round[i];
		const bool gained = round->change <= 1 - null_gain_least;

		(void)num_print_unit(change, sizeof change, round->change, UNIT_PERCENT, 2);
		sheet_detail(s, gained ? ROLE_PLAIN : ROLE_CAUTION,
		             "round %d: %s, %s of what was lowest "
		             "before%s",
		             hunt->rounds - hunt->n_rounds + i + 1,
		             null_print(hunt, round->lowest, lowest, sizeof lowest), change,
		             gained ? "" : ": nothing gained");
	}
}

static void say_way_back(const struct null_hunt *hunt, struct sheet *s)
{
	char way[SHEET_DETAIL_MAX / 2], best[TEXT_MAX];

	if (hunt->entries == 0)
		return;
	null_way_back(hunt, way, sizeof way);
	null_print(hunt, hunt->best, best, sizeof best);
	if (way[0])
		sheet_detail(s, ROLE_STRONG, "back to the lowest, %s: %s", best, way);
	else
		sheet_detail(s, ROLE_PLAIN, "it stands at the lowest reading, %s", best);
}

static void draw_hunt(const struct null_hunt *hunt, const struct bench_desk *desk, struct sheet *s)
{
	struct sheet_plot *plot = &s->plot;
	const struct profile_null *null = hunt->profile;
	const bool level = null && unit_is_level(null->unit);
	const double scale = null ? null->scale : 1;
	int turn = 0;

	if (hunt->entries < 2)
		return;
	s->has_plot = true;
	plot->log_y = !level;
	(void)snprintf(plot->x_title, sizeof plot->x_title, "turn");
	(void)snprintf(plot->y_title, sizeof plot->y_title, "%s",
	               null && null->written[0] ? null->written : "reads");
	for (size_t i = 0; i < desk->n_entries; i++) {
		const struct entry *e = &desk->entries[i];
		const double reads = level ? e->number[0] : fabs(e->number[0]) / scale;

		if (e->kind != ENTRY_NULL || !text_same(e->word, hunt->name) || !isfinite(reads))
			continue;
		turn++;
		/* of a long hunt the newest turns; nought has no place on a logarithmic axis */
		if (turn <= hunt->entries - SHEET_POINTS_MAX ||
		    plot->n_points == SHEET_POINTS_MAX || (!level && !(reads > 0)))
			continue;
		plot->point[plot->n_points].x = turn;
		plot->point[plot->n_points++].y = reads;
	}
	if (!null || isnan(null->below))
		return;
	plot->limit[0].y = null->below / scale;
	(void)snprintf(plot->limit[0].name, sizeof plot->limit[0].name, "asked");
	plot->n_limits = 1;
}

static void say_hunt(const struct null_hunt *hunt, const struct bench_desk *desk, struct sheet *s)
{
	char advice[SHEET_DETAIL_MAX], next[PROFILE_NAME_MAX] = "";

	null_advice(hunt, advice, sizeof advice);
	if (hunt->n_controls >= 2)
		(void)snprintf(next, sizeof next, "%s",
		               hunt->control[(hunt->last_control + 1) % hunt->n_controls].name);
	if (hunt->state == NULL_REACHED || hunt->state == NULL_WANDERING)
		(void)snprintf(s->instruction, sizeof s->instruction, "%.180s", advice);
	else
		(void)snprintf(s->instruction, sizeof s->instruction,
		               "%s: turn %s for the least reading, enter it", hunt->name,
		               next[0] ? next : "a control");
	if (hunt->state != NULL_REACHED && hunt->state != NULL_WANDERING)
		sheet_detail(s, role_of(hunt->state), "%s", advice);
	say_way_back(hunt, s);
	say_rounds(hunt, s);
	if (hunt->foreign > 0)
		sheet_detail(s, ROLE_CAUTION,
		             "%d readings after turning yet other controls are not "
		             "counted",
		             hunt->foreign);
	if (!hunt->profile)
		sheet_detail(s, ROLE_DIM, "not in the profile: plain numbers, all in one unit");
	draw_hunt(hunt, desk, s);
}

static void fill(void *self, const struct bench_desk *desk, int *in_hand, struct sheet *s)
{
	struct hunting *h = self;

	look_at(h, desk);
	(void)snprintf(s->title, sizeof s->title, "null adjustments");
	sheet_column(s, "null", false, false);
	sheet_column(s, "turns", true, true);
	sheet_column(s, "rounds", true, true);
	sheet_column(s, "first", true, true);
	sheet_column(s, "last", true, false);
	sheet_column(s, "lowest", true, false);
	sheet_column(s, "asked", true, true);
	sheet_column(s, "state", false, false);
	s->verdict_column = 7;
	(void)snprintf(s->caution, sizeof s->caution,
	               "under power, case open: one hand, insulated tools, nobody alone");
	(void)snprintf(s->how, sizeof s->how,
	               "R5 3.2; R5 41.5: 3.2 with its position; 3.2 alone: the next in turn");
	for (int i = 0; i < h->n; i++)
		add_row(&h->hunt[i], s);
	if (h->n == 0) {
		(void)snprintf(s->instruction, sizeof s->instruction,
		               "the profile names no nulls; begin one with `null NAME`");
		return;
	}
	if (h->hand_it)
		for (int i = 0; i < h->n; i++)
			if (text_same(h->hunt[i].name, h->added))
				*in_hand = i;
	h->hand_it = false;
	before_hand(s, in_hand);
	say_hunt(&h->hunt[*in_hand], desk, s);
}

/* "null NAME" */
static enum page_answer begin_null(struct hunting *h, const char *name, char *echo)
{
	name += strspn(name, " \t");
	if (!*name || strlen(name) >= sizeof h->added || !text_is_clean(name, strlen(name))) {
		(void)snprintf(echo, PAGE_ECHO_MAX, "a null's name has 1 to %d bytes: `null hum`",
		               ENTRY_WORD_MAX - 1);
		return PAGE_WRONG;
	}
	strcpy(h->added, name);
	h->hand_it = true;
	(void)snprintf(echo, PAGE_ECHO_MAX, "%s: name the control with the reading, R5 3.2", name);
	return PAGE_DONE_HERE;
}

static enum page_answer enter(void *self, const struct bench_desk *desk, int in_hand,
                              const char *line, struct entry_draft *ret, char *echo)
{
	struct hunting *h = self;
	const size_t word = strcspn(line, " \t");
	enum page_answer answer;

	if (word == 4 && strncmp(line, "null", 4) == 0)
		return begin_null(h, line + word, echo);
	look_at(h, desk);
	if (in_hand < 0 || in_hand >= h->n) {
		(void)snprintf(echo, PAGE_ECHO_MAX, "which null? begin one with `null NAME`");
		return PAGE_WRONG;
	}
	entry_draft_init(ret, ENTRY_NULL);
	answer = before_answer(null_understand(&h->hunt[in_hand], line, ret, echo));
	return answer == PAGE_TAKEN ? PAGE_STAY : answer;
}

const struct page_ops page_nulls = {
        .phase = JOB_CALIBRATE,
        .word = "nulls",
        .forms = forms,
        .open = open_page,
        .close = free,
        .fill = fill,
        .enter = enter,
};
