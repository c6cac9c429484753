/*
 * io/logbook_file.h - a unit's logbook on a disk: read whole, added to line by line
 *
 * Layer: io; its format is proto/logbook_text.h's.
 * One program at a time may add to it (a lock says so); any number may read.  A torn last line (the
 * machine went down within it) is ended where it stands, counted and passed over; nothing is ever
 * repaired in place.
 */
#ifndef IO_LOGBOOK_FILE_H
#define IO_LOGBOOK_FILE_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/err.h"
#include "mainstair/proto/logbook_text.h"

struct logbook; /* opaque */

enum logbook_open_for {
	LOGBOOK_TO_READ, /* it must be there; no lock */
	LOGBOOK_TO_ADD,  /* it must be there; locked, or ERR_SYSTEM when another program has it and
	                    does not let go within five seconds */
	LOGBOOK_TO_WRITE /* the same, but made when missing */
};

struct logbook_faults {
	size_t torn_bytes; /* of an unfinished last line */
	size_t garbled;    /* lines whose check sum or form is wrong */
	size_t unknown;    /* lines of a kind that a later version writes */
	size_t first_garbled_line; /* 0: none */
};

/** Where the file of `unit` is: `unit` itself when it holds a `/` or ends in ".unit"; else
 *  $XDG_DATA_HOME/mainstair/units/LABEL.unit (default ~/.local/share; folders are made, mode
 *  0700, when `make` says so).  0, or -1: ERR_INPUT (empty, longer than LOGBOOK_LABEL_MAX, or a
 *  character other than letters, digits, `-`, `_`, `.`, blank in a label), ERR_SYSTEM. */
int logbook_path_of(const char *unit, bool make, char *ret, size_t size, struct err *err);

/** Open it.  label: written into a file that is made; NULL: from the path.  0 with *ret (the
 *  caller's, until logbook_close()), or -1: ERR_INPUT, ERR_UNSUPPORTED, ERR_SYSTEM, ERR_NOMEM. */
int logbook_open(const char *path, const char *label, enum logbook_open_for open_for,
                 struct logbook **ret, struct err *err);

/** Its path, its label, and what was passed over when it was opened; borrowed. */
const char *logbook_path(const struct logbook *book);
const char *logbook_label(const struct logbook *book);
const struct logbook_faults *logbook_faults(const struct logbook *book);

/** All entries, those appended since included; borrowed until the next append, also until one that
 *  fails. */
const struct entry *logbook_entries(const struct logbook *book, size_t *ret_n);

/** Add an entry (its texts are copied; too long ones are cut at a character).  sync: it is on the
 *  disk when this returns 0; else only written, for readings that come by themselves.  0, or -1
 *  with ERR_SYSTEM or ERR_NOMEM: it is then not in the list either, and the file's end is as it
 *  was. */
int logbook_append(struct logbook *book, const struct entry *entry, bool sync, struct err *err);

void logbook_close(struct logbook *book); /**< NULL is fine. */

#endif
