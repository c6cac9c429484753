/*
 * Leakage of capacitors that are being re-formed, by laws of many kinds, drawn anew for each run.
 *
 * Two sets that share no invented law.  By the first one (`training`, in two halves) the fit's form
 * and its constants were chosen; its second half had been held out before, was looked at, and moved
 * over.  The laws of the `held-out` one were written when the choice was made, and run after it.
 * The one published run is in both, its four readings joined in another way: of it nothing is left
 * to hold out.
 */
#ifndef TESTS_WATCH_LEAK_LAWS_H
#define TESTS_WATCH_LEAK_LAWS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "mainstair/core/reform.h"

enum { LEAK_POINTS = 900, LEAK_READINGS_MOST = 64, LEAK_LAWS_MOST = 12 };

struct leak_chance {
	uint64_t state;
};

double leak_even(struct leak_chance *c); /* above 0, below 1 */
double leak_between(struct leak_chance *c, double low, double high);
double leak_log_between(struct leak_chance *c, double low, double high);
double leak_bell(struct leak_chance *c); /* standard normal */

/* One run's leakage without scatter: evenly spaced in ln t, from 1 s to forty times the run. */
struct leak {
	double run_s, step;
	double log_amps[LEAK_POINTS];
	double log_volts[LEAK_POINTS];  /* across the part; 0: as the supply */
	double room_kelvin[3], room_period_s[3], room_phase[3];
	double series_ohms;             /* 0: none */
};

typedef void leak_law(struct leak *leak, struct leak_chance *c);

struct leak_set {
	const char *name;
	int n;
	struct {
		const char *name;
		leak_law *draw;
		bool published; /* drawn through published readings */
	} law[LEAK_LAWS_MOST];
};

extern const struct leak_set leak_training, leak_held_out;

/** A run of that law: run_s from twenty minutes to three days. */
void leak_draw(const struct leak_set *set, int law, struct leak_chance *c, struct leak *ret);

/** Leakage t seconds after the volts were put on, in the room of that moment. */
double leak_amps(const struct leak *leak, double t);
double leak_volts(const struct leak *leak, double t);

/** When it comes down to amps, from t on; INFINITY: not by `end`. */
double leak_reaches(const struct leak *leak, double t, double end, double amps);

/** Its first third as a restorer takes it: by the clock or ever less often, after up to two lower
 *  steps of volts, scattered by 1 to 5 per cent, to a microamp.  Returns how many; *ret_applied:
 *  when the last volts were put on. */
size_t leak_first_third(const struct leak *leak, struct leak_chance *c, double *ret_applied,
                        struct reform_reading ret[LEAK_READINGS_MOST]);

#endif
