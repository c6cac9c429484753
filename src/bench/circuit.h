/*
 * bench/circuit.h - a unit as a circuit that is stepped through time
 *
 * Layer: bench; includes core/.  Pure: no clock; memory is the caller's.
 * circuit_build() turns a network into branches of a mesh; circuit_step() moves it on by one
 * fixed step of the second-order backward difference (BDF2: stable with any R and C, no ringing
 * where a rectifier cuts off, nearly no damping of its own at a hundred steps a cycle), solved
 * by Newton's method on the nodal equations.  Heaters and whatever follows them are brought
 * up to date every few steps.
 * Units: instantaneous V, A, Wb; s.
 */
#ifndef MAINSTAIR_BENCH_CIRCUIT_H
#define MAINSTAIR_BENCH_CIRCUIT_H

#include <stdbool.h>

#include "mainstair/base/err.h"
#include "mainstair/core/network.h"
#include "bench/mesh.h"
#include "bench/thermal.h"

enum {
	CIRCUIT_STEPS_A_CYCLE = 96,
	CIRCUIT_STEPS_A_CHUNK = 4, /* between two updates of temperatures and slow loads */

	CIRCUIT_FIXED_MAX = 192,
	CIRCUIT_CAPS_MAX = 3 * NET_RAILS_MAX,
	CIRCUIT_CHOKES_MAX = NET_RAILS_MAX,
	CIRCUIT_PATHS_MAX = 2 * NET_RAILS_MAX,
	CIRCUIT_GROUPS_MAX = NET_WINDINGS_MAX + 1
};

/* A resistor, or several things that act as one. */
struct fixed {
	struct mesh_branch at;
	double siemens;
};

/* Key of a state that must survive a rebuild: rail index and which of its parts. */
struct capacitor {
	struct mesh_branch at;
	int rail, part;
	double farad;
	double volts, volts_before; /* after this step and the one before */
};

struct choke {
	struct mesh_branch at;
	int rail;
	double henry, ohms;
	double amps, amps_before;
};

/* The flux of the transformer: i = linear s + ninth s^9, s = weber / rated_weber. */
struct flux {
	struct mesh_branch at;
	double linear, ninth; /* A at rated peak flux */
	double rated_weber;   /* peak, at rated emf */
	double weber, weber_before;
};

/* One conduction path: resistance and rectifier in series.  Tangent: near tangent_volts it
 * carries i = amps + siemens (u - tangent_volts). */
struct path {
	struct mesh_branch at;
	int rail;
	double ohms;
	double perveance;  /* tube: i = perveance v^1.5; 0: a constant drop_volts */
	double drop_volts;
	double saturation; /* A, at the heater's present temperature; INFINITY: no limit */
	double root;       /* square root of the tube's drop in the last solution */
	double tangent_volts, amps, siemens;
};

/* What a rail's stages draw, as a tangent too. */
struct rail_load {
	struct mesh_branch at;
	int rail;
	double tangent_volts, amps, siemens;
};

struct gas {
	struct mesh_branch at;
	int rail;
	double strike_volts, hold_volts, siemens;
	bool lit;
};

/* Series pass tubes: fully on they are a path from parent to rail; in regulation a servo holds
 * the rail, and the parent gives the current of the step before. */
struct pass {
	struct mesh_branch at, rail_at, parent_at;
	int rail;
	double set_siemens; /* of the servo: its current falls from there to nought at pass_volts */
	double saturation;  /* A, now */
	bool regulating;
	double amps;        /* of the last step */
};

/* Heaters that share a voltage (a winding) or a current (the string). */
struct heater_group {
	int fixed;             /* the branch that stands for them */
	int winding;           /* -1: the string */
	double series_ohms;    /* winding or dropper, where it is part of the branch */
	double heater_siemens; /* of the heaters alone, now; 0: open */
	double volts_squared;  /* summed over the chunk's steps, across the branch */
};

struct circuit {
	const struct network *net; /* borrowed */
	double step_s;
	struct mesh mesh;
	double volts[MESH_NODES_MAX], volts_before[MESH_NODES_MAX];

	int line_node, emf_node;         /* emf_node -1: no transformer */
	int rail_node[NET_RAILS_MAX];    /* where the rail is measured and loaded */

	struct fixed fixed[CIRCUIT_FIXED_MAX];
	int n_fixed;
	int source;                      /* fixed[]: line to line node */
	int core;                        /* fixed[]: core loss; -1 */
	struct capacitor caps[CIRCUIT_CAPS_MAX];
	int n_caps;
	struct choke chokes[CIRCUIT_CHOKES_MAX];
	int n_chokes;
	struct flux flux;
	struct path paths[CIRCUIT_PATHS_MAX];
	int n_paths;
	struct rail_load loads[NET_RAILS_MAX];
	int n_loads;
	struct gas gases[NET_RAILS_MAX];
	int n_gases;
	struct pass passes[NET_RAILS_MAX];
	int n_passes;
	struct heater_group groups[CIRCUIT_GROUPS_MAX];
	int n_groups;

	struct thermal heaters[NET_HEATERS_MAX];
	double emission[NET_HEATERS_MAX]; /* share of rated saturation, 0 for an open heater */
	double emission_u[NET_HEATERS_MAX]; /* … at this temperature */
	double heater_squared[NET_HEATERS_MAX]; /* volts squared, running mean over some cycles */

	int chunk_steps;                 /* steps since the last chunk */
	double emf_squared;              /* running mean over a cycle, for the core loss */
	double base_value[MESH_ENTRIES_MAX]; /* all branches that do not bend within a step */

	double line_amps;                /* at the end of the last step */
	double spent_joule;              /* in resistances and loads, since the build */
	unsigned long long steps, iterations;
	unsigned long long unsettled;    /* steps whose iteration did not close */
};

/** Build from a network (borrowed until the next build), everything cold and discharged; or,
 *  with `from` given, with the charges, currents, temperatures and glow of that circuit (built
 *  from the same unit, other faults).  0, or -1 with ERR_RANGE: a circuit too large, or a part
 *  whose value cannot be. */
int circuit_build(struct circuit *c, const struct network *net, const struct circuit *from,
                  struct err *err);

/** One step: the line stands at line_volts (instantaneous) at its end. */
void circuit_step(struct circuit *c, double line_volts);

/** Bring heaters, emission, core loss and loads up to date for the mean power since the last
 *  call; circuit_step() does it every CIRCUIT_STEPS_A_CHUNK steps, circuit_build() at once. */
void circuit_update(struct circuit *c);

/** Energy in capacitors, chokes and the core, J. */
double circuit_stored(const struct circuit *c);

/** Volts of a rail now. */
double circuit_rail_volts(const struct circuit *c, int rail);

#endif
