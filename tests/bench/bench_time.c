/*
 * What the model in time, a band with its sensitivities and a ranking of faults cost in processor
 * time.  Wanted: one time step under 20 us, a band under 20 ms, a ranking over 200 readings under
 * 100 ms.  Informative: it prints, and fails only at twenty times that (a machine at the mercy of
 * others proves nothing finer).
 *
 * With NGSPICE (the program) and a netlist of a unit at a settled point, as
 * `tests/spice/spice.py --only NAME --netlist V` prints it, and that unit's own profile last, the
 * same run also tells how many settled solves ngspice's one takes.
 *
 *   bench_time [--ngspice NGSPICE NETLIST VOLTS] PROFILE...
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "lib/unit_file.h"
#include "mainstair/core/suspects.h"
#include "mainstair/core/warming.h"

static const double hopeless = 20;
static const double step_us = 20, band_ms = 20, rank_ms = 100;
enum { READINGS = 200, STEPS = 2000, SOLVES = 200 };

/* A reading a quarter of a second after the last, at volts that the model has not settled at. */
static double cost_step_us(const struct network *net)
{
	struct warming w;

	warming_init(&w, net);
	warming_reading(&w, net, 0, 0.6 * net->line_volts);
	double s = processor_s();

	for (int i = 1; i <= STEPS; i++)
		warming_reading(&w, net, 0.25 * i, 0.6 * net->line_volts);
	s = processor_s() - s;
	/* two histories, a step of a fifth of a second or less each: two a reading and history */
	return s / STEPS / 4 * 1e6;
}

static double cost_band_ms(const struct unit_file *unit)
{
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct sensitivity sens[NET_PARAMS_MAX];
	struct load_start start = { 0 };
	struct band band;
	double s = processor_s();

	for (int i = 0; i < 5; i++)
		envelope_at(&unit->net, &rule, &meter_accuracy_default,
		            (0.6 + 0.1 * i) * unit->net.line_volts, &start, &band, sens);
	return (processor_s() - s) / 5 * 1e3;
}

/* Readings of a leaking first rail, all over the stages. */
static double cost_rank_ms(const struct network *net)
{
	static struct observation obs[READINGS];
	static struct network sick;
	struct suspicion *ret = malloc(sizeof *ret);

	if (!ret)
		return NAN;
	sick = *net;
	suspect_apply(&sick, SUSPECT_RAIL_LEAK, 0, 10e3);
	for (int i = 0; i < READINGS; i++) {
		const double volts = (0.2 + 0.1 * (i / 25)) * net->line_volts;
		struct load_result at;

		load_settled(&sick, volts, NULL, &at);
		obs[i] = (struct observation){ volts, i % 2 ? OBSERVED_RAIL_VOLTS : OBSERVED_WATTS, 0,
			                       i % 2 ? at.rail_volts[0] : at.watts };
	}
	double s = processor_s();

	suspects_rank(net, &meter_accuracy_default, obs, READINGS, ret);
	s = processor_s() - s;
	free(ret);
	return s * 1e3;
}

static double cost_solve_us(const struct network *net, double volts)
{
	struct load_result at;
	double s = processor_s();

	for (int i = 0; i < SOLVES; i++)
		load_settled(net, volts, NULL, &at);
	return (processor_s() - s) / SOLVES * 1e6;
}

/* Processor time of one batch run of ngspice, s; NAN after a message. */
static double cost_ngspice_s(const char *program, const char *netlist)
{
	/* ngspice deletes its output file before it writes: never name a device here, which root
	 * would lose */
	char raw[] = "bench_time-XXXXXX";
	const int fd = mkstemp(raw);
	struct rusage before, after;
	int status;

	if (fd < 0) {
		fprintf(stderr, "no file for the output of %s\n", program);
		return NAN;
	}
	(void)close(fd);
	(void)fflush(stdout); /* or the child would print it again */
	getrusage(RUSAGE_CHILDREN, &before);
	const pid_t child = fork();

	if (child == 0) {
		if (freopen("/dev/null", "w", stdout) && freopen("/dev/null", "w", stderr))
			execl(program, program, "-b", "-r", raw, netlist, (char *)NULL);
		_exit(127);
	}
	const bool ran = child > 0 && waitpid(child, &status, 0) > 0 && status == 0;
	(void)unlink(raw);
	if (!ran) {
		fprintf(stderr, "%s did not run %s\n", program, netlist);
		return NAN;
	}
	getrusage(RUSAGE_CHILDREN, &after);
	return (double)(after.ru_utime.tv_sec - before.ru_utime.tv_sec) +
		1e-6 * (double)(after.ru_utime.tv_usec - before.ru_utime.tv_usec);
}

int main(int argc, char **argv)
{
	const bool compare = argc > 5 && strcmp(argv[1], "--ngspice") == 0;
	double step = 0, band = 0, rank = 0;

	printf("                           us a step   ms a band   ms a ranking of %d\n", READINGS);
	for (int k = compare ? 5 : 1; k < argc; k++) {
		struct unit_file *unit = unit_file_load(argv[k]);

		if (!unit)
			return 1;
		const double us = cost_step_us(&unit->net), ms = cost_band_ms(unit);
		const double rank_took = cost_rank_ms(&unit->net);

		printf("%-26s %9.2f %11.2f %14.1f\n", unit->name, us, ms, rank_took);
		step = fmax(step, us);
		band = fmax(band, ms);
		rank = fmax(rank, rank_took);
		if (compare && k == argc - 1) {
			const double volts = strtod(argv[4], NULL);
			const double ours = cost_solve_us(&unit->net, volts);
			const double theirs = cost_ngspice_s(argv[2], argv[3]) * 1e6;

			printf("ngspice %.0f us, one settled solve from nothing %.0f us: 1 to %.0f\n",
			       theirs, ours, theirs / ours);
		}
		free(unit);
	}
	printf("worst %.2f us (wanted %.0f), %.2f ms (%.0f), %.1f ms (%.0f)\n", step, step_us, band,
	       band_ms, rank, rank_ms);
	return step > hopeless * step_us || band > hopeless * band_ms || rank > hopeless * rank_ms;
}
