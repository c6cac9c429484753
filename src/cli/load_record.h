/*
 * cli/load_record.h - the unit that a record was made with: its profile, bench and measured numbers
 *
 * Layer: cli.
 */
#ifndef CLI_LOAD_RECORD_H
#define CLI_LOAD_RECORD_H

#include <stddef.h>

#include "cli/load_unit.h"
#include "io/logbook_file.h"
#include "io/record_file.h"

/* How the file of a record begins: input_begins(). */
#define RECORD_FIRST_WORDS "mainstair record "

/** Load the unit of a record as the run knew it: the embedded profile (or the file `profile`, when
 *  not NULL), the bench's meter accuracy and line volts, what had been measured on the unit; with
 *  its stage plan.  0, or -1 after complaints with nothing to release. */
int unit_load_record(struct loaded_unit *ret, struct record *record, const char *profile);

/** What is strange about a record that can be read all the same, in one line; "" nothing. */
void record_remark(const struct record *record, char *ret, size_t size);

/** The record of an ENTRY_POWER: where the entry says, else beside the unit's file, when both were
 *  moved together. */
void record_find(const struct logbook *book, const struct entry *entry, char *ret, size_t size);

#endif
