/*
 * ui/terminal.h - the terminal: a canvas goes out, keys come in
 *
 * Layer: ui.  The only part that knows curses (term_curses.c).  One terminal per process: the
 * one on standard input and output.
 * Whatever ends the process, a crash included, gives the terminal back as it was.
 */
#ifndef MAINSTAIR_UI_TERMINAL_H
#define MAINSTAIR_UI_TERMINAL_H

#include <stdbool.h>

#include "mainstair/base/err.h"
#include "ui/canvas.h"
#include "ui/keymap.h"

struct terminal;

/** Is there a terminal on both standard input and standard output? */
bool terminal_is_there(void);

/** Take the terminal and clear it.  The caller has called setlocale(LC_CTYPE, "") and blocked
 *  the signals that it reads from a signalfd (SIGWINCH among them).  0 with *ret given, or -1
 *  with ERR_SYSTEM (no terminal) or ERR_UNSUPPORTED (TERM unset, unknown, or a terminal whose
 *  cursor cannot be moved). */
int terminal_open(struct terminal **ret, struct err *err);

/** Give the terminal back.  NULL is fine. */
void terminal_close(struct terminal *t);

/** An empty canvas of what this terminal can show (characters and marks), sized to it.  0, or
 *  -1 with ERR_NOMEM. */
int terminal_canvas(struct terminal *t, struct canvas *ret, struct err *err);

/** After SIGWINCH: learn the new size and give the canvas that size.  0, or -1 when memory is
 *  short (the old size stays). */
int terminal_resize(struct terminal *t, struct canvas *c);

/** Show the canvas: only what changed is sent.  `anew`: everything is sent. */
void terminal_show(struct terminal *t, const struct canvas *c, bool anew);

void terminal_bell(struct terminal *t);

/** The next key that has come in; false when there is none.  Never waits, except some 25 ms
 *  after a lone Escape.  Keys that the program does not know are passed over. */
bool terminal_key(struct terminal *t, struct stroke *ret);

#endif
