/*
 * io/append.h - what the files that are only added to have in common
 *
 * Layer: io.  Records (io/record_file.h) and unit files (io/logbook_file.h).
 */
#ifndef IO_APPEND_H
#define IO_APPEND_H

#include <limits.h>
#include <stddef.h>
#include <sys/types.h>

#include "mainstair/base/err.h"

/** Make a folder and the ones above it that are missing, mode 0700.  path is changed and put back.
 *  0, or -1 with ERR_SYSTEM. */
int append_make_folders(char *path, struct err *err);

/** The folder of the program's own files, made when missing: $XDG_DATA_HOME/mainstair, or
 *  ~/.local/share/mainstair; the base directory specification says to take no notice of a relative
 *  XDG_DATA_HOME.  0, or -1 with ERR_INPUT (nowhere), ERR_SYSTEM. */
int append_data_folder(char out[PATH_MAX], struct err *err);

/** write() that no file size limit can kill: the signal that comes with EFBIG is taken back. */
ssize_t append_write(int fd, const void *bytes, size_t n);

/** A new file is on the disk only once its folder is.  0, or -1 with errno. */
int append_sync_folder(const char *path);

#endif
