/*
 * io/table_file.h - the tube and lamp tables, read from the data files
 *
 * Layer: io.
 */
#ifndef MAINSTAIR_IO_TABLE_FILE_H
#define MAINSTAIR_IO_TABLE_FILE_H

#include "mainstair/base/err.h"
#include "mainstair/core/tables.h"

/** Read tubes.csv and lamps.csv from where io/data_path.h says into *ret (overwritten; release
 *  it with tables_release()).  0, or -1 with err, which names the file, and nothing to release. */
int table_file_load(struct tables *ret, struct err *err);

#endif
