/*
 * app/page/overview.h - the job's own page: its phases, what is next, what blocks power
 *
 * Layer: app.
 */
#ifndef APP_PAGE_OVERVIEW_H
#define APP_PAGE_OVERVIEW_H

#include "app/page.h"

extern const struct typed_form overview_forms[];

/** Fill a cleared sheet: a row per phase, in the order of enum job_phase. */
void overview_fill(const struct bench_desk *desk, int in_hand, struct sheet *ret);

enum overview_goes { OVERVIEW_KEEPS, OVERVIEW_OPENS, OVERVIEW_WRONG };

/** What a typed line means there: `override KEY reason` and `mended WHAT` are entries
 *  (OVERVIEW_KEEPS), the word of a phase or page opens it: *ret_page indexes job_pages, -1 is the
 *  power-up. */
enum overview_goes overview_enter(const struct bench_desk *desk, const char *line,
                                  struct entry_draft *ret, int *ret_page, char *echo);

/** Why the power-up may not be opened; false: nothing stands against it. */
bool overview_blocked(const struct job *job, char *echo);

#endif
