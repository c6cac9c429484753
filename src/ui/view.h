/*
 * ui/view.h - everything that a screen shows, gathered once per pass
 *
 * Layer: ui; pure.  view_build() turns the session's state and what stands around it into a
 * `struct view`; screens read nothing else, so they can be drawn from a view made by hand.
 * Pointers are borrowed and live as long as what view_build() was given.
 * Units: V, A, W, s; NAN where nothing is known.
 */
#ifndef MAINSTAIR_UI_VIEW_H
#define MAINSTAIR_UI_VIEW_H

#include "ui/canvas.h"
#include "ui/keymap.h"
#include "mainstair/core/compare.h"
#include "mainstair/core/session.h"
#include "ui/theme.h"
#include "ui/widget/prompt.h"

enum page { PAGE_DASHBOARD, PAGE_STAGE, PAGE_RAILS, PAGE_RECORD, PAGES };

enum screen {
	SCREEN_PAGE,     /* `page` of the dashboard */
	SCREEN_CAUTIONS,
	SCREEN_ABORT,
	SCREEN_STOP,
	SCREEN_HELP
};

/* The band over line volts, for plots: rising volts. */
struct curve_point {
	double volts, low, expected, high, abort_watts;
};

enum { SURROUNDINGS_FITS = 3, SURROUNDINGS_MEASURES = 3 };

/* An explanation of the readings.  Pages have room for all its names, a line for some. */
struct fit {
	char words[SUSPECT_WORDS_MAX]; /* "about 390 ohm across the mains; or …": all of them */
	char brief[160];               /* the same, the last names counted: "…; or 2 more" */
	char odds[48];                 /* "300 to 1 against healthy"; "": they would mislead */
};

/* What may be typed, and what it means; a table of them ends with a NULL form. */
struct typed_form {
	const char *form, *meaning;
};

/* What the session does not know: who feeds it, what is typed, where it is recorded.  The
 * application fills it; zeroed is a valid start. */
struct surroundings {
	const char *title;      /* the instrument's name; any text */
	enum chassis chassis;
	const char *source;     /* "typed", "virtual bench", … */
	bool invented;          /* readings are a demonstration: said on every screen */
	bool typed_only;        /* readings come from the keyboard alone */
	enum page page;
	bool help;
	int scroll;             /* rows, of the page shown */
	unsigned contexts;      /* IN_… bits in force, for the hints */
	const struct typed_form *forms; /* help of a page of the job; NULL: of the power-up */

	const struct curve_point *curve;
	int n_curve;
	const struct like_curve *like; /* an earlier power-up laid under this one; NULL: none */

	const struct prompt *prompt; /* NULL: nothing can be typed */
	char echo[200];              /* how the last line was understood, or why it was not */
	enum role echo_role;
	char question[320];          /* "" : nothing is asked */

	/* A finding: which faults fit the readings, best first. */
	struct fit fits[SURROUNDINGS_FITS];
	int n_fits;
	bool fits_told_apart;        /* false: the first two cannot be told apart yet; with one
	                                alone in the list the second is a healthy unit */
	bool fits_of_abort;          /* they are of an abort that was acknowledged since */
	bool fits_healthy;           /* none fits better than a healthy unit */
	char poor[240];              /* not even the first fits: so, in words; "" */
	char separate[200];          /* what to measure to tell them apart; "" */

	bool series_lamp;            /* the unit's volts are not the variac's */
	bool meter_ahead;            /* of that lamp: readings are split */
	char lamp[160];              /* what the lamp leaves it at the volts to come; "" */
	bool not_isolated;           /* the bench file says so */

	/* Numbers to measure on the unit that would narrow the band most, and how; best first. */
	char measures[SURROUNDINGS_MEASURES][320];
	int n_measures;

	double variac_volts;         /* virtual variac; NAN: there is none */
	char meter[120];             /* health of the meter; "" when typed */
	enum role meter_role;
	char record[256];            /* where the record is */
	unsigned long recorded;      /* events that are on the disk */
	bool record_failed;          /* `record` says how: an alarm */

	bool replay;
	bool replay_paused;
	double replay_speed;
	unsigned long replay_at, replay_events;
	bool have_then;
	enum verdict verdict_then;   /* of the newest reading, as it was recorded */
	bool other_profile;          /* judged now by another profile than then */
};

