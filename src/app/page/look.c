/* app/page/look.c - the check list, with the case open and the plug out */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/page/before.h"
#include "mainstair/core/look.h"

static const struct typed_form forms[] = {
        {"ok", "as it should be; words behind it are kept as a note"},
        {"finding burnt resistor near V3", "not as it should be; most findings block power"},
        {"mended new cord", "what was found is mended, and how"},
        {"none", "the unit has no such part; asked about where it must have one"},
        {"0.5 A slow", "at the fuse: what is stamped on it"},
        {"117 V", "at the line setting: what it is set to"},
        {"12AU7", "at a tube's place: the type that sits there"},
        {"V5 missing", "at all tubes together: of one place"},
        {"not looked", "take back what was entered here"},
        {NULL, NULL},
};

struct looking {
	struct look_list list;
	struct look_state state[LOOK_CHECKS_MAX];
	int check[SHEET_ROWS_MAX]; /* of each row */
	int n_rows;
	bool begun; /* a row was taken in hand */
};

static void *open_page(const struct bench_desk *desk)
{
	(void)desk;
	return calloc(1, sizeof(struct looking));
}

static void look_at(struct looking *l, const struct bench_desk *desk)
{
	look_list_make(&l->list, desk->profile);
	look_states(&l->list, desk->entries, desk->n_entries, l->state);
}

/* The places lie under their complement as long as that is not settled, or one has its own entry.
 */
static bool shown(const struct looking *l, int i)
{
	return l->list.check[i].kind != LOOK_TUBE || !l->state[i].by_complement;
}

/* --- the list ----------------------------------------------------------------------------- */

static enum role role_of(const struct look_check *c, enum look_result result)
{
	switch (result) {
	case LOOK_OK:
	case LOOK_MENDED:
		return ROLE_GOOD;
	case LOOK_FINDING:
		return c->blocks ? ROLE_DANGER : ROLE_CAUTION;
	case LOOK_NOT_LOOKED:
		break;
	}
	return ROLE_DIM;
}

static enum glyph mark_of(const struct look_check *c, enum look_result result)
{
	switch (result) {
	case LOOK_OK:
	case LOOK_MENDED:
		return GLYPH_GOOD;
	case LOOK_FINDING:
		return c->blocks ? GLYPH_ABORT : GLYPH_OVER;
	case LOOK_NOT_LOOKED:
		break;
	}
	return GLYPH_UNKNOWN;
}

static const char *said_of(const struct looking *l, int i)
{
	static const char *const words[] = {
	        [LOOK_NOT_LOOKED] = "-",
	        [LOOK_OK] = "ok",
	        [LOOK_FINDING] = "finding",
	        [LOOK_MENDED] = "mended",
	};

	return words[l->state[i].result];
}

static void add_row(struct looking *l, int i, struct sheet *s)
{
	const struct look_check *c = &l->list.check[i];
	const struct look_state *state = &l->state[i];
	struct sheet_row *row = sheet_row(s, role_of(c, state->result), mark_of(c, state->result));

	if (!row)
		return;
	l->check[l->n_rows++] = i;
	sheet_cell(row, 0, "%s%s", c->kind == LOOK_TUBE ? "  " : "", c->what);
	sheet_cell(row, 1, "%s", said_of(l, i));
	sheet_cell(row, 2, "%s", state->entry ? state->entry->note : "");
}

/* The row to begin with: the first that was not looked at. */
static void begin(struct looking *l, int *in_hand)
{
	l->begun = true;
	for (int r = 0; r < l->n_rows; r++)
		if (l->state[l->check[r]].result == LOOK_NOT_LOOKED) {
			*in_hand = r;
			return;
		}
}

/* The complement's may be that of a place. */
static bool own_finding(const struct look_state *state)
{
	return state->entry && strcmp(state->entry->word, look_word(LOOK_FINDING)) == 0;
}

static void say_check(const struct looking *l, int i, struct sheet *s)
{
	const struct look_check *c = &l->list.check[i];
	const struct look_state *state = &l->state[i];

	(void)snprintf(s->instruction, sizeof s->instruction, "look at %s", c->what);
	sheet_detail(s, ROLE_PLAIN, "%s", c->look);
	sheet_detail(s, ROLE_PLAIN, "why: %s", c->why);
	if (state->result == LOOK_FINDING)
		sheet_detail(s, role_of(c, LOOK_FINDING), "finding: %s; %s",
		             own_finding(state) ? state->entry->note : "see its places below",
		             c->blocks ? "power is blocked until it is mended, or overridden with "
		                         "a reason"
		                       : "power is not blocked by it");
	else if (state->entry && state->entry->note[0])
		sheet_detail(s, ROLE_PLAIN, "%s: %s", said_of(l, i), state->entry->note);
	if (state->by_complement)
		sheet_detail(s, ROLE_DIM, "as all tubes together");
	if (!c->must)
		sheet_detail(s, ROLE_DIM, "not asked for before power");
	before_source(s, c->source, c->basis);
}

static void fill(void *self, const struct bench_desk *desk, int *in_hand, struct sheet *s)
{
	struct looking *l = self;

	look_at(l, desk);
	(void)snprintf(s->title, sizeof s->title, "look: %d of %d", look_done(&l->list, l->state),
	               look_of(&l->list));
	sheet_column(s, "check", false, false);
	sheet_column(s, "result", false, false);
	sheet_column(s, "note", false, true);
	s->verdict_column = 1;
	l->n_rows = 0;
	for (int i = 0; i < l->list.n; i++)
		if (shown(l, i))
			add_row(l, i, s);
	if (!l->begun)
		begin(l, in_hand);
	before_hand(s, in_hand);
	before_caution(desk, s);
	(void)snprintf(s->how, sizeof s->how,
	               "ok; or: finding what and where; or: mended what was done");
	say_check(l, l->check[*in_hand], s);
}

static enum page_answer enter(void *self, const struct bench_desk *desk, int in_hand,
                              const char *line, struct entry_draft *ret, char *echo)
{
	struct looking *l = self;
	enum page_answer answer;
	int i;

	if (in_hand < 0 || in_hand >= l->n_rows) {
		(void)snprintf(echo, PAGE_ECHO_MAX, "no check is in hand");
		return PAGE_WRONG;
	}
	i = l->check[in_hand];
	look_at(l, desk);
	answer = before_answer(look_understand(&l->list, l->state, i, desk->profile, desk->tables,
	                                       line, ret, echo));
	/* a line for one place leaves the complement in hand */
	if (answer == PAGE_TAKEN && strcmp(ret->subject, l->list.check[i].key) != 0)
		return PAGE_STAY;
	return answer;
}

const struct page_ops page_look = {
        .phase = JOB_LOOK,
        .word = "look",
        .forms = forms,
        .open = open_page,
        .close = free,
        .fill = fill,
        .enter = enter,
};
