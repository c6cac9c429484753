/*
 * report/report.h - what is known of a unit, and the document that tells it
 *
 * Layer: report; pure: no file, no clock.  Gathered by cli/report_gather.h (the unit's logbook and
 * profile) and app/report_power.h (every power-up's record, played through a session);
 * report_build() makes the document, a part a phase of the job.
 * Everything is borrowed.  Units: V, W, A, ohm, F, s; times are UTC seconds since 1970.
 */
#ifndef REPORT_REPORT_H
#define REPORT_REPORT_H

#include "mainstair/core/bands.h"
#include "mainstair/core/compare.h"
#include "mainstair/core/job.h"
#include "mainstair/core/plan.h"
#include "mainstair/core/session.h"
#include "report/document.h"

enum {
	REPORT_CURVE_POINTS = 48, /* of the band over volts */
	REPORT_POINTS_MAX = 4000, /* readings kept for the plots; the record keeps all */
	REPORT_FINDINGS_MAX = 200,
	REPORT_EVENTS_MAX = 1000,
	REPORT_PROBES_MAX = 300,
	REPORT_POWERS_MAX = 64,
	REPORT_TEXT_MAX = 256
};

/* A reading, with what was expected at that moment. */
struct report_point {
	double seconds, volts, watts, low, high, abort_watts;
	enum verdict verdict;
	bool settled;
};

/* What a stage came to. */
struct report_stage {
	double volts;                /* as planned */
	bool reached, judged;        /* judged: a settled reading was taken there */
	bool aborted;                /* it came to an abort there, and to nothing better since */
	struct report_point reading; /* the one of the abort, else the last settled one, else the
	                                last; NAN: none */
	double expected;             /* W, at that reading's volts */
	double stayed_s;
	int looks, looks_yes, looks_no; /* asked; answered */
};

/* Something that was not as it should be, and how it ended. */
struct report_finding {
	enum event_kind kind; /* EVENT_READING: over or under; EVENT_ABORT_RAISED, EVENT_STOP,
	                         EVENT_BLIND, EVENT_LOOK (answered no), EVENT_METER */
	enum verdict verdict; /* the worst of an EVENT_READING */
	double seconds;       /* when it began */
	double volts, watts;  /* then; NAN */
	int readings;         /* that showed it */
	double ended_s;       /* NAN: it stood when the record ended */
	char what[REPORT_TEXT_MAX], end[REPORT_TEXT_MAX];
};

struct report_event {
	double seconds;
	enum event_kind kind;
	double volts, watts;
	char note[REPORT_TEXT_MAX];
};

/* A rail or a heater winding, read with a voltmeter. */
struct report_probe {
	double seconds, volts;
	double line_volts;          /* of the last reading before it; NAN: none */
	double low, expected, high; /* what it was judged by; NAN: not */
	enum verdict verdict;       /* settling: outside, and not settled; unknown: not judged */
	char where[64];             /* "rail main" */
};

/* One power-up, from its record. */
struct report_power {
	char path[REPORT_TEXT_MAX];    /* as the logbook or the command line names it */
	char trouble[REPORT_TEXT_MAX]; /* it could not be read: why.  "": it could */
	char remark[REPORT_TEXT_MAX];  /* what is strange about it; "" */
	double started_s;              /* UTC, by its record; NAN: not known */
	double entered_s;              /* of its entry in the unit's file; NAN: none */
	char word[32];                 /* how it ended: "full-line", "abort", "stop", "left"; of one
	                                  that could not be read as the logbook says, or "" */
	char mended[REPORT_TEXT_MAX];  /* what its abort or stop was, and what was done; "" */
	double mended_s;               /* when that was entered */
	double told_volts,
	        told_soak_s;          /* likewise: highest volts, and how long at the last stage */
	char program[64], source[64]; /* what wrote it; where readings came from */
	char profile[PROFILE_TEXT_MAX]; /* name of the instrument in the record */
	bool virtual_bench;             /* readings were computed, not measured */
	bool other_profile;             /* judged by another profile than the record's own */
	double line_volts;              /* nameplate */
	double duration_s, highest_volts;
	size_t readings, impossible;
	size_t changed; /* readings judged otherwise now than when they were taken */

	struct report_point *point; /* owned by whoever gathered */
	size_t n_points;
	bool thinned; /* not every reading is among them */
	double curve_volts[REPORT_CURVE_POINTS];
	struct band_edges curve[REPORT_CURVE_POINTS]; /* settled band over volts */
	int n_curve;

	struct report_stage stage[PLAN_STAGES_MAX];
	int n_stages;
	struct report_finding *finding; /* likewise */
	int n_findings;
	int findings_beyond;        /* for which there was no room */
	struct report_event *event; /* all but readings; likewise */
	int n_events;
	int events_beyond;
	struct report_probe *probe; /* likewise */
	int n_probes, probes_beyond;

	bool soaked;               /* full line was reached by a reading that was not over */
	double soak_volts, soak_s; /* how long there */
	struct soak soak;
	bool ended;        /* the run was closed by its user */
	enum verdict last; /* of the newest reading */

	char like_path[REPORT_TEXT_MAX];    /* of the record laid under it, its file; "": none
	                                       was */
	char like_trouble[REPORT_TEXT_MAX]; /* it cannot be read: why.  "": it can */
	struct like_curve like;             /* then */
	struct meter_accuracy meter;        /* of this power-up's readings */
};

struct report_data {
	const char *label;   /* of the unit; "" for a single record */
	const char *program; /* "mainstair 0.1.0" */
	double made_s;       /* when this report was made */
	const struct profile *profile;
	const struct network *network;  /* as the profile gives it */
	const struct network *measured; /* with what was read put in */
	const struct tables *tables;
	const struct entry *entries; /* the logbook; none for a single record */
	size_t n_entries;
	const struct job *job;            /* NULL for a single record */
	const char *remark;               /* what is strange about the logbook; "" */
	const struct report_power *power; /* oldest first */
	int n_powers;
	int powers_beyond; /* for which there was no room */
	const char *const *caution;
	size_t n_cautions;
};

/** Make the document, initialised by the caller.  0, or -1 when memory has run out. */
int report_build(struct document *d, const struct report_data *data);

#endif
