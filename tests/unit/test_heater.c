/*
 * The law of heaters and lamps against published figures, and its own limits.
 */
#include <criterion/criterion.h>
#include <math.h>

#include "mainstair/core/heater.h"

TestSuite(heater, .timeout = 20);

/* The share of loss by conduction that network_build() assumes (core/unit/network.c). */
static const double usual = 0.06;

static const enum heater_kind kinds[] = { HEATER_INDIRECT, HEATER_FILAMENT, HEATER_LAMP };

static double amps_at(const struct heater_law *law, double volts)
{
	return volts / heater_resistance(law, heater_settled_volts(law, volts, 1.0));
}

/* Resistivity of tungsten, micro-ohm cm: Jones and Langmuir, General Electric Review 30 (1927),
 * from memory.  The law takes a cubic through it, "within 1 per cent": a ratio of two of its
 * values within 2. */
Test(heater, resistance_follows_the_tungsten_table)
{
	static const double table[][2] = {
		{ 300, 5.65 }, { 400, 8.06 }, { 500, 10.56 }, { 600, 13.23 }, { 800, 19.00 },
		{ 1000, 24.93 }, { 1200, 30.98 }, { 1400, 37.19 }, { 1600, 43.55 },
		{ 1800, 50.05 }, { 2000, 56.67 }, { 2200, 63.48 }, { 2500, 73.91 },
		{ 2800, 84.70 }, { 3000, 92.04 },
	};
	const struct heater_law lamp = heater_law(HEATER_LAMP, usual);
	const double rated_kelvin = 300 / lamp.ambient;

	for (size_t i = 0; i < sizeof table / sizeof *table; i++)
		for (size_t k = 0; k < i; k++) {
			const double ratio = heater_resistance(&lamp, table[i][0] / rated_kelvin) /
				heater_resistance(&lamp, table[k][0] / rated_kelvin);

			cr_assert(fabs(ratio * table[k][1] / table[i][1] - 1) < 0.02,
			          "%g to %g K: %g", table[k][0], table[i][0], ratio);
		}
}

/* Hot over cold resistance.  Heaters 5 to 10: Gano and Sandy, IRE Trans. Electronic Computers,
 * March 1958, p. 61.  Inrush 2.7 to 7.2 times nominal, tube dependent, indirect and direct: table
 * in audioXpress 9/2004.  Lamps: 100 W 120 V mains lamp 144 to 9.5 ohm (encyclopaedia article
 * "Incandescent light bulb"), 1:15; a long-life pilot lamp runs cooler. */
Test(heater, hot_to_cold)
{
	static const double limits[][2] = {
		[HEATER_INDIRECT] = { 5, 7.2 }, [HEATER_FILAMENT] = { 2.7, 7.2 },
		[HEATER_LAMP] = { 9, 15 },
	};

	for (size_t k = 0; k < 3; k++) {
		const struct heater_law law = heater_law(kinds[k], usual);
		const double ratio = 1 / heater_resistance(&law, law.ambient);

		cr_assert(ratio > limits[kinds[k]][0] && ratio < limits[kinds[k]][1], "%g", ratio);
	}
}

/* At rated volts each is what its rating says, and at none it is at room temperature. */
Test(heater, rated_point_and_nothing)
{
	for (size_t k = 0; k < 3; k++)
		for (double share = 0; share < 0.2; share += 0.03) {
			const struct heater_law law = heater_law(kinds[k], share);

			cr_assert(fabs(heater_resistance(&law, 1) - 1) < 1e-9);
			cr_assert(fabs(heater_loss(&law, 1) - 1) < 1e-9);
			cr_assert(fabs(heater_settled_volts(&law, 1, 0) - 1) < 1e-9);
			cr_assert(fabs(heater_settled_amps(&law, 1, 0) - 1) < 1e-9);
			cr_assert(fabs(heater_loss(&law, law.ambient)) < 1e-12);
			cr_assert(fabs(heater_settled_volts(&law, 0, 1) - law.ambient) < 1e-6);
			cr_assert(fabs(heater_settled_amps(&law, 0, 1) - law.ambient) < 1e-6);
		}
}

/* I ~ V^0.55, P ~ V^1.6: Fink and Beaty, Standard Handbook for Electrical Engineers, 11th ed.
 * (1978), p. 22-8; meant for some 25 per cent about the rated volts. */
Test(heater, lamps_keep_the_handbook_law)
{
	const struct heater_law law = heater_law(HEATER_LAMP, usual);

	for (double v = 0.75; v < 1.251; v += 0.05) {
		const double amps = amps_at(&law, v);

		cr_assert(fabs(amps / pow(v, 0.55) - 1) < 0.01, "%g V: %g", v, amps);
		cr_assert(fabs(v * amps / pow(v, 1.6) - 1) < 0.02, "%g V: %g", v, v * amps);
	}
}

/* "+5 % volts gives about +3 % amps": Emission Labs, Technical Note TN-03; the figure is rounded
 * to whole per cents. */
Test(heater, five_per_cent_more_volts)
{
	for (size_t k = 0; k < 2; k++) {
		const struct heater_law law = heater_law(kinds[k], usual);
		const double more = amps_at(&law, 1.05) - 1;

		cr_assert(more >= 0.025 && more <= 0.035, "%g", more);
	}
}

/* A tungsten filament, measured: volts and amps of the diode's filament in a student laboratory
 * (file Scot_exp1backup.m of the collection "Experimental Physics Advanced").
 * Its leads and cool ends are in the volts, so its exponent (0.63 to 0.68) is above that of the
 * bare wire; over its whole span of 12 per cent the amps agree within 2. */
