/*
 * io/data_path.h - where the program's own data files are: tables and profiles
 *
 * Layer: io.  The first of these that applies, and no other:
 *   $MAINSTAIR_DATA, when it is set and not empty;
 *   the source tree, when the running program lies in the folder it was built in;
 *   ../share/mainstair as seen from the folder of the running program, when installed.
 */
#ifndef MAINSTAIR_IO_DATA_PATH_H
#define MAINSTAIR_IO_DATA_PATH_H

#include <stddef.h>

#include "mainstair/base/err.h"

/** Write the path of data file `name` ("tubes.csv") into ret.  Whether the file is there shows
 *  when it is opened.  0, or -1 with ERR_SYSTEM (the program cannot find itself) or ERR_RANGE
 *  (the path does not fit). */
int data_path(const char *name, char *ret, size_t size, struct err *err);

#endif
