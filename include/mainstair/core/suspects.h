/*
 * core/suspects.h - which fault fits the readings
 *
 * Layer: core; pure.  Every fault of the list is one extra parameter of the same network, fitted to
 * all settled readings at once and weighed against "healthy".  The unit's own unknowns (the same
 * tolerances that make the band) are nuisances: they enter as the covariance of the readings, so
 * that what as-built scatter can explain is not held against it (src/core/judge/suspect_fit.h).  A fault
 * pays for its freedom (half the logarithm of the number of readings; Schwarz, Ann. Statist. 6
 * (1978)), and begins with what is thought of its kind before any reading: healthy or not is even,
 * capacitors and tubes go before copper.
 * Faults that the readings do not tell apart (odds under three) and that are looked for alike are
 * one explanation with several names: what draws alternating current (across the mains, a shorted
 * turn, a winding, a shorted rectifier plate); a leak from a rail or its loads; which heater is
 * open.  Where not even the best explanation fits (chi-square of the readings), that is said.
 * Never a certainty: odds, a size in units that can be checked, and what to measure next.
 */
#ifndef MAINSTAIR_CORE_SUSPECTS_H
#define MAINSTAIR_CORE_SUSPECTS_H

#include "mainstair/core/envelope.h"

enum { SUSPECTS_MAX = 128, OBSERVATIONS_MAX = 48 };

enum observed { OBSERVED_WATTS, OBSERVED_RAIL_VOLTS, OBSERVED_WINDING_VOLTS };

/* One settled reading. */
struct observation {
	double line_volts;
	enum observed what;
	int index;     /* rail or winding; unused for watts */
	double value;  /* W or V */
};

enum suspect_kind {
	SUSPECT_HEALTHY, SUSPECT_MAINS_SHUNT, SUSPECT_SHORTED_TURN, SUSPECT_WINDING_SHORT,
	SUSPECT_RAIL_LEAK, SUSPECT_PLATE_SHORT, SUSPECT_RAIL_LOAD, SUSPECT_HEATER_OPEN,
	SUSPECT_RAIL_DEAD, SUSPECT_LINE_HIGHER
};

enum { SUSPECT_ALSO_MAX = 8, SUSPECT_WORDS_MAX = 2048 };

struct suspect_name {
	enum suspect_kind kind;
	int index;
	double size;
};

struct suspect {
	enum suspect_kind kind;
	int index;        /* winding, rail or heater; -1 where none */
	double size;      /* ohm (shunts, leaks, shorts), W (turn), factor (load, line); 0: none */
	double misfit;    /* of all readings: minus twice the logarithm of their likelihood */
	double log_odds;  /* natural logarithm of the odds against healthy; healthy itself 0 */
	struct suspect_name also[SUSPECT_ALSO_MAX]; /* other names that fit as well, best first */
	int n_also;
	char words[160];  /* "about 9 kohm from rail main to chassis" */
};

struct suspicion {
	struct suspect list[SUSPECTS_MAX]; /* best first; SUSPECT_HEALTHY is among them */
	int n;
	int n_readings;    /* how many were used */
	bool can_tell;     /* false: the first two are within odds of 3, or too few readings */
	char separate[200]; /* the measurement that separates the first two, or the names of the
	                       first; "" when healthy leads */
	bool poor_fit;     /* not even the first explains the readings: once in a thousand they
	                       would lie so far from it */
	char odd[80];      /* poor_fit: "the one at 70 V", where the others would fit without it,
	                       the healthy unit or else the first; "" no single one */
};

/** Rank all faults by n settled observations (at most OBSERVATIONS_MAX; at most 8 distinct line
 *  volts are used, the last ones).  *ret is large: allocate it. */
void suspects_rank(const struct network *net, const struct meter_accuracy *meter,
                   const struct observation *obs, int n, struct suspicion *ret);

/** The odds of a suspect against healthy in words: "300 to 1 against healthy", "even with healthy",
 *  "less likely than healthy"; into out (48 bytes are enough). */
void suspect_odds(const struct suspect *s, char *out, size_t size);

/** All names of a suspect into out (SUSPECT_WORDS_MAX hold them all; in less room, the last ones
 *  are counted: "; or 2 more"). */
void suspect_words(const struct network *net, const struct suspect *s, char *out, size_t size);

/** What to say before a ranking that is a poor_fit, into out (240 bytes are enough): "none of the
 *  known faults fits all of these readings well; take the one at 70 V again, it may be misread".
 *  After an abort it asks for no reading. */
void suspicion_poor(const struct suspicion *s, bool aborted, char *out, size_t size);

/** Put a fault of the given kind and size into *net (a copy of the healthy one). */
void suspect_apply(struct network *net, enum suspect_kind kind, int index, double size);

#endif
