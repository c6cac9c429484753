/*
 * core/look.h - what is looked at with the case open and the plug out
 *
 * Layer: core; pure.  A check list drawn from a profile; what was found follows from the logbook's
 * entries alone.  A check's key names what is to be found there ("fuse 0.5 A slow"), so that a
 * profile that says something else asks anew.
 */
#ifndef MAINSTAIR_CORE_LOOK_H
#define MAINSTAIR_CORE_LOOK_H

#include <stdbool.h>

#include "mainstair/core/basis.h"
#include "mainstair/core/entry_line.h"
#include "mainstair/core/logbook.h"
#include "mainstair/core/profile.h"
#include "mainstair/core/tables.h"

enum look_kind {
	LOOK_PLAIN,
	LOOK_FUSE,       /* a typed rating is held against the profile's */
	LOOK_LINE,       /* so are typed volts */
	LOOK_COMPLEMENT, /* all tubes at once; speaks for places without entries of their own */
	LOOK_TUBE        /* one place of it */
};

enum { LOOK_CHECKS_MAX = PROFILE_TUBES_MAX + 24, LOOK_WHAT_MAX = 64, LOOK_TEXT_MAX = 240 };

struct look_check {
	enum look_kind kind;
	int index;                   /* LOOK_TUBE: of profile->tubes; else -1 */
	char key[ENTRY_SUBJECT_MAX]; /* subject of its entries; stable over runs */
	const char *block;           /* what its finding is overridden by; "": the key */
	char what[LOOK_WHAT_MAX];    /* "the fuse: 0.5 A slow" */
	char look[LOOK_TEXT_MAX];    /* what to look for */
	const char *why;             /* what a finding points to, or what it would do */
	const char *source;          /* of the rule behind it */
	enum basis basis;
	bool must;                   /* no power before it was looked at */
	bool blocks;                 /* no power while a finding stands */
	bool may_lack;               /* that there is none is no finding */
};

/* Two-hundred-byte texts for every tube: some 60 KiB. */
struct look_list {
	struct look_check check[LOOK_CHECKS_MAX];
	int n;
};

enum look_result { LOOK_NOT_LOOKED, LOOK_OK, LOOK_FINDING, LOOK_MENDED };

struct look_state {
	enum look_result result;
	bool by_complement;        /* a place that only the check of all tubes speaks for */
	const struct entry *entry; /* the newest about it, or NULL; borrowed */
};

/** The check list of a profile, in the order in which it is best gone through. */
void look_list_make(struct look_list *list, const struct profile *profile);

/** What was found, one for each check of the list.  An entry with a word that look_word() does not
 *  write counts as not looked. */
void look_states(const struct look_list *list, const struct entry *entries, size_t n,
                 struct look_state ret[LOOK_CHECKS_MAX]);

/** How many checks there are and how many were looked at; a complement and its places are one. */
int look_of(const struct look_list *list);
int look_done(const struct look_list *list, const struct look_state *states);

/** Whether power must wait for this check as it stands.  Places wait with their complement unless a
 *  finding of their own stands. */
bool look_blocks(const struct look_check *check, enum look_result result);

const char *look_word(enum look_result result); /* "not-looked", "ok", "finding", "mended" */

/** What a chassis like the profile's asks for, in one sentence; "" for an earthed one. */
const char *look_chassis_warning(const struct profile *profile);

/** Understand a line typed at check i of the list: `ok`, `finding burnt resistor near V3`, `mended
 *  new cord`, `missing`, `none` (the unit has no such part), `not looked`; at the fuse also what is
 *  stamped on it (`0.5 A slow`), at a tube's place the type that sits there; at the complement a
 *  line that begins with a place is one for that place (`V5 missing`, `V5 12AU7`).  states: of the
 *  whole list.  echo: ENTRY_ECHO_MAX bytes.  *ret is set up for all but ENTRY_LINE_WRONG. */
enum entry_line look_understand(const struct look_list *list, const struct look_state *states,
                                int i, const struct profile *profile,
                                const struct tables *tables, const char *line,
                                struct entry_draft *ret, char *echo);

#endif
