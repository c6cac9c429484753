#include "app/run.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* Readings that come by themselves are put on the disk together, so often. */
static const double readings_sync_s = 1.0;

static void release(struct run *r)
{
	free(r->session);
	free(r->bands);
	r->session = NULL;
	r->bands = NULL;
}

int run_init(struct run *ret, const struct run_unit *unit, double watch_s,
             struct record_writer *record, const char *program, struct err *err)
{
	*ret = (struct run){.record = record, .readings_since_s = (double)NAN};
	ret->session = malloc(sizeof *ret->session);
	ret->bands = calloc(1, sizeof *ret->bands);
	if (!ret->session || !ret->bands) {
		struct err ignored;
		release(ret);
		(void)record_finish(record, &ignored);
		*ret = (struct run){0};
		return err_set(err, ERR_NOMEM, "out of memory");
	}
	session_init(ret->session, unit->network, unit->plan, unit->rule, unit->meter, watch_s);
	ret->session->bands = ret->bands;
	run_note(ret, 0, EVENT_START, program);
	return 0;
}

static void complain(struct run *r, int status, const struct err *err)
{
	if (status == 0)
		r->trouble[0] = '\0';
	else
		snprintf(r->trouble, sizeof r->trouble, "%.250s", err->text);
}

static void write_event(struct run *r, const struct event *ev, bool matters)
{
	struct err err;
	if (!r->record)
		return;
	int status = record_append(r->record, ev, false, &err);
	if (status != 0)
		complain(r, status, &err);
	if (matters)
		r->unsynced = true;
	else if (isnan(r->readings_since_s))
		r->readings_since_s = ev->seconds;
}

void run_put(struct run *r, struct event *ev)
{
	struct event queue[1 + SESSION_FOLLOW_MAX * 2];
	size_t n = 1;

	/* What follows from an event raises nothing twice; the queue's end is out of reach. */
	queue[0] = *ev;
	/* A record never goes back in time. */
	queue[0].seconds = fmax(ev->seconds, r->session->now_s);
	for (size_t i = 0; i < n; i++) {
		size_t room = sizeof queue / sizeof *queue - n;
		enum verdict before =
		        r->session->have_reading ? r->session->last.verdict : VERDICT_UNKNOWN;
		n += session_apply(r->session, &queue[i], queue + n,
			room < SESSION_FOLLOW_MAX ? room : SESSION_FOLLOW_MAX);
		bool routine = queue[i].kind == EVENT_READING && queue[i].verdict == before &&
			!event_typed(&queue[i]);
		write_event(r, &queue[i], !routine);
	}
	*ev = queue[0];
}

void run_note(struct run *r, double seconds, enum event_kind kind, const char *note)
{
	struct event ev = {.seconds = seconds, .kind = kind, .stage = r->session->stage,
		.volts = (double)NAN, .watts = (double)NAN, .amps = (double)NAN,
		.power_factor = (double)NAN};
	snprintf(ev.note, sizeof ev.note, "%s", note);
	run_put(r, &ev);
}

void run_tick(struct run *r, double now_s)
{
	struct event follow[SESSION_FOLLOW_MAX];
	size_t n = session_tick(r->session, now_s, follow, SESSION_FOLLOW_MAX);
	for (size_t i = 0; i < n; i++)
		run_put(r, &follow[i]);
}

double run_sync_due(const struct run *r)
{
	if (r->record && record_syncing(r->record))
		return (double)INFINITY; /* its end comes first, by its descriptor */
	return isnan(r->readings_since_s) ? (double)INFINITY
	                                  : r->readings_since_s + readings_sync_s;
}

bool run_wants_sync(const struct run *r, double now_s)
{
	if (r->record && record_syncing(r->record))
		return false;
	return r->unsynced || now_s >= run_sync_due(r);
}

/* How putting it on the disk went.  What waits after trouble is tried again in a while, not at
 * once. */
static void synced(struct run *r, int status, const struct err *err)
{
	complain(r, status, err);
	if (r->trouble[0])
		r->readings_since_s = r->session->now_s;
}

void run_sync(struct run *r)
{
	struct err err;
	r->unsynced = false;
	r->readings_since_s = (double)NAN;
	if (r->record)
		synced(r, record_sync(r->record, &err), &err);
}

void run_sync_begin(struct run *r)
{
	struct err err;
	r->unsynced = false;
	r->readings_since_s = (double)NAN;
	if (r->record && record_sync_begin(r->record, &err) != 0)
		synced(r, -1, &err);
}

int run_sync_fd(const struct run *r)
{
	return r->record ? record_sync_fd(r->record) : -1;
}

bool run_sync_end(struct run *r)
{
	struct err err;
	if (!r->record || !record_syncing(r->record))
		return false;
	int status = record_sync_end(r->record, &err);
	if (record_syncing(r->record))
		return false;
	synced(r, status, &err);
	return true;
}

unsigned long run_recorded(const struct run *r)
{
	return r->record ? record_health(r->record).recorded : r->session->n_events;
}

int run_finish(struct run *r, char *where, size_t size, struct err *err)
{
	int status = 0;
	snprintf(where, size, "%s", r->record ? record_path(r->record) : "");
	if (r->record)
		status = record_finish(r->record, err);
	r->record = NULL;
	release(r);
	return status;
}
