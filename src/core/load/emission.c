#include "mainstair/core/emission.h"

#include <math.h>

const double emission_reserve = 8.0;
const double emission_rectifier_reserve = 2.0 * 7.0;

static const double steepness = 1.1 * 11604.5 / 1020.0;

double emission_share(double u)
{
	if (u < 0.05) /* colder than any room: exp() would only underflow */
		return 0.0;
	return u * u * exp(-steepness * (1.0 / u - 1.0));
}

double emission_limit(double space_charge, double saturation)
{
	double slope;

	return emission_limit_slope(space_charge, saturation, &slope);
}