struct view_stage {
	double volts, hold_s;
	double low, high;                   /* W: what the reading was judged by; without one, as
	                                       it will be once settled */
	bool moment;                        /* and that is the band of a moment: not settled */
	bool visited, here, have_reading, passed;
	double read_volts, read_watts;
	enum verdict verdict;
	double like_low, like_high;         /* as the power-up laid under leads to expect; NAN */
	bool like_judged;                   /* its reading here had settled, and was compared */
	enum compare_verdict like_verdict;
};

/* A rail or a heater winding, as the model expects it at `at_volts`. */
struct view_meter {
	char what[PROFILE_NAME_MAX + 8]; /* "rail main", "heater sec" */
	double volts;                    /* NAN: nobody knows, see load_rail_undefined() */
	double milliamps;                /* NAN for a heater */
	double share;                    /* heater: of rated volts; NAN for a rail */
	char note[48];                   /* "regulator lit" */
	double read_volts, read_age_s;   /* voltmeter; NAN: none */
	double read_line_volts;          /* line volts it was read at; NAN: not known */
	struct probe_band read_band;     /* what a healthy unit shows there */
	enum verdict read_verdict;       /* by it; unknown: not judged, read_band is not filled */
};

enum { VIEW_METERS_MAX = NET_RAILS_MAX + NET_WINDINGS_MAX, VIEW_FACTS_MAX = PLAN_PROOFS_MAX,
       VIEW_FACT_MAX = 160, VIEW_SOAK_LINES = 3 };

struct view {
	struct surroundings around;
	enum screen screen;

	char instruction[200]; /* what to do now */
	char how[640];         /* how, or why; may be "" */
	enum role instruction_role;
	double seconds;         /* since the run began */

	/* the number */
	bool have_reading;
	double volts, watts, amps, power_factor, age_s;
	enum verdict verdict;
	bool blind;
	bool moment;     /* the band below is that of this moment: not settled yet */
	double at_volts; /* the volts that the band is for: of the reading, or of the next stage */
	double low, expected, high, abort_watts;
	char like[96];           /* how it compares with the power-up laid under; "": none is */
	enum role like_role;

	/* where */
	int stage, stage_next;  /* current and next to reach; -1: none */
	struct view_stage stages[PLAN_STAGES_MAX];
	int n_stages;
	const struct stage *plan_stage; /* what the looks and the stage page are of; or NULL */
	int plan_stage_index;
	int look;               /* of plan_stage: the look-prompt to answer, or -1 */
	unsigned looks_answered; /* bit i: look i of plan_stage was answered */
	unsigned looks_not_so;   /* bit i: with no */
	char proved[VIEW_FACTS_MAX][VIEW_FACT_MAX], not_proved[VIEW_FACTS_MAX][VIEW_FACT_MAX];
	int n_proved, n_not_proved;

	struct view_meter meters[VIEW_METERS_MAX]; /* rails first */
	int n_meters;

	bool soaking;           /* at the last stage, in band: `soak` is filled */
	struct soak soak;

	/* plots: a ring of readings, oldest at points_first */
	const struct session_point *points;
	size_t points_first, n_points;
	double nameplate_volts; /* right end of the plot over volts, at least */

	/* record: a ring of the newest events */
	const struct event *events;
	const unsigned long *event_number; /* of each: which of the run's it is, from 0 */
	size_t events_first, n_events;

	struct event alarm;     /* abort or stop: what raised it, and when */
};

/** Gather a view.  `s` and what `around` points to are borrowed for the life of *ret. */
void view_build(const struct session *s, const struct surroundings *around, struct view *ret);

/** The role of how it compares with the power-up laid under. */
enum role view_like_role(enum compare_verdict verdict);

/** The mark and the word of a verdict: "IN BAND", "OVER", … in capitals, for the screen. */
const char *view_verdict_name(enum verdict v);
enum glyph view_verdict_glyph(enum verdict v);

/** One line for an event of the record: "reading 50.0 V 5.20 W in-band".  ret: `size` bytes. */
void view_event_line(const struct event *ev, char *ret, size_t size);

/** The essence of a fact, before its first colon: "a dead short on rail main". */
void view_essence(const char *fact, char ret[VIEW_FACT_MAX]);

/** Seconds as "1:02" or "1:02:03".  ret: 16 bytes. */
void view_clock(double seconds, char ret[16]);

/** Drift, slope and outlook of a soak in words, a line each.  Returns how many. */
int view_soak_lines(const struct soak *soak, char ret[VIEW_SOAK_LINES][VIEW_FACT_MAX]);

/** The band of the curve at `volts`, by straight lines between its points; false outside. */
bool view_curve_at(const struct view *v, double volts, struct curve_point *ret);

#endif
