/*
 * io/whole_file.h - a small file read into memory, whole or not at all
 *
 * Layer: io.  For files that a user may name: a folder, a device, a pipe without end or a file
 * beyond any honest size is refused in words, and nothing waits for ever.
 */
#ifndef MAINSTAIR_IO_WHOLE_FILE_H
#define MAINSTAIR_IO_WHOLE_FILE_H

#include <stddef.h>

#include "mainstair/base/buf.h"
#include "mainstair/base/err.h"

/** Append the file's bytes to *ret.  0, or -1 with err and *ret as it was: ERR_SYSTEM (cannot be
 *  opened or read), ERR_INPUT (not a regular file), ERR_RANGE (larger than max bytes), ERR_NOMEM.
 *  The text names the path, control characters escaped. */
int whole_file_read(const char *path, size_t max, struct buf *ret, struct err *err);

#endif
