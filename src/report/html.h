/*
 * report/html.h - a document as one HTML page that needs nothing else
 *
 * Layer: report; pure.  HTML (the living standard, in its XML-like spelling), UTF-8, English, no
 * scripts, nothing loaded from anywhere; the style sheet is report/style.h's.  Everything in the
 * document is text to it and is escaped.
 */
#ifndef REPORT_HTML_H
#define REPORT_HTML_H

#include "mainstair/base/buf.h"
#include "report/document.h"

/** Append the page. */
void html_write(struct buf *out, const struct document *d);

#endif
