/*
 * core/plan.h - the stages of a power-up: at which volts to stop, how long, and what to look for
 *
 * Layer: core; pure.
 */
#ifndef MAINSTAIR_CORE_PLAN_H
#define MAINSTAIR_CORE_PLAN_H

#include "mainstair/core/envelope.h"

enum {
	PLAN_STAGES_MAX = PROFILE_STAGES_MAX,
	PLAN_LOOKS_MAX = 8,
	PLAN_PROOFS_MAX = 2 + NET_WINDINGS_MAX + NET_RAILS_MAX /* every fault that is tried */
};

struct stage {
	double volts;
	double hold_s;   /* stay at least this long (settling included) */
	double longest_s; /* and no longer than this; 0: no limit (the last stage) */
	char why[160];   /* one sentence: why the plan stops here */
	char looks[PLAN_LOOKS_MAX][120]; /* what to look, listen and smell for, computed from the
	                                    model */
	int n_looks;
	unsigned look_dangers; /* bit i: look i is of smoke, smell, red plates; not so ends the
	                          run */
	char proved[PLAN_PROOFS_MAX][120];     /* what a good reading here rules out;
	                                          plan_prove() */
	int n_proved;
	char not_proved[PLAN_PROOFS_MAX][120]; /* and what it does not */
	int volts_tell[PLAN_PROOFS_MAX]; /* of each of those: the rail whose volts would rule it out
	                                    here; -1: none */
	int n_not_proved;
	struct band band; /* settled, at `volts` */
};

struct plan {
	struct stage stages[PLAN_STAGES_MAX]; /* volts strictly rising; at least one */
	int n_stages;
	bool from_profile; /* the profile's [stages], else computed */
};

/** Plan for a unit on a line of bench_line_volts (0: the nameplate volts).  `plan` is large:
 *  allocate it.  Always succeeds for a network that network_build() made. */
void plan_make(struct plan *plan, const struct network *net, const struct profile *profile,
               const struct abort_rule *rule, const struct meter_accuracy *meter,
               double bench_line_volts);

/** Fill in what a good reading at each stage rules out and what it does not: every fault of a
 *  list (shorts of mains side, turns, windings, rails) is solved at every stage. */
void plan_prove(struct plan *plan, const struct network *net);

/** After a number of the network changed: bands, looks and proofs (plan_prove()) anew, at the same
 *  stages, volts and times. */
void plan_refresh(struct plan *plan, const struct network *net, const struct abort_rule *rule,
                  const struct meter_accuracy *meter);

/** The stage that a line voltage belongs to: the nearest, within 4 per cent of the last stage's
 *  volts; -1: between stages, or below half the first. */
int plan_stage_at(const struct plan *plan, double volts);

#endif
