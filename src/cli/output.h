/*
 * cli/output.h - what every command does with standard output and standard error
 *
 * Layer: cli.
 */
#ifndef MAINSTAIR_CLI_OUTPUT_H
#define MAINSTAIR_CLI_OUTPUT_H

#include "mainstair/base/buf.h"
#include "mainstair/base/complaints.h"

/** One line on standard error, `mainstair: ` before it; control characters come out escaped. */
void complain(const char *format, ...) __attribute__((format(printf, 1, 2)));

/** Each complaint as such a line. */
void complain_all(const struct complaints *c);

/** Write all of out to standard output.  EXIT_DONE, or EXIT_USAGE: memory had run out, or the
 *  write failed, which is told; a reader that has gone away is no news. */
int output_flush(const struct buf *out);

/** The same for a text that stands. */
int output_text(const char *text);

enum output_format { OUTPUT_TABLE, OUTPUT_CSV };

/** One cell of a CSV line, quoted where RFC 4180 asks for it. */
void csv_cell(struct buf *out, const char *text);

/** A number with up to `decimals` decimals, zeros at the end dropped; nothing for NAN. */
void add_number(struct buf *out, double value, int decimals);

/** A cell for align_columns() with its tab: a number with just `decimals` decimals; - for NAN. */
void number_cell(struct buf *out, double value, int decimals);

/** Append the lines of `tabbed`, whose cells end in tabs, as columns: each as wide as its widest
 *  cell, two blanks between them.  `sides`: l or r for each column, left or right; the last
 *  column is not padded, and no line ends in blanks.  Columns beyond `sides` are right. */
void align_columns(struct buf *out, const struct buf *tabbed, const char *sides);

#endif
