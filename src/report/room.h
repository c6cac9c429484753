/*
 * report/room.h - room for one more in a list that grows
 *
 * Layer: report; libc only.
 */
#ifndef REPORT_ROOM_H
#define REPORT_ROOM_H

#include <stddef.h>

/** A list (NULL: none yet) with room for *cap things of `size` bytes, n of them used, comes back
 *  with room for one more, perhaps elsewhere.  NULL when out of memory: the old one stays. */
void *room_for(void *list, size_t *cap, size_t n, size_t size);

#endif
