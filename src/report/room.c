#include "report/room.h"

#include <stdint.h>
#include <stdlib.h>

void *room_for(void *list, size_t *cap, size_t n, size_t size)
{
	size_t more = *cap > 0 ? *cap * 2 : 16;
	void *grown;

	if (n < *cap)
		return list;
	if (more > SIZE_MAX / size)
		return NULL;
	grown = realloc(list, more * size);
	if (grown)
		*cap = more;
	return grown;
}
