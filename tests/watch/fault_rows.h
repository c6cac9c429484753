/*
 * tests/watch/fault_rows.h - faulty units that ngspice simulated (fault_units.py), read back
 */
#ifndef MAINSTAIR_TESTS_WATCH_FAULT_ROWS_H
#define MAINSTAIR_TESTS_WATCH_FAULT_ROWS_H

#include "restorer.h"

enum { FAULT_STAGES_MAX = 8, FAULT_CASES_MAX = 128, FAULT_WORDS_MAX = 48 };

/* Settled, at one line voltage. */
struct fault_stage {
	double line_volts, watts, amps;
	double winding_volts[NET_WINDINGS_MAX], rail_volts[NET_RAILS_MAX]; /* NAN: not told */
};

/* One fault in one unit, from the lowest volts up. */
struct fault_case {
	char words[FAULT_WORDS_MAX]; /* as core/fault.h has them; or "healthy" */
	int unit;                    /* which of the as-built units */
	struct fault_stage stages[FAULT_STAGES_MAX];
	int n_stages;
};

struct fault_rows {
	struct watched *watched;
	struct fault_case cases[FAULT_CASES_MAX];
	int n;
};

/** NAME.ini and NAME.csv of a folder; name without the ending.  fault_rows_free() it.  NULL after a
 *  message on standard error. */
struct fault_rows *fault_rows_load(const char *folder, const char *name);
void fault_rows_free(struct fault_rows *f); /**< NULL is fine. */

/** The same unit without its fault; NULL when it was not simulated. */
const struct fault_case *fault_healthy(const struct fault_rows *f, const struct fault_case *c);

/** What a meter that is right to 1 per cent and 0.1 W shows, repeatable: its gain goes with the
 *  case, its offset with the stage. */
double fault_reading(const struct fault_rows *f, const struct fault_case *c, int stage);

/** The same for a voltmeter that is right to 1 per cent. */
double fault_volts(const struct fault_rows *f, const struct fault_case *c, double volts);

/* What kind of fault, for tables. */
enum fault_class {
	CLASS_HEALTHY, CLASS_PRIMARY, CLASS_TURN, CLASS_HEATER_WINDING, CLASS_OPEN_HEATER,
	CLASS_OPEN_LAMP, CLASS_PLATE, CLASS_SHORT_TUBE, CLASS_SHORT_DRY, CLASS_LEAK_TUBE,
	CLASS_LEAK_DRY, CLASS_DEAD, CLASS_LOAD, CLASSES
};
extern const char *const fault_class_words[CLASSES];
enum fault_class fault_class_of(const struct network *net, const char *words);

/** The names without ending of all .csv files in a folder, in alphabetical order; at most max.
 *  How many, or -1 after a message on standard error. */
int fault_rows_names(const char *folder, char (*names)[64], int max);

#endif