Test(heater, a_measured_filament)
{
	static const double volts[] = { 2.378, 2.476, 2.572, 2.675 };
	static const double amps[] = { 3.71, 3.806, 3.90, 4.005 };
	const struct heater_law law = heater_law(HEATER_LAMP, usual);

	for (size_t i = 1; i < 4; i++) {
		const double law_ratio = amps_at(&law, volts[i] / volts[0]);

		cr_assert(fabs(law_ratio / (amps[i] / amps[0]) - 1) < 0.02, "%g", law_ratio);
	}
}

/* Settled amps and watts against volts, as fractions of rated: nowhere published as a curve.
 * Three models of heat loss, computed apart from this program, agree within these limits: all
 * radiation, a tenth conduction at constant resistance slope, and a T^4 with R ~ T^1.2. */
Test(heater, settled_amps_and_watts)
{
	static const double rows[][5] = { /* V, I from, I to, P from, P to */
		{ 0.10, 0.29, 0.37, 0.03, 0.04 }, { 0.20, 0.42, 0.48, 0.08, 0.10 },
		{ 0.30, 0.52, 0.57, 0.16, 0.17 }, { 0.40, 0.61, 0.64, 0.24, 0.26 },
		{ 0.50, 0.69, 0.71, 0.34, 0.36 }, { 0.60, 0.76, 0.78, 0.45, 0.47 },
		{ 0.70, 0.82, 0.84, 0.57, 0.59 }, { 0.80, 0.88, 0.89, 0.71, 0.71 },
		{ 0.90, 0.94, 0.95, 0.85, 0.85 }, { 1.00, 1.00, 1.00, 1.00, 1.00 },
		{ 1.10, 1.05, 1.05, 1.16, 1.16 },
	};
	/* the rows are rounded to two decimals */
	const double half = 0.0051;

	for (size_t k = 0; k < 3; k++) {
		const struct heater_law law = heater_law(kinds[k], usual);

		for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
			const double *row = rows[i], amps = amps_at(&law, row[0]);

			cr_assert(amps >= row[1] - half && amps <= row[2] + half,
			          "kind %zu, %g V: %g A", k, row[0], amps);
			cr_assert(row[0] * amps >= row[3] - half && row[0] * amps <= row[4] + half,
			          "kind %zu, %g V: %g W", k, row[0], row[0] * amps);
		}
	}
}

/* The same by a circuit simulator (ngspice 39.3, thermal node of resistor and capacitor, tungsten
 * quartic, steady state; 0.06 % excess at rated volts by the ripple of a sped-up node). */
Test(heater, settled_amps_of_a_simulated_node)
{
	static const double rows[][4] = { /* V, I indirect, I direct, I lamp */
		{ 0.15, 0.3964, 0.3825, 0.3847 }, { 0.20, 0.4527, 0.4430, 0.4392 },
		{ 0.30, 0.5476, 0.5428, 0.5347 }, { 0.40, 0.6291, 0.6268, 0.6184 },
		{ 0.50, 0.7023, 0.7013, 0.6940 }, { 0.60, 0.7695, 0.7692, 0.7636 },
		{ 0.70, 0.8321, 0.8322, 0.8284 }, { 0.80, 0.8911, 0.8914, 0.8891 },
		{ 0.90, 0.9471, 0.9473, 0.9464 }, { 1.10, 1.0519, 1.0516, 1.0520 },
		{ 1.20, 1.1012, 1.1006, 1.1009 },
	};

	for (size_t k = 0; k < 3; k++) {
		const struct heater_law law = heater_law(kinds[k], usual);

		for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
			/* the lower, the more hangs on the assumed conduction: 1 % from half
			 * volts upward, 3 % below */
			const double near = rows[i][0] < 0.5 ? 0.03 : 0.01;
			const double amps = amps_at(&law, rows[i][0]);

			cr_assert(fabs(amps / rows[i][1 + k] - 1) < near, "kind %zu, %g V: %g", k,
			          rows[i][0], amps);
		}
	}
}

/* Both settled cases say the same of the same heater, from any start, and rise. */
Test(heater, volts_and_amps_agree)
{
	for (size_t k = 0; k < 3; k++) {
		const struct heater_law law = heater_law(kinds[k], usual);
		double before = law.ambient;

		for (double v = 0.002; v < 2.5; v *= 1.13) {
			const double u = heater_settled_volts(&law, v, 1);
			const double amps = v / heater_resistance(&law, u);
			static const double guesses[] = { 0, 1e-9, 0.2, 1, 2 };

			cr_assert(u > before && isfinite(u));
			before = u;
			/* settled: what goes in goes out */
			cr_assert(fabs(v * amps - heater_loss(&law, u)) < 1e-9 * (1 + v * amps));
			for (size_t g = 0; g < sizeof guesses / sizeof *guesses; g++) {
				cr_assert(fabs(heater_settled_volts(&law, v, guesses[g]) - u) <
				                  1e-8,
				          "%g V from %g", v, guesses[g]);
				cr_assert(fabs(heater_settled_amps(&law, amps, guesses[g]) - u) <
				          1e-8, "%g A from %g", amps, guesses[g]);
			}
		}
	}
}

/* More conduction makes a heater keep more of its watts at low volts, never other at rated. */
Test(heater, conduction_shows_at_low_volts)
{
	for (size_t k = 0; k < 3; k++) {
		const struct heater_law none = heater_law(kinds[k], 0);
		const struct heater_law much = heater_law(kinds[k], 0.12);

		cr_assert(amps_at(&much, 0.2) > 1.03 * amps_at(&none, 0.2));
		cr_assert(fabs(amps_at(&much, 0.95) / amps_at(&none, 0.95) - 1) < 0.003);
	}
}
