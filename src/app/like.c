#include "app/like.h"

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
		if (status != 0 || ev.kind != EVENT_READING || !player.session->settled ||
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
