/*
 * io/profile_grammar.h - sections, keys and values of a profile, and what they mean together
 *
 * Layer: io; private to the profile reader.  Pure.
 */
#ifndef MAINSTAIR_IO_PROFILE_GRAMMAR_H
#define MAINSTAIR_IO_PROFILE_GRAMMAR_H

#include "io/ini_doc.h"

#include "mainstair/base/complaints.h"
#include "mainstair/core/profile.h"

/* The reading of one profile: handed from the grammar to the checks. */
struct profile_reader {
	const struct ini_doc *doc;
	struct profile *p;
	struct complaints *c;
	int index_of[INI_SECTIONS_MAX]; /* section -> its winding or rail in *p, or -1 */
};

/** Fill *ret (zeroed first) from doc and gather every fault, those of profile_check() included. */
void profile_grammar(const struct ini_doc *doc, struct profile *ret, struct complaints *c);

/** What no single key shows: rails in circles, forms that do not fit their winding, two places of
 *  one name, stages in disorder, a string in a transformer set. */
void profile_check(const struct profile_reader *r);

/** [calibration] and [nulls]. */
void profile_sheet(struct profile_reader *r);

/** Section of winding or rail number `index`, kind "winding" or "rail". */
int profile_section(const struct profile_reader *r, const char *kind, int index);

#endif
