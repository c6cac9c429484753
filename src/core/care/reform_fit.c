/*
 * core/care/reform_fit.c - the sampler behind reform_fit.h
 *
 * One population of parameter sets ("particles") is led from the starting weights to the
 * readings by raising the likelihood's power from 0 to 1 in steps that keep half of the
 * population alive; after each step the dead are replaced by copies of the living, and all are
 * moved by Metropolis steps whose reach is taken from the population itself (differences of two
 * others: ter Braak, Stat. Comput. 16 (2006), from memory).  This finds several hills where
 * there are several, which a descent from one start (Levenberg and Marquardt) does not, and
 * needs no bell shape of what is found: the plateau of an unfinished run is anything but.
 */
#include "mainstair/core/reform_fit.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* Readings of a multimeter across a resistor, or of a panel meter, are good to some 3 per cent
 * (common practice); the readings say better, but four of them are needed to say otherwise. */
static const double scatter_start = 0.03, scatter_trust = 4.0;
/* Wander beyond the last reading; see the header. */
static const double wander_share = 0.07;

enum {
	MOVES = 20,      /* of each particle after each step */
	LAST_MOVES = 60, /* after the last one */
	STEPS_MOST = 60, /* of the power; some ten are needed */
	GROUP_WEIGHT_MOST = 4
};

/* Parameters as they are sampled. */
enum {
	P_SLOPE,   /* ln of the falling part's exponent midway through the readings' ln t */
	P_AGE,     /* ln c: T over the time before which the fall is no power law yet */
	P_STRETCH, /* below one half: b = 1; above: down to 0.3 */
	P_REST,    /* q = sin^2(P pi/2): even in P is Jeffreys' weight for a share */
	P_PACE,    /* s from 0.2 T to 10 T, even in its logarithm */
	P_STILL,   /* v, as q, but thinning out as 1 - P towards all of it */
	P_CREEP    /* below still_flat: m = 0; above: up to 1, even in its root */
};

/* A fall that is no power law before 30 T is an exponential for all the readings can say. */
static const double age_least = -3.4;
static const double slope_sigma = 1.2;
static const double pace_first = -1.6, pace_span = 3.9; /* ln(s/T) */
/* What no longer falls as the rest does mostly creeps on; a flat plateau is one corner of this.
 * Without the creep, runs of the training sets (tests/watch/leak_laws.c) were told `never` three
 * times as often as they deserved, and ended before their intervals began. */
static const double still_flat = 0.15, still_thins = 1.0;
static const double half_pi = 1.57079632679489661923;

/* --- chance ------------------------------------------------------------------------------- */

struct chance {
	uint64_t state;
};

static const uint64_t chance_stride = 0x9e3779b97f4a7c15u;

/* splitmix64 (Steele, Lea, Flood, OOPSLA 2014, from memory) */
static uint64_t chance_bits(struct chance *c)
{
	uint64_t z = c->state += chance_stride;

	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
	z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
	return z ^ (z >> 31);
}

/* Above 0, below 1. */
static double chance_even(struct chance *c)
{
	return ((double)(chance_bits(c) >> 11) + 0.5) / 9007199254740992.0;
}

static double chance_normal(struct chance *c)
{
	const double r = sqrt(-2.0 * log(chance_even(c)));

	return r * cos(4.0 * half_pi * chance_even(c));
}

/* As if so many normals had been drawn, two numbers each. */
static void chance_pass_over(struct chance *c, int normals)
{
	c->state += 2u * (uint64_t)normals * chance_stride;
}

static size_t chance_below(struct chance *c, size_t n)
{
	return (size_t)(chance_bits(c) % n);
}

/* Student's t with whole degrees of freedom. */
static double chance_student(struct chance *c, int freedom)
{
	const double normal = chance_normal(c);
	double squares = 0.0;

	for (int i = 0; i < freedom; i++) {
		const double x = chance_normal(c);

		squares += x * x;
	}
	return normal / sqrt(squares / freedom);
}

/* --- the law ------------------------------------------------------------------------------ */

static double share_of(double p)
{
	const double s = sin(half_pi * p);

	return s * s;
}

static double creep_of(double p)
{
	const double root = fmax(0.0, (p - still_flat) / (1.0 - still_flat));

	return root * root;
}

static struct reform_law law_of(const struct reform_work *w, const double at[REFORM_PARAMS])
{
	struct reform_law law = { .first = w->z[0] };
	double middle;

