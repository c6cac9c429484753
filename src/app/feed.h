/*
 * app/feed.h - where readings come from, whatever is behind it
 *
 * Layer: app.  Three feeds plug in: none (typed readings only), the virtual bench in this very
 * process (feed_bench.h), a power meter on a serial line (feed_meter.h).  The loop polls the
 * feed's descriptor and its next due time; readings come out as events, ready for the run.
 * Time: seconds of the run (app/loop.h's clock), never wall clock.
 */
#ifndef MAINSTAIR_APP_FEED_H
#define MAINSTAIR_APP_FEED_H

#include <stdbool.h>

#include "mainstair/core/event.h"

struct feed_ops {
	int (*fd)(void *self);        /* to poll for input; -1: none */
	double (*due)(void *self);    /* when step() has work for time alone; INFINITY: never */
	void (*step)(void *self, short revents, double now_s);
	bool (*next)(void *self, struct event *ret); /* oldest event not yet taken */
	/* The program was stopped and goes on: what has come in since is old.  NULL: nothing
	 * can. */
	void (*missed)(void *self);
	/* Health in a line of at most `size` bytes; true when there is nothing to worry about. */
	bool (*describe)(void *self, double now_s, char *ret, size_t size);

	/* of a feed with a variac that keys move; NULL without one */
	double (*variac)(void *self); /* where it is going, V */
	void (*turn)(void *self, double volts);
	/* Clip the virtual voltmeter on rail number i: an EVENT_RAIL; false: no such rail. */
	bool (*probe)(void *self, int i, struct event *ret);

	void (*close)(void *self);
};

struct feed {
	const struct feed_ops *ops;
	void *self;
	const char *source;  /* "typed", "virtual bench", "modbus" … for the screen */
	bool invented;       /* a demonstration, not a measurement */
	double watch_s;      /* blind after this long without a reading; 0: typed, never */
};

/** A feed that never says anything: readings are typed. */
struct feed feed_typed(void);

/** Close what is behind it; a zeroed feed is fine. */
void feed_close(struct feed *f);

#endif
