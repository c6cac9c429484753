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

/** Show the canvas: only what changed is sent.  `anew`: everything is sent.  Never waits: what the
 *  terminal does not take at once is sent on by terminal_send().  To a slow terminal go the rows at
 *  the top and at the bottom, and of those in the middle what it takes in a moment, by turns.
 *  False: it was not all of it; show the rest when terminal_ready(). */
bool terminal_show(struct terminal *t, const struct canvas *c, bool anew);

/** Has the terminal taken (nearly) all that was shown?  A picture that is drawn before waits behind
 *  the old ones, and on a slow line those come to be seconds old. */
bool terminal_ready(struct terminal *t);

/** Send on what waits.  False: the terminal has gone. */
bool terminal_send(struct terminal *t);

/** The descriptor to poll for POLLOUT, after which terminal_send() has something to do, or, with
 *  `picture_waits`, terminal_ready() may have changed; -1: none.  *ret_s: at most so many seconds
 *  until they should be called again, INFINITY: no need. */
int terminal_poll(struct terminal *t, bool picture_waits, double *ret_s);

/** The bell; and a terminal that was stopped by Ctrl-S goes on. */
void terminal_alarm(struct terminal *t);

/** Give the terminal back for as long as the program is stopped (Ctrl-Z). */
void terminal_suspend(struct terminal *t);

/** Take it again; what comes next must be shown anew.  Also after a stop that nobody saw coming. */
void terminal_resume(struct terminal *t);

/** The next key that has come in; false when there is none.  Never waits, except some 25 ms
 *  after a lone Escape.  Keys that the program does not know are passed over. */
bool terminal_key(struct terminal *t, struct stroke *ret);

#endif
