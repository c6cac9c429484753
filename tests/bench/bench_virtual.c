/*
 * What a simulated second of the virtual bench costs in processor time.
 * Wanted: under 5 ms, so that a demonstration in real time costs half a per cent of a core and a
 * hundredfold fast forward half of one.  Informative: it prints, and fails only when a second
 * costs more than twenty times that (a machine at the mercy of others proves nothing finer).
 *
 *   bench_virtual PROFILE...
 */
#include <stdio.h>
#include <stdlib.h>

#include "bench/bench.h"
#include "lib/unit_file.h"

static const double hopeless_ms = 100;

/* ms for a simulated second at `share` of line, warm; < 0 after a message. */
static double cost_ms(const struct network *net, double share)
{
	struct bench_options o = { .start_volts = share * net->line_volts };
	struct err err;
	struct bench *b = bench_new(net, &o, &err);
	double start;

	if (!b) {
		fprintf(stderr, "%s\n", err.text);
		return -1;
	}
	bench_advance(b, 20);
	start = processor_s();
	bench_advance(b, 20);
	start = processor_s() - start;
	bench_free(b);
	return start / 20 * 1000;
}

int main(int argc, char **argv)
{
	double worst = 0;

	printf("ms a simulated second at    30 %%     70 %%    100 %% of line\n");
	for (int k = 1; k < argc; k++) {
		struct unit_file *unit = unit_file_load(argv[k]);
		double ms[3];

		if (!unit)
			return 1;
		for (int n = 0; n < 3; n++) {
			ms[n] = cost_ms(&unit->net, n == 0 ? 0.3 : n == 1 ? 0.7 : 1);
			if (ms[n] < 0)
				return 1;
			worst = ms[n] > worst ? ms[n] : worst;
		}
		printf("%-24s %7.2f  %7.2f  %7.2f\n", unit->name, ms[0], ms[1], ms[2]);
		free(unit);
	}
	printf("worst %.2f ms\n", worst);
	return worst > hopeless_ms;
}
