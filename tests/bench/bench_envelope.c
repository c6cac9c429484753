/*
 * What one band with the sensitivities of all its parameters costs in processor time.
 * Wanted: under 20 ms.  Informative: it prints, and fails only when a band costs more than twenty
 * times that (a machine at the mercy of others proves nothing finer).
 *
 *   bench_envelope PROFILE...
 */
#include <stdio.h>
#include <stdlib.h>

#include "lib/unit_file.h"
#include "mainstair/core/envelope.h"

static const double hopeless_ms = 400;

static double band_ms(const struct unit_file *unit, const struct abort_rule *rule, double volts)
{
	struct sensitivity sens[NET_PARAMS_MAX];
	struct load_start start = { 0 };
	struct band band;
	enum { BANDS = 5 };
	double s = processor_s();

	for (int n = 0; n < BANDS; n++)
		envelope_at(&unit->net, rule, &meter_accuracy_default, volts + 0.1 * n, &start,
		            &band, sens);
	s = processor_s() - s;
	return s / BANDS * 1e3;
}

int main(int argc, char **argv)
{
	static const double shares[] = { 0.15, 0.6, 1.0 };
	double worst = 0;

	printf("ms a band, at                  15 %%     60 %%    100 %% of line\n");
	for (int k = 1; k < argc; k++) {
		struct unit_file *unit = unit_file_load(argv[k]);

		if (!unit)
			return 1;
		const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);

		printf("%-26s", unit->name);
		for (int i = 0; i < 3; i++) {
			const double ms = band_ms(unit, &rule, shares[i] * unit->net.line_volts);

			printf(" %8.2f", ms);
			worst = ms > worst ? ms : worst;
		}
		printf("   %d parameters\n", unit->net.n_params);
		free(unit);
	}
	printf("worst %.2f ms\n", worst);
	return worst > hopeless_ms;
}
