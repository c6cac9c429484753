/*
 * core/judge/suspect_fit.h - how well a faulty network explains what was read
 *
 * Layer: core, private to suspects*.c.  Readings are weighed with one covariance: the meter's error
 * on the diagonal; the unit's own unknowns, which move all readings of a unit together; and what
 * the model is not better than.  The last two hang on the fault that is tried: a rail that is
 * shorted no longer moves with its cathodes, a rail that nothing flows through stands anywhere, and
 * what a fault changes is itself known to a tenth only.  So each hypothesis carries a covariance of
 * its own, and is judged by the likelihood with its normalisation, not by squares alone.
 */
#ifndef MAINSTAIR_CORE_SUSPECT_FIT_H
#define MAINSTAIR_CORE_SUSPECT_FIT_H

#include "mainstair/core/suspects.h"

enum { EVIDENCE_VOLTS_MAX = 8 };

/* Readings by line volts, last read first, with what a healthy unit gives and how the unknowns move
 * it. */
struct evidence {
	int n;
	struct observation obs[OBSERVATIONS_MAX];
	int at[OBSERVATIONS_MAX]; /* index into volts[], rising */
	double volts[EVIDENCE_VOLTS_MAX];
	int n_volts;
	struct load_start start[EVIDENCE_VOLTS_MAX];
	const struct meter_accuracy *meter;

	double healthy[OBSERVATIONS_MAX], undefined[OBSERVATIONS_MAX];
	double shared[OBSERVATIONS_MAX][OBSERVATIONS_MAX]; /* covariance by the unit's unknowns */
	double bent[OBSERVATIONS_MAX]; /* variance by which that is not straight */
	double own[OBSERVATIONS_MAX];  /* each reading's variance given those before it, healthy */
	double spare[EVIDENCE_VOLTS_MAX + 1]; /* most that the readings from there on can still
	                                         give */
};

/** Sort and weigh; *e is large.  False: nothing usable, or the healthy model does not settle. */
bool evidence_weigh(struct evidence *e, const struct network *net,
                    const struct meter_accuracy *meter, const struct observation *obs, int n);

/** Misfit of all readings under *net on line volts `line_factor` times those read: minus twice the
 *  logarithm of the likelihood, healthy's normalisation left out.  INFINITY where the model does
 *  not settle, or as soon as it is sure to exceed `enough`. */
double evidence_misfit(const struct evidence *e, const struct network *net, double line_factor,
                       double enough);

/** Can the readings hardly come from *net?  Their squares under its own covariance are beyond what
 *  one unit in a thousand shows.  *lone: the reading (of e->obs, three or more) without which the
 *  others may well come from it; -1: no single one. */
bool evidence_poor(const struct evidence *e, const struct network *net, double line_factor,
                   int *lone);

/** The value that chi-square of `freedom` (1 or more) degrees exceeds as seldom as a normal deviate
 *  exceeds `normal`. */
double chi_square_point(double normal, int freedom);

#endif
