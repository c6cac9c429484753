#include "mainstair/core/event.h"

#include <string.h>

static const char *const words[] = {
	[EVENT_START] = "start",
	[EVENT_CAUTIONS] = "cautions",
	[EVENT_STAGE] = "stage",
	[EVENT_READING] = "reading",
	[EVENT_RAIL] = "rail",
	[EVENT_MEASURED] = "measured",
	[EVENT_QUESTIONED] = "questioned",
	[EVENT_IMPOSSIBLE] = "impossible",
	[EVENT_ABORT_RAISED] = "abort-raised",
	[EVENT_ABORT_ACKNOWLEDGED] = "abort-acknowledged",
	[EVENT_STOP] = "stop",
	[EVENT_STOP_ACKNOWLEDGED] = "stop-acknowledged",
	[EVENT_BLIND] = "blind",
	[EVENT_METER] = "meter",
	[EVENT_NOTE] = "note",
	[EVENT_LOOK] = "look",
	[EVENT_END] = "end",
};
_Static_assert(sizeof words / sizeof words[0] == EVENT_KINDS, "every kind has its word");

const char *event_word(enum event_kind kind)
{
	return words[kind];
}

bool event_typed(const struct event *ev)
{
	static const char typed[] = "typed";
	const size_t n = sizeof typed - 1;

	return strncmp(ev->note, typed, n) == 0 && (ev->note[n] == '\0' || ev->note[n] == ';');
}

int event_from_word(const char *word)
{
	for (int i = 0; i < EVENT_KINDS; i++)
		if (strcmp(word, words[i]) == 0)
			return i;
	return -1;
}
