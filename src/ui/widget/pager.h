/*
 * ui/widget/pager.h - rows of text that may be more than the screen has, from a scrolled start
 *
 * Layer: ui; pure.  Write rows one after the other; the pager draws those that lie in its
 * window and counts the rest.
 */
#ifndef MAINSTAIR_UI_PAGER_H
#define MAINSTAIR_UI_PAGER_H

#include "ui/canvas.h"

struct pager {
	struct canvas *c;
	int top, col, rows, cols; /* the window */
	int scroll;               /* rows above it */
	int n;                    /* rows written so far */
};

/** Write text, broken at blanks, `indent` cells in; pager_marked() with a mark before it. */
void pager_text(struct pager *p, int indent, enum role role, const char *text);
void pager_marked(struct pager *p, enum glyph mark, enum role mark_role, enum role role,
                  const char *text);
void pager_blank(struct pager *p);

/** The canvas row that the next written row will have, or -1 outside the window: for rows
 *  that are drawn in columns.  Counts the row. */
int pager_row(struct pager *p);

/** Rows written that lie below the window. */
int pager_more(const struct pager *p);

#endif
