/*
 * bench/meter.h - the power meter of the virtual bench
 *
 * Layer: bench.  Pure.
 * Averages over whole line cycles, then reads like a plug-in meter: its own gain error, a
 * little noise, a last digit.
 */
#ifndef MAINSTAIR_BENCH_METER_H
#define MAINSTAIR_BENCH_METER_H

#include "bench/bench.h"
#include "bench/random.h"

struct power_meter {
	struct random random;
	double volts_gain, amps_gain, watts_gain, noise_share;
	int window_steps;
	/* sums over the present window */
	int n;
	double volts_squared, amps_squared, watts;
	struct bench_reading last;
};

/** window_steps (> 0): steps of a window, whole line cycles.  seed 0: no gain error; else volts
 *  and amps within 0.5 %, watts within 1 % (a 1 % class meter). */
void power_meter_init(struct power_meter *m, uint64_t seed, int window_steps, double noise_share);

/** One step: instantaneous volts and amps; `seconds` at its end.  True when this step closed a
 *  window: m->last is new. */
bool power_meter_step(struct power_meter *m, double volts, double amps, double seconds);

#endif
