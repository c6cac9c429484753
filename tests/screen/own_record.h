/* tests/screen/own_record.h - the record that a test's run of the program leaves in its folder. */
#ifndef TESTS_SCREEN_OWN_RECORD_H
#define TESTS_SCREEN_OWN_RECORD_H

#include <math.h>
#include <string.h>

#include "io/record_file.h"
#include "own_folder.h"

static char record_file[64];

/* For a suite's .init. */
static void make_own_record(void)
{
	make_own_folder();
	snprintf(record_file, sizeof record_file, "%s/run.record", folder);
}

/* Events of a kind in the record whose note holds the text (NULL: any), of so many watts (NAN:
 * any).  The record is whole. */
static int recorded_watts(enum event_kind kind, const char *text, double watts)
{
	struct record *r = NULL;
	struct err err = {0};
	struct event ev;
	int n = 0;

	cr_assert(record_open(record_file, &r, &err) == 0, "%s", err.text);
	for (size_t i = 0; i < record_n_events(r); i++) {
		cr_assert(record_event(r, i, &ev, &err) == 0, "%s", err.text);
		n += ev.kind == kind && (!text || strstr(ev.note, text)) &&
			(isnan(watts) || fabs(ev.watts - watts) < 0.001);
	}
	cr_assert(record_faults(r)->garbled == 0 && record_faults(r)->torn_bytes == 0);
	cr_assert(record_faults(r)->backwards == 0);
	record_close(r);
	return n;
}

static inline int recorded(enum event_kind kind, const char *text)
{
	return recorded_watts(kind, text, (double)NAN);
}

#endif
