/*
 * proto/logbook_text.h - a unit's logbook as text, both ways
 *
 * Layer: proto; no file, no clock.  io/logbook_file.h puts it on a disk.
 *
 * Tab-separated, UTF-8, "\n" ends a line:
 *
 *     mainstair unit 1                              format and version
 *     label <TAB> LABEL <TAB> crc32
 *     2026-03-01T18:02:11.250Z <TAB> kind <TAB> subject <TAB> word <TAB> n1 <TAB> n2 <TAB> n3
 *             <TAB> n4 <TAB> note <TAB> crc32       (one line)
 *
 * `-` stands for a number that was not told; `inf` for over-range.  Numbers survive exactly.  Text
 * is escaped as base/text.h does; an empty one is empty.  The last column is the CRC-32 of the
 * line before its tab, as in a record (proto/record_text.h).  Newer programs may add kinds, and
 * columns between note and crc32: they are passed over.
 */
#ifndef MAINSTAIR_PROTO_LOGBOOK_TEXT_H
#define MAINSTAIR_PROTO_LOGBOOK_TEXT_H

#include <stddef.h>

#include "mainstair/base/buf.h"
#include "mainstair/base/err.h"
#include "mainstair/core/logbook.h"

enum {
	LOGBOOK_VERSION = 1,
	LOGBOOK_STAMP_MAX = 28,     /* "2026-03-01T18:02:11.250Z" */
	LOGBOOK_LINE_MAX = 8 << 20, /* a longer line is not read */
	LOGBOOK_LABEL_MAX = 64      /* bytes with the closing 0 */
};

/** Append the first two lines. */
void logbook_text_put_head(struct buf *out, const char *label);

/** Read the head at the start of these bytes.  Returns its size, or 0 with err: ERR_INPUT (not a
 *  unit's file), ERR_UNSUPPORTED (a newer version).  label: LOGBOOK_LABEL_MAX bytes. */
size_t logbook_text_get_head(const char *bytes, size_t n, char *label, struct err *err);

/** Append one entry as a line with its "\n". */
void logbook_text_put(struct buf *out, const struct entry *entry);

enum logbook_line_is {
	LOGBOOK_LINE_ENTRY,
	LOGBOOK_LINE_UNKNOWN, /* whole, but of a kind that this version does not know */
	LOGBOOK_LINE_GARBLED  /* check sum or a column wrong: nothing of it is believed */
};

/** Read one line, given without its "\n".  For LOGBOOK_LINE_ENTRY *ret is filled, its texts
 *  appended to *texts, each with a closing 0, and *ret's pointers set to NULL: ret_at (three
 *  offsets into texts: subject, word, note) says where they are, because *texts may move. */
enum logbook_line_is logbook_text_get(const char *line, size_t n, struct entry *ret,
                                      struct buf *texts, size_t ret_at[3]);

/** UTC seconds since 1970 of "2026-03-01T18:02:11.250Z", as an entry's line begins.  0, or -1. */
int logbook_stamp_parse(const char *text, size_t n, double *ret);

#endif
