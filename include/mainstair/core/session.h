/*
 * core/session.h - the state of a power-up, as a function of the events so far
 *
 * Layer: core; pure: no clock, no file, no terminal.  The same code runs live and in replay.
 * The session judges: it holds the unit's network and plan and gives every reading its verdict.
 * Memory is bounded: of the readings it keeps the last SESSION_READINGS_MAX for plots and the
 * last of each stage for the table; the record on disk keeps all.
 */
#ifndef MAINSTAIR_CORE_SESSION_H
#define MAINSTAIR_CORE_SESSION_H

#include "mainstair/core/band_cache.h"
#include "mainstair/core/event.h"
#include "mainstair/core/limiter.h"
#include "mainstair/core/plan.h"
#include "mainstair/core/probe.h"
#include "mainstair/core/soak.h"
#include "mainstair/core/suspects.h"
#include "mainstair/core/warming.h"

enum {
	SESSION_READINGS_MAX = 4096,
	SESSION_EVENTS_SHOWN = 64, /* newest events, for the log on screen */
	SESSION_FOLLOW_MAX = 4     /* no event raises more than so many others */
};

enum session_phase {
	PHASE_CAUTIONS, /* first screen: nothing else until acknowledged */
	PHASE_STAGES,   /* walking up */
	PHASE_SOAK,     /* last stage reached and in band */
	PHASE_ABORT,    /* abort prompt up, until acknowledged */
	PHASE_STOPPED,  /* stop key: smoke, smell, hum; until acknowledged */
	PHASE_ENDED
};

/* The one instruction line. */
enum instruction {
	DO_ACKNOWLEDGE,    /* read and acknowledge the cautions */
	DO_SET_VARIAC,     /* to instruction_volts */
	DO_READ,           /* enter volts and watts */
	DO_HOLD,           /* settling; instruction_s left */
	DO_LOOK,           /* look at the prompts of this stage; then up to instruction_volts */
	DO_STEP_UP,        /* to instruction_volts */
	DO_HOLD_HERE,      /* over or under, watts or a voltmeter: do not step up; find out */
	DO_STEP_DOWN,      /* longest stay exceeded: on or down, to instruction_volts (the next
	                      stage when this one is passed, else the one before, or 0) */
	DO_SOAK,           /* full line: let it soak */
	DO_ABORT,          /* variac to zero, plug out */
	DO_ZERO_VARIAC,    /* blind, or after an abort: back to zero, start from the first stage */
	DO_NOTHING         /* ended */
};

struct session_point {
	double seconds, volts, watts;
	float low, high, abort_watts; /* the band of that moment, for the plot over time */
	enum verdict verdict;
	bool settled;
};

/* After an abort or a stop the plan restarts, so these do too; the record keeps all. */
struct session_stage {
	bool visited;
	bool have_reading;
	struct event reading;  /* the last settled reading there, else the last one */
	bool settled;          /* that reading was settled */
	double low, high;      /* the band it was judged by: not settled, that of its moment; W */
	double entered_s;
	bool passed;           /* held long enough, and the settled reading was in band */
	bool proof_told;       /* what passing it ruled out has been raised as an event */
	unsigned looks_answered; /* bit i: the stage's look i was answered */
	unsigned looks_not_so;   /* bit i: and it was last answered with no */
};

/* A voltmeter reading of a rail or a heater winding. */
struct session_probe {
	double seconds; /* < 0: none */
	double volts;
	double line_volts; /* of the last reading before it; NAN: none */
	bool settled;           /* the heaters had, when it was taken */
	struct probe_band band; /* what it was judged by, where there is a verdict */
	enum verdict verdict;   /* in band, under or over; settling: outside, and not settled;
	                           unknown: no line volts to judge it by */
};

struct session {
	/* what it judges by; borrowed, must outlive the session */
	const struct network *net;
	const struct plan *plan;
	const struct abort_rule *rule;
	const struct meter_accuracy *meter;
	double watch_s;        /* blind after this many seconds without a reading; 0: manual
	                          entry */
	const struct series_lamp *ahead; /* borrowed, set by the caller after session_init(): the
	                                    meter stands ahead of this lamp; NULL: at the unit's
	                                    plug */
	struct band_cache *bands; /* borrowed, set by the caller after session_init(); NULL: every
	                             reading's band is worked out anew, with the same result */

	enum session_phase phase;
	enum instruction instruction;
	double instruction_volts, instruction_s;

	double now_s;          /* latest time seen (event or session_tick) */
	int stage;             /* current stage, recognised from the volts; -1: off, below the
	                          first */
	int target;            /* stage chosen to go to and not yet reached, or -1 */
	double volts_since_s;  /* when the line volts last moved by more than 2 % of nameplate */
	struct session_stage stages[PLAN_STAGES_MAX];

	bool have_reading;
	struct event last;     /* last believed reading */
	struct band band;      /* the band it was judged by, at its volts; while not settled it
	                          is the band of that moment (core/warming.h) */
	bool settled;
	bool blind;

	struct event abort_event, stop_event; /* when phase is PHASE_ABORT / PHASE_STOPPED */
	struct event first_finding;           /* first over / under / abort / stop; seconds < 0:
	                                         none */

	struct session_probe rail_probes[NET_RAILS_MAX], winding_probes[NET_WINDINGS_MAX];

