/*
 * report/parts.h - the parts of a report, each in its own file, and what they share
 *
 * Layer: report; pure.  Each appends its sections; one that has nothing to tell says so, because
 * silence would read as "all is well".
 */
#ifndef REPORT_PARTS_H
#define REPORT_PARTS_H

#include "report/report.h"

/** Each appends its sections to *d; *r is borrowed for the call.  Memory that runs out sets
 *  d->failed. */
void part_unit(struct document *d, const struct report_data *r);
void part_open(struct document *d, const struct report_data *r); /* what was not checked */
void part_cautions(struct document *d, const struct report_data *r);
void part_look(struct document *d, const struct report_data *r);
void part_tubes(struct document *d, const struct report_data *r);
void part_ohms(struct document *d, const struct report_data *r);
void part_capacitors(struct document *d, const struct report_data *r);
void part_power(struct document *d, const struct report_data *r);
void part_calibrate(struct document *d, const struct report_data *r);
void part_nulls(struct document *d, const struct report_data *r);
void part_compare(struct document *d, const struct report_data *r);
void part_notes(struct document *d, const struct report_data *r); /* words, slips, the logbook */

enum { WHEN_MAX = 32, FIGURE_TEXT_MAX = 48 };

/** "2026-03-01 18:02" UTC; "–" when not known.  Returns out. */
const char *when(char out[WHEN_MAX], double utc_s);
/** "45 s", "12 min", "3 h 10 min", "2 days 3 h".  Returns out. */
const char *how_long(char out[WHEN_MAX], double seconds);
/** A value with its unit, so many digits; "–" when not told, "over-range" when infinite.  Returns
 *  out. */
const char *with_unit(char out[FIGURE_TEXT_MAX], double value, enum unit unit, int digits);

#endif
