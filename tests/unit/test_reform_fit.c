/*
 * Leakage against time: the fit against the GNU Scientific Library's nonlinear least squares where
 * the law is known, and its intervals against runs whose end is known: a published one, and
 * simulated ones of several laws with scatter, steps of volts and a room that is not constant.
 */
#include <criterion/criterion.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "mainstair/core/reform.h"

TestSuite(reform_fit, .timeout = 110);

static struct reform_work *new_work(void)
{
	struct reform_work *work = calloc(1, sizeof *work);

	cr_assert_not_null(work);
	return work;
}

/* --- chance, not the fit's own ------------------------------------------------------------ */

static uint32_t lottery = 1;

static double even(void)
{
	lottery ^= lottery << 13;
	lottery ^= lottery >> 17;
	lottery ^= lottery << 5;
	return lottery / 4294967296.0;
}

static double between(double low, double high)
{
	return low + (high - low) * even();
}

static double log_between(double low, double high)
{
	return low * pow(high / low, even());
}

static double bell(void)
{
	double sum = -6;

	for (int i = 0; i < 12; i++)
		sum += even();
	return sum;
}

/* --- against GSL -------------------------------------------------------------------------- */

enum { POINTS = 60, PARAMS_MOST = 5 };

/* ln of a law's leakage, its parameters as logarithms so that all are above nought. */
typedef double law(const double *p, double t);

static double exponential(const double *p, double t)
{
	return log(exp(p[0]) + exp(p[1] - t / exp(p[2])));
}

static double power(const double *p, double t)
{
	return p[0] - exp(p[2]) * log1p(t / exp(p[1]));
}

static double power_and_plateau(const double *p, double t)
{
	return log(exp(p[0]) + exp(p[1] - exp(p[3]) * log1p(t / exp(p[2]))));
}

static double two_exponentials(const double *p, double t)
{
	return log(exp(p[0]) + exp(p[1] - t / exp(p[2])) + exp(p[3] - t / exp(p[4])));
}

struct run {
	law *law;
	size_t n_params;
	double t[POINTS], log_amps[POINTS];
};

static int residuals(const gsl_vector *p, void *context, gsl_vector *ret)
{
	const struct run *run = context;

	for (size_t i = 0; i < POINTS; i++)
		gsl_vector_set(ret, i, run->law(p->data, run->t[i]) - run->log_amps[i]);
	return GSL_SUCCESS;
}

/* Least squares from `start`, into found; returns the scatter that is left. */
static double gsl_best(struct run *run, const double *start, double *found)
{
	gsl_multifit_nlinear_parameters options = gsl_multifit_nlinear_default_parameters();
	gsl_multifit_nlinear_workspace *work = gsl_multifit_nlinear_alloc(
		gsl_multifit_nlinear_trust, &options, POINTS, run->n_params);
	gsl_multifit_nlinear_fdf fdf = { .f = residuals, .n = POINTS, .p = run->n_params,
		                         .params = run };
	gsl_vector_const_view from = gsl_vector_const_view_array(start, run->n_params);
	double squares = 0;
	int info;

	cr_assert(gsl_multifit_nlinear_init(&from.vector, &fdf, work) == GSL_SUCCESS);
	(void)gsl_multifit_nlinear_driver(400, 1e-10, 1e-10, 1e-10, NULL, NULL, &info, work);
	for (size_t k = 0; k < run->n_params; k++)
		found[k] = gsl_vector_get(gsl_multifit_nlinear_position(work), k);
	for (size_t i = 0; i < POINTS; i++) {
		double off = gsl_vector_get(gsl_multifit_nlinear_residual(work), i);

		squares += off * off;
	}
	gsl_multifit_nlinear_free(work);
	return sqrt(squares / (POINTS - (double)run->n_params));
}

static const struct known {
	const char *name;
	law *law;
	size_t n_params;
	double p[PARAMS_MOST];
} known[] = {
	{ "exponential and plateau", exponential, 3, { -9.2, -6.2, 6.4 } },
	{ "power law and plateau", power_and_plateau, 4, { -10.1, -6.2, 4.5, 0.1 } },
	{ "power law", power, 3, { -6.2, 3.5, 0.0 } },
	{ "two exponentials and plateau", two_exponentials, 5, { -10.3, -6.2, 5.0, -7.9, 7.2 } },
};

