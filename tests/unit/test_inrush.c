/*
 * The abort line while heaters warm up, against the virtual bench: it integrates the circuit in
 * time and shares nothing with the settled solver but the laws of a heater and of a cathode.
 */
#include <criterion/criterion.h>
#include <math.h>

#include "bench/bench.h"
#include "bench_units.h"
#include "mainstair/core/inrush.h"

TestSuite(inrush, .timeout = 100);

static struct abort_rule rule_of(const struct network *net)
{
	return (struct abort_rule){.share = 0.15, .floor_watts = 0.5,
		.rated_amps = envelope_rated_amps(net)};
}

static struct band band_at(const struct network *net, double volts)
{
	struct abort_rule rule = rule_of(net);
	struct load_start start = {0};
	struct band band;

	envelope_at(net, &rule, &meter_accuracy_default, volts, &start, &band, NULL);
	return band;
}

/* Watts that the bench reads in the minute after a step from settled `from` to `to` volts. */
static double most_watts(const struct network *net, double from, double to)
{
	struct bench_options options = {.start_volts = from};
	struct err err = {0};
	struct bench *b = bench_new(net, &options, &err);
	struct bench_reading r;
	double most = 0;

	cr_assert_not_null(b, "%s", err.text);
	if (from > 0)
		bench_advance(b, 120);
	bench_set_variac(b, to, 20);
	for (int i = 0; i < 240; i++) {
		bench_advance(b, 0.25);
		if (bench_read(b, &r))
			most = fmax(most, r.watts);
	}
	bench_free(b);
	return most;
}

Test(inrush, a_cold_healthy_unit_is_not_aborted)
{
	struct network *net = unit_oscillator();
	static const double steps[][2] = {{0, 15}, {0, 25}, {15, 30}, {50, 70}, {105, 117}};

	for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
		struct load_thermal before;
		struct band band = band_at(net, steps[i][1]);
		double most = most_watts(net, steps[i][0], steps[i][1]);

		inrush_heaters(net, steps[i][0], &before);
		inrush_allow(net, &before, &band);
		cr_assert(most <= band.abort_watts, "%g to %g V: %g W over %g W", steps[i][0],
		          steps[i][1], most, band.abort_watts);
	}
	free(net);
}

/* The reason for it all: the settled abort line alone cries wolf. */
Test(inrush, settled_watts_alone_would_abort_it)
{
	struct network *net = unit_oscillator();

	cr_assert(most_watts(net, 0, 25) > band_at(net, 25).abort_watts);
	free(net);
}

Test(inrush, warm_heaters_explain_next_to_nothing)
{
	struct network *net = unit_oscillator();
	struct load_thermal before;
	struct band band = band_at(net, 50), allowed = band;

	inrush_heaters(net, 50, &before);
	inrush_allow(net, &before, &allowed);
	cr_assert(allowed.abort_watts >= band.abort_watts);
	cr_assert(allowed.abort_watts <= band.abort_watts * 1.01);
	free(net);
}

Test(inrush, never_above_the_fuse_and_never_lowered)
{
	struct network *net = unit_oscillator();
	struct load_thermal cold;
	struct band band = band_at(net, 20), allowed = band;

	inrush_heaters(net, 0, &cold);
	net->fuse_amps = band.abort_watts * 1.1 / 20;
	inrush_allow(net, &cold, &allowed);
	cr_assert(allowed.abort_watts <= net->fuse_amps * 20 + 1e-9);
	cr_assert(allowed.abort_watts > band.abort_watts);
	net->fuse_amps = band.abort_watts * 0.5 / 20;
	allowed = band;
	inrush_allow(net, &cold, &allowed);
	cr_assert(!(allowed.abort_watts < band.abort_watts));
	free(net);
}
