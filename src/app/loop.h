/*
 * app/loop.h - one wait for all: keys, signals, a feed's descriptor, the disk, the nearest deadline
 *
 * Layer: app.  live.c and replay.c each draw, wait here, and act on what woke them.  Dialogs are
 * state, never a loop of their own.
 */
#ifndef MAINSTAIR_APP_LOOP_H
#define MAINSTAIR_APP_LOOP_H

#include <signal.h>
#include <stdbool.h>
#include <stdint.h>

#include "mainstair/base/err.h"
#include "ui/canvas.h"
#include "ui/sheet.h"
#include "ui/terminal.h"
#include "ui/view.h"

struct loop {
	struct terminal *terminal;
	struct canvas canvas;
	int signal_fd;
	sigset_t before; /* the signal mask to go back to */
	bool anew;       /* draw everything at the next loop_draw() */
	double woke_s;   /* monotonic: the end of the last wait */
	bool partial;    /* not all of the last picture was drawn */
	bool held_back;  /* a picture waits for the terminal: loop_may_draw() said no */
};

/* What ended a wait; several may be true. */
struct loop_wake {
	bool keys;       /* take them with terminal_key() */
	bool redraw;     /* another size; what was shown is lost; or not all of it was drawn */
	bool stopped;    /* the program was stopped (Ctrl-Z), and goes on */
	double stopped_s; /* for so long; at most, where it was by SIGSTOP */
	int ended_by;    /* a signal, SIGHUP also when the terminal went away; 0: go on */
	short revents;   /* of the feed's descriptor */
	bool disk;       /* the disk's descriptor is readable */
};

/** Monotonic time. */
int64_t loop_monotonic_ms(void);
double loop_monotonic_s(void);

/** Block the signals that end or resize, take the terminal.  The caller has called
 *  setlocale(LC_CTYPE, "").  0, or -1 with err and nothing to close. */
int loop_open(struct loop *ret, struct err *err);

/** Give the terminal back; the signals stay blocked until loop_release(), so that what ends the
 *  program can still be recorded in peace.  Both take a loop that was never opened (zeroed). */
void loop_close(struct loop *l);
void loop_release(struct loop *l);

/** Is the terminal ready for another picture?  If not, loop_wait() also ends when it may be: the
 *  newest state is drawn then, and nothing in between.  What must not wait is drawn all the same;
 *  no more than one picture is ever before it. */
bool loop_may_draw(struct loop *l);

/** Draw a view and show it.  Returns the rows that lie below the end of the screen. */
int loop_draw(struct loop *l, const struct view *v);

/** The same for a page of the job. */
int loop_draw_sheet(struct loop *l, const struct sheet *s);

/** Wait for at most `wait_s` seconds (INFINITY: for ever; 0: only look), or until something of
 *  *ret comes about.  feed_fd, disk_fd -1: none. */
void loop_wait(struct loop *l, int feed_fd, int disk_fd, double wait_s, struct loop_wake *ret);

#endif
