/*
 * app/headless.h - a power-up walked by itself on the virtual bench, in simulated time
 *
 * Layer: app; no terminal, no clock.  What the dashboard would ask for is done at once: the
 * variac follows the instructions, look-prompts are answered yes (nobody looks at a virtual
 * unit).  An abort is obeyed; an over or under that stays ends the walk.
 */
#ifndef MAINSTAIR_APP_HEADLESS_H
#define MAINSTAIR_APP_HEADLESS_H

#include "app/feed.h"
#include "app/fits.h"
#include "app/run.h"

enum headless_end {
	HEADLESS_SOAKED,  /* the last stage was reached, in band, and stayed so */
	HEADLESS_HELD,    /* over or under and no way on */
	HEADLESS_ABORTED,
	HEADLESS_ENDLESS  /* it took longer than any plan should */
};

struct headless_result {
	enum headless_end end;
	double seconds;                                /* simulated */
	struct session_stage stages[PLAN_STAGES_MAX]; /* as they stood before an abort wiped them */
	struct event abort;                            /* HEADLESS_ABORTED: as it was raised */
	struct band abort_band;
	enum verdict last;                             /* of the last reading before the end */
	struct event reading;                          /* that reading */
	struct soak soak;                              /* HEADLESS_SOAKED: drift at full line */
	struct fits fits;                              /* aborted or held: which fault fits best */
};

/** Walk.  `run` has been begun, `feed` has a variac.  The end is recorded. */
void headless_run(struct run *run, const struct feed *feed, struct headless_result *ret);

#endif
