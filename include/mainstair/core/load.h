/*
 * core/load.h - what the unit draws at a given line voltage, once it has settled
 *
 * Layer: core; pure.  Solves one line cycle of the whole network in its periodic steady state
 * (see load.c for the method), so pulses, ripple, copper and core losses are in the balance
 * and the split of the watts adds up to the input.
 */
#ifndef MAINSTAIR_CORE_LOAD_H
#define MAINSTAIR_CORE_LOAD_H

#include "mainstair/core/network.h"

/* Temperature of each heater as a fraction of its rated absolute temperature; what the model
 * in time integrates and what the settled solver finds. */
struct load_thermal {
	double u[NET_HEATERS_MAX];
};

/* Where a solve starts from and ends at: keep it between calls for speed.  Zeroed: cold start.
 * Opaque in meaning; never a source of results. */
struct load_start {
	bool warm;
	double line_volts, emf_rms, emf_lead;
	double u[NET_HEATERS_MAX];
	double reservoir[NET_RAILS_MAX][2], choke_amps[NET_RAILS_MAX], mean[NET_RAILS_MAX];
	bool lit[NET_RAILS_MAX];
};

struct load_result {
	double line_volts;
	double watts, va, amps, power_factor;
	double node_volts;                /* rms behind source_ohms: at the unit's own plug */
	double emf;                       /* rms at the primary; = line_volts without transformer */
	double winding_volts[NET_WINDINGS_MAX];   /* rms at the terminals (one half of a tapped
	                                             one) */
	double heater_share[NET_HEATERS_MAX];     /* volts across it / its rated volts */
	double heater_watts[NET_HEATERS_MAX];
	double rail_volts[NET_RAILS_MAX], rail_amps[NET_RAILS_MAX]; /* mean dc; amps drawn through
	                                             its rectifier, filter or pass tube */
	double rail_ripple_volts[NET_RAILS_MAX];  /* rms at the reservoir */
	bool regulator_lit[NET_RAILS_MAX];

	/* the split; sums to watts */
	double split_heaters, split_lamps, split_dropper;
	double split_core;                /* iron, with what little the magnetising current takes */
	double split_copper;              /* primary and windings */
	double split_rectifier;           /* rectifiers and surge resistors */
	double split_fault;               /* shunts and leaks of a fault hypothesis */
	double split_rail[NET_RAILS_MAX]; /* loads, bleeder, filter and regulator of the rail */
	double split_storing;             /* into reservoirs: what the last iteration left over */
	bool converged;
};

/** Settled state at line_volts (>= 0, rms).  `start` may be NULL.  `*ret` is always filled
 *  with finite numbers; ret->converged false means that the iteration ended early (the caller
 *  must then not believe the numbers). */
void load_settled(const struct network *net, double line_volts, struct load_start *start,
                  struct load_result *ret);

/** Next to nothing flows through rail r, because of cathodes that are cold: less than 1 mA through
 *  it or through the tube rectifier that feeds it.  Its volts then stand where leakage, a few stray
 *  electrons and the time since the last stage put them: two all but vanished currents meet
 *  anywhere below the peak, and nobody knows where.  Never so of a rail that is dead or behind a
 *  rectifier without a cathode: those volts are known. */
bool load_rail_undefined(const struct network *net, const struct load_result *at, int r);

/** The settled watts alone, from near where `near` ended (NULL: from nothing), which stays as it
 *  is: within 1e-4 of what load_settled() says (5e-5 was the worst seen), in half the time.
 *  NAN where it does not converge. */
double load_watts(const struct network *net, double line_volts, const struct load_start *near);

/** The same with the heaters' temperatures given instead of found: one instant of the model in
 *  time (rails follow within a few cycles, so they are taken as settled).  From nothing, so that
 *  the answer hangs on the temperatures alone. */
double load_instant_watts(const struct network *net, double line_volts,
                          const struct load_thermal *thermal);


#endif
