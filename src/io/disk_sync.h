/*
 * io/disk_sync.h - fdatasync() that nobody waits for
 *
 * Layer: io.  A memory card may take 100 ms to put a line on itself, and a reading that crosses
 * the abort line must not wait for that.  A thread does the waiting; it knows a descriptor and
 * nothing else.  One at a time.  All calls from one thread.
 */
#ifndef MAINSTAIR_IO_DISK_SYNC_H
#define MAINSTAIR_IO_DISK_SYNC_H

#include <stdbool.h>

struct disk_sync; /* opaque */

/** NULL: the system has no thread or descriptor to spare (errno). */
struct disk_sync *disk_sync_new(void);

/** Waits for what is under way; NULL is fine. */
void disk_sync_free(struct disk_sync *s);

/** Readable once what was begun has ended, until disk_sync_take(); borrowed. */
int disk_sync_fd(const struct disk_sync *s);

/** Begin to sync fd, which stays open until it has ended.  None may be under way. */
void disk_sync_begin(struct disk_sync *s, int fd);

/** Take the result: true with *ret_errno (0: it is on the disk), false while it is under way.  With
 *  `wait` it waits, and is always true.  Something must have been begun. */
bool disk_sync_take(struct disk_sync *s, bool wait, int *ret_errno);

#endif
