#include "mainstair/core/uncertainty.h"

#include <math.h>
#include <stdbool.h>

static const struct uncertainty not_known = {.u = NAN, .dof = NAN};

/* Beyond it the sums below are long and the expansion is as good as they are. */
static const double dof_summed_most = 1000;

struct uncertainty uncertainty_of_readings(const double *reading, size_t n, double *ret_mean)
{
	double sum = 0, squares = 0, mean;

	for (size_t i = 0; i < n; i++)
		sum += reading[i];
	mean = n > 0 ? sum / (double)n : (double)NAN;
	*ret_mean = mean;
	if (n < 2)
		return not_known;
	for (size_t i = 0; i < n; i++)
		squares += (reading[i] - mean) * (reading[i] - mean);
	return (struct uncertainty){.u = sqrt(squares / ((double)n * (double)(n - 1))),
	                            .dof = (double)(n - 1)};
}

static struct uncertainty limits_over(double half, double divisor)
{
	if (!(half >= 0))
		return not_known;
	return (struct uncertainty){.u = half / divisor, .dof = INFINITY};
}

struct uncertainty uncertainty_rectangular(double half)
{
	return limits_over(half, sqrt(3));
}

struct uncertainty uncertainty_combine(const struct uncertainty *part, size_t n)
{
	double squares = 0, fourths = 0;

	for (size_t i = 0; i < n; i++) {
		if (!(part[i].u >= 0) || !(part[i].dof > 0))
			return not_known;
		squares += part[i].u * part[i].u;
		/* over infinitely many degrees of freedom it adds nothing */
		fourths += pow(part[i].u, 4) / part[i].dof;
	}
	return (struct uncertainty){.u = sqrt(squares),
	                            .dof = fourths > 0 ? squares * squares / fourths
	                                               : (double)INFINITY};
}

/* Share of Student's distribution within +-t, whole degrees of freedom: the finite sums of
 * Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4. */
static double student_within(double t, int dof)
{
	const double angle = atan2(t, sqrt(dof)), c2 = pow(cos(angle), 2);
	const bool odd = dof % 2 == 1;
	double term = odd ? cos(angle) : 1, sum = 0;

	for (int k = odd ? 2 : 1; k <= dof - 1; k += 2) {
		/* odd: cos, 2/3 cos^3, 2 4/(3 5) cos^5 …; even: 1, 1/2 cos^2 … */
		sum += term;
		term *= c2 * (double)k / (double)(k + 1);
	}
	return odd ? (angle + sin(angle) * sum) * 2 / acos(-1) : sin(angle) * sum;
}

static double normal_within(double z)
{
	return erf(z / sqrt(2));
}

/* The deviation that +- holds `coverage`: halved until it stands still. */
static double root_of(double coverage, int dof)
{
	double low = 0, high = 1;

	while ((dof > 0 ? student_within(high, dof) : normal_within(high)) < coverage) {
		low = high;
		high *= 2;
		if (high > 1e12)
			return NAN;
	}
	for (int i = 0; i < 80; i++) {
		const double middle = (low + high) / 2;

		if ((dof > 0 ? student_within(middle, dof) : normal_within(middle)) < coverage)
			low = middle;
		else
			high = middle;
	}
	return (low + high) / 2;
}

double uncertainty_coverage(double dof, double coverage)
{
	double z;

	if (!(dof >= 1) || !(coverage > 0 && coverage < 1))
		return NAN;
	if (dof < dof_summed_most + 1)
		return root_of(coverage, (int)dof);
	z = root_of(coverage, 0);
	if (isinf(dof))
		return z;
	dof = floor(dof);
	/* Abramowitz and Stegun, 26.7.5, first two terms: good to 1e-8 from here on */
	return z + (pow(z, 3) + z) / (4 * dof) +
	       (5 * pow(z, 5) + 16 * pow(z, 3) + 3 * z) / (96 * dof * dof);
}

/* Share of the standard normal distribution below z. */
static double normal_below(double z)
{
	return erfc(-z / sqrt(2)) / 2;
}

double uncertainty_conformance(double value, double u, double low, double high)
{
	if (!isfinite(value) || !(u >= 0) || !(low <= high))
		return NAN;
	if (!(u > 0))
		return value >= low && value <= high ? 1 : 0;
	/* both tails away from one: exact where they are small */
	return 1 - normal_below((low - value) / u) - normal_below((value - high) / u);
}

double uncertainty_test_ratio(double low, double high, double expanded)
{
	if (!(high > low) || !(expanded > 0))
		return NAN;
	return (high - low) / (2 * expanded);
}
