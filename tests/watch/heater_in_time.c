/*
 * One heater or lamp as the model in time has it, for comparison with circuit simulation
 * (warm_heater.py):
 *
 *   heater_in_time indirect|filament|lamp STEP_S SHARE SECONDS [SHARE SECONDS]...
 *
 * From cold, so many seconds at each share of rated volts; prints seconds and amps over rated amps
 * after every STEP_S.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/heater.h"
#include "mainstair/core/warming.h"

static const double conduction = 0.06; /* what a network is built with */

int main(int argc, char **argv)
{
	static const char *const names[] = { "indirect", "filament", "lamp" };
	int kind = 0;

	while (argc > 1 && kind < 3 && strcmp(argv[1], names[kind]) != 0)
		kind++;
	if (argc < 5 || kind == 3 || argc % 2 == 0) {
		fprintf(stderr, "usage: heater_in_time indirect|filament|lamp STEP_S SHARE SECONDS...\n");
		return 2;
	}
	const struct heater_law law = heater_law((enum heater_kind)kind, conduction);
	const double step_s = strtod(argv[2], NULL);
	double u = law.ambient, now_s = 0.0;

	for (int k = 3; k + 1 < argc; k += 2) {
		const double share = strtod(argv[k], NULL), seconds = strtod(argv[k + 1], NULL);

		for (double s = step_s; s < seconds + 0.5 * step_s; s += step_s) {
			u = warming_node((enum heater_kind)kind, conduction, 1.0, u, share, step_s);
			now_s += step_s;
			printf("%.6g %.6g\n", now_s, share / heater_resistance(&law, u));
		}
	}
	return 0;
}
