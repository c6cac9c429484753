/*
 * core/logbook.h - what happened to one unit, from the first look to the report, as entries
 *
 * Layer: core; pure.  The logbook is a unit's own file: a list of entries over days and several
 * runs of the program, only ever added to.  A later entry about the same subject stands for the
 * earlier one, which stays readable.  The state of every phase of the job is a function of the
 * entries in their order (core/job.h and the phases' own headers); nothing else is remembered.
 * proto/logbook_text.h writes them, io/logbook_file.h keeps them.
 */
#ifndef MAINSTAIR_CORE_LOGBOOK_H
#define MAINSTAIR_CORE_LOGBOOK_H

#include <stddef.h>

/* What subject, word and numbers mean for each; n1..n4 are number[0..3]. */
enum entry_kind {
	ENTRY_PROFILE,     /* the profile from here on: subject its file's name, word its CRC-32,
	                      note its whole text */
	ENTRY_CAUTIONS,    /* the cautions were acknowledged */
	ENTRY_LOOK,        /* subject: key of the check; word: look_word() */
	ENTRY_TUBE,        /* subject: place; word: tube_word(); n1: figure in n2's per cent of new
	                      or as the tester shows it (note says which); n3: strikes at, V; n4:
	                      holds, V */
	ENTRY_OHMS,        /* subject: ohms_check.what; n1: ohm (INFINITY: over-range) or ratio */
	ENTRY_CAP_SET,     /* subject: section; word: rule; n1: supply V, n2: series ohm, n3: its
	                      watts, n4: the owner's own limit, A; core/desk.h for these three */
	ENTRY_CAP_READING, /* subject: section; n1: V across it, n2: A through it, n3: its last
	                      digit */
	ENTRY_CAP_EVENT,   /* subject: section; word: "volts", "off", "discharged", "out" (replaced
	                      by a new one), "accepted" (note: why), "form", "metered"; n1: V */
	ENTRY_POWER,       /* a power-up ended; subject: the record's path; word:
	                      "full-line", "abort", "stop" or "left", what came last; n1: highest
	                      line volts; n2: seconds at the last stage */
	ENTRY_CAL,         /* subject: point; word: "as-found", "adjusted", "as-left"; n1:
	                      indicated, n2: applied, when not as the sheet says; of several
	                      readings n1 is the mean, n3 its standard uncertainty, n4 how many */
	ENTRY_NULL,        /* subject: control last turned; word: name of the null; n1: indicated;
	                      n2: position of the control, when told */
	ENTRY_COMPARE,     /* subject: quantity and unit; word: "", or "dropped" (what there is of
	                      it does not count); n1: this unit, n2: its expanded uncertainty, n3:
	                      the other, n4: its; note: what the other is */
	ENTRY_OVERRIDE,    /* subject: key of the block that is overridden; note: the reason */
	ENTRY_STOP,        /* the stop key, outside a power-up; note: where in the program */
	ENTRY_NOTE,        /* the restorer's own words; subject: the phase, or "" */
	ENTRY_DROPPED,     /* a typed line that was not understood or not believed; note: the
	                      line */
	ENTRY_MENDED,      /* what a power-up's abort or stop was found to be, and what was done;
	                      all power-ups before it; subject: key of the block; note: the words */
	ENTRY_MEASURED,    /* a number measured on the unit, typed at a power-up: note: its words,
	                      as network_measure() takes them */
	ENTRY_KINDS        /* how many */
};

enum {
	ENTRY_SUBJECT_MAX = 128, /* bytes with the closing 0; the same for a word and a note */
	ENTRY_PATH_MAX = 4096,   /* of ENTRY_POWER's subject: a path that is cut leads nowhere */
	ENTRY_WORD_MAX = 32,
	ENTRY_NOTE_MAX = 512,    /* except for a profile */
	ENTRY_NUMBERS = 4
};

/* Texts are borrowed: from the logbook that was read, or from whoever makes the entry. */
struct entry {
	double utc_s;        /* seconds since 1970; the clock may have been set back in between */
	enum entry_kind kind;
	const char *subject, *word, *note; /* never NULL */
	double number[ENTRY_NUMBERS];      /* NAN: not told */
};

/* An entry with room for its own texts, to be made from a typed line. */
struct entry_draft {
	struct entry entry; /* points into the arrays below: entry_draft_init() */
	char subject[ENTRY_SUBJECT_MAX], word[ENTRY_WORD_MAX], note[ENTRY_NOTE_MAX];
};

/** An empty draft: its own texts, no numbers, utc_s 0.  Not to be copied by assignment. */
void entry_draft_init(struct entry_draft *d, enum entry_kind kind);

/** "look", "tube", "ohms", "capacitor", …: the word in the file. */
const char *entry_kind_word(enum entry_kind kind);
/** The reverse; -1 when none. */
int entry_kind_from_word(const char *word);

/** The newest of n entries with that kind and subject (NULL: any); NULL when there is none. */
const struct entry *entry_last(const struct entry *entries, size_t n, enum entry_kind kind,
                               const char *subject);

#endif
