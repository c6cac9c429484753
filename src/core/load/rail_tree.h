/*
 * core/load/rail_tree.h - the dc side: filters, bleeders, loads and regulators behind the reservoirs
 *
 * Private to core.  Given the mean volts on every reservoir, find the volts and currents of the
 * rails hung on it, and the load line that the rectifier sees.
 */
#ifndef CORE_RAIL_TREE_H
#define CORE_RAIL_TREE_H

#include <stdbool.h>

#include "mainstair/core/network.h"

struct rail_tree {
	/* in: filled by rail_tree_prepare() for the heaters' present temperatures */
	double draw_saturation[NET_RAILS_MAX][NET_DRAWS_MAX]; /* A */
	double draw_alive[NET_RAILS_MAX][NET_DRAWS_MAX];      /* share of its tubes that are
	                                                         heated */
	double pass_saturation[NET_RAILS_MAX];                /* A; INFINITY: not limited */
	double pass_alive[NET_RAILS_MAX];
	int order[NET_RAILS_MAX]; /* parents before children */

	/* in and out: volts of each rail; a source rail's are given, the others are found (their
	 * old values start the iteration) */
	double volts[NET_RAILS_MAX];
	bool lit[NET_RAILS_MAX];  /* gas regulators: given; rail_tree_strike() lights them */

	/* out */
	double amps[NET_RAILS_MAX];    /* through filter or pass tube; a source rail: its load line
	                                  at volts */
	double siemens[NET_RAILS_MAX]; /* source rails: slope of the load line, > 0 */
	double leak_watts[NET_RAILS_MAX];
};

/** Order the rails and find what each cathode can give.  `u`: temperature of each heater. */
void rail_tree_prepare(struct rail_tree *t, const struct network *net, const double *u);

/** Solve for the present lit[]. */
void rail_tree_solve(struct rail_tree *t, const struct network *net);

/** Light one unlit gas regulator that stands at `factor` times its strike volts or above.  True if
 *  one was. */
bool rail_tree_strike(struct rail_tree *t, const struct network *net, double factor);

/** True if every lit regulator would strike again from unlit even with the source rails held at
 *  their present, loaded volts: then it is lit whatever the history.  False: cannot tell. */
bool rail_tree_surely_lit(const struct rail_tree *t, const struct network *net);

#endif
