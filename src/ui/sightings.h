/*
 * ui/sightings.h - what was seen besides watts: voltmeter readings and answers to look-prompts
 *
 * Layer: ui; pure.  A fold over the same events that core/session.h judges, for the dashboard
 * only: the session judges watts, the dashboard also shows what a voltmeter read and which
 * look-prompts were answered.  Live and replay feed it alike.
 */
#ifndef MAINSTAIR_UI_SIGHTINGS_H
#define MAINSTAIR_UI_SIGHTINGS_H

#include "mainstair/core/event.h"
#include "mainstair/core/plan.h"

enum { SIGHTINGS_METERS_MAX = NET_RAILS_MAX + NET_WINDINGS_MAX };

/* The last voltmeter reading of one rail or heater. */
struct sighting {
	char what[PROFILE_NAME_MAX + 8]; /* "rail main", "heater V1" */
	double volts, seconds;
};

enum look_answer { LOOK_OPEN, LOOK_YES, LOOK_NO };

struct sightings {
	const struct plan *plan; /* borrowed */
	struct sighting meters[SIGHTINGS_METERS_MAX];
	int n_meters;
	unsigned char looks[PLAN_STAGES_MAX][PLAN_LOOKS_MAX]; /* enum look_answer */
};

void sightings_init(struct sightings *s, const struct plan *plan);

/** Take one event; kinds that say nothing of the sort are passed over.  A new start from the
 *  first stage (abort or stop acknowledged) opens all look-prompts again. */
void sightings_apply(struct sightings *s, const struct event *ev);

/** The last reading of `what` ("rail NAME", "heater NAME"), or NULL. */
const struct sighting *sightings_of(const struct sightings *s, const char *what);

/** The first look-prompt of a stage without an answer, or -1. */
int sightings_open_look(const struct sightings *s, int stage);

#endif
