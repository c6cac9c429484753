/*
 * core/ohms_results.h - the ohm readings of a unit, from its entries, and into its model
 *
 * Layer: core; pure.  The list must be made from the network as the profile gives it, without what
 * was measured on the unit: a reading must not become the limit it is held against.  Units: ohm.
 */
#ifndef MAINSTAIR_CORE_OHMS_RESULTS_H
#define MAINSTAIR_CORE_OHMS_RESULTS_H

#include "mainstair/core/entry_line.h"
#include "mainstair/core/logbook.h"
#include "mainstair/core/ohms.h"

struct ohms_state {
	double reading;            /* NAN: none; INFINITY: over-range */
	enum ohms_verdict verdict; /* OHMS_UNKNOWN without a reading */
	bool worked_out;           /* the balance of two halves, from their readings */
	const struct entry *entry; /* the newest about it, or NULL; borrowed */
};

/** What was read, one for each check of the list. */
void ohms_states(const struct ohms_list *list, const struct entry *entries, size_t n,
                 struct ohms_state ret[OHMS_CHECKS_MAX]);

enum { OHMS_WORDS_MAX = 2 * PROFILE_NAME_MAX + 40, OHMS_RANGE_MAX = 72 };

/** Whether a reading goes into the model: it passed, is a number of the model, and is not so far
 *  from the list's expected figure that network_measure() would refuse it. */
bool ohms_is_of_model(const struct ohms_check *check, double reading);

/** Those readings as network_measure() understands them ("primary 21.4 ohm"), at most max; how
 *  many. */
int ohms_measured(const struct ohms_list *list, const struct entry *entries, size_t n,
                  char words[][OHMS_WORDS_MAX], int max);

/** What a reading that blocks power is overridden by: "insulation", "primary", "rail main", …
 *  Returns ret. */
const char *ohms_key(const struct ohms_check *check, char ret[OHMS_WHAT_MAX]);

/** "21.4 ohm", "over-range", "1.07" for a balance, "-" for none.  Returns out. */
const char *ohms_say(const struct ohms_check *check, double reading, char out[32]);

/** The range of a check: "17.2 to 26.8 ohm", "2 Mohm or more", "1 ohm or less".  Returns out. */
const char *ohms_say_range(const struct ohms_check *check, char out[OHMS_RANGE_MAX]);

/** Understand a line typed at a check: `21.4`, `2k2`, `4M7`, `OL`, `open`, `>20M`, `not read`; a
 *  note may follow behind `;`.  A reading of the wrong prefix, and what no multimeter shows, are
 *  questioned; a balance is worked out and not typed.  echo: ENTRY_ECHO_MAX bytes.  *ret is set up
 *  for all but ENTRY_LINE_WRONG. */
enum entry_line ohms_understand(const struct ohms_check *check, const char *line,
                                struct entry_draft *ret, char *echo);

#endif
