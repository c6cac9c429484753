/*
 * core/event.h - one thing that happened in a power-up, as it is recorded and replayed
 *
 * Layer: core; pure.  A record is a list of these; the dashboard's whole state follows from
 * applying them in order (core/session.h), live and in replay alike.
 */
#ifndef MAINSTAIR_CORE_EVENT_H
#define MAINSTAIR_CORE_EVENT_H

#include <stdbool.h>

#include "mainstair/core/judge.h"

enum { EVENT_NOTE_MAX = 480 };

enum event_kind {
	EVENT_START,        /* the run begins; note: program version */
	EVENT_CAUTIONS,     /* the cautions were acknowledged */
	EVENT_STAGE,        /* the variac is to go to / was recognised at stage `stage` (`volts` =
	                       planned) */
	EVENT_READING,      /* a reading: volts, watts, amps, power_factor (NAN: not told); note:
	                       its source ("typed", "virtual bench", "modbus") */
	EVENT_RAIL,         /* a voltmeter reading: note "rail NAME" or "heater NAME", volts = what
	                       it read */
	EVENT_MEASURED,     /* a parameter measured on the bench: note "primary 21.4 ohm" */
	EVENT_QUESTIONED,   /* a typed line that was questioned and not (yet) believed; note: the
	                       line as typed */
	EVENT_IMPOSSIBLE,   /* a value that cannot be (negative watts, 900 V); recorded raw, not
	                       believed */
	EVENT_ABORT_RAISED, /* note: the reading and the limit it crossed */
	EVENT_ABORT_ACKNOWLEDGED,
	EVENT_STOP,         /* smoke, smell, hum, arcing: the stop key */
	EVENT_STOP_ACKNOWLEDGED,
	EVENT_BLIND,        /* no reading within the watch time */
	EVENT_METER,        /* meter lost, found, errors; note: what */
	EVENT_NOTE,         /* the restorer's own words */
	EVENT_LOOK,         /* answer to a look-prompt; note: "yes|no: prompt" */
	EVENT_END,          /* the run was closed by its user */
	EVENT_KINDS         /* how many */
};

struct event {
	double seconds; /* since EVENT_START, monotonic, >= the one before */
	enum event_kind kind;
	int stage;      /* index into the plan, or -1 */
	double volts, watts, amps, power_factor; /* NAN: not told */
	enum verdict verdict;                    /* as judged when it was recorded */
	char note[EVENT_NOTE_MAX];               /* UTF-8, any text; escaped in the file, not
	                                            here */
};

/** "start", "cautions", "stage", "reading", … : the word in the record. */
const char *event_word(enum event_kind kind);
/** The reverse; -1 when none. */
int event_from_word(const char *word);

/** Was this reading typed?  Its note begins so. */
bool event_typed(const struct event *ev);

#endif