	law.c = exp(at[P_AGE]);
	law.b = at[P_STRETCH] < 0.5 ? 1.0 : 1.0 - 1.4 * (at[P_STRETCH] - 0.5);
	law.log_c = log1p(law.c * exp(law.b * w->log_z[0]));
	/* the exponent at z is n b x/(1 + x), x = c z^b */
	middle = law.c * exp(0.5 * law.b * w->log_z[0]);
	law.n = exp(at[P_SLOPE]) * (1.0 + middle) / (law.b * middle);
	law.rest = share_of(at[P_REST]);
	law.fall = 1.0 - law.rest;
	law.still = share_of(at[P_STILL]);
	law.creep = creep_of(at[P_CREEP]);
	law.log_first = w->log_z[0];
	law.pace = exp(-(pace_first + pace_span * at[P_PACE]));
	return law;
}

/* ln of i/I at z, log_z = ln z. */
static double law_at(const struct reform_law *law, double z, double log_z)
{
	const double zb = law->b < 1.0 ? exp(law->b * log_z) : z;
	const double fall = exp(-law->n * (log(1.0 + law->c * zb) - law->log_c));
	const double still = law->creep > 0.0 ?
		law->still * exp(law->creep * (law->log_first - log_z)) : law->still;
	const double rest = still + (1.0 - law->still) * exp((law->first - z) * law->pace);

	return log(law->fall * fall + law->rest * rest + 1e-300);
}

static bool outside(const struct reform_work *w, int k, double value)
{
	if (k == P_SLOPE)
		return fabs(value) > 5.0;
	if (k == P_AGE)
		return value < age_least || value > w->age_most;
	return value < 0.0 || value > 1.0;
}

/* ln of the starting weight; -INFINITY outside. */
static double start_weight(const struct reform_work *w, const double at[REFORM_PARAMS])
{
	const double slope = at[P_SLOPE] / slope_sigma;

	for (int k = 0; k < REFORM_PARAMS; k++)
		if (outside(w, k, at[k]))
			return -(double)INFINITY;
	return -0.5 * slope * slope + still_thins * log(1.0 - at[P_STILL] + 1e-12);
}

static double freedom_of(const struct reform_work *w)
{
	return (double)w->n_points - 1.0 + scatter_trust;
}

/* Fill in level, scatter and likelihood of p->at.  Level and scatter are not sampled but taken
 * out by integration: what is left of a normal law is Student's.  False, with nothing filled in, as
 * soon as some of the points alone scatter by more than `most` about their own mean: all of them
 * cannot do so by less. */
static bool weigh(const struct reform_work *w, struct reform_particle *p, double most)
{
	const struct reform_law law = law_of(w, p->at);
	double off[REFORM_POINTS], sum = 0.0, squares = 0.0;
	double mean = 0.0, weights = 0.0, scatter = 0.0;

	for (size_t k = 0; k < w->n_points; k++) {
		const size_t i = w->order[k];
		double apart;

		off[i] = w->log_amps[i] - law_at(&law, w->z[i], w->log_z[i]);
		apart = off[i] - mean;
		weights += w->weight[i];
		mean += apart * w->weight[i] / weights;
		scatter += w->weight[i] * apart * (off[i] - mean);
		if (scatter > most)
			return false;
	}
	for (size_t i = 0; i < w->n_points; i++)
		sum += w->weight[i] * off[i];
	p->level = sum / w->weights;
	for (size_t i = 0; i < w->n_points; i++)
		squares += w->weight[i] * (off[i] - p->level) * (off[i] - p->level);
	p->scatter = squares;
	p->log_likelihood = -0.5 * freedom_of(w) *
		log(scatter_trust * scatter_start * scatter_start + squares);
	if (!isfinite(p->log_likelihood))
		p->log_likelihood = -1e300;
	return true;
}

/* The scatter of points whose likelihood is `least`, and a little more: no rounding must decide. */
static double most_scatter(const struct reform_work *w, double least)
{
	return exp(-2.0 / freedom_of(w) * least) * (1.0 + 1e-9) -
		scatter_trust * scatter_start * scatter_start;
}

/* --- the population ----------------------------------------------------------------------- */

static void begin(struct reform_work *w, struct chance *c)
{
	for (size_t i = 0; i < REFORM_PARTICLES; i++) {
		double *at = w->particle[i].at;

		do {
			at[P_SLOPE] = slope_sigma * chance_normal(c);
			at[P_AGE] = age_least + (w->age_most - age_least) * chance_even(c);
			for (int k = P_STRETCH; k <= P_CREEP; k++)
				at[k] = chance_even(c);
			at[P_STILL] = 1.0 - pow(at[P_STILL], 1.0 / (1.0 + still_thins));
			w->particle[i].start = start_weight(w, at);
		} while (!isfinite(w->particle[i].start));
		(void)weigh(w, &w->particle[i], (double)INFINITY);
	}
}

