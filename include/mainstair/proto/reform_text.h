/*
 * proto/reform_text.h - a capacitor's rating and its leakage readings as text
 *
 * Layer: proto; no file.
 *
 * A rating: `20 uF 450 V`.  The sections of a can are joined by +, what one leaves out is taken
 * from the next: `40 uF 450 V + 20 uF 25 V`, `50+30 uF 150 V`.
 *
 * Readings: a line each, `seconds, volts, milliamps`, commas, tabs or blanks between; or in any
 * order under a first line that names them, with further columns passed over.  `microamps` may
 * stand for `milliamps`; `section` (1, 2 or A, B and so on) tells the sections of a can apart and
 * is needed when there are several.  Numbers may bear their unit (`50uA`, `3h`).  Lines that
 * begin with # and blank lines are passed over.  All faults are gathered; one refuses the whole.
 */
#ifndef MAINSTAIR_PROTO_REFORM_TEXT_H
#define MAINSTAIR_PROTO_REFORM_TEXT_H

#include <stddef.h>

#include "mainstair/base/complaints.h"
#include "mainstair/core/reform.h"

enum { REFORM_SECTIONS_MAX = 4 };

/** Read the whole of text.  0 with parts and *ret_n (1..REFORM_SECTIONS_MAX) set, or -1 with
 *  ERR_INPUT or ERR_RANGE (0.01 uF to 1 F, 1 to 2000 V). */
int reform_rating_parse(const char *text, struct reform_part parts[REFORM_SECTIONS_MAX],
                        size_t *ret_n, struct err *err);

struct reform_section {
	struct reform_reading *readings; /* in the order of the text; pass reform_check() */
	size_t n, cap;
	double digit_amps; /* the finest last digit that was written; 0: none was */
};

struct reform_list {
	struct reform_section section[REFORM_SECTIONS_MAX];
};

/** Read n bytes of text as the readings of so many sections.  0 with *ret filled (for
 *  reform_list_release()); a section may have none, but not all.  -1 with every fault added to
 *  *c and nothing to release. */
int reform_list_parse(const char *text, size_t n, size_t n_sections, struct reform_list *ret,
                      struct complaints *c);
void reform_list_release(struct reform_list *list);

#endif
