/*
 * cli/volts_list.h - a list of line voltages as typed: `10,50,117`, `10:120:10`, both mixed
 *
 * Layer: cli.
 */
#ifndef MAINSTAIR_CLI_VOLTS_LIST_H
#define MAINSTAIR_CLI_VOLTS_LIST_H

#include <stddef.h>

#include "mainstair/base/err.h"

enum { VOLTS_LIST_MAX = 10000 };

struct volts_list {
	double *volts; /* in the order typed */
	size_t n;
};

/** Read a list.  FIRST:LAST:STEP counts up from FIRST, LAST itself included when a step falls on
 *  it.  Every volt has to lie in 0..most.  0 with *ret filled (free it with volts_list_release()),
 *  or -1 with err and nothing to release. */
int volts_list_parse(struct volts_list *ret, const char *text, double most, struct err *err);
void volts_list_release(struct volts_list *list);

#endif
