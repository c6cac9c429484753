/*
 * core/calibrate.h - the calibration sheet: as found, adjusted, as left, and whether that passes
 *
 * Layer: core; pure.  Made from the profile's [calibration] and the logbook's entries; holds
 * nothing else.  Values are in base units (dB for points in dB), errors are indicated less applied.
 * Per cent of a point in dB are per cent of the volts behind it (20 log): 6.02 dB is twice.
 *
 * The words are those of ILAC-G8:09/2019, 4.2.3 (non-binary statement with guard band): pass,
 * conditional pass, conditional fail, fail.  Uncertainty after core/uncertainty.h: the reference's
 * accuracy and half a step of the resolution as rectangular limits, scatter where several
 * readings were taken.
 */
#ifndef MAINSTAIR_CORE_CALIBRATE_H
#define MAINSTAIR_CORE_CALIBRATE_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/core/entry_line.h"
#include "mainstair/core/logbook.h"
#include "mainstair/core/profile.h"

enum cal_verdict {
	CAL_UNKNOWN,          /* no reading, or none that can be: never a pass */
	CAL_UNPROVED,         /* nothing says how good the reference is: neither pass nor fail */
	CAL_PASS,             /* inside the limits by more than the guard band */
	CAL_CONDITIONAL_PASS, /* inside the limits, and inside the guard band */
	CAL_CONDITIONAL_FAIL, /* outside the limits by no more than the guard band */
	CAL_FAIL
};

/* One reading judged. */
struct cal_reading {
	bool have; /* else nothing below means anything */
	double utc_s;
	double indicated, applied;
	double error;       /* indicated - applied */
	double low, high;   /* limits of what may be indicated at that applied value */
	double u, dof;      /* standard uncertainty of the error, degrees of freedom; u NAN: the
	                       reference's accuracy is not known */
	double k, expanded; /* coverage factor for 95 %, U = k u; NAN */
	double guard;       /* w kept from the limits, >= 0; NAN while U is needed and unknown */
	double test_ratio;  /* (high - low) / 2U; NAN */
	double conformance; /* probability that it is within its limits; NAN */
	double warm_s;      /* since full line was reached, if it stayed on since; NAN: not known */
	int readings;       /* that it is the mean of; 1 */
	enum cal_verdict verdict;
};

struct cal_point {
	const struct profile_point *point;        /* borrowed from the profile */
	struct cal_reading found, adjusted, left; /* the last of each word */
	int adjustings;                           /* entries "adjusted" */
	bool found_late;  /* "as-found" was entered after something was adjusted at it */
	bool found_moved; /* adjusted (or its control turned at another point) since "as-found",
	                     or before there was one */
	bool left_stale;  /* adjusted (or its control turned at another point) since "as-left" */
	/* The one that counts: as left, unless stale; as found where nothing was turned since.
	 * .have false: the point is not done. */
	struct cal_reading result;
	bool result_is_found;
};

struct cal_sheet {
	struct cal_point point[PROFILE_POINTS_MAX]; /* in the profile's order */
	int n;
	int done;                /* points with a result */
	int count[CAL_FAIL + 1]; /* results by verdict; [CAL_UNKNOWN]: points not done */
	double warm_up_s;        /* what the profile asks; NAN: nothing */
	int cold;                /* results read before that, or with the time not known */
	int next;                /* point that is best done next; -1: all done */
};

/** The state of the sheet.  Entries about points that the profile does not have are passed over.  A
 *  reading as found a day or more after the last entry of its point begins that point anew.
 *  Large (some 40 KiB). */
void cal_sheet_make(struct cal_sheet *ret, const struct profile *profile,
                    const struct entry *entries, size_t n);

/** Limits of what point may indicate with `applied` there.  Either may be infinite (in dB); both
 * NAN when a term needs a full scale or a resolution that is not given. */
void cal_limits(const struct profile_point *point, double applied, double *ret_low,
                double *ret_high);

/** Judge one reading, the mean of `readings`; of a single one u_mean is not looked at. */
void cal_judge(const struct profile_point *point, enum guard_band rule, double indicated,
               double applied, double u_mean, int readings, struct cal_reading *ret);

/** Seconds since full line was reached at utc_s, from the newest ENTRY_POWER before it, if the unit
 *  has stayed on; NAN: no power-up ended well, a later entry shows the unit unplugged, or more than
 *  a day has passed. */
double cal_warm_s(const struct entry *entries, size_t n, double utc_s);

/** "not read", "not proved", "pass", "conditional pass", "conditional fail", "fail". */
const char *cal_verdict_word(enum cal_verdict verdict);
/** One sentence for people: "inside the tolerance, but within the uncertainty of its limit". */
const char *cal_verdict_meaning(enum cal_verdict verdict);
/** The decision rule in a sentence, with its source. */
const char *cal_rule_text(enum guard_band rule);

/** A value of the point in its unit as written: "1.02 kHz", with as many decimals as its resolution
 *  asks, else as `digits` significant ones of what is applied there have.  Returns dst. */
const char *cal_print(char *dst, size_t size, const struct profile_point *point, double value,
                      int digits);
/** A difference likewise, with its sign: "+0.02 kHz", "0.00 kHz". */
const char *cal_print_error(char *dst, size_t size, const struct profile_point *point, double value,
                            int digits);
/** A width, such as an uncertainty, with so many significant digits whatever the resolution. */
const char *cal_print_span(char *dst, size_t size, const struct profile_point *point, double value,
                           int digits);
/** The tolerance as written in a profile: "+/- 2 % + 1 % fs + 1 digit". */
const char *cal_print_tolerance(char *dst, size_t size, const struct profile_point *point,
                                const struct profile_tolerance *tolerance);

/** Understand `1.02`, `1.02 kHz`, `found 1.02`, `adjusted 1.01`, `left 1.00`, `1.02 1.01 1.02`
 * (several readings), `1.02 at 1.001` (what was really applied), each with a point's name before it
 * or with sheet->point[in_hand] meant.  Without a word: as found, until it is entered or something
 * was adjusted there; then as left.  A bare number is in the point's unit as written. ret:
 * initialised with ENTRY_CAL.  echo: ENTRY_ECHO_MAX bytes. */
enum entry_line cal_understand(const struct cal_sheet *sheet, int in_hand, const char *line,
                               struct entry_draft *ret, char *echo);

#endif