/* Where the law is known, least squares is the reference: over the readings the fit, which does
 * not know it, goes through the same places, with the same scatter. */
Test(reform_fit, goes_where_gsl_goes_that_knows_the_law)
{
	struct reform_work *work = new_work();

	for (size_t k = 0; k < sizeof known / sizeof *known; k++) {
		struct run run = { known[k].law, known[k].n_params, { 0 }, { 0 } };
		struct reform_reading readings[POINTS];
		double best[PARAMS_MOST], scatter, most = 0;

		lottery = 12345;
		for (size_t i = 0; i < POINTS; i++) {
			run.t[i] = 20.0 * pow(180.0, (double)i / (POINTS - 1)); /* to an hour */
			run.log_amps[i] = run.law(known[k].p, run.t[i]) + 0.02 * bell();
			readings[i] = (struct reform_reading){ run.t[i], 300, exp(run.log_amps[i]) };
		}
		scatter = gsl_best(&run, known[k].p, best);
		cr_assert(reform_fit(work, readings, POINTS, 0, 0) == 0);
		for (size_t i = 0; i < POINTS; i++) {
			struct reform_range at = reform_fit_at(work, run.t[i]);
			double gsl = exp(run.law(best, run.t[i]));

			most = fmax(most, fabs(log(at.median / gsl)));
			cr_assert(at.low <= gsl * 1.005 && gsl <= at.high * 1.005,
			          "%s at %g s: %g A outside %g..%g", known[k].name, run.t[i], gsl,
			          at.low, at.high);
		}
		fprintf(stderr, "# %-30s scatter by GSL %.4f, here %.4f; curves %.2f %% apart at most\n",
		        known[k].name, scatter, reform_fit_noise(work), 100 * most);
		/* two curves through 60 readings that scatter by 2 per cent */
		cr_assert(most < 0.02, "%s: %g", known[k].name, most);
		/* the readings' own scatter, groups of them being less; a start of 3 per cent */
		cr_assert(reform_fit_noise(work) > 0.5 * scatter &&
		          reform_fit_noise(work) < 1.3 * scatter);
	}
	free(work);
}

/* An hour and a half ahead of the last reading, what GSL expects from the known law is within the
 * interval. */
Test(reform_fit, expects_what_gsl_expects)
{
	struct reform_work *work = new_work();

	for (size_t k = 0; k < sizeof known / sizeof *known; k++) {
		struct run run = { known[k].law, known[k].n_params, { 0 }, { 0 } };
		struct reform_reading readings[POINTS];
		double best[PARAMS_MOST];
		struct reform_range ahead;

		lottery = 777;
		for (size_t i = 0; i < POINTS; i++) {
			run.t[i] = 60.0 * (double)(i + 1);
			run.log_amps[i] = run.law(known[k].p, run.t[i]) + 0.02 * bell();
			readings[i] = (struct reform_reading){ run.t[i], 300, exp(run.log_amps[i]) };
		}
		(void)gsl_best(&run, known[k].p, best);
		cr_assert(reform_fit(work, readings, POINTS, 0, 0) == 0);
		ahead = reform_fit_at(work, 9000);
		double gsl = exp(run.law(best, 9000));
		cr_assert(ahead.low <= gsl && gsl <= ahead.high, "%s: %g A, not %g..%g",
		          known[k].name, gsl, ahead.low, ahead.high);
	}
	free(work);
}

/* --- runs whose end is known -------------------------------------------------------------- */

/* A 20 uF 450 V part of the 1930s at 350 V behind a supply of 5 mA: 4.5 mA after 20 s, 1 mA after
 * 15 min, 120 uA after 1 h, 50 uA after 3 h (retronics.no, February 2023, part 5, read).  From
 * its first third, the last. */
