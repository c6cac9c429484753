/*
 * app/job_loop.h - the job of a unit on the terminal: its phases, its pages, its logbook
 *
 * Layer: app.  Everything but the power-up itself, which is live.h's: the loop ends with
 * JOB_TO_POWER when the user goes there, and is entered again afterwards.
 */
#ifndef MAINSTAIR_APP_JOB_LOOP_H
#define MAINSTAIR_APP_JOB_LOOP_H

#include "app/feed.h"
#include "app/loop.h"
#include "app/page.h"
#include "io/logbook_file.h"

struct job_setup {
	const char *title;             /* the instrument's name; any text */
	const struct profile *profile;
	const struct network *network; /* as the profile gives it (page.h) */
	const struct tables *tables;
	struct logbook *book;
	bool not_isolated;             /* the bench file says that there is no isolation */
	bool invented;                 /* a demonstration: said on every screen */
	bool cautions_read;            /* in this run of the program */
	/* Opens the bench's meter for a page that wants it.  NULL: there is none. */
	int (*open_meter)(void *self, struct feed *ret, struct err *err);
	void *meter_self;
	/* An ohms entry was kept: what it measured goes into the load model.  NULL: nothing. */
	int (*measured)(void *self, struct err *err);
	void *measured_self;
};

enum job_end { JOB_TO_POWER, JOB_LEFT, JOB_SIGNAL };

/** Draw and keep the job until the user leaves it.  *in_hand: the phase in hand, in and out
 *  (JOB_PHASES: what is next).  *ret_signal: for JOB_SIGNAL. The terminal stays taken. 0 with *ret,
 *  or -1 with ERR_NOMEM. */
int job_loop(struct loop *l, struct job_setup *setup, enum job_phase *in_hand, enum job_end *ret,
             int *ret_signal, struct err *err);

/** UTC now, seconds since 1970. */
double job_utc_s(void);

#endif
