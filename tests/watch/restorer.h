/*
 * tests/watch/restorer.h - somebody who powers up a unit on the virtual bench, and what the session
 * makes of it
 *
 * A run is a unit (one out of many built to a profile, with cathodes that have aged each in its own
 * way and heaters quicker or slower than usual), a meter and a way of working, all of them
 * drawn from one number: stages stopped at about right, passed over, gone back to; the variac
 * turned slowly or in jumps; readings every third of a second or once a minute; breaks of minutes
 * and of hours; units that were warm before anybody looked; silences in which the unit was off,
 * at other volts or cold again without a reading.  The same number is the same run.
 */
#ifndef MAINSTAIR_TESTS_WATCH_RESTORER_H
#define MAINSTAIR_TESTS_WATCH_RESTORER_H

#include <stdbool.h>
#include <stdint.h>

#include "mainstair/core/band_cache.h"
#include "mainstair/core/plan.h"
#include "mainstair/core/profile.h"
#include "mainstair/core/session.h"

/* What is watched: a profile as the program knows it. */
struct watched {
	const char *name; /* of the profile's file; borrowed */
	struct profile profile;
	struct network net;
	struct plan plan;
	struct abort_rule rule;
	struct meter_accuracy meter; /* a plug-in meter that is right to 1 per cent */
	struct band_cache bands;
};

/** The unit of a profile's file.  Large: free() it.  NULL after a message on standard error. */
struct watched *watched_load(const char *path);

/* What the meter showed whenever somebody looked. */
struct glance {
	double seconds, volts, watts, amps;
};
struct glances {
	struct glance *list; /* given; free() it */
	size_t n, room;
};

/** A run of a healthy unit.  0, or -1 after a message on standard error.  What is in *ret is
 *  forgotten, its room used again; zeroed to begin with. */
int restorer_works(const struct watched *w, uint64_t seed, struct glances *ret);

/** What was seen, in a file of numbers; read it back.  0, or -1 (written: after a message on
 *  standard error; read: there is none, or it is not whole). */
int glances_write(const char *path, const struct glances *seen);
int glances_read(const char *path, struct glances *ret);

/* A reading that should not have been called what it was. */
struct alarm {
	double seconds, volts, watts;
	double low, expected, high, abort_watts; /* the band of that moment */
	bool settled;
	enum verdict verdict;
};

/* What the session made of a run. */
struct tally {
	unsigned long readings, settled, settling; /* settling: outside the moving band,
	                                              unsettled */
	unsigned long over, under, aborts, unknown;
	struct alarm first; /* the first over, under or abort; seconds < 0: none */
	double least_room;  /* least distance of settled watts to an edge of the band, as a share of
	                       the half width on that side: 1 in the middle, 0 on the edge */
};

/** The run as a session judges it.  0, or -1 when there is no memory. */
int session_watches(struct watched *w, const struct glances *seen, struct tally *ret);

#endif
