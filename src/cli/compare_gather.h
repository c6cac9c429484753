/*
 * cli/compare_gather.h - two records, two units or two lists of values, as rows to be compared
 *
 * Layer: cli.  What `mainstair compare A B` judges and prints.
 */
#ifndef MAINSTAIR_CLI_COMPARE_GATHER_H
#define MAINSTAIR_CLI_COMPARE_GATHER_H

#include <stddef.h>

#include "mainstair/base/num.h"
#include "mainstair/core/compare.h"

enum { COMPARE_NAME_MAX = 128 };

struct compare_row {
	char name[COMPARE_NAME_MAX];
	enum unit unit;
	double a, ua, b, ub; /* ua, ub expanded; NAN: not told */
	struct compare_result result;
	bool shown_only; /* where a control stands: each unit's own, and no verdict on it */
};

struct compare_rows {
	struct compare_row *list;
	size_t n, cap;
	char a_is[160], b_is[160]; /* what they are, for the table's head */
};

struct compare_wish {
	double matters; /* share of a value that matters where nothing else says it */
	double ohms;    /* accuracy of the multimeter, a share: ohms of two units are compared; NAN:
	                   not */
	double nulls;   /* accuracy of what nulls were read by, a share; NAN: not told */
};

/** Gather and judge.  0, or -1 after complaints with nothing to release. */
int compare_gather(struct compare_rows *ret, const char *a, const char *b,
                   const struct compare_wish *wish);
void compare_rows_release(struct compare_rows *r);

/** The settled watts of the record at path, named after its instrument and day.  0, or -1 after
 *  complaints. */
int compare_read_like(const char *path, struct like_curve *ret);

/** The same with the reason in *err; what is wrong with its profile is complained of all the
 *  same. */
int compare_find_like(const char *path, struct like_curve *ret, struct err *err);

#endif
