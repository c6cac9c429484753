/*
 * core/null_hunt.h - chasing a null with two controls that interact, by a meter that reads lower
 *
 * Layer: core; pure.  A bridge or a notch is brought to its minimum by turning one control for the
 * least reading, then the other, and again.  From the entries (ENTRY_NULL) of one null: the best so
 * far, what each round has gained, whether it still falls, and how to get back.
 * Readings in dB are ratios: 20 dB are a tenth.  Of others the size counts, not the sign: a
 * galvanometer with its zero in the middle will do.
 */
#ifndef MAINSTAIR_CORE_NULL_HUNT_H
#define MAINSTAIR_CORE_NULL_HUNT_H

#include <stddef.h>

#include "mainstair/core/entry_line.h"
#include "mainstair/core/logbook.h"
#include "mainstair/core/profile.h"

enum {
	NULL_CONTROLS_MAX = 4,
	NULL_ROUNDS_MAX = 64, /* the newest are kept */
	NULL_TEXT_MAX = 320
};

enum null_state {
	NULL_TOO_FEW,   /* no round is complete yet */
	NULL_FALLING,   /* the last round lowered it by more than null_gain_least */
	NULL_SLOWING,   /* it did not; the one before did */
	NULL_WANDERING, /* the last two or more rounds did not */
	NULL_REACHED    /* at or below what the profile asks */
};

/* A share of the reading: what a round must gain to count (common practice, no source). */
extern const double null_gain_least; /* 0.05 */

struct null_control {
	char name[PROFILE_NAME_MAX];
	double best_position; /* where it stood at the best reading; NAN: not told, or not certain
	                       */
	double position;      /* where it stands now; NAN: not told */
	int turns_since_best; /* entries since the best that turned it */
};

/* One round: until a control comes up that was turned in it before another one.  The newest, not
 * ended by that, counts as complete once every control has been turned in it. */
struct null_round {
	double lowest;  /* least indication in it, base unit of the indication */
	double change;  /* ratio to the least of all rounds before it (or the first entry, for the
	                   first round); 0.5: halved; > 1: it rose.  NAN: nothing before */
	int last_entry; /* index among this null's entries */
};

struct null_hunt {
	char name[ENTRY_WORD_MAX];
	const struct profile_null *profile; /* borrowed; NULL: not in the profile */
	struct null_control control[NULL_CONTROLS_MAX];
	int n_controls;
	int entries;              /* readings of this null, all of them */
	double first, last, best; /* indications; NAN: none */
	int best_entry;           /* index among this null's entries, -1: none */
	double best_utc_s;
	struct null_round round[NULL_ROUNDS_MAX];
	int n_rounds;        /* complete ones that are kept */
	int rounds;          /* complete ones in all */
	int idle_rounds;     /* newest rounds in a row that gained nothing that counts */
	double rate;         /* mean ratio a round over the last three rounds that gained; NAN */
	double rounds_to_go; /* to the profile's figure at that rate; NAN: no figure, or no fall */
	int last_control;    /* turned last; -1: none yet */
	int gained_last;     /* control whose turn lowered the best last; -1 */
	enum null_state state;
	int foreign; /* entries with a control beyond NULL_CONTROLS_MAX: passed over */
};

/** The state of the null called `name` ("": of entries without one). */
void null_hunt_make(struct null_hunt *ret, const struct profile *profile, const char *name,
                    const struct entry *entries, size_t n);

/** Names of all nulls: the profile's, then others met in the entries; borrowed from either.
 *  Returns how many, at most `max`. */
int null_names(const struct profile *profile, const struct entry *entries, size_t n,
               const char **ret, int max);

const char *null_state_word(enum null_state state); /* "too few", "falling", "slowing", … */

/** What to say and do now, one sentence: "falling: the last round took it to 0.41 of what it was;
 *  about 3 rounds more to 2 mV".  Returns dst. */
const char *null_advice(const struct null_hunt *hunt, char *dst, size_t size);

/** How to get back to the best: "R5 to 41.5 (now 43), then C7 to 12"; "" when it stands there. */
const char *null_way_back(const struct null_hunt *hunt, char *dst, size_t size);

/** An indication in the null's unit as written. */
const char *null_print(const struct null_hunt *hunt, double indicated, char *dst, size_t size);

/** Understand (hunt as it stands) `R5 3.2 mV`, `R5 3.2`, `R5 41.5: 3.2 mV` or `R5 at 41.5 3.2` (its
 * position told), and `3.2` alone: the control that comes next in turn.  ret: initialised with
 * ENTRY_NULL.  echo: ENTRY_ECHO_MAX bytes. */
enum entry_line null_understand(const struct null_hunt *hunt, const char *line,
                                struct entry_draft *ret, char *echo);

#endif
