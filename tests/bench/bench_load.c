/*
 * What one settled solve costs in processor time: from where the last one ended, line volts a volt
 * apart (how the dashboard and the bands ask), and from nothing.
 * Wanted: well under 100 us for a typical profile.  Informative: it prints, and fails only when a
 * solve costs more than twenty times that (a machine at the mercy of others proves nothing finer).
 *
 *   bench_load PROFILE...
 */
#include <stdio.h>
#include <stdlib.h>

#include "lib/unit_file.h"
#include "mainstair/core/load.h"

enum { ROUNDS = 5 };
static const double hopeless_us = 2000;

/* Mean us a solve between 10 and 105 per cent of line; < 0 after a message. */
static double cost_us(const struct network *net, bool near)
{
	const double from = 0.10 * net->line_volts, to = 1.05 * net->line_volts;
	struct load_result at;
	int n = 0;
	double s = processor_s();

	for (int round = 0; round < ROUNDS; round++) {
		struct load_start start = { 0 };

		for (double volts = from; volts < to; volts += 1, n++) {
			load_settled(net, volts, near ? &start : NULL, &at);
			if (!at.converged) {
				fprintf(stderr, "no solution at %g V\n", volts);
				return -1;
			}
		}
	}
	s = processor_s() - s;
	return s / n * 1e6;
}

int main(int argc, char **argv)
{
	double worst = 0;

	printf("us a settled solve             near   from nothing\n");
	for (int k = 1; k < argc; k++) {
		struct unit_file *unit = unit_file_load(argv[k]);

		if (!unit)
			return 1;
		const double near = cost_us(&unit->net, true), far = cost_us(&unit->net, false);

		printf("%-26s %8.1f %14.1f\n", unit->name, near, far);
		free(unit);
		if (near < 0 || far < 0)
			return 1;
		worst = far > worst ? far : worst;
		worst = near > worst ? near : worst;
	}
	printf("worst %.1f us\n", worst);
	return worst > hopeless_us;
}
