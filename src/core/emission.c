#include "mainstair/core/emission.h"

#include <math.h>

const double emission_reserve = 10.0;
const double emission_rectifier_reserve = 2.5 * 7.0;

static const double steepness = 13.5;

double emission_share(double u)
{
	if (u < 0.05) /* colder than any room: exp() would only underflow */
		return 0.0;
	return u * u * exp(-steepness * (1.0 / u - 1.0));
}

double emission_limit_slope(double space_charge, double saturation, double *ret_slope)
{
	/* Cubes: round enough for a patchy surface, whole again at a third of saturation. */
	if (space_charge <= 0.01 * saturation) {
		*ret_slope = 1.0;
		return space_charge;
	}
	if (saturation <= 0.0) {
		*ret_slope = 0.0;
		return 0.0;
	}
	const double ratio = space_charge / saturation;
	const double cube = 1.0 + ratio * ratio * ratio;
	const double root = cbrt(cube);

	*ret_slope = 1.0 / (root * cube);
	return space_charge / root;
}

double emission_limit(double space_charge, double saturation)
{
	double slope;

	return emission_limit_slope(space_charge, saturation, &slope);
}
