/*
 * core/job.h - how far the job has come: the phases of a unit, what is next, what blocks power
 *
 * Layer: core; pure.  Made from the profile and the logbook's entries; holds nothing else.
 */
#ifndef MAINSTAIR_CORE_JOB_H
#define MAINSTAIR_CORE_JOB_H

#include <stdbool.h>

#include "mainstair/core/logbook.h"
#include "mainstair/core/network.h"
#include "mainstair/core/profile.h"
#include "mainstair/core/tables.h"

enum job_phase {
	JOB_LOOK,
	JOB_TUBES,
	JOB_OHMS,
	JOB_CAPACITORS,
	JOB_POWER,     /* the stages, and the soak behind them */
	JOB_CALIBRATE, /* sheet and nulls */
	JOB_COMPARE,
	JOB_PHASES     /* how many */
};

enum { JOB_BLOCKS_MAX = 64, JOB_TEXT_MAX = 200 };

struct job_progress {
	int done, of;  /* checks, tubes, sections …; of 0: the profile has nothing for this phase */
	int findings;  /* not as they should be; of JOB_POWER: 1 when a power-up came to an
	                  abort or a stop and none since has passed the last stage, also when it was
	                  mended: only power shows that it is */
	char summary[JOB_TEXT_MAX]; /* "11 of 14, 2 findings" in the phase's own words */
};

/* Something that must not be so when power is applied. */
struct job_block {
	enum job_phase phase;        /* JOB_POWER: "aborted" or "stopped", how the last power-up
	                                that nobody has accounted for (ENTRY_MENDED) ended */
	char key[ENTRY_SUBJECT_MAX]; /* to override it by; stable over runs */
	char what[JOB_TEXT_MAX];     /* "V3: shorted", "primary: 0.4 ohm, at least 18 expected" */
	const char *override_reason; /* NULL: it stands.  Borrowed from the entries */
};

struct job {
	struct job_progress progress[JOB_PHASES];
	struct job_block block[JOB_BLOCKS_MAX];
	int n_blocks, n_standing; /* standing: not overridden */
	bool cut;                 /* more blocks than there is room for: they count as standing */
	/* Sections on the supply, or off and not discharged: "C1A on the supply at 88 V; C1B holds
	 * 308 V"; "" when there are none */
	char charged[JOB_TEXT_MAX];
	enum job_phase next;      /* what is best done next; JOB_PHASES: all is done */
	char next_words[JOB_TEXT_MAX];
};

/** The state of the job.  net: of the profile alone, without what was measured on the unit: a
 *  reading must not become the limit it is held against.  An override holds for the block of its
 *  key as long as what blocks is the same: another reading, another finding, more left undone ask
 *  again; so does, of readings and of what is left undone, another profile.  Large (some 30 KiB,
 *  and some 250 KiB of stack meanwhile). */
void job_make(struct job *ret, const struct profile *profile, const struct network *net,
              const struct tables *tables, const struct entry *entries, size_t n);

const char *job_phase_word(enum job_phase phase);  /* "look", "tubes", "ohms", "capacitors", … */
const char *job_phase_title(enum job_phase phase); /* "Look it over, unplugged" … */

#endif
