/*
 * base/num.h - numbers with units, in and out, the same in every locale
 *
 * Layer: base; libc and libm.  Pure.
 * A number is read whole or refused with a message: nothing is guessed, cut off or taken for
 * zero.  Values are held in base units (V, A, ohm, F, H, W, s, Hz; a per cent is a fraction).
 *
 * Forms read:  22   -3.5   .45   1.5e3      a bare number takes the key's own unit
 *              22 ohm   20uF   8 H   32 mA   250 V   60 s   2 min   12 %   -3 dB   4 dBm
 *              4k7  2M2  4R7  R47  47k  1M   resistance, as marked on parts (IEC 60062)
 *              4u7  47n  4n7                 capacitance, likewise
 *              22 ohm +/- 2%                 with a tolerance of its own
 * Refused: a decimal comma, nan, inf, hexadecimal, a unit of another kind, anything behind.
 * Letter case of a unit is forgiven unless m and M would be confused.
 */
#ifndef MAINSTAIR_BASE_NUM_H
#define MAINSTAIR_BASE_NUM_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/err.h"

enum unit {
	UNIT_ANY = -1, /* for num_scan(): whatever stands there, but it must stand there */
	UNIT_NONE = 0, /* a plain number */
	UNIT_VOLT, UNIT_AMPERE, UNIT_OHM, UNIT_FARAD, UNIT_HENRY, UNIT_WATT, UNIT_SECOND,
	UNIT_HERTZ, UNIT_PERCENT,
	UNIT_DECIBEL, /* held in dB, not as a ratio: differences are ratios */
	UNIT_DBM      /* dB above 1 mW, likewise */
};

struct quantity {
	double value;   /* finite, base unit; UNIT_PERCENT: a fraction (12 % is 0.12) */
	enum unit unit; /* never UNIT_ANY */
	double tol;     /* fraction, 0 <= tol < 1, or -1: none given */
};

/** Read the whole of text as one quantity of unit `own` (UNIT_NONE: a plain number; UNIT_ANY: any
 *  unit).  0 with *ret set, or -1 with err: ERR_INPUT says what was found and what would be right,
 *  ERR_RANGE that no double holds it. */
int num_parse(const char *text, enum unit own, struct quantity *ret, struct err *err);

/** Read one quantity at the start of text, blanks before and behind it skipped; the next may
 *  follow ("8 H 350 ohm").  Returns where it stopped, or NULL with err as num_parse(). */
const char *num_scan(const char *text, enum unit own, struct quantity *ret, struct err *err);

/** "V", "A", "ohm", "F", … "%"; "" for UNIT_NONE.  UNIT_ANY is not allowed. */
const char *unit_symbol(enum unit unit);

/** UNIT_DECIBEL and UNIT_DBM: logarithmic, printed without a prefix. */
bool unit_is_level(enum unit unit);

/** Print with so many decimals (0..17) and a point, whatever the locale; never "-0.0".  A value
 *  that is not finite prints as "nan", so that no reader takes it for a number.  dst always ends
 *  in 0.  Returns the length, cut to what fits. */
size_t num_print(char *dst, size_t size, double value, int decimals);

/** Print for people with so many significant digits (1..17) and a prefix: "4.7 kohm", "31.9 mA",
 *  "20 uF"; zeros at the end dropped, digits before the point kept; UNIT_PERCENT as per cent.  From
 *  1e15 on with an exponent and no prefix: "1.25e22 V".  As num_print() otherwise. */
size_t num_print_unit(char *dst, size_t size, double value, enum unit unit, int digits);

#endif
