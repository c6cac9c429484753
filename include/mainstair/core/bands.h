/*
 * core/bands.h - the band at very many line voltages at once
 *
 * Layer: core; pure.  One band costs some milliseconds (a solve for each parameter and side), so a
 * file of a hundred thousand readings cannot have one each.  The edges are smooth nearly
 * everywhere: exact bands are set closer and closer until straight lines between them agree with an
 * exact one in the middle, and what lies between is read off the lines.  Where an edge jumps (a
 * regulator strikes, or would with one parameter at its limit) no line agrees; there the bands end
 * up as close as a good meter's last digit, and the doubt says how high the jump is.
 */
#ifndef MAINSTAIR_CORE_BANDS_H
#define MAINSTAIR_CORE_BANDS_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/core/envelope.h"

struct band_edges {
	double low, expected, high, abort_watts; /* as in struct band; NAN: the solve did not
	                                            converge */
	double doubt; /* W: no edge is further from exact than this; 0: exact */
	bool jump;    /* an edge jumps here, so that the doubt is as high as the jump */
};

/** Exact edges at one voltage. */
void bands_exact(const struct network *net, const struct abort_rule *rule,
                 const struct meter_accuracy *meter, double volts, struct band_edges *ret);

/** Edges at n strictly rising voltages (>= 0) into ret[n].  Up to 32 of them are all exact; the
 *  doubt of others is 0.1 per cent of expected or 5 mW, whichever is more, but near a jump.  That
 *  is checked on real profiles by tests/unit/test_bands.c, not proved.  Returns how many exact
 *  bands it took. */
size_t bands_along(const struct network *net, const struct abort_rule *rule,
                   const struct meter_accuracy *meter, const double *volts, size_t n,
                   struct band_edges *ret);

#endif
