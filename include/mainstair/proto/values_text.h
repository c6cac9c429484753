/*
 * proto/values_text.h - named values with their uncertainties as CSV: what `mainstair compare` is
 * given
 *
 * Layer: proto; no file.  RFC 4180 with what is met in practice (a byte order mark, CRLF, blank
 * lines).  The first line names the columns, in any order: `quantity` and `value` must be there,
 * `uncertainty` may be, any other is passed over.  A value may bear its unit ("1.02 V"); an
 * uncertainty is expanded (k = 2), in that unit or in per cent, and an empty one is not known.
 * All faults are gathered, each with its line; one is enough to refuse the whole.
 */
#ifndef MAINSTAIR_PROTO_VALUES_TEXT_H
#define MAINSTAIR_PROTO_VALUES_TEXT_H

#include <stddef.h>

#include "mainstair/base/complaints.h"
#include "mainstair/base/num.h"

enum { VALUES_NAME_MAX = 96, VALUES_MAX = 10000 };

struct named_value {
	char name[VALUES_NAME_MAX]; /* as written; each once, whatever its letter case */
	enum unit unit;             /* UNIT_NONE: a bare number */
	double value;               /* base unit; finite */
	double expanded;            /* > 0, same unit (dB for levels); NAN: not told */
	int line;
};

struct values {
	struct named_value *list;
	size_t n, cap;
};

/** Read n bytes of text.  0 with *ret filled (for values_release()), or -1 with every fault added
 *  to *c and nothing to release. */
int values_parse(const char *text, size_t n, struct values *ret, struct complaints *c);
void values_release(struct values *v);

#endif
