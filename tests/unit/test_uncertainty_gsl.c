/* Student's t and the normal distribution against GSL, which shares nothing with ours. */
#include <criterion/criterion.h>
#include <gsl/gsl_cdf.h>
#include <math.h>

#include "mainstair/core/uncertainty.h"

TestSuite(uncertainty_gsl, .timeout = 60);

Test(uncertainty_gsl, coverage_factors)
{
	static const double coverages[] = {0.5, 0.6827, 0.95, 0.9545, 0.99, 0.9973};
	static const int dofs[] = {1, 2, 3, 4, 5, 7, 16, 29, 100, 999, 1000, 1001, 5000, 1000000};

	for (size_t c = 0; c < sizeof coverages / sizeof coverages[0]; c++) {
		const double upper = (1 + coverages[c]) / 2;

		for (size_t d = 0; d < sizeof dofs / sizeof dofs[0]; d++) {
			const double k = uncertainty_coverage(dofs[d], coverages[c]);
			const double other = gsl_cdf_tdist_Pinv(upper, dofs[d]);

			cr_assert(fabs(k / other - 1) < 1e-7, "%d %g: %.12g %.12g", dofs[d],
			          coverages[c], k, other);
		}
		cr_assert(fabs(uncertainty_coverage(INFINITY, coverages[c]) /
		                       gsl_cdf_ugaussian_Pinv(upper) -
		               1) < 1e-10);
	}
}

Test(uncertainty_gsl, conformance)
{
	for (double x = -6; x <= 6; x += 0.25) {
		const double inside = gsl_cdf_ugaussian_P(2 - x) - gsl_cdf_ugaussian_P(-2 - x);

		cr_assert(fabs(uncertainty_conformance(x, 1, -2, 2) - inside) < 1e-12);
	}
}
