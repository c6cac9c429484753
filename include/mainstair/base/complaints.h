/*
 * base/complaints.h - all the faults of a file, gathered before any is shown
 *
 * Layer: base; libc only.  Each is one line: `FILE:LINE: [section] key: what is wrong`.
 * Kept: the first COMPLAINTS_MAX; what is beyond is counted and told in a last line.
 * Ownership: complaints_init/release for the caller's storage.
 */
#ifndef MAINSTAIR_BASE_COMPLAINTS_H
#define MAINSTAIR_BASE_COMPLAINTS_H

#include <stddef.h>

#include "mainstair/base/buf.h"

enum { COMPLAINTS_MAX = 100, COMPLAINT_TEXT_MAX = 400, COMPLAINTS_FILE_MAX = 256 };

/* For `line` where no line is meant. */
enum {
	COMPLAINT_NAMES_FILE = -1, /* the text names the file itself */
	COMPLAINT_WHOLE_FILE = 0
};

struct complaint {
	int line;
	char text[COMPLAINT_TEXT_MAX];
};

struct complaints {
	char file[COMPLAINTS_FILE_MAX]; /* as shown, control characters escaped */
	struct complaint *list;
	size_t n, cap;
	size_t beyond; /* how many more there were (also when memory ran out) */
};

/** Start an empty list about the file (or other text) that is to be called `file`. */
void complaints_init(struct complaints *c, const char *file);
void complaints_release(struct complaints *c);

/** How many in all, kept and beyond. */
size_t complaints_count(const struct complaints *c);

/** Add one.  section and key may be NULL or ""; control characters in what is
 *  formatted are escaped here, once, so pass text from outside as it is. */
void complaints_add(struct complaints *c, int line, const char *section, const char *key,
                    const char *format, ...) __attribute__((format(printf, 5, 6)));

/** Append all as lines, in the order of the file. */
void complaints_print(const struct complaints *c, struct buf *out);

#endif
