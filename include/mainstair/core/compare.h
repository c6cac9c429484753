/*
 * core/compare.h - this unit against another one, or an earlier record, on the same signal
 *
 * Layer: core; pure.  Two values with their expanded uncertainties (k = 2) are compared by the
 * normalized error E_n = (a - b) / sqrt(Ua^2 + Ub^2), at most 1 for agreement (ISO/IEC 17043 and
 * ISO 13528, from memory).  A missing uncertainty, or one so large that a difference that matters
 * would be hidden in it, gives neither: cannot tell.  A typed `+/-` is taken as it is said, for
 * the expanded uncertainty.
 */
#ifndef MAINSTAIR_CORE_COMPARE_H
#define MAINSTAIR_CORE_COMPARE_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/num.h"
#include "mainstair/core/entry_line.h"
#include "mainstair/core/envelope.h"
#include "mainstair/core/logbook.h"
#include "mainstair/core/profile.h"

enum compare_verdict { COMPARE_CANNOT_TELL, COMPARE_AGREE, COMPARE_DIFFER };

enum compare_why {
	COMPARE_PLAIN,          /* the figures decide */
	COMPARE_NO_VALUE,       /* one of the two is missing */
	COMPARE_NO_UNCERTAINTY, /* of either; nothing is exact, so nought counts as missing */
	COMPARE_TOO_COARSE      /* a difference that matters would not show */
};

/* A difference that matters, unless told otherwise: a tenth of the other's value (common
 * practice, no source). */
extern const double compare_matters_share; /* 0.10 */

struct compare_result {
	double difference; /* a - b */
	double share;      /* of |b|; NAN when b is 0 */
	double expanded;   /* sqrt(Ua^2 + Ub^2); NAN */
	double en;         /* NAN */
	double matters;    /* difference that was taken to matter; NAN: none known */
	enum compare_verdict verdict;
	enum compare_why why;
};

/** Compare a with b; ua, ub expanded, in the unit of a and b; NAN: not told.  matters: the smallest
 *  difference that matters, same unit; NAN: compare_matters_share of |b|, or none when b is 0. */
void compare_values(double a, double ua, double b, double ub, double matters,
                    struct compare_result *ret);

/** The same for a difference (a - b) whose expanded uncertainty is known as a whole. */
void compare_difference(double difference, double expanded, double b, double matters,
                        struct compare_result *ret);

/** The difference that matters, by default, between values in that unit around b: `share` of |b|,
 * or that ratio in dB.  NAN when b is 0 and not in dB. */
double compare_matters(enum unit unit, double b, double share);

const char *
compare_verdict_word(enum compare_verdict verdict); /* "cannot tell", "agree", "differ" */
/** One sentence on why it cannot tell; "" for COMPARE_PLAIN. */
const char *compare_why_text(enum compare_why why);

/* ---- entries ---- */

enum { COMPARE_LINES_MAX = 64 };

struct compare_line {
	const struct entry *entry; /* borrowed */
	struct compare_result result;
};

struct compare_list {
	struct compare_line
	        line[COMPARE_LINES_MAX]; /* the last entry of each quantity, oldest first */
	int n;
	int count[COMPARE_DIFFER + 1]; /* by verdict */
	int beyond;                    /* quantities for which there was no room */
};

/** All ENTRY_COMPARE of the entries.  The quantity's tolerance on the calibration sheet, when its
 *  subject is the name of a point (its unit may follow), is what matters; else the default.  A
 *  quantity that was dropped is out until it is compared anew. */
void compare_list_make(struct compare_list *ret, const struct profile *profile,
                       const struct entry *entries, size_t n);

/** The unit at the end of an entry's subject ("output V"); UNIT_NONE when there is none.  name: the
 *  rest, cut to fit; may be NULL. */
enum unit compare_unit(const char *subject, char *name, size_t size);

/** Understand `QUANTITY: 1.02 V +/- 2 %, 1.00 V +/- 1 %` (this unit, the other; `+/- 0.02 V` does
 *  as well, and may be missing).  Behind a second comma: what the other is; without it
 *  that of the newest entry.  Or `drop QUANTITY`: what was compared of it does not count.
 *  ret: initialised with ENTRY_COMPARE.  echo: ENTRY_ECHO_MAX bytes. */
enum entry_line compare_understand(const struct entry *entries, size_t n, const char *line,
                                   struct entry_draft *ret, char *echo);

/* ---- a power-up laid under another ---- */

enum { LIKE_POINTS_MAX = 64, LIKE_NAME_MAX = 128 };

/* Settled watts over line volts of an earlier power-up, of a sister unit or of this one. */
struct like_curve {
	char name[LIKE_NAME_MAX];                              /* what it is shown as */
	double volts[LIKE_POINTS_MAX], watts[LIKE_POINTS_MAX]; /* volts strictly rising */
	int n;
	struct meter_accuracy meter; /* that they were read with */
};

/** How the EVENT_NOTE of a run begins that names what is laid under it; the path of that record
 *  follows. */
extern const char like_noted[];

/* What it leads to expect. */
struct like_band {
	bool have;                  /* false: the volts lie beyond what that record has settled */
	double low, expected, high; /* W */
	double expanded;            /* of watts read now less expected, both meters in it */
};

/** Empty, with a name (cut to fit). */
void like_init(struct like_curve *c, const char *name, const struct meter_accuracy *meter);
/** Put a settled reading in; one within 2 % of volts that are there takes their place.  Ignored
 *  unless both are finite and above nought.  False: no room. */
bool like_add(struct like_curve *c, double volts, double watts);

/** Expected band at line_volts for a reading by `meter`: between two points watts follow a power
 *  of the volts; how far that lies from a straight line counts as doubt.  Beyond the points by more
 *  than 2 % of volts: none. */
void like_at(const struct like_curve *c, const struct meter_accuracy *meter, double line_volts,
             struct like_band *ret);

/** Settled watts against it; NAN watts, or no band: cannot tell. */
void like_judge(const struct like_band *band, double watts, struct compare_result *ret);

#endif
