/*
 * cli/load_record.h - the unit that a record was made with: its profile, bench and measured numbers
 *
 * Layer: cli.
 */
#ifndef CLI_LOAD_RECORD_H
#define CLI_LOAD_RECORD_H

#include "cli/load_unit.h"
#include "io/record_file.h"

/** Load the unit of a record as the run knew it: the embedded profile (or the file `profile`, when
 *  not NULL), the bench's meter accuracy and line volts, what had been measured on the unit; with
 *  its stage plan.  0, or -1 after complaints with nothing to release. */
int unit_load_record(struct loaded_unit *ret, struct record *record, const char *profile);

/** What is strange about a record that can be read all the same, in one line; "" nothing. */
void record_remark(const struct record *record, char *ret, size_t size);

#endif
