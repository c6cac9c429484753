/*
 * core/reform_fit.h - leakage against time: what the readings so far say about the rest
 *
 * Layer: core; pure; libc and libm only.
 *
 * No one law serves: published runs follow neither a power law nor an exponential.  The law
 * fitted here holds both as corners, and a plateau, and a second, slower fall:
 *
 *   i(t) = I [ (1-q) ((1 + c z^b)/(1 + c z1^b))^-n  +  q (v (z/z1)^-m + (1-v) e^((z1-z) T/s)) ]
 *
 * with t the time since the volts were applied, t1 that of the first reading, T that of the last, z
 * = t/T, z1 = t1/T.  b = 1 and large c: a power law; small c: an exponential, stretched for b < 1;
 * q: the share that falls slowly (s) or, of that, merely creeps on (v, m; m = 0: not even that).
 * Few readings never settle all of these, and the answer wanted is not one curve but what may still
 * happen.  So no single best fit is taken: the parameters are sampled in proportion to how well
 * they explain the readings (sequential Monte Carlo: Del Moral, Doucet, Jasra, J. R. Stat. Soc. B
 * 68 (2006), from memory), from starting weights that favour no corner, and times and plateau are
 * told as what 5, 50 and 95 per cent of the samples say.  Level and scatter of the readings are
 * found along with them.
 * Beyond the last reading the leakage may wander by a further 7 per cent in the first e-fold of
 * time, growing with its root: leakage rises two to three times from 20 to 60 C (second hand),
 * which is 2.3 per cent a kelvin, and a bench's room keeps within some 3 K (standard deviation).
 *
 * Deterministic: the same readings give the same answer.
 */
#ifndef MAINSTAIR_CORE_REFORM_FIT_H
#define MAINSTAIR_CORE_REFORM_FIT_H

#include <stddef.h>

struct reform_reading {
	double seconds, volts, amps;
};

/* What 5, 50 and 95 per cent of the samples are below: a 90 per cent interval. */
struct reform_range {
	double low, median, high;
};

struct reform_reach {
	struct reform_range seconds; /* from the last reading on; INFINITY: not within the
	                                horizon */
	double share_never;          /* of the samples: not within the horizon */
};

enum {
	REFORM_HORIZON = 30, /* times the time at these volts so far: nothing is told beyond */
	REFORM_POINTS = 40,  /* more readings are gathered into so many groups, even in log time */
	REFORM_PARAMS = 7,
	REFORM_PARTICLES = 500,
	REFORM_SAMPLES = 1500
};

/* The law at one set of parameters, ready to be evaluated. */
struct reform_law {
	double first;             /* z1 */
	double fall, rest, still; /* 1-q, q, v */
	double c, log_c, b, n;    /* log_c: ln(1 + c z1^b) */
	double pace;              /* T/s */
	double creep, log_first;  /* m, ln z1 */
};

struct reform_particle {
	double at[REFORM_PARAMS];
	double start; /* ln of the starting weight */
	double log_likelihood;
	double level, scatter; /* ln I, and the sum of squares about it */
};

struct reform_sample {
	struct reform_law law;
	double level;  /* ln I */
	double wander; /* standard normal */
};

/* The caller's; large (some 250 KiB): allocate it.  Nothing in it is for reading. */
struct reform_work {
	double origin_s, last_s;
	size_t n_points;
	double z[REFORM_POINTS], log_z[REFORM_POINTS], log_amps[REFORM_POINTS];
	double weight[REFORM_POINTS];
	size_t order[REFORM_POINTS]; /* the points far from each other first */
	double weights;       /* their sum */
	double age_most;      /* upper end of the parameter */
	double noise;
	struct reform_particle particle[REFORM_PARTICLES], next[REFORM_PARTICLES];
	double heft[REFORM_PARTICLES];
	struct reform_sample sample[REFORM_SAMPLES];
	double sorted[REFORM_SAMPLES];
};

/** Fit n readings (at least REFORM_READINGS_LEAST, checked, at constant volts).  applied_s: when
 *  the volts were applied, in the readings' time, or NAN: a little before the first reading.
 *  floor_amps >= 0: what the meter cannot resolve.  0, or -1: too few readings, or no two at
 *  different times. */
int reform_fit(struct reform_work *work, const struct reform_reading *readings, size_t n,
               double applied_s, double floor_amps);

/** When the leakage comes down to limit_amps (> 0).  Already there: zeros. */
struct reform_reach reform_fit_reach(struct reform_work *work, double limit_amps);

/** Leakage at a moment in the readings' time, A: for plotting the fit and what may follow. */
struct reform_range reform_fit_at(struct reform_work *work, double seconds);

/** Leakage left at the horizon, A: the plateau as far as these readings can tell. */
struct reform_range reform_fit_plateau(struct reform_work *work);

/** Exponent of the fall at the last reading, -d ln i / d ln t. */
struct reform_range reform_fit_slope(struct reform_work *work);

/** Scatter of the readings about the fit, a fraction (0.02: 2 per cent). */
double reform_fit_noise(const struct reform_work *work);

#endif