Test(reform_fit, a_published_run_ends_within_its_interval)
{
	static const struct reform_reading run[] = {
		{ 20, 350, 4.5e-3 }, { 900, 350, 1e-3 }, { 3600, 350, 120e-6 },
	};
	struct reform_work *work = new_work();
	struct reform_reach reach;
	struct reform_range there;

	cr_assert(reform_fit(work, run, 3, 0, 5e-6) == 0);
	reach = reform_fit_reach(work, 50e-6);
	fprintf(stderr, "# published run: 7200 s to 50 uA; from its first third %.0f..%.0f s, "
	        "median %.0f s\n", reach.seconds.low, reach.seconds.high, reach.seconds.median);
	cr_assert(reach.seconds.low <= 7200 && 7200 <= reach.seconds.high);
	there = reform_fit_at(work, 10800);
	cr_assert(there.low <= 50e-6 && 50e-6 <= there.high);
	free(work);
}

/* Laws that have been proposed for the fall, with parameters drawn anew for each run.  times are
 * shares of the whole run. */
enum { LAWS = 6 };
static const char *const law_names[LAWS] = {
	"power law", "power law, plateau", "exponential, plateau", "stretched exp., plateau",
	"two exponentials, plateau", "logarithmic",
};

struct truth {
	int law;
	double first, second, third, fourth, amps, plateau;
	double warm_kelvin, warm_phase; /* the room over a day; 2.3 per cent a kelvin */
};

static void draw(struct truth *truth, int which, double run_s)
{
	*truth = (struct truth){ .law = which, .amps = log_between(1e-3, 5e-3),
		                 .warm_kelvin = between(0, 3), .warm_phase = between(0, 6.28) };
	switch (which) {
	case 0:
		truth->first = log_between(5, run_s / 5);
		truth->second = between(0.8, 1.1); /* NASA report on a related dielectric */
		break;
	case 1:
		truth->first = log_between(5, run_s / 5);
		truth->second = between(0.5, 1.6);
		truth->plateau = pow(1 + run_s / truth->first, -truth->second) *
			log_between(0.1, 3);
		break;
	case 2:
		truth->first = log_between(run_s / 10, run_s / 1.5);
		truth->plateau = log_between(0.01, 0.3);
		break;
	case 3:
		truth->first = log_between(run_s / 30, run_s / 3);
		truth->second = between(0.3, 0.8);
		truth->plateau = log_between(0.01, 0.2);
		break;
	case 4:
		truth->first = log_between(run_s / 50, run_s / 8);
		truth->second = log_between(run_s / 6, run_s);
		truth->third = log_between(0.05, 0.5);
		truth->plateau = log_between(0.01, 0.1);
		break;
	case 5:
		truth->first = log_between(5, run_s / 10);
		truth->second = log_between(0.3, 3);
		break;
	}
}

/* Leakage t seconds after the volts were applied. */
static double amps_at(const struct truth *truth, double t)
{
	double share = truth->plateau;

	switch (truth->law) {
	case 0:
	case 1:
		share += pow(1 + t / truth->first, -truth->second);
		break;
	case 2:
		share += exp(-t / truth->first);
		break;
	case 3:
		share += exp(-pow(t / truth->first, truth->second));
		break;
	case 4:
		share += exp(-t / truth->first) + truth->third * exp(-t / truth->second);
		break;
	case 5:
		share += 1 / (1 + truth->second * log1p(t / truth->first));
		break;
	}
	return truth->amps * share * exp(0.023 * truth->warm_kelvin *
	                                 sin(6.28 * t / 86400 + truth->warm_phase));
}

/* When the true leakage first comes down to `amps`, from t on; INFINITY: not before `end`. */
static double truly_reached(const struct truth *truth, double t, double end, double amps)
{
	for (; t < end; t *= 1.001)
		if (amps_at(truth, t) <= amps)
			return t;
	return INFINITY;
}

enum { RUNS = 40, READINGS_MOST = 64 };

/* The first third of a run as a restorer takes it: by the clock or ever less often, after up to
 * two steps of volts, to a microamp.  Returns how many; *ret_applied is when the last volts were
 * applied. */
