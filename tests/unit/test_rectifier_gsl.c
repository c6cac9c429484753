/*
 * Rectifiers with tubes, ripple and curved loads, for which no table is printed, against the GNU
 * Scientific Library: its adaptive integrator takes the reservoir through a half cycle, its root
 * finders find the volts from which that half cycle ends where it began, and the current that
 * rectifier and source resistance agree on.  Only the circuit's description is shared.
 */
#include <criterion/criterion.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <gsl/gsl_roots.h>
#include <math.h>

#include "bench_units.h"
#include "mainstair/core/load.h"

TestSuite(rectifier_gsl, .timeout = 60);

static const double pi = 3.14159265358979323846;

struct circuit {
	double peak, hz, ohms;
	double drop_volts, drop_amps; /* i = drop_amps (v/drop_volts)^1.5 */
	double farad;
	double load_amps, load_volts; /* i = load_amps (v/load_volts)^1.5 */
	double bleeder_ohms;
};

struct at_drive {
	const struct circuit *circuit;
	double drive;
};

/* Rises with the drop: what is left of the drive when drop and resistance have had theirs. */
static double missing(double drop, void *context)
{
	const struct at_drive *at = context;
	const struct circuit *c = at->circuit;

	return drop + c->ohms * c->drop_amps * pow(drop / c->drop_volts, 1.5) - at->drive;
}

static double root_between(double (*f)(double, void *), void *context, double low, double high)
{
	gsl_function function = { f, context };
	gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
	double root;

	cr_assert_not_null(solver);
	cr_assert(gsl_root_fsolver_set(solver, &function, low, high) == GSL_SUCCESS);
	do {
		cr_assert(gsl_root_fsolver_iterate(solver) == GSL_SUCCESS);
		root = gsl_root_fsolver_root(solver);
	} while (gsl_root_test_interval(gsl_root_fsolver_x_lower(solver),
	                                gsl_root_fsolver_x_upper(solver), 1e-10,
	                                1e-10) == GSL_CONTINUE);
	gsl_root_fsolver_free(solver);
	return root;
}

static double pulse_amps(const struct circuit *c, double drive)
{
	struct at_drive at = { c, drive };

	if (drive <= 0)
		return 0;
	return (drive - root_between(missing, &at, 0, drive)) / c->ohms;
}

/* y: reservoir volts; integrals of volts, of the current into it and of its square. */
static int derivatives(double t, const double y[], double dy[], void *context)
{
	const struct circuit *c = context;
	const double volts = c->peak * sin(2 * pi * c->hz * t);
	const double in = pulse_amps(c, volts - y[0]);
	const double out = c->load_amps * pow(y[0] / c->load_volts, 1.5) + y[0] / c->bleeder_ohms;

	dy[0] = (in - out) / c->farad;
	dy[1] = y[0];
	dy[2] = in;
	dy[3] = in * in;
	return GSL_SUCCESS;
}

static void half_cycle(struct circuit *c, double from, double y[4])
{
	gsl_odeiv2_system system = { derivatives, NULL, 4, c };
	gsl_odeiv2_driver *driver = gsl_odeiv2_driver_alloc_y_new(
		&system, gsl_odeiv2_step_rkf45, 1e-6, 1e-9, 1e-9);
	double t = 0;

	cr_assert_not_null(driver);
	y[0] = from;
	y[1] = y[2] = y[3] = 0;
	cr_assert(gsl_odeiv2_driver_apply(driver, &t, 0.5 / c->hz, y) == GSL_SUCCESS);
	gsl_odeiv2_driver_free(driver);
}

static double gained(double volts, void *context)
{
	double y[4];

	half_cycle(context, volts, y);
	return volts - y[0];
}

/* Full wave, tapped winding. */
static struct load_result solved(const struct circuit *c)
{
	struct network *net = unit_empty(117, c->hz);
	struct load_result at;

	unit_transformer(net, 0, 0, 0);
	struct net_rail *rail = unit_rail(net, "r", RAIL_FROM_WINDING);

	rail->winding = unit_winding(net, "plate", c->peak / sqrt(2), 0, true);
	rail->form = FORM_FULL_WAVE;
	rail->rectifier = RECTIFIER_TUBE;
	rail->drop_volts = c->drop_volts;
	rail->drop_amps = c->drop_amps;
	rail->surge_ohms = c->ohms;
	rail->farad[0] = c->farad;
	rail->bleeder_ohms = c->bleeder_ohms;
	struct net_draw *draw = unit_draw(rail, DRAW_SPACE_CHARGE, c->load_amps, c->load_volts);

	draw->emission = INFINITY;
	load_settled(net, 117, NULL, &at);
	free(net);
	cr_assert(at.converged);
	return at;
}

Test(rectifier_gsl, tubes_ripple_and_curved_loads)
{
	static const struct circuit circuits[] = {
		{ 353, 60, 150, 22, 0.070, 20e-6, 0.030, 297, 100e3 }, /* a 6X4, 250-0-250 */
		{ 325, 50, 215, 20, 0.090, 50e-6, 0.070, 275, 220e3 }, /* an EZ80, 230-0-230 */
		{ 495, 60, 75, 50, 0.125, 8e-6, 0.100, 360, 47e3 },    /* a 5Y3, small reservoir */
		{ 600, 60, 65, 44, 0.225, 40e-6, 0.195, 465, 100e3 },  /* a 5U4 */
		{ 495, 60, 75, 50, 0.125, 2e-6, 0.100, 360, 47e3 },    /* one that has dried out */
	};
	/* The solver takes a load as straight about its mean volts, which a third of ripple on a
	 * curved one is not. */
	static const double amps_near[] = { 0.005, 0.005, 0.005, 0.005, 0.02 };

	for (size_t i = 0; i < sizeof circuits / sizeof *circuits; i++) {
		struct circuit c = circuits[i];
		const struct load_result at = solved(&c);
		double y[4];

		half_cycle(&c, root_between(gained, &c, 0.2 * c.peak, c.peak), y);
		const double half_s = 0.5 / c.hz;
		const double volts = y[1] / half_s, amps = y[2] / half_s, rms = sqrt(y[3] / half_s);
		/* referred to the winding's side */
		const double solved_rms = at.amps * 117 / (c.peak / sqrt(2));

		cr_assert(fabs(at.rail_volts[0] / volts - 1) < 0.003, "%zu: %g V against %g", i,
		          at.rail_volts[0], volts);
		cr_assert(fabs(at.rail_amps[0] / amps - 1) < amps_near[i], "%zu: %g A against %g",
		          i, at.rail_amps[0], amps);
		cr_assert(fabs(solved_rms / rms - 1) < 0.01, "%zu: %g A rms against %g", i,
		          solved_rms, rms);
	}
}
