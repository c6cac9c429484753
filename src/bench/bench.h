/*
 * bench/bench.h - a virtual bench: the unit, a variac in front of it and a meter between them
 *
 * Layer: bench; includes core/ and base/ only.  No clock, file or terminal: time passes when
 * bench_advance() is called, so a test, a demonstration and a simulated meter run the same
 * unit.  The circuit is integrated in time, in steps of a fraction of a line cycle: mains sine,
 * primary, flux, windings, heaters as thermal nodes, every rectifier pulse, every reservoir and
 * choke as a state, gas regulators that strike and go out.  It shares the laws of a heater and
 * of a cathode with core/, and nothing of the settled solver: the two check each other.
 * Units: V and A rms (line, windings, heaters), V dc (rails), W, s.
 * Threads: one bench, one thread.  Same network, options and calls: same readings, to the bit.
 * Not modelled: fuses, arcs, a part that burns out: a fault goes on as long as it is left in.
 */
#ifndef MAINSTAIR_BENCH_BENCH_H
#define MAINSTAIR_BENCH_BENCH_H

#include <stdbool.h>
#include <stdint.h>

#include "mainstair/base/err.h"
#include "mainstair/core/network.h"

struct bench; /* opaque */

struct bench_options {
	/* 0: exactly the network.  Else one unit out of many built to it: heater amps +-5 %, core
	 * loss +-20 %, rail draws +-15 %, ohms +-10 % (each evenly within those limits), and a
	 * meter with a gain error of its own. */
	uint64_t seed;
	double heat_capacity;     /* of every heater, times the usual (bench/thermal.h); 0: 1 */
	double start_volts;       /* variac at the start, V; switched on cold at time 0 */
	double meter_window_s;    /* averaging time; 0: 0.25 s.  Rounded to whole line cycles */
	double meter_noise_share; /* noise of a reading, fraction (1 sigma); < 0: none; 0: 0.0005 */
};

/* One reading of the meter. */
struct bench_reading {
	double seconds;      /* end of its averaging window, bench time */
	double volts, watts, amps, power_factor; /* rounded to the meter's resolution: 0.1 V,
	                      * 0.01 W (0.1 W from 100 W), 0.001 A, 0.01; power factor 0 when
	                      * nothing flows */
	unsigned long count; /* 1 for the first reading; tells a new reading from an old one */
};

/** Make a bench around a copy of *net.  options may be NULL (all zero).  Returns NULL and *err
 *  (ERR_NOMEM, ERR_RANGE for a network that cannot be a circuit).  bench_free() it. */
struct bench *bench_new(const struct network *net, const struct bench_options *options,
                        struct err *err);
void bench_free(struct bench *b); /**< NULL is fine. */

/** Turn the variac towards `volts` (0..300; clipped) at `slew` V/s (> 0; 0: at once). */
void bench_set_variac(struct bench *b, double volts, double slew);
double bench_variac(const struct bench *b);        /**< Where it stands now, V. */
double bench_variac_target(const struct bench *b); /**< Where it is going, V. */

/** Let dt_s (>= 0) pass.  Left-over fractions of a step are kept for the next call.  Costs a
 *  few ms of processor per simulated second; no upper limit, the caller bounds it. */
void bench_advance(struct bench *b, double dt_s);
double bench_seconds(const struct bench *b); /**< Simulated time since bench_new(). */

/** The newest reading; false (and *ret all NAN) until the first window has passed. */
bool bench_read(const struct bench *b, struct bench_reading *ret);

/** A voltmeter clipped on: rail volts (mean over the last window; to chassis), NAN for a rail
 *  that is not there.  heater: rms over place NAME's pins (a tube or a lamp). */
double bench_rail_volts(const struct bench *b, const char *rail);
double bench_heater_volts(const struct bench *b, const char *place);
/** Is the gas regulator of this rail lit?  false also for a rail without one. */
bool bench_regulator_lit(const struct bench *b, const char *rail);

/** Put a fault into the running unit: the words of core/fault.h.  0, or -1 with ERR_INPUT and
 *  nothing changed. */
int bench_fault(struct bench *b, const char *words, struct err *err);
/** Undo every fault put in since bench_new(); charges and temperatures stay. */
void bench_mend(struct bench *b);

/** The network as it is now: scattered, faults in.  Borrowed. */
const struct network *bench_network(const struct bench *b);

/* Energy since bench_new(), J: what went in through the meter, what became of it.  For checks:
 * in = spent + stored, but for the error of the integration. */
struct bench_energy {
	double in, spent, stored;
};
struct bench_energy bench_energy(const struct bench *b);

/** Scatter a network as bench_options.seed does (seed 0: nothing).  Pure. */
void bench_scatter(struct network *net, uint64_t seed);

#endif
