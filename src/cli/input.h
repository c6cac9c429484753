/*
 * cli/input.h - text that a command is given: a file by its path, or standard input as -
 *
 * Layer: cli.
 */
#ifndef MAINSTAIR_CLI_INPUT_H
#define MAINSTAIR_CLI_INPUT_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/buf.h"

/** Append all of it to *ret; more than most bytes are refused.  The name for messages (path, or
 *  "standard input"), or NULL after a complaint. */
const char *input_read(const char *path, size_t most, struct buf *ret);

/** Does the regular file at path begin with these words?  False also when it cannot be read: a
 *  label may have been meant. */
bool input_begins(const char *path, const char *words);

#endif
