/*
 * app/live.h - the dashboard on a power-up that happens now
 *
 * Layer: app.  Keys become requests, requests events, events go through the run (app/run.h).
 */
#ifndef MAINSTAIR_APP_LIVE_H
#define MAINSTAIR_APP_LIVE_H

#include "app/feed.h"
#include "app/lamp.h"
#include "app/loop.h"
#include "app/run.h"
#include "mainstair/core/compare.h"

struct live_setup {
	struct run_unit unit;
	const char *title;            /* the instrument's name; any text */
	enum chassis chassis;
	const char *program;          /* name and version, for the record */
	const char *const *measured;  /* numbers measured on the unit, for the record */
	int n_measured;
	struct series_lamp lamp;      /* of the bench; watts 0: none */
	bool meter_ahead;             /* the meter stands ahead of it: readings hold the lamp's
	                                 watts */
	double line_volts;            /* what the outlet gives at most */
	bool not_isolated;            /* the bench file says that there is no isolation */
	/* Puts a number measured on the unit (network_measure()'s words) into what `unit` points
	 * to: network, abort rule and plan, its stages where they were.  0, or -1 with err and
	 * nothing changed. */
	int (*measure)(void *self, const char *words, struct err *err);
	void *measure_self;
	bool measure_kept; /* it is there at the next power-up of this unit as well */
	const struct like_curve *like; /* an earlier power-up to lay under this one; NULL: none */
	const char *like_path;         /* the path of its record; NULL with `like` */
	double speed;                 /* run seconds in a second; 1 unless all is virtual */
	bool cautions_read;           /* acknowledged before, in this run of the program */
};

/* How a power-up ended, for the unit's file. */
struct live_end {
	const char *word;  /* what came last: "full-line" (the last stage was passed), "abort",
	                      "stop"; "left" when none of these came */
	double top_volts;  /* highest line volts read; NAN: no reading */
	double soak_s;     /* from passing the last stage to the end, or to the alarm; NAN: it was
	                      not passed */
};

/** Show the cautions before there is a plan: what a slow profile has to work out must not hold
 *  back the first picture. */
void live_first_frame(struct loop *l, const struct live_setup *setup, const struct feed *feed);

/** How it ended, from a run's session as it stood at each look. */
void live_end_follow(struct live_end *end, const struct session *s, double *full_line_s);

/** Run until the user or a signal ends it.  `feed` and `record` are taken, also on failure.  On
 *  return the terminal is given back (loop_close()), the end is recorded and the record closed.
 *  *ret_signal: the signal that ended it, 0: the user.  *ret_end: how it ended.  `where` (`size`
 *  bytes): the record's path.  0, or -1 with err: out of memory, or not everything reached the
 *  disk. */
int live_run(struct loop *l, const struct live_setup *setup, struct feed feed,
             struct record_writer *record, int *ret_signal, struct live_end *ret_end, char *where,
             size_t size, struct err *err);

#endif
