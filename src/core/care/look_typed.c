/* core/care/look_typed.c - a line typed at a check of the look, understood */
#include "mainstair/core/look.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/care/fuse_mark.h"
#include "core/care/typed_line.h"
#include "mainstair/base/text.h"

static const char *const ok_words[] = {"ok", "good", "fine", "yes", NULL};
static const char *const finding_words[] = {"finding", "found", "bad", NULL};
static const char *const mended_words[] = {"mended", "fixed", "repaired", "replaced", NULL};
static const char *const missing_words[] = {"missing", "empty", NULL};
static const char *const none_words[] = {"none", "n/a", "has none", NULL};
static const char *const withdraw_words[] = {"not looked", "not-looked", "undo", NULL};
/* After `ok` these are hardly meant. */
static const char *const doubtful[] = {"but",     "except", "not",     "burnt", "cracked",
                                       "missing", "broken", "leaking", NULL};

static void make(const struct look_check *check, enum look_result result, const char *note,
                 struct entry_draft *ret)
{
	entry_draft_init(ret, ENTRY_LOOK);
	typed_put(ret->subject, sizeof ret->subject, check->key);
	typed_put(ret->word, sizeof ret->word, look_word(result));
	typed_put(ret->note, sizeof ret->note, note);
}

static enum entry_line take(const struct look_check *check, enum look_result result,
                            const char *note, struct entry_draft *ret, char *echo)
{
	make(check, result, note, ret);
	return typed_say(echo, ENTRY_LINE_TAKEN, "%s: %s%s%s", check->what, look_word(result),
	                 *note ? ": " : "", note);
}

static bool says(const char *note, const char *const *words)
{
	for (; *note; note += strcspn(note, " \t")) {
		note += strspn(note, " \t");
		if (typed_after(note, words))
			return true;
	}
	return false;
}

static enum entry_line understand_ok(const struct look_check *check, const struct look_state *state,
                                     const char *note, struct entry_draft *ret, char *echo)
{
	make(check, LOOK_OK, note, ret);
	if (state->result == LOOK_FINDING && check->kind == LOOK_COMPLEMENT &&
	    !(state->entry && strcmp(state->entry->word, look_word(LOOK_FINDING)) == 0))
		return typed_say(echo, ENTRY_LINE_ASK,
		                 "ok? One place has a finding of its own, which stands until that "
		                 "place is ok or mended");
	if (state->result == LOOK_FINDING)
		return typed_say(echo, ENTRY_LINE_ASK,
		                 "ok? A finding stands: %s; if it was mended, `mended` and what "
		                 "was done",
		                 state->entry ? state->entry->note : "");
	if (says(note, doubtful))
		return typed_say(echo, ENTRY_LINE_ASK,
		                 "ok, and `%s`? What is not as it should be is a `finding`", note);
	return take(check, LOOK_OK, note, ret, echo);
}

/* --- the fuse ----------------------------------------------------------------------------- */

/* More than any fuse of such a unit: milliamps were meant. */
static const double most_amps = 32.0;

static enum entry_line understand_fuse(const struct look_check *check, const struct profile *p,
                                       const struct fuse_mark *mark, const char *line,
                                       struct entry_draft *ret, char *echo)
{
	static const char *const names[] = {
	        [FUSE_UNSPECIFIED] = "",
	        [FUSE_FAST] = " fast",
	        [FUSE_SLOW] = " slow",
	};
	const double amps = mark->amps;
	char want[32], note[ENTRY_NOTE_MAX];

	if (mark->bare && amps >= most_amps) {
		make(check, LOOK_FINDING, line, ret);
		return typed_say(echo, ENTRY_LINE_ASK, "%.4g A? If milliamps are meant: %.4g mA",
		                 amps, amps);
	}
	if (!p->fuse_amps.given)
		return take(check, LOOK_OK, line, ret, echo);
	(void)typed_number(want, p->fuse_amps.value, UNIT_AMPERE);
	if (fabs(amps - p->fuse_amps.value) <= 0.01 * p->fuse_amps.value) {
		if (mark->speed == p->fuse_speed || p->fuse_speed == FUSE_UNSPECIFIED)
			return take(check, LOOK_OK, line, ret, echo);
		if (mark->speed == FUSE_UNSPECIFIED) {
			make(check, LOOK_OK, line, ret);
			return typed_say(echo, ENTRY_LINE_ASK, "%s, and%s as the profile says?",
			                 want, names[p->fuse_speed]);
		}
	}
	(void)snprintf(note, sizeof note, "%.200s fitted, the profile says %s%s", line, want,
	               names[p->fuse_speed]);
	return take(check, LOOK_FINDING, note, ret, echo);
}

/* --- the line setting --------------------------------------------------------------------- */

/* Volts at the line setting: 117 is what it is set to. */
static bool is_line_volts(const struct look_check *check, const char *line, double *ret)
{
	struct err err = {0};
	struct quantity q;

	if (check->kind != LOOK_LINE || num_parse(line, UNIT_VOLT, &q, &err) != 0 ||
	    !(q.value > 0.0))
		return false;
	*ret = q.value;
	return true;
}

static enum entry_line understand_line_volts(const struct look_check *check,
                                             const struct profile *p, double volts,
                                             struct entry_draft *ret, char *echo)
{
	char set[32], want[32], note[ENTRY_NOTE_MAX];

	(void)typed_number(set, volts, UNIT_VOLT);
	(void)typed_number(want, p->line_volts.value, UNIT_VOLT);
	if (fabs(volts - p->line_volts.value) <= 0.005 * p->line_volts.value) {
		(void)snprintf(note, sizeof note, "set to %s", set);
		return take(check, LOOK_OK, note, ret, echo);
	}
	(void)snprintf(note, sizeof note, "set to %s, the profile says %s", set, want);
	return take(check, LOOK_FINDING, note, ret, echo);
}

