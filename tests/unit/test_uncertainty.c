/*
 * Uncertainty: worked examples of the GUM and of EA-4/02, and published tables.  The documents
 * themselves were not at hand: figures are second hand (other programs' published tests quote them
 * with their clauses) or from memory, as each says.  Student's t is held against GSL in
 * test_uncertainty_gsl.c.
 */
#include <criterion/criterion.h>
#include <math.h>

#include "mainstair/core/uncertainty.h"

TestSuite(uncertainty, .timeout = 60);

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static bool near(double a, double b, double by)
{
	return fabs(a - b) <= by;
}

/* An expanded uncertainty as certificates state it (GUM 4.3.3). */
static struct uncertainty stated(double expanded, double k)
{
	return (struct uncertainty){expanded / k, INFINITY};
}

static double expand(struct uncertainty u)
{
	return u.u * uncertainty_coverage(u.dof, UNCERTAINTY_COVERAGE_USUAL);
}

/* JCGM 100:2008, H.1 (end gauge), Table H.1; second hand.  From its inputs, in nm, with degrees of
 * freedom: u_c^2 = 1002 nm^2, u_c = 32 nm; H.1.6: 16.7 cut to 16, t99 = 2.92, U99 = 2.92 times 32 =
 * 93 nm. */
Test(uncertainty, gum_h1_end_gauge)
{
	const double length = 50.000623e6, expansion = 11.5e-6, warmth = -0.1;
	const struct uncertainty part[] = {
	        {25, 18}, /* length of the standard */
	        {5.8, 24},
	        {3.9, 5},
	        {6.7, 8}, /* measured difference: scatter, comparator */
	        /* difference of expansion coefficients within 1e-6 1/K */
	        {length * -warmth * uncertainty_rectangular(1e-6).u, 50},
	        /* difference of temperatures within 0.05 K */
	        {length * expansion * uncertainty_rectangular(0.05).u, 2},
	};
	struct uncertainty all = uncertainty_combine(part, COUNT(part));
	double k = uncertainty_coverage(all.dof, 0.99);

	cr_assert(near(all.u * all.u, 1002, 0.7), "%g", all.u * all.u);
	cr_assert(near(all.dof, 16.7, 0.06), "%g", all.dof);
	cr_assert(near(k, 2.92, 0.005), "%g", k);
	cr_assert(near(k * 32, 93, 0.5) && near(k * all.u, 92.47, 0.02));
}

/* The second of its contributions, itself combined (H.1.3.2; second hand): 5.8 nm with 24 degrees
 * of freedom, 3.9 nm with 5, 6.7 nm with 8: 9.7 nm with 25.6. */
Test(uncertainty, gum_h1_observed_difference)
{
	static const struct uncertainty part[] = {{5.8, 24}, {3.9, 5}, {6.7, 8}};
	struct uncertainty all = uncertainty_combine(part, COUNT(part));

	cr_assert(near(all.u, 9.7, 0.05), "%g", all.u);
	cr_assert(near(all.dof, 25.6, 0.8), "%g", all.dof);
}

/* JCGM 100:2008, H.2, Table H.2 (five simultaneous observations): means and their standard
 * uncertainties (second hand; the single observations from memory). */
Test(uncertainty, gum_h2_scatter)
{
	static const double volts[] = {5.007, 4.994, 5.005, 4.990, 4.999};
	static const double milliamps[] = {19.663, 19.639, 19.640, 19.685, 19.678};
	static const double radians[] = {1.0456, 1.0438, 1.0468, 1.0428, 1.0433};
	double mean;
	struct uncertainty u = uncertainty_of_readings(volts, 5, &mean);

	cr_assert(near(mean, 4.9990, 5e-5) && near(u.u, 0.0032, 5e-5), "%g %g", mean, u.u);
	cr_assert(near(u.dof, 4, 0));
	u = uncertainty_of_readings(milliamps, 5, &mean);
	cr_assert(near(mean, 19.6610, 5e-5) && near(u.u, 0.0095, 5e-5), "%g %g", mean, u.u);
	u = uncertainty_of_readings(radians, 5, &mean);
	cr_assert(near(mean, 1.04446, 5e-6) && near(u.u, 0.00075, 5e-6), "%g %g", mean, u.u);
}

/* JCGM 100:2008, 4.3.7, example 2 (a voltmeter whose limits are +-15 uV: u = 8.7 uV); F.2.2.1 (a
 * step of the resolution gives 0.29 of it).  From memory. */
Test(uncertainty, gum_rectangles)
{
	cr_assert(near(uncertainty_rectangular(15).u, 8.7, 0.05));
	cr_assert(near(uncertainty_rectangular(0.5).u, 0.29, 0.005));
	cr_assert(isinf(uncertainty_rectangular(1).dof));
}

/* EA-4/02 M:2022, S2: a nominal 10 kg weight; contributions in mg; u = 29.26, U = 58.52 from the
 * raw inputs, printed rounded as 29.2 and 58; second hand.  S3: a nominal 10 kohm standard
 * resistor, mohm: u = 8.33, U = 17; from memory. */
