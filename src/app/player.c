#include "app/player.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/loop.h"

static void begin(struct player *p)
{
	session_init(p->session, p->unit.network, p->unit.plan, p->unit.rule, p->unit.meter, 0);
	p->session->bands = p->bands;
	p->at = 0;
	p->have_then = false;
	p->own_abort = false;
}

int player_init(struct player *ret, struct record *record, const struct run_unit *unit,
                struct err *err)
{
	*ret = (struct player){.record = record, .unit = *unit, .copy_every = 512};
	ret->session = malloc(sizeof *ret->session);
	ret->bands = calloc(1, sizeof *ret->bands);
	if (!ret->session || !ret->bands) {
		player_release(ret);
		return err_set(err, ERR_NOMEM, "out of memory");
	}
	begin(ret);
	return 0;
}

void player_release(struct player *p)
{
	free(p->session);
	free(p->bands);
	for (int i = 0; i < p->n_copies; i++)
		free(p->copies[i].session);
	*p = (struct player){0};
}

/* Keep a copy now and then, the last ones first to be found; without memory there is just a
 * longer way back. */
static void keep_copy(struct player *p)
{
	if (p->at % p->copy_every != 0 ||
	    (p->n_copies > 0 && p->copies[p->n_copies - 1].at >= p->at))
		return;
	if (p->n_copies == PLAYER_COPIES_MAX) {
		for (int i = 0; i < PLAYER_COPIES_MAX / 2; i++) {
			free(p->copies[2 * i].session);
			p->copies[i] = p->copies[2 * i + 1];
		}
		p->n_copies = PLAYER_COPIES_MAX / 2;
		p->copy_every *= 2;
		if (p->at % p->copy_every != 0)
			return;
	}
	struct session *copy = malloc(sizeof *copy);
	if (!copy)
		return;
	*copy = *p->session;
	p->copies[p->n_copies].session = copy;
	p->copies[p->n_copies++].at = p->at;
}

/* Go back to the newest state kept at or before `events`. */
static void go_back(struct player *p, size_t events)
{
	int i = p->n_copies - 1;
	while (i >= 0 && p->copies[i].at > events)
		i--;
	begin(p);
	if (i >= 0) {
		*p->session = *p->copies[i].session;
		p->at = p->copies[i].at;
	}
	/* What the newest reading was then stands in the index. */
	const struct record_entry *entries = record_entries(p->record);
	for (size_t k = p->at; k > 0 && !p->have_then; k--) {
		if (entries[k - 1].kind == EVENT_READING) {
			p->have_then = true;
			p->verdict_then = (enum verdict)entries[k - 1].verdict;
		}
	}
}

void player_seek(struct player *p, size_t events)
{
	size_t n = record_n_events(p->record);
	p->goal = events < n ? events : n;
	if (p->goal < p->at)
		go_back(p, p->goal);
}

int player_step(struct player *p, struct event *ret, enum verdict *ret_then, struct err *err)
{
	if (record_event(p->record, p->at, ret, err) != 0)
		return -1;
	*ret_then = ret->verdict;
	if (p->own_abort) {
		/* Nobody was there to acknowledge it. */
		struct event off = {.seconds = ret->seconds,
		                    .kind = EVENT_ABORT_ACKNOWLEDGED,
		                    .stage = -1,
		                    .volts = (double)NAN,
		                    .watts = (double)NAN,
		                    .amps = (double)NAN,
		                    .power_factor = (double)NAN};
		if (ret->kind != EVENT_ABORT_RAISED && ret->kind != EVENT_ABORT_ACKNOWLEDGED)
			(void)session_apply(p->session, &off, NULL, 0);
		p->own_abort = false;
	}
	bool up = p->session->abort_up;
	(void)session_apply(p->session, ret, NULL, 0);
	p->own_abort = !up && p->session->abort_up && ret->kind == EVENT_READING &&
		*ret_then != VERDICT_ABORT;
	if (ret->kind == EVENT_READING) {
		p->have_then = true;
		p->verdict_then = *ret_then;
	}
	p->at++;
	return 0;
}

bool player_work(struct player *p, double slice_s)
{
	double until = loop_monotonic_s() + slice_s;
	struct event ev;
	enum verdict then;
	struct err err;

	while (p->at < p->goal) {
		keep_copy(p);
		if (player_step(p, &ev, &then, &err) != 0) {
			snprintf(p->trouble, sizeof p->trouble, "%.250s", err.text);
			p->goal = p->at;
			break;
		}
		if (isfinite(slice_s) && loop_monotonic_s() >= until)
			break;
	}
	return p->at >= p->goal;
}

size_t player_next_stage(const struct player *p)
{
	size_t i = record_next(p->record, p->at, EVENT_STAGE);
	return i < record_n_events(p->record) ? i + 1 : p->at;
}

size_t player_previous_stage(const struct player *p)
{
	const struct record_entry *entries = record_entries(p->record);
	size_t i = p->at > 0 ? p->at - 1 : 0; /* where a stage begins: the one before it */
	while (i > 0 && entries[i - 1].kind != EVENT_STAGE)
		i--;
	return i;
}

size_t player_finding(const struct player *p)
{
	size_t n = record_n_events(p->record), first = record_next_finding(p->record, 0);
	size_t i = first + 1 > p->at ? first : record_next_finding(p->record, p->at);
	return i < n ? i + 1 : p->at;
}