/* Weights of the particles for `more` power; returns how many of them still count. */
static double counting(struct reform_work *w, double more)
{
	double most = -(double)INFINITY, sum = 0.0, squares = 0.0;

	for (size_t i = 0; i < REFORM_PARTICLES; i++)
		most = fmax(most, w->particle[i].log_likelihood);
	for (size_t i = 0; i < REFORM_PARTICLES; i++) {
		w->heft[i] = exp(more * (w->particle[i].log_likelihood - most));
		sum += w->heft[i];
		squares += w->heft[i] * w->heft[i];
	}
	return sum * sum / squares;
}

/* The largest step of the power that keeps half of the population alive. */
static double next_step(struct reform_work *w, double left)
{
	double low = 0.0, high = left;

	if (counting(w, left) >= 0.5 * REFORM_PARTICLES)
		return left;
	for (int i = 0; i < 30; i++) {
		const double middle = 0.5 * (low + high);

		if (counting(w, middle) >= 0.5 * REFORM_PARTICLES)
			low = middle;
		else
			high = middle;
	}
	return high;
}

/* Copy particles in proportion to their weight (systematic resampling), then shuffle: a move
 * takes two others at random, and copies must not stand side by side. */
static void select_living(struct reform_work *w, struct chance *c)
{
	double sum = 0.0, passed;
	const double start = chance_even(c);
	size_t from = 0;

	for (size_t i = 0; i < REFORM_PARTICLES; i++)
		sum += w->heft[i];
	passed = w->heft[0];
	for (size_t i = 0; i < REFORM_PARTICLES; i++) {
		const double mark = ((double)i + start) * sum / REFORM_PARTICLES;

		while (passed < mark && from + 1 < REFORM_PARTICLES)
			passed += w->heft[++from];
		w->next[i] = w->particle[from];
	}
	for (size_t i = REFORM_PARTICLES - 1; i > 0; i--) {
		const size_t k = chance_below(c, i + 1);
		const struct reform_particle swap = w->next[i];

		w->next[i] = w->next[k];
		w->next[k] = swap;
	}
	memcpy(w->particle, w->next, sizeof w->particle);
}

/* A proposal for particle i into at: mostly along the difference of two others, at times in some
 * parameters only, at times one share anew.  False: it lies outside; of the chance that the rest of
 * it would have taken nothing is left. */
static bool propose(const struct reform_work *w, struct chance *c, size_t i,
                    double at[REFORM_PARAMS])
{
	const double *a = w->particle[chance_below(c, REFORM_PARTICLES)].at;
	const double *b = w->particle[chance_below(c, REFORM_PARTICLES)].at;
	const size_t kind = chance_below(c, 8);
	double reach;

	memcpy(at, w->particle[i].at, sizeof w->particle[i].at);
	if (kind == 7) {
		at[P_STRETCH + (int)chance_below(c, 5)] = chance_even(c);
		return true;
	}
	if (kind == 0)
		reach = 1.0; /* from hill to hill */
	else if (kind < 5)
		reach = 2.38 / sqrt(2.0 * REFORM_PARAMS) * exp(0.5 * chance_normal(c) - 0.3);
	else
		reach = exp(0.5 * chance_normal(c) - 0.3);
	bool out = false;

	for (int k = 0; k < REFORM_PARAMS; k++) {
		if (kind >= 5 && chance_below(c, 2) != 0)
			continue;
		if (out) {
			chance_pass_over(c, 1);
			continue;
		}
		at[k] += reach * (a[k] - b[k]) + 1e-3 * chance_normal(c);
		out = outside(w, k, at[k]);
	}
	return !out;
}

static void move(struct reform_work *w, struct chance *c, double power, int times)
{
	for (int m = 0; m < times; m++)
		for (size_t i = 0; i < REFORM_PARTICLES; i++) {
			struct reform_particle *p = &w->particle[i], to;
			double luck;

			if (!propose(w, c, i, to.at))
				continue;
			to.start = start_weight(w, to.at);
			if (!isfinite(to.start))
				continue;
			luck = log(chance_even(c));
			if (weigh(w, &to, most_scatter(w, p->log_likelihood +
			                               (luck - to.start + p->start) / power)) &&
			    luck < power * (to.log_likelihood - p->log_likelihood) + to.start -
			                    p->start)
				*p = to;
		}
}

