/*
 * ui/term_out.h - the way out to the terminal: bytes wait here, and the program does not
 *
 * Layer: ui; private to term_curses.c.  Pictures are written into a file in memory, because curses
 * waits in write() for a terminal that is slow or was stopped (Ctrl-S), and spins on a descriptor
 * that does not wait.  From there they go on as fast as the terminal takes them.
 *
 * What the kernel has taken the terminal may not have seen: a pseudo-terminal takes 12 KB, a
 * connection more.  So behind each picture the terminal is asked for its status (DSR 5, ECMA-48
 * 8.3.35): its answer comes when it has read all before the question.  One that never answers is
 * not waited for.
 */
#ifndef MAINSTAIR_UI_TERM_OUT_H
#define MAINSTAIR_UI_TERM_OUT_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/err.h"

struct term_out; /* opaque */

/** To the terminal behind descriptor tty_fd, which is opened anew: not to wait is then our own
 *  affair, and not that of whoever else has it.  `asks`: it is one that can be asked.  0, or -1
 *  with ERR_SYSTEM (a limit on the size of files that leaves no room for pictures is one) or
 *  ERR_NOMEM. */
int term_out_open(struct term_out **ret, int tty_fd, bool asks, struct err *err);

/** What still waits is dropped.  NULL is fine. */
void term_out_close(struct term_out *o);

/** The descriptor to write pictures to; any amount, never waits.  Borrowed. */
int term_out_sink(const struct term_out *o);

/** The terminal's own descriptor, for poll() and for a signal handler; never waits.  Borrowed. */
int term_out_fd(const struct term_out *o);

/** All of a picture was written: send it, and ask. */
void term_out_picture(struct term_out *o);

/** Bytes of a picture that were written and not yet sent. */
long term_out_waiting(const struct term_out *o);

/** So many bytes the terminal takes in a quarter of a second, by the answers so far; LONG_MAX: a
 *  whole picture, or nobody knows. */
long term_out_room(const struct term_out *o);

/** Send on what goes.  False: the terminal has gone (told once and for all). */
bool term_out_send(struct term_out *o);

/** The same for as long as something waits, but no longer than wait_ms. */
void term_out_drain(struct term_out *o, int wait_ms);

/** An answer has come in. */
void term_out_answered(struct term_out *o);

/** No answer will come to what was asked. */
void term_out_forget(struct term_out *o);

/** Is an answer due from a terminal that does answer? */
bool term_out_owed(struct term_out *o);

/** May one still come?  Also from a terminal that has not answered yet. */
bool term_out_may_answer(struct term_out *o);

/** Has the terminal taken (nearly) all that it was sent? */
bool term_out_ready(struct term_out *o);

/** Does term_out_send(), or term_out_ready() when it is waited for, hang on POLLOUT?  *ret_s:
 *  look again after so many seconds whatever poll() says (an answer is given up); INFINITY: no
 *  need. */
bool term_out_wants_poll(struct term_out *o, bool ready_waited_for, double *ret_s);

#endif
