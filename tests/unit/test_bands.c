/* Bands between exact ones, against exact ones, on the shipped profiles. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "io/profile_ini.h"
#include "io/table_file.h"
#include "mainstair/core/bands.h"

TestSuite(bands, .timeout = 110);

enum { N = 20000, TRIES = 150 };

static struct network *loaded(const char *name, struct abort_rule *rule)
{
	struct profile *profile = malloc(sizeof *profile);
	struct network *net = malloc(sizeof *net);
	struct tables tables = { 0 };
	struct complaints c;
	struct err err = { 0 };
	char path[4096];

	snprintf(path, sizeof path, "%s/../profiles/%s.ini", getenv("MAINSTAIR_TESTS"), name);
	complaints_init(&c, path);
	cr_assert_eq(table_file_load(&tables, &err), 0, "%s", err.text);
	cr_assert_eq(profile_read(path, profile, NULL, &c), 0, "%s", path);
	cr_assert_eq(network_build(net, profile, &tables, &err), 0, "%s", err.text);
	*rule = abort_rule_of(profile, net);
	complaints_release(&c);
	tables_release(&tables);
	free(profile);
	return net;
}

static bool within(double line, double exact, double doubt)
{
	return fabs(line - exact) <= doubt;
}

/* How many of TRIES random voltages have an edge further from exact than told. */
static int count_misses(const struct network *net, const struct abort_rule *rule)
{
	static double volts[N];
	static struct band_edges edges[N];
	unsigned random = 5;
	int misses = 0;

	for (size_t i = 0; i < N; i++)
		volts[i] = net->line_volts * (0.08 + 0.99 * (double)i / N);
	(void)bands_along(net, rule, &meter_accuracy_default, volts, N, edges);
	for (int t = 0; t < TRIES; t++) {
		struct band_edges exact;
		size_t i;

		random = random * 1664525u + 1013904223u;
		i = (random >> 8) % N;
		bands_exact(net, rule, &meter_accuracy_default, volts[i], &exact);
		if (!within(edges[i].low, exact.low, edges[i].doubt) ||
		    !within(edges[i].expected, exact.expected, edges[i].doubt) ||
		    !within(edges[i].high, exact.high, edges[i].doubt) ||
		    !within(edges[i].abort_watts, exact.abort_watts, edges[i].doubt))
			misses++;
		if (!edges[i].jump)
			cr_assert(edges[i].doubt <= fmax(0.001 * edges[i].expected, 0.005) + 1e-12);
	}
	return misses;
}

/* Without a regulator to strike the edges are smooth: no exception at all. */
Test(bands, smooth_ones_are_within_a_tenth_of_a_per_cent)
{
	static const char *const names[] = { "european-string", "selenium-set", "solid-state",
		"table-radio", "transformer-radio", "valve-voltmeter" };

	for (size_t k = 0; k < sizeof names / sizeof *names; k++) {
		struct abort_rule rule;
		struct network *net = loaded(names[k], &rule);

		cr_assert_eq(count_misses(net, &rule), 0, "%s", names[k]);
		free(net);
	}
}

/* Where one strikes, or a solve at a single voltage is a hair off, a few are not. */
Test(bands, ones_that_jump_are_so_nearly_everywhere)
{
	static const char *const names[] = { "bench-oscillator", "signal-generator",
		"european-radio", "push-pull-amplifier", "doubler-amplifier",
		"choke-input-receiver", "oscilloscope" };

	for (size_t k = 0; k < sizeof names / sizeof *names; k++) {
		struct abort_rule rule;
		struct network *net = loaded(names[k], &rule);
		const int misses = count_misses(net, &rule);

		cr_assert(misses <= TRIES / 50, "%s: %d of %d", names[k], misses, TRIES);
		free(net);
	}
}

Test(bands, few_are_exact_one_and_all)
{
	struct abort_rule rule;
	struct network *net = loaded("table-radio", &rule);
	double volts[] = { 0, 1, 20, 117 };
	struct band_edges edges[4];
	struct band band;

	cr_assert_eq(bands_along(net, &rule, &meter_accuracy_default, volts, 4, edges), 4);
	for (int i = 0; i < 4; i++) {
		envelope_at(net, &rule, &meter_accuracy_default, volts[i], NULL, &band, NULL);
		cr_assert_float_eq(edges[i].high, band.high, 0);
		cr_assert_float_eq(edges[i].abort_watts, band.abort_watts, 0);
		cr_assert_float_eq(edges[i].doubt, 0, 0);
	}
	cr_assert_eq(bands_along(net, &rule, &meter_accuracy_default, volts, 0, edges), 0);
	free(net);
}

/* A hundred thousand rows have to be judged within a second. */
Test(bands, it_takes_few_exact_ones)
{
	static double volts[N];
	static struct band_edges edges[N];
	struct abort_rule rule;
	struct network *net = loaded("table-radio", &rule);

	for (size_t i = 0; i < N; i++)
		volts[i] = 10 + 115.0 * (double)i / N;
	cr_assert(bands_along(net, &rule, &meter_accuracy_default, volts, N, edges) < 300);
	free(net);
}
