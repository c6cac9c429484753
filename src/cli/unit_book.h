/*
 * cli/unit_book.h - a unit's file with the unit that it is about
 *
 * Layer: cli.  The logbook carries its profile, so that everything about a unit is in one file.
 */
#ifndef MAINSTAIR_CLI_UNIT_BOOK_H
#define MAINSTAIR_CLI_UNIT_BOOK_H

#include <stdbool.h>

#include "app/live.h"
#include "cli/load_unit.h"
#include "io/logbook_file.h"

/** Open the file of `unit` (a label or a path; NULL: a label of the profile's file name) to add to
 *  it, and make sure that its newest profile is u's, which was read from `profile_path`.  utc_s:
 *  the entry's time.  0 with *ret, or -1 after a complaint. */
int book_open(const char *unit, const char *profile_path, const struct loaded_unit *u,
              double utc_s, struct logbook **ret);

/** Open the file of `unit`, and load the unit from the profile in it, with what was measured put
 *  in.  0 with both filled, or -1 after complaints with nothing to release. */
int book_open_unit(const char *unit, enum logbook_open_for open_for, struct loaded_unit *u,
                   struct logbook **ret);

/** Put into u's network what was measured: built anew from the profile, then the ohm readings that
 *  passed, then what was typed at power-ups (*ret_refused: how much of it the profile as it now is
 *  does not take), then the words of `measured` (n of them).  A plan that was made is dropped.  0,
 *  or -1 with err. */
int book_measure(const struct logbook *book, const char *const *measured, int n,
                 struct loaded_unit *u, int *ret_refused, struct err *err);

/** Complain of so many that were refused. */
void book_complain_refused(int refused);

/** Keep a number that was typed at a power-up, in network_measure()'s words, for the next ones.  0,
 *  or -1 with err. */
int book_keep_measured(struct logbook *book, const char *words, double utc_s, struct err *err);

/** Keep that a power-up has ended, at utc_s: its record (made absolute, so that it is found from
 *  everywhere; "" for none) and how it ended.  0, or -1 after a complaint. */
int book_keep_power(struct logbook *book, const char *record, const struct live_end *end,
                    bool invented, double utc_s);

#endif
