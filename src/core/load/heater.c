#include "mainstair/core/heater.h"

#include <math.h>

/* Rated temperatures, K.  Heaters of indirectly heated cathodes run near 1450 K (so their hot
 * to cold ratio comes out at 6.9), oxide-coated filaments at the cathode's own 1100 K, long-life
 * pilot lamps near 2200 K: common practice, no source. */
static const double rated_kelvin[] = {
	[HEATER_INDIRECT] = 1450.0,
	[HEATER_FILAMENT] = 1100.0,
	[HEATER_LAMP] = 2200.0,
};

static const double ambient_kelvin = 300.0;

/* Cubic through the tungsten table, micro-ohm cm against kK, least squares on the relative
 * error. */
static const double tungsten[4] = { -1.2594460, 21.3971204, 5.2478561, -0.6920025 };

struct heater_law heater_law_at(double kelvin, double conduction)
{
	struct heater_law law;
	const double t = kelvin / 1000.0;
	const double at_rated =
		tungsten[0] + t * (tungsten[1] + t * (tungsten[2] + t * tungsten[3]));
	double power = 1.0;

	for (int i = 0; i < 4; i++) {
		law.rho[i] = tungsten[i] * power / at_rated;
		power *= t;
	}
	law.ambient = ambient_kelvin / kelvin;
	law.conduction = conduction;
	law.radiation_gain = (1.0 - law.conduction) / (1.0 - pow(law.ambient, 4.0));
	law.conduction_gain = law.conduction / (1.0 - law.ambient);
	return law;
}

struct heater_law heater_law(enum heater_kind kind, double conduction)
{
	return heater_law_at(rated_kelvin[kind],
	                     kind == HEATER_LAMP ? conduction / 2.0 : conduction);
}

double heater_resistance(const struct heater_law *law, double u)
{
	return law->rho[0] + u * (law->rho[1] + u * (law->rho[2] + u * law->rho[3]));
}

double heater_loss(const struct heater_law *law, double u)
{
	const double a2 = law->ambient * law->ambient, u2 = u * u;

	return law->radiation_gain * (u2 * u2 - a2 * a2) + law->conduction_gain * (u - law->ambient);
}

static double resistance_slope(const struct heater_law *law, double u)
{
	return law->rho[1] + u * (2.0 * law->rho[2] + u * 3.0 * law->rho[3]);
}

static double loss_slope(const struct heater_law *law, double u)
{
	return 4.0 * law->radiation_gain * u * u * u + law->conduction_gain;
}

/* Both settled cases are the root of a rising function of u, so Newton from a guess with the
 * step kept above ambient always lands. */
enum { NEWTON_MAX = 60 };
static const double newton_close = 1e-11;

double heater_settled_volts(const struct heater_law *law, double share, double guess)
{
	const double x2 = share * share;
	double u = guess > law->ambient ? guess : 1.0;

	for (int i = 0; i < NEWTON_MAX; i++) {
		/* v^2/R = loss, multiplied by R: rises with u */
		const double r = heater_resistance(law, u), loss = heater_loss(law, u);
		const double f = r * loss - x2;
		const double slope = resistance_slope(law, u) * loss + r * loss_slope(law, u);
		double next = u - f / slope;

		if (next < law->ambient)
			next = law->ambient;
		if (next > 2.0 * u)
			next = 2.0 * u;
		if (fabs(next - u) < newton_close)
			return next;
		u = next;
	}
	return u;
}

double heater_settled_amps(const struct heater_law *law, double share, double guess)
{
	const double y2 = share * share;
	double u = guess > law->ambient ? guess : 1.0;

	for (int i = 0; i < NEWTON_MAX; i++) {
		/* i^2 R = loss, divided by R: rises with u */
		const double r = heater_resistance(law, u), loss = heater_loss(law, u);
		const double f = loss / r - y2;
		const double slope =
			(loss_slope(law, u) - loss / r * resistance_slope(law, u)) / r;
		double next = u - f / slope;

		if (next < law->ambient)
			next = law->ambient;
		if (next > 2.0 * u)
			next = 2.0 * u;
		if (fabs(next - u) < newton_close)
			return next;
		u = next;
	}
	return u;
}
