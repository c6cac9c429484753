/*
 * app/replay.h - the dashboard on a saved power-up
 *
 * Layer: app.
 */
#ifndef MAINSTAIR_APP_REPLAY_H
#define MAINSTAIR_APP_REPLAY_H

#include "app/loop.h"
#include "app/player.h"

struct replay_setup {
	struct run_unit unit;
	const char *title;
	const char *path;     /* of the record, for the screen */
	bool series_lamp;     /* the unit's volts were not the variac's */
	bool other_profile;   /* `unit` is not the one that the record was made with */
	const struct like_curve *like; /* an earlier power-up to lay under this one; NULL: none */
	double speed;         /* to begin with; > 0 */
	char remark[200];     /* shown first: what is strange about the record; "" */
};

/** Replay until the user or a signal ends it; the terminal is then given back (loop_close()).
 *  *ret_signal as live_run()'s.  0, or -1 with err (out of memory). */
int replay_run(struct loop *l, const struct replay_setup *setup, struct record *record,
               int *ret_signal, struct err *err);

#endif
