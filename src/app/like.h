/*
 * app/like.h - an earlier power-up as what another one is laid against
 *
 * Layer: app; no terminal.
 */
#ifndef APP_LIKE_H
#define APP_LIKE_H

#include <stddef.h>

#include "app/run.h"
#include "mainstair/core/compare.h"

/** The settled readings of a record, played through a session of the unit it was made with (`unit`,
 *  its meter's accuracy in it), as a curve of watts over volts called `name`.  What was settled is
 *  worked out anew; a reading that was an abort is none.  0, or -1 with err: ERR_NOMEM, ERR_SYSTEM,
 *  ERR_INPUT when nothing in it had settled. */
int like_from_record(struct like_curve *ret, struct record *record, const struct run_unit *unit,
                     const char *name, struct err *err);

/** The note of the run's EVENT_NOTE that names the record at `path`, absolute if it can be told; of
 *  a path that is too long for a note its file's name alone. */
void like_note(char ret[EVENT_NOTE_MAX], const char *path);

/** What a record names so, before its first reading: the path.  False: it was laid on none. */
bool like_find(struct record *record, char *ret, size_t size);

#endif