static size_t first_third(const struct truth *truth, double run_s, double *ret_applied,
                          struct reform_reading *ret)
{
	const double scatter = log_between(0.01, 0.05);
	const size_t steps = (size_t)(3 * even());
	const bool by_clock = even() < 0.5;
	const size_t per_step = 3 + (size_t)(3 * even());
	const size_t last = by_clock ? 12 + (size_t)(40 * even()) : 8 + (size_t)(12 * even());
	double from = 0;
	size_t n = 0;

	for (size_t s = 0; s <= steps; s++) {
		const double to = s == steps ? run_s / 3 : run_s / 30 * (double)(s + 1);
		const size_t count = s == steps ? last : per_step;
		const double volts = 400.0 * (double)(s + 1) / (double)(steps + 1);

		for (size_t i = 0; i < count; i++) {
			const double share = (double)(i + 1) / (double)count;
			const double t = by_clock ? (to - from) * share :
				10 * pow((to - from) / 10, share);
			/* a lower step leaks less */
			const double amps = amps_at(truth, t) * volts / 400 * (1 + scatter * bell());

			ret[n++] = (struct reform_reading){ from + t, volts,
				                            1e-6 * round(fmax(amps, 0) / 1e-6) };
		}
		*ret_applied = from;
		from = to;
	}
	return n;
}

struct score {
	int runs, inside, open, closed; /* open: the upper end is `never` */
	double log_width;               /* of the closed ones, summed */
};

static void tell(const char *name, const struct score *s)
{
	fprintf(stderr, "# %-26s %3d of %3d inside (%5.1f %%); upper end open in %3d, else %.1f times "
	        "the lower\n", name, s->inside, s->runs, 100.0 * s->inside / s->runs, s->open,
	        exp(s->log_width / s->closed));
}

static void count(struct score *s, const struct reform_range *foretold, double ends)
{
	s->runs++;
	s->inside += foretold->low <= ends && ends <= foretold->high;
	s->open += isinf(foretold->high) ? 1 : 0;
	if (isfinite(foretold->high) && foretold->low > 0) {
		s->log_width += log(foretold->high / foretold->low);
		s->closed++;
	}
}

/* A guard against getting worse, NOT an independent check: the model's first form, its priors and
 * its 5 per cent of wander were chosen while watching these very six laws, and many upper ends are
 * `never`.  Runs of laws that it was not chosen by: tests/watch/reform_coverage.c. */
Test(reform_fit, ninety_of_a_hundred_runs_end_within_their_interval)
{
	struct reform_work *work = new_work();
	struct score all = { 0 };
	int false_alarms = 0;

	lottery = 2024;
	for (int which = 0; which < LAWS; which++) {
		struct score one = { 0 };

		for (int run = 0; run < RUNS; run++) {
			struct reform_reading readings[READINGS_MOST];
			struct reform_aim aim = { .part = { 20e-6, 450 }, .form_volts = 450,
				                  .floor_amps = 0.5e-6 };
			const double run_s = log_between(1200, 86400);
			struct reform_judgement j;
			struct truth truth;
			double applied, now, ends;
			size_t n;

			draw(&truth, which, run_s);
			n = first_third(&truth, run_s, &applied, readings);
			now = readings[n - 1].seconds - applied;
			aim.limit_amps = amps_at(&truth, now) * between(0.2, 0.95);
			ends = truly_reached(&truth, now, REFORM_HORIZON * now, aim.limit_amps) - now;
			j = reform_judge(&aim, readings, n, work);
			cr_assert(j.fitted);
			false_alarms += j.verdict == REFORM_FAILING;
			count(&one, &j.reach.seconds, ends);
			count(&all, &j.reach.seconds, ends);
		}
		tell(law_names[which], &one);
		cr_assert(one.inside >= 0.7 * one.runs, "%s", law_names[which]);
	}
	tell("all", &all);
	fprintf(stderr, "# of these healthy runs called failing: %d\n", false_alarms);
	/* 90 per cent of 240, give or take 2.5 standard deviations */
	cr_assert(all.inside >= 0.85 * all.runs);
	cr_assert(false_alarms <= 1);
	free(work);
}

