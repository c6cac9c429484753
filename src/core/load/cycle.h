/*
 * core/load/cycle.h - one cycle of the line through transformer, rectifiers and reservoirs
 *
 * Private to core.  The waveform is solved sample by sample: at each sample one scalar equation
 * for the emf (everything on the transformer loads the same primary resistance), with one
 * scalar equation per conducting rectifier inside it.  Reservoirs and input chokes advance by
 * the implicit midpoint rule, which keeps energy exactly: what goes into a part either leaves
 * it or is still in it, to rounding.  Where a rectifier at its limit rules a choke's current, the
 * rule is damped; what that takes counts as the rectifier's (milliwatts).
 *
 * Signs and units: instantaneous V, A; sums are means over the solved span (half a cycle where
 * both halves are alike, a whole one otherwise).
 */
#ifndef CORE_CYCLE_H
#define CORE_CYCLE_H

#include <stdbool.h>

#include "mainstair/core/network.h"

enum {
	CYCLE_CAPS_MAX = 2 * NET_RAILS_MAX,
	CYCLE_PATHS_MAX = 2 * NET_RAILS_MAX,
	CYCLE_HALF_SAMPLES = 24,
	CYCLE_SAMPLES_MAX = 2 * CYCLE_HALF_SAMPLES
};

/* One conduction path: source, winding ohms, surge ohms, rectifier, into a reservoir. */
struct cycle_path {
	double ratio;        /* source volts = ratio * (emf or line) */
	bool on_line;        /* fed by the line itself, ahead of a transformer's primary */
	int polarity;        /* +1, -1: that half cycle only; 0: both, rectified */
	double winding_ohms, surge_ohms;
	double perveance;    /* i = perveance v^1.5; 0: constant drop */
	double drop_volts;   /* constant drop */
	double saturation;   /* A; INFINITY: no limit */
	double short_siemens; /* fault: across the rectifier */
	int winding;         /* for the terminal volts; -1: none */
	int cap;             /* reservoir it charges; -1: a fault current straight to the return */
	bool idle_half;      /* centre-tapped: the other half of the winding rests meanwhile */
};

/* A reservoir with its load line i = load_amps + load_siemens * v, and its input choke. */
struct cycle_cap {
	double farad;        /* 0: none, the load line takes the pulses themselves */
	double load_amps, load_siemens;
	int twin;            /* doubler: the other capacitor in series, else -1 */
	double choke_henry, choke_ohms; /* choke input, else 0 */
};

struct cycle {
	double line_peak, line_hz;
	double line_ohms;         /* source behind everything on the line */
	bool transformer;
	double primary_ohms;
	double emf_siemens;       /* linear loads on the emf: heaters, core, faults */
	double line_siemens;      /* linear loads on the line node: string, shunt fault */
	double mag_peak_linear, mag_peak_ninth; /* A: i = linear c + ninth c^9, c = -cos of the
	                                           emf's own phase */
	double emf_lead;          /* rad: the emf's fundamental ahead of the line's */
	bool whole;               /* a half-wave path: both half cycles are solved */
	int n_paths, n_caps;
	struct cycle_path paths[CYCLE_PATHS_MAX];
	struct cycle_cap caps[CYCLE_CAPS_MAX];
};

struct cycle_state {
	double volts[CYCLE_CAPS_MAX], amps[CYCLE_CAPS_MAX]; /* at the span's start; advanced to its
	                                                       end */
};

/* The span that was solved last, sample by sample.  The next one is looked for where this one was
 * (never a source of results); and the means are taken from it.  samples 0: nothing is known. */
struct cycle_wave {
	int samples, n_paths;
	double start_volts[CYCLE_CAPS_MAX], start_amps[CYCLE_CAPS_MAX];
	double emf[CYCLE_SAMPLES_MAX];
	double through[CYCLE_SAMPLES_MAX];                     /* A in the primary */
	double root[CYCLE_SAMPLES_MAX][CYCLE_PATHS_MAX];       /* of a rectifier's drop */
	double amps[CYCLE_SAMPLES_MAX][CYCLE_PATHS_MAX];
	double choke_amps[CYCLE_SAMPLES_MAX][CYCLE_CAPS_MAX];  /* at the end of the step */
	double volts[CYCLE_SAMPLES_MAX][CYCLE_CAPS_MAX];       /* in its middle, as all the
	                                                          others */
};

/* What the next sweep hangs on. */
struct cycle_end {
	double emf_squared;
	double emf_sin, emf_cos;              /* fundamental of the emf: peak V of its two parts */
	double cap_volts[CYCLE_CAPS_MAX], cap_volts_squared[CYCLE_CAPS_MAX];
	/* how the end of the span depends on its start: d(volts, amps)end / d(volts, amps)start */
	double slope[CYCLE_CAPS_MAX][2][2];
};

struct cycle_means {
	double line_watts, line_amps_squared; /* at the plug */
	double line_loss, primary_loss;       /* in line_ohms and primary_ohms */
	double line_node_squared;
	double mag_watts;                     /* what the magnetising current takes: ~0 */
	double path_amps_squared[CYCLE_PATHS_MAX];
	double path_rectifier_watts[CYCLE_PATHS_MAX]; /* rectifier and surge resistor */
	double path_terminal_squared[CYCLE_PATHS_MAX];
	double cap_load_watts[CYCLE_CAPS_MAX], cap_load_amps[CYCLE_CAPS_MAX];
	double cap_choke_watts[CYCLE_CAPS_MAX];
	double cap_storing_watts[CYCLE_CAPS_MAX];
};

/** Solve one span from *state, which is advanced to the span's end; *wave is used and renewed. */
void cycle_solve(const struct cycle *c, struct cycle_state *state, struct cycle_wave *wave,
                 struct cycle_end *ret);

/** Where the watts of the span went that cycle_solve() left in *wave. */
void cycle_means(const struct cycle *c, const struct cycle_wave *wave, struct cycle_means *ret);

/** The watts alone. */
double cycle_watts(const struct cycle *c, const struct cycle_wave *wave);

#endif
