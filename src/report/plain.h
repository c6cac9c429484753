/*
 * report/plain.h - a document as plain text for a terminal, a mail or a printer
 *
 * Layer: report; pure.  UTF-8, lines of at most 80 characters but for wide tables; figures are
 * told by their description.  Control characters are shown, not passed on.
 */
#ifndef REPORT_PLAIN_H
#define REPORT_PLAIN_H

#include "mainstair/base/buf.h"
#include "report/document.h"

/** Append the text. */
void plain_write(struct buf *out, const struct document *d);

#endif