/* --- edges -------------------------------------------------------------------------------- */

Test(reform_fit, the_same_readings_give_the_same_answer)
{
	static const struct reform_reading run[] = {
		{ 30, 350, 4e-3 }, { 90, 350, 2.2e-3 }, { 300, 350, 1.1e-3 }, { 900, 350, 0.5e-3 },
	};
	struct reform_work *work = new_work();
	struct reform_reach first, again;

	cr_assert(reform_fit(work, run, 4, 0, 0) == 0);
	first = reform_fit_reach(work, 0.2e-3);
	cr_assert(reform_fit(work, run, 4, 0, 0) == 0);
	again = reform_fit_reach(work, 0.2e-3);
	cr_assert(!(first.seconds.low < again.seconds.low) &&
	          !(first.seconds.low > again.seconds.low));
	cr_assert(first.seconds.low <= first.seconds.median &&
	          first.seconds.median <= first.seconds.high);
	first = reform_fit_reach(work, 0.6e-3);
	cr_assert(first.seconds.low <= 0 && first.share_never <= 0, "there already");
	cr_assert(reform_fit(work, run, 2, 0, 0) == -1, "two readings tell no law");
	free(work);
}

/* A stray reading, nought on the meter, thousands of readings, a list that begins at nought or at
 * a clock's time: the answer stays what it was, about. */
Test(reform_fit, odd_lists)
{
	enum { MANY = 5000 };
	struct reform_reading *r = calloc(MANY, sizeof *r);
	struct reform_work *work = new_work();
	double clean, stray;

	cr_assert_not_null(r);
	for (int i = 0; i < 30; i++)
		r[i] = (struct reform_reading){ 60.0 * (i + 1), 350,
			                        3e-3 * pow(1 + i, -0.9) * (1 + 0.01 * (i % 3)) };
	cr_assert(reform_fit(work, r, 30, 0, 0) == 0);
	clean = reform_fit_reach(work, 0.08e-3).seconds.median;
	r[20].amps *= 3;
	cr_assert(reform_fit(work, r, 30, 0, 0) == 0);
	stray = reform_fit_reach(work, 0.08e-3).seconds.median;
	cr_assert(fabs(log(stray / clean)) < 0.25, "%g against %g s", stray, clean);
	r[20].amps /= 3;
	for (int i = 0; i < 30; i++)
		r[i].seconds += 1.7e9;
	cr_assert(reform_fit(work, r, 30, NAN, 0) == 0);
	stray = reform_fit_reach(work, 0.08e-3).seconds.median;
	cr_assert(fabs(log(stray / clean)) < 0.5, "%g against %g s", stray, clean);

	for (int i = 0; i < MANY; i++)
		r[i] = (struct reform_reading){ 10.0 * i, 350, i < 40 ? 1e-4 * (40 - i) : 0.0 };
	cr_assert(reform_fit(work, r, MANY, 0, 1e-5) == 0);
	cr_assert(reform_fit_at(work, 10.0 * MANY).median < 2e-5);
	cr_assert(isfinite(reform_fit_noise(work)) && isfinite(reform_fit_slope(work).median));
	free(r);
	free(work);
}

/* The exponent of a power law is its slope. */
Test(reform_fit, the_slope_of_a_power_law_is_its_exponent)
{
	struct reform_work *work = new_work();
	struct reform_reading r[30];
	struct reform_range slope;

	for (int i = 0; i < 30; i++) {
		const double t = 20 * pow(1.2, i);

		r[i] = (struct reform_reading){ t, 350, 5e-3 * pow(t / 20, -0.8) };
	}
	cr_assert(reform_fit(work, r, 30, 0, 0) == 0);
	slope = reform_fit_slope(work);
	cr_assert(slope.low < 0.8 && slope.high > 0.8 && fabs(slope.median - 0.8) < 0.05,
	          "%g (%g..%g)", slope.median, slope.low, slope.high);
	free(work);
}
