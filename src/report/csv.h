/*
 * report/csv.h - the tables of a document for spreadsheets
 *
 * Layer: report; pure.  RFC 4180: commas, a header line, CR LF.  UTF-8; text other than ASCII has
 * a byte order mark before it, without which some spreadsheets take it for something else.
 * Numbers have a point and no unit; the unit stands in the header, as in "watts (W)".  Text that
 * would be taken for a formula is defused (escape.h).
 */
#ifndef REPORT_CSV_H
#define REPORT_CSV_H

#include "mainstair/base/buf.h"
#include "report/document.h"

/** The table of that name, or NULL. */
const struct doc_table *csv_find(const struct document *d, const char *name);

/** Append one table. */
void csv_write(struct buf *out, const struct document *d, const struct doc_table *t);

/** Append all of them as one: a line a value, columns table, row, column, unit, value. */
void csv_write_all(struct buf *out, const struct document *d);

#endif
