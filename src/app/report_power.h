/*
 * app/report_power.h - one power-up's record, played through a session, as a report wants it
 *
 * Layer: app; no terminal.
 */
#ifndef APP_REPORT_POWER_H
#define APP_REPORT_POWER_H

#include "app/run.h"
#include "report/report.h"

/** Play the whole record through a session of `unit` and gather what it comes to.  *ret is filled
 *  (its lists are the caller's, until report_power_release()) but for path, remark and profile,
 *  which the caller knows.  0, or -1 with err (ERR_NOMEM, ERR_SYSTEM) and nothing to release. */
int report_power_gather(struct report_power *ret, struct record *record,
                        const struct run_unit *unit, struct err *err);

/** A power-up whose record cannot be read: why. */
void report_power_missing(struct report_power *ret, const char *why);

void report_power_release(struct report_power *p); /**< A zeroed one is fine. */

#endif
