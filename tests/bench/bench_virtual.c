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
#include <time.h>

#include "bench/bench.h"
#include "io/profile_ini.h"
#include "io/table_file.h"
#include "mainstair/core/network.h"

static const double hopeless_ms = 100;

static double processor_s(void)
{
	struct timespec t;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

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

static int load(const char *path, const struct tables *tables, struct network *net)
{
	struct profile *profile = malloc(sizeof *profile);
	struct complaints c;
	struct err err;
	int status = -1;

	complaints_init(&c, path);
	if (profile && profile_read(path, profile, NULL, &c) == 0 &&
	    network_build(net, profile, tables, &err) == 0)
		status = 0;
	complaints_release(&c);
	free(profile);
	return status;
}

int main(int argc, char **argv)
{
	static struct network net;
	struct tables tables;
	struct err err;
	double worst = 0;

	if (table_file_load(&tables, &err) != 0) {
		fprintf(stderr, "%s\n", err.text);
		return 1;
	}
	printf("ms a simulated second at    30 %%     70 %%    100 %% of line\n");
	for (int k = 1; k < argc; k++) {
		const char *name = argv[k];
		double ms[3];
		if (load(argv[k], &tables, &net) != 0) {
			fprintf(stderr, "%s: not a profile\n", argv[k]);
			return 1;
		}
		for (int n = 0; n < 3; n++) {
			ms[n] = cost_ms(&net, n == 0 ? 0.3 : n == 1 ? 0.7 : 1);
			if (ms[n] < 0)
				return 1;
			worst = ms[n] > worst ? ms[n] : worst;
		}
		for (const char *at = name; *at; at++)
			if (*at == '/')
				name = at + 1;
		printf("%-24s %7.2f  %7.2f  %7.2f\n", name, ms[0], ms[1], ms[2]);
	}
	printf("worst %.2f ms\n", worst);
	tables_release(&tables);
	return worst > hopeless_ms;
}