static void sample_all(struct reform_work *w, struct chance *c, int moves, int last_moves)
{
	double power = 0.0;

	begin(w, c);
	for (int step = 0; step < STEPS_MOST && power < 1.0; step++) {
		const double more = step + 1 < STEPS_MOST ? next_step(w, 1.0 - power) :
			1.0 - power;

		(void)counting(w, more);
		power = fmin(1.0, power + more);
		if (1.0 - power < 1e-9)
			power = 1.0;
		select_living(w, c);
		move(w, c, power, power < 1.0 ? moves : last_moves);
	}
}

/* --- readings ----------------------------------------------------------------------------- */

static double add_point(struct reform_work *w, double seconds, double amps, double count,
                        double floor_amps)
{
	const size_t i = w->n_points++;
	const double seen = fmax(amps, 0.5 * floor_amps);
	const double blur = floor_amps / seen / scatter_start;

	w->z[i] = seconds; /* for now */
	w->log_amps[i] = log(fmax(seen, 1e-15));
	/* readings close together share their errors: many are not worth as many */
	w->weight[i] = fmin(count, GROUP_WEIGHT_MOST) / (1.0 + blur * blur);
	return w->weight[i];
}

/* Both ends, the middle, the middles of the halves, and so on. */
static void put_in_order(struct reform_work *w)
{
	bool taken[REFORM_POINTS] = { false };
	size_t n = 0;

	for (size_t parts = 1; n < w->n_points; parts *= 2)
		for (size_t k = 0; k <= parts; k++) {
			const size_t i = k * (w->n_points - 1) / parts;

			if (!taken[i])
				w->order[n++] = i;
			taken[i] = true;
		}
}

/* Readings, or groups of them even in the logarithm of time, into w. */
static void gather(struct reform_work *w, const struct reform_reading *readings, size_t n,
                   double floor_amps)
{
	const double first = log(readings[0].seconds - w->origin_s);
	const double last = log(readings[n - 1].seconds - w->origin_s);
	const double width = n > REFORM_POINTS ? (last - first) / REFORM_POINTS : 0.0;
	size_t i = 0;

	w->n_points = 0;
	while (i < n) {
		const double t = log(readings[i].seconds - w->origin_s);
		const double end = width > 0.0 ? first + width * (floor((t - first) / width) + 1.0) :
			t;
		double seconds = 0.0, amps = 0.0;
		size_t k = i;

		do {
			seconds += log(readings[k].seconds - w->origin_s);
			amps += readings[k].amps;
			k++;
		} while (k < n && width > 0.0 && (w->n_points + 1 == REFORM_POINTS ||
			 log(readings[k].seconds - w->origin_s) < end));
		(void)add_point(w, exp(seconds / (double)(k - i)), amps / (double)(k - i),
		                (double)(k - i), floor_amps);
		i = k;
	}
	w->weights = 0.0;
	for (i = 0; i < w->n_points; i++) {
		w->z[i] /= w->last_s - w->origin_s;
		w->log_z[i] = log(w->z[i]);
		w->weights += w->weight[i];
	}
	put_in_order(w);
	/* the fall may have begun as early as a fifth of the first reading's time */
	w->age_most = fmin(12.0, log(5.0 / w->z[0]));
}

