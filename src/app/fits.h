/*
 * app/fits.h - which fault fits what the session has read so far, for the screen
 *
 * Layer: app.  Ranking takes some ten to hundred milliseconds, so it is done once the picture of
 * a finding is on the screen, and again only when there is something new to go by.
 */
#ifndef MAINSTAIR_APP_FITS_H
#define MAINSTAIR_APP_FITS_H

#include "mainstair/core/session.h"
#include "mainstair/core/suspects.h"
#include "ui/view.h"

struct fits {
	struct suspicion suspicion;
	bool ranked;
	/* what it was ranked by */
	enum session_phase phase;
	int stage;
	enum verdict verdict;
	double probe_s, ranked_s;
};

/** Is there a finding (over, under, abort) about which something new is known? */
bool fits_wanted(const struct fits *f, const struct session *s);

/** Rank by what session_observations() says and the reading that raised an abort. */
void fits_rank(struct fits *f, const struct session *s);

/** Put the outcome into *a: of the finding there is now, or of an acknowledged abort until
 *  something else is found; nothing when there is neither. */
void fits_show(const struct fits *f, const struct session *s, struct surroundings *a);

#endif
