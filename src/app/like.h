/*
 * app/like.h - an earlier power-up as what another one is laid against
 *
 * Layer: app; no terminal.
 */
#ifndef APP_LIKE_H
#define APP_LIKE_H

#include "app/run.h"
#include "mainstair/core/compare.h"

/** The settled readings of a record, played through a session of the unit it was made with (`unit`,
 *  its meter's accuracy in it), as a curve of watts over volts called `name`.  What was settled is
 *  worked out anew; a reading that was an abort is none.  0, or -1 with err: ERR_NOMEM, ERR_SYSTEM,
 *  ERR_INPUT when nothing in it had settled. */
int like_from_record(struct like_curve *ret, struct record *record, const struct run_unit *unit,
                     const char *name, struct err *err);

#endif
