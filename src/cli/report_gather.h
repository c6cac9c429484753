/*
 * cli/report_gather.h - all that a report is made from: a unit's file and its power-ups' records
 *
 * Layer: cli, because what a record or a unit's file is judged by is loaded here.
 */
#ifndef CLI_REPORT_GATHER_H
#define CLI_REPORT_GATHER_H

#include "cli/page_desk.h"
#include "report/report.h"

struct report_gather {
	struct report_data data;        /* points into what follows */
	struct page_desk *desk;         /* of a unit; NULL for a single record */
	struct loaded_unit record_unit; /* of a single record */
	struct report_power *power;
	char remark[REPORT_TEXT_MAX], label[LOGBOOK_LABEL_MAX];
};

/** Gather for `what`: a unit's label, the path of its file, or the path of a record.  profile:
 * judge the power-ups by that file instead of the profile in their records; NULL: not.  The caller
 * fills data.made_s and data.program.  0, or -1 after complaints with nothing to release. */
int report_gather(struct report_gather *ret, const char *what, const char *profile);

void report_gather_release(struct report_gather *g); /**< A zeroed one is fine. */

#endif
