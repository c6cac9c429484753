/*
 * ui/term_dump.h - a canvas as text: for tests and wherever there is no terminal
 *
 * Layer: ui; pure.
 */
#ifndef MAINSTAIR_UI_TERM_DUMP_H
#define MAINSTAIR_UI_TERM_DUMP_H

#include "ui/canvas.h"

/** The characters, a line per row, blanks at the ends of lines removed.  Given: free() it;
 *  NULL when memory is short. */
char *term_dump_text(const struct canvas *c);

/** The roles, in the same shape: one letter per cell (term_dump.c lists them), `.` for
 *  ROLE_PLAIN.  Given: free() it; NULL when memory is short. */
char *term_dump_roles(const struct canvas *c);

#endif
