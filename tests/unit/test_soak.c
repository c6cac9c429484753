/* Soak: on made-up drifts whose answer is known beforehand. */
#include <criterion/criterion.h>
#include <math.h>

#include "mainstair/core/soak.h"

TestSuite(soak, .timeout = 60);

enum { N = 240 };

/* A reading every 10 s; noise of +-`noise` in a fixed, rough pattern. */
static void fill(struct soak_point *p, double level, double rise, double tau_s, double slope,
                 double noise)
{
	for (int i = 0; i < N; i++) {
		const double t = 10.0 * i;

		p[i].seconds = t;
		p[i].watts = level - rise * exp(-t / tau_s) + slope * t +
			noise * sin(12.9898 * i) * cos(78.233 * i);
	}
}

Test(soak, too_little_is_not_judged)
{
	struct soak_point p[N];
	struct soak s;

	fill(p, 28, 0, 1, 0, 0.01);
	soak_judge(p, 7, 35, &s);
	cr_assert_not(s.known);
	soak_judge(p, 12, 35, &s);
	cr_assert_not(s.known, "under two minutes");
	soak_judge(p, 20, 35, &s);
	cr_assert(s.known);
}

Test(soak, steady_watts_are_stable_and_run_nowhere)
{
	struct soak_point p[N];
	struct soak s;

	fill(p, 28, 0, 1, 0, 0.01);
	soak_judge(p, N, 35, &s);
	cr_assert(s.known && s.stable);
	cr_assert_float_eq(s.stable_in_s, 0, 1e-12);
	cr_assert(isnan(s.runaway_in_s) || s.runaway_in_s > 36000);
	cr_assert(fabs(s.slope_w_per_h) <= s.slope_error + 0.02);
}

/* A display in steps of 0.1 W that went from 39.5 to 39.6 once has not climbed for sure; one that
 * goes on step by step has. */
Test(soak, one_step_of_the_display_is_no_climb)
{
	struct soak_point p[N];
	struct soak s;

	for (int i = 0; i < 40; i++)
		p[i] = (struct soak_point){ 15.0 * i, i < 20 ? 39.5 : 39.6 };
	soak_judge(p, 40, 45, &s);
	cr_assert(s.known && isnan(s.runaway_in_s), "%g", s.runaway_in_s);
	cr_assert(s.slope_error >= s.slope_w_per_h, "%g +- %g", s.slope_w_per_h, s.slope_error);
	/* where noise goes over the steps, rounding adds no error of its own (it would make 0.14) */
	for (int i = 0; i < 40; i++)
		p[i].watts = 39.5 + 0.01 * (int)(3 * sin(12.9898 * i));
	soak_judge(p, 40, 45, &s);
	cr_assert(s.slope_error < 0.12, "%g", s.slope_error);
	for (int i = 0; i < 40; i++)
		p[i].watts = 39.5 + 0.1 * (i / 4);
	soak_judge(p, 40, 45, &s);
	cr_assert(s.runaway_in_s > 0, "%g", s.runaway_in_s);
}

Test(soak, a_climb_is_projected_to_the_abort_line)
{
	struct soak_point p[N];
	struct soak s;

	fill(p, 28, 0, 1, 0.001, 0.02); /* 3.6 W an hour; 30.39 W at the end, 4.61 W to go */
	soak_judge(p, N, 35, &s);
	cr_assert(s.known && !s.stable);
	cr_assert(fabs(s.slope_w_per_h - 3.6) < 0.1, "%g", s.slope_w_per_h);
	cr_assert(fabs(s.runaway_in_s - 4610) < 200, "%g", s.runaway_in_s);
	cr_assert(fabs(s.drift_watts - 2.39) < 0.05);
}

Test(soak, a_decaying_drift_tells_when_it_will_rest)
{
	struct soak_point p[N];
	struct soak s;
	const double tau = 900;

	fill(p, 28, 2, tau, 0, 0.002);
	soak_judge(p, N, 35, &s);
	/* slope 2/tau exp(-t/tau) reaches 1 per cent an hour of 28 W at this time */
	const double rest = tau * log(2 / tau / (0.01 * 28 / 3600));
	cr_assert(s.known && !s.stable);
	cr_assert(fabs(s.stable_in_s - (rest - 2390)) < 0.15 * (rest - 2390), "%g, not %g",
	          s.stable_in_s, rest - 2390);
}

Test(soak, uncertainty_covers_the_truth)
{
	struct soak_point p[N];
	struct soak s;

	fill(p, 28, 0, 1, 2e-5, 0.3);
	soak_judge(p, N, 35, &s);
	cr_assert(fabs(s.slope_w_per_h - 0.072) <= s.slope_error, "%g +- %g", s.slope_w_per_h,
	          s.slope_error);
}
