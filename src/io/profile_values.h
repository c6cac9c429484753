/*
 * io/profile_values.h - the forms in which a profile writes values: text in, numbers out
 *
 * Layer: io; private to the profile reader.  Pure.  Every function reads the whole text; on
 * failure it returns -1 with err saying what was found and what would be right.
 */
#ifndef MAINSTAIR_IO_PROFILE_VALUES_H
#define MAINSTAIR_IO_PROFILE_VALUES_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/err.h"
#include "mainstair/base/num.h"
#include "mainstair/core/profile.h"

enum { WORDS_MAX = 40, VALUE_MAX = 1024 };

/* What a quantity may be: its unit, and the least and largest believable value. */
struct range {
	enum unit unit;
	double least, most;
	bool exact; /* a tolerance would mean nothing */
};

/* A text cut at its blanks. */
struct words {
	char text[VALUE_MAX]; /* what the words point into */
	char *word[WORDS_MAX];
	int n;
};

/** Cut at blanks.  -1 with err when there are more than WORDS_MAX words. */
int words_of(const char *text, struct words *ret, struct err *err);

/** Words first..last-1 with single blanks between them, into dst.  Returns dst. */
char *words_join(const struct words *w, int first, int last, char *dst, size_t size);

/** One quantity within its range. */
int value_quantity(const char *text, const struct range *range, struct given *ret,
                   struct err *err);

/** Two quantities of different units, in either order: "8 H 350 ohm".  With `both` both must be
 *  there, else the second may be missing (ret_b->given false). */
int value_pair(const char *text, const struct range *a, const struct range *b, bool both,
               struct given *ret_a, struct given *ret_b, struct err *err);

/** "6.3" or "250-0-250". */
int value_winding(const char *text, struct given *ret_volts, bool *ret_centre_tapped,
                  struct err *err);

/** "2k2" or "8 H 350 ohm". */
int value_through(const char *text, struct given *ret_ohms, struct given *ret_henry,
                  struct given *ret_choke_ohms, struct err *err);

/** Cut a list at its commas, in place; items without blanks at their ends.  A comma between two
 *  digits is a decimal comma unless `digits` allows it.  Returns how many items, or -1. */
int value_list(char *text, bool digits, char **items, int max, struct err *err);

enum { CAN_SECTIONS_MAX = 6 };

/** Cut "50+50 uF 450 V on main screen" into "50 uF 450 V on main" and "50 uF 450 V on screen":
 *  sections share what stands behind the last, and have a rail each or none.  How many; 1 when
 *  there are no sections, text then untouched; -1 with err. */
int value_can(const char *value, char text[CAN_SECTIONS_MAX][VALUE_MAX], struct err *err);

#endif
