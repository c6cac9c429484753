/* Points of chi-square against GSL, which shares nothing with ours. */
#include <criterion/criterion.h>
#include <gsl/gsl_cdf.h>

#include "core/judge/suspect_fit.h"

TestSuite(suspects_gsl, .timeout = 60);

/* What is called once in a thousand, or once in twenty, is so within a third. */
Test(suspects_gsl, chi_square_points)
{
	static const double uppers[] = { 0.05, 0.001 };

	for (size_t u = 0; u < sizeof uppers / sizeof uppers[0]; u++)
		for (int n = 1; n <= OBSERVATIONS_MAX; n++) {
			const double ours = chi_square_point(gsl_cdf_ugaussian_Qinv(uppers[u]), n);
			const double upper = gsl_cdf_chisq_Q(ours, n);

			cr_assert(upper > uppers[u] / 1.33 && upper < uppers[u] * 1.33,
			          "%d readings: %g beyond, not %g", n, upper, uppers[u]);
		}
}
