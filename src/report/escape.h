/*
 * report/escape.h - text from outside, made harmless for HTML and for spreadsheets
 *
 * Layer: report; base/ only; pure.  Any bytes in.  Control characters (base/text.h's, and
 * Unicode's noncharacters) and bytes that are no UTF-8 come out visible, as \xHH each.
 */
#ifndef REPORT_ESCAPE_H
#define REPORT_ESCAPE_H

#include <stddef.h>

#include "mainstair/base/buf.h"

/** For text between tags and for attributes in double or single quotes: no `<`, `>`, `&`, `"`,
 *  `'` is left, so neither a tag nor an entity, a comment's or a CDATA section's end. */
void escape_html(struct buf *out, const char *s, size_t n);

/** The same without markup: one line of plain text. */
void escape_plain(struct buf *out, const char *s, size_t n);

/** A text cell of a CSV file (RFC 4180): quoted where that asks for it; one line.  What a
 *  spreadsheet would take for a formula (it begins with = + - @, or blanks and then one of
 *  these, or their full-width forms) has an apostrophe put before it. */
void escape_csv(struct buf *out, const char *s, size_t n);

#endif
