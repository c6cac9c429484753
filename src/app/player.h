/*
 * app/player.h - a record as a session at any of its events, forwards and backwards
 *
 * Layer: app; no terminal.  The events go through the same session_apply() as they did live.
 * Going back takes up a copy of the session kept earlier and goes forward from there.  A long
 * way is worked off in slices, so that keys and the picture need not wait for it.
 */
#ifndef MAINSTAIR_APP_PLAYER_H
#define MAINSTAIR_APP_PLAYER_H

#include "app/run.h"

enum { PLAYER_COPIES_MAX = 32 };

struct player {
	struct record *record;         /* borrowed */
	struct session *session;       /* owned: the state after `at` events */
	struct band_cache *bands;      /* owned */
	size_t at, goal;               /* events applied; to be applied */
	bool have_then;
	enum verdict verdict_then;     /* of the newest reading applied, as it was recorded */
	bool own_abort;                /* this judgement put up an abort that the record has not */
	char trouble[256];             /* an event could not be read; "" */

	struct {
		struct session *session; /* owned */
		size_t at;
	} copies[PLAYER_COPIES_MAX];
	int n_copies;
	size_t copy_every;             /* events between copies; doubled when there are too many */
	struct run_unit unit;
};

/** Begin before the first event.  `record` and what `unit` names are borrowed.  0, or -1 with
 *  ERR_NOMEM and nothing to release. */
int player_init(struct player *ret, struct record *record, const struct run_unit *unit,
                struct err *err);
void player_release(struct player *p); /**< A zeroed one is fine. */

/** Set the goal: `events` applied (cut to what there is). */
void player_seek(struct player *p, size_t events);

/** Work towards the goal, for about `slice_s` seconds at most (INFINITY: all the way).  Returns
 *  true when it is reached. */
bool player_work(struct player *p, double slice_s);

/** Goals for jumps from where the player stands; all return a number of events to be applied.
 *  There being nothing to jump to, they return where it stands. */
size_t player_next_stage(const struct player *p);
size_t player_previous_stage(const struct player *p);
/** The first finding; standing on it or beyond, the next one. */
size_t player_finding(const struct player *p);

/** Apply event i to the session as player_work() does and give it back, its verdict the one of
 *  now; *ret_then is the verdict as recorded.  For going through a record once.  i must be the
 *  number of events applied.  0, or -1 with err. */
int player_step(struct player *p, struct event *ret, enum verdict *ret_then, struct err *err);

#endif