/* --- a tube's place ----------------------------------------------------------------------- */

static bool looks_like_a_type(const char *line)
{
	const size_t n = strlen(line);

	return n > 0 && n < PROFILE_NAME_MAX && !strpbrk(line, " \t") &&
	       strpbrk(line, "0123456789");
}

static enum entry_line understand_type(const struct look_check *check, const struct profile *p,
                                       const struct tables *tables, const char *line,
                                       struct entry_draft *ret, char *echo)
{
	const char *type = p->tubes[check->index].type;
	const struct tube_type *there = tables_tube(tables, line);
	char note[ENTRY_NOTE_MAX];

	if (text_same(line, type))
		return take(check, LOOK_OK, line, ret, echo);
	if (there && there == tables_tube(tables, type)) {
		(void)snprintf(note, sizeof note, "%s, the same as %s", line, type);
		return take(check, LOOK_OK, note, ret, echo);
	}
	if (!type[0]) {
		make(check, LOOK_OK, line, ret);
		return typed_say(echo, ENTRY_LINE_ASK,
		                 "%s at %s? The profile names no type to hold it against", line,
		                 p->tubes[check->index].place);
	}
	(void)snprintf(note, sizeof note, "%s in place of %s", line, type);
	if (there)
		return take(check, LOOK_FINDING, note, ret, echo);
	make(check, LOOK_FINDING, note, ret);
	return typed_say(echo, ENTRY_LINE_ASK, "%s? The tables have no such type; a finding: %s",
	                 line, note);
}

/* --- all lines ---------------------------------------------------------------------------- */

static enum entry_line understand_other(const struct look_check *check, const struct profile *p,
                                        const struct tables *tables, const char *line,
                                        struct entry_draft *ret, char *echo)
{
	struct err err = {0};
	struct fuse_mark mark;
	double volts;

	if (check->kind == LOOK_FUSE) {
		const int got = fuse_mark_read(line, &mark, &err);

		if (got > 0)
			return understand_fuse(check, p, &mark, line, ret, echo);
		if (got < 0)
			return typed_say(echo, ENTRY_LINE_WRONG, "%s", err.text);
	}
	if (is_line_volts(check, line, &volts))
		return understand_line_volts(check, p, volts, ret, echo);
	if (check->kind == LOOK_TUBE && looks_like_a_type(line))
		return understand_type(check, p, tables, line, ret, echo);
	make(check, LOOK_FINDING, line, ret);
	return typed_say(echo, ENTRY_LINE_ASK,
	                 "a finding at %s: %s? (lines begin with ok, finding or mended)",
	                 check->what, line);
}

static enum entry_line understand_here(const struct look_check *check,
                                       const struct look_state *state,
                                       const struct profile *profile, const struct tables *tables,
                                       const char *text, struct entry_draft *ret, char *echo)
{
	const char *rest;

	if (!*text)
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "type ok, or finding and what it is, or mended and what was done");
	rest = typed_after(text, withdraw_words);
	if (rest)
		return take(check, LOOK_NOT_LOOKED, rest, ret, echo);
	rest = typed_after(text, ok_words);
	if (rest)
		return understand_ok(check, state, rest, ret, echo);
	rest = typed_after(text, none_words);
	if (rest && check->may_lack)
		return understand_ok(check, state, text, ret, echo);
	if (rest) {
		make(check, LOOK_FINDING, text, ret);
		return typed_say(echo, ENTRY_LINE_ASK,
		                 "none? Without %s it is a finding%s; or `ok` and what there is",
		                 check->what,
		                 check->blocks ? ", and no power while that stands" : "");
	}
	rest = typed_after(text, finding_words);
	if (rest && !*rest)
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "a finding: what, and where? As: finding burnt resistor near V3");
	if (rest)
		return take(check, LOOK_FINDING, rest, ret, echo);
	rest = typed_after(text, missing_words);
	if (rest)
		return take(check, LOOK_FINDING, text, ret, echo);
	rest = typed_after(text, mended_words);
	if (rest && !*rest)
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "mended: what was done? As: mended new cord");
	if (rest)
		return take(check, LOOK_MENDED, rest, ret, echo);
	return understand_other(check, profile, tables, text, ret, echo);
}

/* The check of the place that the line begins with, *rest what follows; -1: with none. */
static int place_named(const struct look_list *list, const struct profile *profile,
                       const char *line, const char **rest)
{
	for (int i = 0; i < list->n; i++) {
		const char *word[2] = {NULL, NULL};

		if (list->check[i].kind != LOOK_TUBE)
			continue;
		word[0] = profile->tubes[list->check[i].index].place;
		*rest = typed_after(line, word);
		if (*rest)
			return i;
	}
	return -1;
}

enum entry_line look_understand(const struct look_list *list, const struct look_state *states,
                                int i, const struct profile *profile, const struct tables *tables,
                                const char *line, struct entry_draft *ret, char *echo)
{
	char copy[ENTRY_LINE_MAX];
	const char *text = copy, *rest;

	if (!typed_copy(copy, line))
		return typed_say(echo, ENTRY_LINE_WRONG, "too long: say it shorter");
	if (list->check[i].kind == LOOK_COMPLEMENT) {
		const int place = place_named(list, profile, copy, &rest);

		if (place >= 0) {
			i = place;
			text = rest;
		}
	}
	return understand_here(&list->check[i], &states[i], profile, tables, text, ret, echo);
}
