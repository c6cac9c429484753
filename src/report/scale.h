/*
 * report/scale.h - an axis: from values to paper, and where its ticks stand
 *
 * Layer: report; pure.
 */
#ifndef REPORT_SCALE_H
#define REPORT_SCALE_H

#include <stdbool.h>

enum { SCALE_TICKS_MAX = 24 };

struct scale {
	bool log;
	double low, high; /* of the values; low < high, both above nought when log */
	double from, to;  /* on paper */
	double tick[SCALE_TICKS_MAX];
	int n_ticks;
	int decimals; /* that a linear axis' ticks need; -1: as many as each needs */
};

/** An axis over low..high, widened to whole ticks, with about `ticks` of them.  Values that make
 *  no axis (not finite, not above nought when log, none) give 0..1, or 1..10. */
void scale_make(struct scale *ret, bool log, double low, double high, double from, double to,
                int ticks);

/** Where a value lies on paper; NAN when it cannot be on this axis. */
double scale_at(const struct scale *s, double value);

#endif