static int by_value(const void *a, const void *b)
{
	const double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

static const struct reform_particle *best(const struct reform_work *w)
{
	size_t k = 0;

	for (size_t i = 1; i < REFORM_PARTICLES; i++)
		if (w->particle[i].log_likelihood > w->particle[k].log_likelihood)
			k = i;
	return &w->particle[k];
}

/* A slip of the pen or a spark must not bend the curve: what stands more than five times the
 * usual distance, and more than a tenth, off a first fit counts for next to nothing. */
static void discount_strays(struct reform_work *w)
{
	const struct reform_particle *p = best(w);
	const struct reform_law law = law_of(w, p->at);
	double off[REFORM_POINTS], sorted[REFORM_POINTS], usual;

	if (w->n_points < 6)
		return;
	for (size_t i = 0; i < w->n_points; i++) {
		off[i] = fabs(w->log_amps[i] - p->level - law_at(&law, w->z[i], w->log_z[i])) *
			sqrt(fmin(w->weight[i], 1.0));
		sorted[i] = off[i];
	}
	qsort(sorted, w->n_points, sizeof *sorted, by_value);
	/* the median of |x| is 0.674 standard deviations */
	usual = sorted[w->n_points / 2] / 0.674;
	for (size_t i = 0; i < w->n_points; i++)
		if (off[i] > fmax(0.1, 5.0 * usual)) {
			w->weights -= 0.99 * w->weight[i];
			w->weight[i] *= 0.01;
		}
}

/* --- what comes of it --------------------------------------------------------------------- */

static void draw_samples(struct reform_work *w, struct chance *c)
{
	const int freedom = (int)w->n_points - 1 + (int)scatter_trust;
	double noise = 0.0;

	for (size_t i = 0; i < REFORM_SAMPLES; i++) {
		const struct reform_particle *p = &w->particle[i % REFORM_PARTICLES];
		const double square = (scatter_trust * scatter_start * scatter_start + p->scatter) /
			freedom;

		w->sample[i].law = law_of(w, p->at);
		w->sample[i].level = p->level + chance_student(c, freedom) *
			sqrt(square / w->weights);
		w->sample[i].wander = chance_normal(c);
		noise += sqrt(square);
	}
	w->noise = noise / REFORM_SAMPLES;
}

int reform_fit(struct reform_work *work, const struct reform_reading *readings, size_t n,
               double applied_s, double floor_amps)
{
	struct chance chance = { 20 };

	if (n < 3 || !(readings[n - 1].seconds > readings[0].seconds))
		return -1;
	work->origin_s = applied_s;
	/* the first reading is never at nought: the volts were applied a little before */
	if (!(readings[0].seconds > applied_s))
		work->origin_s = readings[0].seconds -
			0.25 * (readings[1].seconds - readings[0].seconds);
	work->last_s = readings[n - 1].seconds;
	gather(work, readings, n, floor_amps);
	sample_all(work, &chance, 3, 3);
	discount_strays(work);
	sample_all(work, &chance, MOVES, LAST_MOVES);
	draw_samples(work, &chance);
	return 0;
}

static struct reform_range range_of(struct reform_work *w)
{
	qsort(w->sorted, REFORM_SAMPLES, sizeof *w->sorted, by_value);
	return (struct reform_range){ .low = w->sorted[REFORM_SAMPLES / 20],
	                              .median = w->sorted[REFORM_SAMPLES / 2],
	                              .high = w->sorted[REFORM_SAMPLES - 1 - REFORM_SAMPLES / 20] };
}

/* ln of the leakage that a sample expects at z (> 0); log_z = ln z. */
static double sample_at(const struct reform_sample *s, double z, double log_z)
{
	const double wander = log_z > 0.0 ? wander_share * s->wander * sqrt(log_z) : 0.0;

	return s->level + law_at(&s->law, z, log_z) + wander;
}

/* z at which the sample comes down to log_limit; INFINITY: not within the horizon. */
static double sample_reach(const struct reform_sample *s, double log_limit)
{
	double low = 0.0, high = log((double)REFORM_HORIZON);

	if (sample_at(s, 1.0, 0.0) <= log_limit)
		return 1.0;
	if (sample_at(s, REFORM_HORIZON, high) > log_limit)
		return (double)INFINITY;
	for (int i = 0; i < 24; i++) {
		const double middle = 0.5 * (low + high);

		if (sample_at(s, exp(middle), middle) > log_limit)
			low = middle;
		else
			high = middle;
	}
	return exp(high);
}

struct reform_reach reform_fit_reach(struct reform_work *work, double limit_amps)
{
	const double elapsed = work->last_s - work->origin_s;
	struct reform_reach reach;
	size_t never = 0;

	for (size_t i = 0; i < REFORM_SAMPLES; i++) {
		const double z = sample_reach(&work->sample[i], log(limit_amps));

		never += isinf(z) ? 1 : 0;
		work->sorted[i] = (z - 1.0) * elapsed;
	}
	reach.seconds = range_of(work);
	reach.share_never = (double)never / REFORM_SAMPLES;
	return reach;
}

struct reform_range reform_fit_at(struct reform_work *work, double seconds)
{
	const double z = fmax(seconds - work->origin_s, 1e-9) / (work->last_s - work->origin_s);
	const double log_z = log(z);

	for (size_t i = 0; i < REFORM_SAMPLES; i++)
		work->sorted[i] = exp(sample_at(&work->sample[i], z, log_z));
	return range_of(work);
}

struct reform_range reform_fit_plateau(struct reform_work *work)
{
	return reform_fit_at(work, work->origin_s +
	                           REFORM_HORIZON * (work->last_s - work->origin_s));
}

struct reform_range reform_fit_slope(struct reform_work *work)
{
	const double step = 1e-4;

	for (size_t i = 0; i < REFORM_SAMPLES; i++) {
		const struct reform_law *law = &work->sample[i].law;

		work->sorted[i] = (law_at(law, exp(-step), -step) - law_at(law, 1.0, 0.0)) / step;
	}
	return range_of(work);
}

double reform_fit_noise(const struct reform_work *work)
{
	return work->noise;
}