Test(uncertainty, ea_4_02_s2_s3)
{
	struct uncertainty part[] = {
	        stated(45, 2),   /* reference weight */
	        uncertainty_rectangular(15), /* its drift: u 8.66 */
	        {25 / sqrt(3), INFINITY},    /* comparison, pooled 25 mg, 3 times: u 14.43 */
	        uncertainty_rectangular(10), /* comparator, off centre: u 5.77 */
	        uncertainty_rectangular(10), /* buoyancy: u 5.77 */
	};
	struct uncertainty resistor[] = {
	        stated(5, 2),      /* reference: u 2.5 */
	        uncertainty_rectangular(10),   /* its drift: u 5.8 */
	        uncertainty_rectangular(2.75), /* its temperature: u 1.6 */
	        uncertainty_rectangular(5.5),  /* the other's temperature: u 3.2 */
	        {10 / sqrt(6), INFINITY},      /* ratio's parasitic effects: u 4.1 */
	        {0.7, INFINITY},               /* scatter of the ratio */
	};
	struct uncertainty all = uncertainty_combine(part, COUNT(part));

	cr_assert(near(all.u, 29.26, 0.005), "%g", all.u);
	cr_assert(near(expand(all), 58.52, 0.02), "%g", expand(all));
	all = uncertainty_combine(resistor, COUNT(resistor));
	cr_assert(near(all.u, 8.33, 0.05), "%g", all.u);
	cr_assert(near(expand(all), 17, 0.5));
}

/* EA-4/02, supplement, S9: a hand-held multimeter at 100 V dc: calibrator 0.001 V, its drift and
 * temperature within 0.011 V, half a step of 0.1 V: u = 0.030 V.  From memory.  (The document
 * then takes k = 1.65, because one rectangle rules; with the usual factor U is larger: careful.) */
Test(uncertainty, ea_4_02_s9)
{
	struct uncertainty part[] = {stated(0.002, 2), uncertainty_rectangular(0.011),
	                             uncertainty_rectangular(0.05)};
	struct uncertainty all = uncertainty_combine(part, COUNT(part));

	cr_assert(near(all.u, 0.030, 0.0005), "%g", all.u);
	cr_assert(expand(all) >= 0.05);
}

/* JCGM 100:2008, Table G.2 (the same in EA-4/02, Table E.1): t for 95.45 % (second hand), 99 % and
 * 68.27 % (from memory). */
Test(uncertainty, coverage_table)
{
	static const struct {
		double dof, at_68, at_95, at_99;
	} rows[] = {
	        {1, 1.84, 13.97, 63.66},       {2, 1.32, 4.53, 9.92},  {3, 1.20, 3.31, 5.84},
	        {4, 1.14, 2.87, 4.60},         {5, 1.11, 2.65, 4.03},  {6, 1.09, 2.52, 3.71},
	        {7, 1.08, 2.43, 3.50},         {8, 1.07, 2.37, 3.36},  {9, 1.06, 2.32, 3.25},
	        {10, 1.05, 2.28, 3.17},        {20, 1.03, 2.13, 2.85}, {50, 1.01, 2.05, 2.68},
	        {INFINITY, 1.00, 2.00, 2.576},
	};

	for (size_t i = 0; i < COUNT(rows); i++) {
		cr_assert(near(uncertainty_coverage(rows[i].dof, 0.6827), rows[i].at_68, 0.0051));
		cr_assert(near(uncertainty_coverage(rows[i].dof, 0.9545), rows[i].at_95, 0.0051));
		cr_assert(near(uncertainty_coverage(rows[i].dof, 0.99), rows[i].at_99, 0.0051));
	}
	/* cut to a whole number, never rounded up */
	cr_assert(near(uncertainty_coverage(16.7, 0.99), uncertainty_coverage(16, 0.99), 0));
}

/* JCGM 106:2012, 7.3 (breakdown of a Zener diode, upper limit -5.40 V, measured -5.47 V with
 * u = 0.05 V): 92 % that it conforms.  From memory. */
Test(uncertainty, conformance)
{
	cr_assert(near(uncertainty_conformance(-5.47, 0.05, -INFINITY, -5.40), 0.92, 0.005));
	/* at the limit: one half; a guard band of U = 2u away: over 97.5 % (ILAC-G8:09/2019,
	 * Table 1, "less than 2.5 %" false accepts for w = U; second hand) */
	cr_assert(near(uncertainty_conformance(10, 1, -INFINITY, 10), 0.5, 1e-12));
	cr_assert(uncertainty_conformance(8, 1, -INFINITY, 10) > 0.975);
	cr_assert(near(uncertainty_conformance(1, 0, 0, 2), 1, 0));
	cr_assert(near(uncertainty_conformance(3, 0, 0, 2), 0, 0));
}

/* Half of the width over U: +-1 % held against +-0.25 % is 4 : 1. */
Test(uncertainty, test_ratio)
{
	cr_assert(near(uncertainty_test_ratio(99, 101, 0.25), 4, 1e-12));
	cr_assert(isnan(uncertainty_test_ratio(99, 101, 0)));
	cr_assert(isnan(uncertainty_test_ratio(101, 99, 1)));
}

Test(uncertainty, unknown_is_never_nought)
{
	const struct uncertainty parts[] = {{1, INFINITY}, uncertainty_rectangular(NAN)};
	double mean, one = 3;
	struct uncertainty u = uncertainty_of_readings(&one, 1, &mean);

	cr_assert(near(mean, 3, 0) && isnan(u.u));
	cr_assert(isnan(uncertainty_combine(parts, 2).u));
	cr_assert(isnan(uncertainty_rectangular(-1).u));
	cr_assert(isnan(uncertainty_coverage(0.5, 0.95)) && isnan(uncertainty_coverage(3, 1)));
	cr_assert(isnan(uncertainty_coverage(NAN, 0.95)));
	cr_assert(isnan(uncertainty_conformance(NAN, 1, 0, 1)));
	cr_assert(isnan(uncertainty_conformance(1, NAN, 0, 1)));
}