	struct session_point points[SESSION_READINGS_MAX]; /* ring, oldest dropped */
	size_t points_first, n_points;
	struct event shown[SESSION_EVENTS_SHOWN];          /* ring, newest last; of readings with
	                                                      one verdict at one stage that follow
	                                                      each other the first and the newest */
	unsigned long shown_number[SESSION_EVENTS_SHOWN];  /* which event of the run each is, from
	                                                      0 */
	size_t shown_first, n_shown;
	unsigned long n_events, n_readings, n_impossible;

	/* behind the phase and the instruction; for session.c alone */
	bool cautions_read, abort_up, stop_up, ended;
	bool must_zero;        /* back to the first stage before anything else counts */
	bool from_bottom;      /* … and from there: after an abort no stage is chosen past the
	                          first */
	double volts_moved_to; /* line volts when they last moved; NAN: no reading yet */
	struct warming warming; /* how warm the heaters can be */
	double settles_at_s;    /* when they will have settled if the volts stay */
	double looked_ahead_s;  /* when that was last worked out */
	double watch_from_s;   /* the watch for blindness runs from here */
};

/** Make an empty session in the caller's storage (large: allocate it). */
void session_init(struct session *s, const struct network *net, const struct plan *plan,
                  const struct abort_rule *rule, const struct meter_accuracy *meter, double watch_s);

/** Judge and apply one event.  Fills ev->verdict and ev->stage of a reading (a replayed one
 *  keeps its own in the record; compare before and after); a reading that cannot be becomes an
 *  EVENT_IMPOSSIBLE whose note says why.  The state is final when this returns: a reading that
 *  crosses the abort line has put up the abort prompt, a reading at another stage has moved there,
 *  and a look-prompt of danger that was answered with no has put up the stop.
 *  The events that tell of it (abort raised, stage recognised, stop) are written to `follow`, at
 *  most `max` (SESSION_FOLLOW_MAX is always enough); the caller records and applies them in turn.
 *  In replay the caller ignores them: the record has them.  Returns how many were written.
 *
 *  Under another profile than the recorded one this session may put up an abort that the record
 *  knows nothing of; whoever replays must then acknowledge it.
 *
 *  Where plan_prove() has been called, an EVENT_NOTE follows when a stage is passed for the first
 *  time: "ruled out at 50 V: a short across the mains side; a shorted winding heater" (what no
 *  stage passed before had ruled out), or "ruled out at 50 V: nothing more". */
size_t session_apply(struct session *s, struct event *ev, struct event *follow, size_t max);

/** Let time pass without an event: counts holds down, notices a longest stay and blindness.
 *  May raise events as session_apply() does. */
size_t session_tick(struct session *s, double now_s, struct event *follow, size_t max);

/** The plan that the session borrows was refreshed (plan_refresh()): its looks that were answered
 *  stay answered.  `before`: the plan as it was.  An EVENT_MEASURED applied after that, and after
 *  the band cache was cleared, judges what was read by the new numbers; it may raise an abort. */
void session_carry_looks(struct session *s, const struct plan *before);

/** The settled readings so far, for suspects_rank(): each stage's, what a voltmeter read at its
 *  volts, and last the present reading when it is a finding.  Returns how many were written, at
 *  most `max`. */
int session_observations(const struct session *s, struct observation *ret, int max);

/** May the restorer choose to go to this stage (0 ..) next?  After an abort or a stop only to the
 *  first, until it has been reached. */
bool session_may_choose(const struct session *s, int stage);

/** The voltmeter reading that speaks against the unit now: taken at the present line volts, heaters
 *  settled, and outside its limits; the newest one of its rail or winding.  Of several the first
 *  rail, then the first winding.  NULL: none.  *what and *index say whose it is. */
const struct session_probe *session_probe_against(const struct session *s, enum observed *what,
                                                  int *index);

/** Has a voltmeter on the rail, at that stage's volts, found what a healthy unit has there? */
bool session_rail_is_well(const struct session *s, int rail, int stage);

/** Drift and runaway of the soak: readings at the last stage since the heaters settled there. */
void session_soak(const struct session *s, struct soak *ret);

/** A reading from a meter ahead of the series lamp (s->ahead) becomes the unit's own, volts and
 *  watts; what was read, and what the lamp takes, is added to its note.  To be called once for each
 *  reading that comes from outside, before it is applied; session_understand() does.  Without such
 *  a lamp, or where the reading cannot be split, *ev is left as it is. */
void session_behind_lamp(const struct session *s, struct event *ev);

/* How a typed line was understood. */
enum typed_kind { TYPED_READING, TYPED_RAIL, TYPED_QUESTION, TYPED_WRONG };
struct typed {
	enum typed_kind kind;
	struct event event;  /* TYPED_READING / TYPED_RAIL, and what a TYPED_QUESTION would mean */
	char echo[160];      /* "50.0 V, 5.20 W" or the question or what is wrong and what would be
	                        right */
};

/** Understand a typed line: `50 5.2`, `50 5.2 0.09` (volts, watts, amps; units allowed, `50V
 *  5.2W`), `rail NAME 210`, `heater NAME 3.1`.  A reading far from anything that this unit or
 *  this line could give is a question, to be asked before it is believed; so is one that leaves out
 *  more than one stage, unless its watts are an abort. */
void session_understand(const struct session *s, const char *line, struct typed *ret);

#endif
