/*
 * tests/lib/text_unit.h - a unit as the program would know it: profile text in, network out
 *
 * Links with Criterion: a text that does not load fails the calling test with every complaint.
 */
#ifndef MAINSTAIR_TESTS_TEXT_UNIT_H
#define MAINSTAIR_TESTS_TEXT_UNIT_H

#include "mainstair/core/load.h"
#include "mainstair/core/network.h"
#include "mainstair/core/profile.h"

struct text_unit {
	struct profile profile;
	struct network net;
};

/** The unit of a profile's text.  Large: free() it. */
struct text_unit *text_unit(const char *text);

/** The network of a profile that is in order but describes no unit: err says why.  0 or -1. */
int text_unit_try(const char *text, struct text_unit *ret, struct err *err);

/** The unit of a shipped profile, by file name as shipped_profile() gives it.  free() it. */
struct text_unit *shipped_unit(const char *file);

/** File name of shipped profile k, in alphabetical order; NULL after the last.  Borrowed, until
 *  the next call.  Meter templates lie in a folder of their own and are none. */
const char *shipped_profile(int k);

/** Index by name; a name that is not there fails the calling test. */
int unit_rail_named(const struct network *net, const char *name);
int unit_winding_named(const struct network *net, const char *name);

/** Sum of all parts into which a result splits its watts. */
double split_sum(const struct network *net, const struct load_result *at);

#endif
