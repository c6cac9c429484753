#include "app/like.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/player.h"

int like_from_record(struct like_curve *ret, struct record *record, const struct run_unit *unit,
                     const char *name, struct err *err)
{
	const size_t n = record_n_events(record);
	struct player player;
	struct event ev;
	enum verdict then;
	int status = 0;

	like_init(ret, name, unit->meter);
	if (player_init(&player, record, unit, err) != 0)
		return -1;
	for (size_t i = 0; i < n && status == 0; i++) {
		status = player_step(&player, &ev, &then, err);
		if (status != 0 || player.session->ended)
			break;
		if (ev.kind != EVENT_READING || !player.session->settled ||
		    ev.verdict == VERDICT_ABORT || ev.verdict == VERDICT_SETTLING)
			continue;
		if (!like_add(ret, ev.volts, ev.watts))
			break; /* as many stages as there is room for */
	}
	player_release(&player);
	if (status == 0 && ret->n == 0)
		status = err_set(err, ERR_INPUT, "no reading in it had settled");
	return status;
}

void like_note(char ret[EVENT_NOTE_MAX], const char *path)
{
	char whole[PATH_MAX];
	const char *named = realpath(path, whole) ? whole : path, *slash = strrchr(named, '/');

	if (strlen(like_noted) + strlen(named) >= EVENT_NOTE_MAX && slash)
		named = slash + 1;
	(void)snprintf(ret, EVENT_NOTE_MAX, "%s%s", like_noted, named);
}

bool like_find(struct record *record, char *ret, size_t size)
{
	const size_t end = record_next(record, 0, EVENT_READING);
	struct event ev;
	struct err ignored;

	for (size_t i = record_next(record, 0, EVENT_NOTE); i < end;
	     i = record_next(record, i + 1, EVENT_NOTE)) {
		if (record_event(record, i, &ev, &ignored) != 0 ||
		    strncmp(ev.note, like_noted, strlen(like_noted)) != 0)
			continue;
		(void)snprintf(ret, size, "%s", ev.note + strlen(like_noted));
		return true;
	}
	return false;
}
