/*
 * core/care/fuse_mark.h - what is stamped on a fuse, or said of one
 *
 * Layer: core; private to core/care/.
 */
#ifndef CORE_CARE_FUSE_MARK_H
#define CORE_CARE_FUSE_MARK_H

#include <stdbool.h>

#include "mainstair/base/err.h"
#include "mainstair/core/profile.h"

struct fuse_mark {
	double amps;
	bool bare; /* the number had no unit: taken as amps */
	enum fuse_speed speed;
};

/** Read a rating such as `0.5 A slow`, `T500mAL250V`, `500 mA, quick`, `3AG 1 A`.  Letters by IEC
 *  60127 (T time-lag, F quick; L, H, E the breaking capacity), AGC and MDL from memory.  1 with
 *  *ret; 0 when the line is no such thing; -1 with err when only a number is wrong. */
int fuse_mark_read(const char *line, struct fuse_mark *ret, struct err *err);

#endif
