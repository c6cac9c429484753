/*
 * core/uncertainty.h - the arithmetic of measurement uncertainty
 *
 * Layer: core; pure; libm only.  After the "Guide to the expression of uncertainty in
 * measurement" (JCGM 100:2008, "GUM"; second hand).  Values and uncertainties are
 * in one unit, the caller's.  What is not known is NAN and makes what hangs on it NAN: an
 * uncertainty is never taken for nought.
 */
#ifndef MAINSTAIR_CORE_UNCERTAINTY_H
#define MAINSTAIR_CORE_UNCERTAINTY_H

#include <stddef.h>

/* One contribution, its sensitivity coefficient multiplied in already; or a combined one. */
struct uncertainty {
	double u;   /* standard uncertainty, >= 0 */
	double dof; /* degrees of freedom, > 0; INFINITY: taken as known */
};

/** Type A (GUM 4.2): mean of n readings into *ret_mean, and the standard uncertainty of that mean
 *  with n - 1 degrees of freedom.  n < 2: u NAN; n 0: the mean NAN too. */
struct uncertainty uncertainty_of_readings(const double *reading, size_t n, double *ret_mean);

/** Type B (GUM 4.3.7): anything within +-half is as likely, half / sqrt(3). */
struct uncertainty uncertainty_rectangular(double half);

/** Independent contributions together: root of the sum of squares (GUM 5.1.2), degrees of freedom
 *  by Welch and Satterthwaite (GUM G.4.1).  n 0: u 0, known exactly. */
struct uncertainty uncertainty_combine(const struct uncertainty *part, size_t n);

/** Coverage factor: Student's t that +-k holds the share `coverage` (0..1) of, for so many degrees
 *  of freedom, cut to a whole number first (GUM G.6.4); INFINITY: of the normal distribution.
 *  NAN when dof < 1 or coverage is not between 0 and 1. */
double uncertainty_coverage(double dof, double coverage);

/* The share that k = 2 holds of a normal distribution: the trade's "95 %" (EA-4/02, GUM G.2.3). */
#define UNCERTAINTY_COVERAGE_USUAL 0.9545

/** Probability that what was measured as `value` lies within low..high (either may be infinite),
 *  normal distribution (JCGM 106:2012, 7.2).  u 0: 1 or 0.  NAN for anything not told. */
double uncertainty_conformance(double value, double u, double low, double high);

/** Test uncertainty ratio: the width of the tolerance over twice the expanded uncertainty
 *  (ANSI/NCSL Z540.3-2006, second hand). */
double uncertainty_test_ratio(double low, double high, double expanded);

#endif
