/*
 * io/write_file.h - a whole file written, or nothing
 *
 * Layer: io.  The bytes go to a file of another name beside it, to the disk, and only then take
 * its name: whoever opens it finds all of it, or what was there before.
 */
#ifndef IO_WRITE_FILE_H
#define IO_WRITE_FILE_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/err.h"

/** Whether `path` may be written: its folder is there and nothing of that name is, or, with
 *  `replace`, a regular file that is neither a unit's file nor a record.  0, or -1 with ERR_INPUT
 *  (it is there; the text names `--force`, the option that all commands have for it) or
 *  ERR_SYSTEM. */
int write_file_check(const char *path, bool replace, struct err *err);

/** Write n bytes to `path`, mode 0666 less the umask.  0, or -1 as write_file_check(), or
 * ERR_SYSTEM with nothing left behind. */
int write_file(const char *path, const void *bytes, size_t n, bool replace, struct err *err);

/** Make a folder unless it is there; the ones above it must be.  0, or -1 with ERR_SYSTEM. */
int write_file_folder(const char *path, struct err *err);

#endif
