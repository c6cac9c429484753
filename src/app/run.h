/*
 * app/run.h - a power-up under way: every event is judged, recorded, and then shown
 *
 * Layer: app; no terminal, no clock of its own (events and ticks bring the time).
 * Order: session_apply(), a line in the record, the picture, the disk.  The picture comes before
 * the disk, because a slow disk must not hold back an abort; until the disk has them the newest
 * events are shown as not yet recorded.
 */
#ifndef MAINSTAIR_APP_RUN_H
#define MAINSTAIR_APP_RUN_H

#include "io/record_file.h"
#include "mainstair/core/session.h"

/* What a unit is judged by; everything borrowed. */
struct run_unit {
	const struct network *network;
	const struct plan *plan;
	const struct abort_rule *rule;
	const struct meter_accuracy *meter;
};

struct run {
	struct session *session;      /* owned */
	struct band_cache *bands;     /* owned */
	struct record_writer *record; /* owned; NULL: this run is not recorded */
	bool unsynced;                /* events that matter are not on the disk yet */
	double readings_since_s;      /* run time of the first reading not on the disk; NAN: none */
	char trouble[256];            /* the record fails: how; "" when all is well */
};

/** Begin: an empty session whose first event, EVENT_START, is applied and recorded.  `record` is
 *  taken (NULL: none), also on failure.  `program`: name and version.  0, or -1 with ERR_NOMEM. */
int run_init(struct run *ret, const struct run_unit *unit, double watch_s,
             struct record_writer *record, const char *program, struct err *err);

/** Judge and record an event and whatever follows from it.  *ev comes back judged. */
void run_put(struct run *r, struct event *ev);

/** The same for an event with nothing but a kind and a note. */
void run_note(struct run *r, double seconds, enum event_kind kind, const char *note);

/** Let time pass to now_s. */
void run_tick(struct run *r, double now_s);

/** Is there something that should be put on the disk now?  Not while that is being done. */
bool run_wants_sync(const struct run *r, double now_s);
/** When run_wants_sync() will next be true by time alone; INFINITY: never. */
double run_sync_due(const struct run *r);
/** Put it there, and wait until it is. */
void run_sync(struct run *r);
/** Put it there without waiting: a slow disk must not hold back the next reading. */
void run_sync_begin(struct run *r);
/** Readable when that has ended; -1: nothing is under way. */
int run_sync_fd(const struct run *r);
/** See whether it has.  True when run_recorded() or the record's trouble may have changed. */
bool run_sync_end(struct run *r);

/** Events that are on the disk; without a record all of them. */
unsigned long run_recorded(const struct run *r);

/** Close the record.  `where`, of `size` bytes, receives its path, or "" when there is none.  0,
 *  or -1 with err when not everything reached the disk.  A zeroed run is fine. */
int run_finish(struct run *r, char *where, size_t size, struct err *err);

#endif
