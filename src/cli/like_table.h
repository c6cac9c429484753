/*
 * cli/like_table.h - the stages of a power-up beside those of the one laid under it
 *
 * Layer: cli.
 */
#ifndef CLI_LIKE_TABLE_H
#define CLI_LIKE_TABLE_H

#include "mainstair/base/buf.h"
#include "mainstair/core/compare.h"
#include "mainstair/core/session.h"

/** Append what it was, and a line for each of the n stages that has a reading, by `meter`. */
void like_table(struct buf *out, const struct like_curve *like, const struct meter_accuracy *meter,
                const struct session_stage *stages, int n);

#endif
