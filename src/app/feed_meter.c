#include "app/feed_meter.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/loop.h"
#include "mainstair/core/judge.h"

enum { NEWS_MAX = 4 };

struct feed_meter {
	struct meter *meter;
	double offset_s;          /* run time less monotonic time, as of the last step */
	struct reading_watch watch;
	bool frozen;
	enum meter_state told;    /* the state that was last told as an event */
	struct event news[NEWS_MAX]; /* wait to be taken */
	int n_news;
	char source[32];          /* "meter, modbus" */
};

static double run_seconds(const struct feed_meter *f, int64_t t_ms)
{
	return fmax((double)t_ms / 1000.0 + f->offset_s, 0);
}

/* Add news.  When nobody takes any the last place goes to the newest. */
static void tell(struct feed_meter *f, double seconds, const char *what, const char *why)
{
	struct event *e = &f->news[f->n_news < NEWS_MAX ? f->n_news++ : NEWS_MAX - 1];

	*e = (struct event){.seconds = seconds, .kind = EVENT_METER, .stage = -1,
		.volts = (double)NAN, .watts = (double)NAN, .amps = (double)NAN,
		.power_factor = (double)NAN};
	snprintf(e->note, sizeof e->note, "%s%s%s", what, why[0] ? ": " : "", why);
}

static int meter_feed_fd(void *self)
{
	struct feed_meter *f = self;
	return meter_fd(f->meter);
}

static double meter_feed_due(void *self)
{
	struct feed_meter *f = self;
	return run_seconds(f, meter_due(f->meter));
}

static void tell_state(struct feed_meter *f, double now_s, int64_t now_ms)
{
	const struct meter_health *health = meter_health(f->meter);
	char counts[METER_TROUBLE_MAX], why[2 * METER_TROUBLE_MAX + 2];

	if (health->state == f->told)
		return;
	f->told = health->state;
	switch (health->state) {
	case METER_LOST:
		tell(f, now_s, "lost", health->trouble);
		break;
	case METER_SILENT:
		meter_describe(f->meter, now_ms, counts);
		snprintf(why, sizeof why, "%s; %s", health->trouble, counts);
		tell(f, now_s, "silent", why);
		break;
	case METER_STARTING:
		tell(f, now_s, "opened", meter_config(f->meter)->wire.name);
		break;
	case METER_READING:
		tell(f, now_s, "reading", "");
		break;
	}
}

static void meter_feed_step(void *self, short revents, double now_s)
{
	struct feed_meter *f = self;
	int64_t now_ms = loop_monotonic_ms();

	f->offset_s = now_s - (double)now_ms / 1000.0;
	meter_step(f->meter, revents, now_ms);
	tell_state(f, now_s, now_ms);
}

static void meter_feed_missed(void *self)
{
	struct feed_meter *f = self;
	meter_missed(f->meter, loop_monotonic_ms());
}

/* Why a reading cannot be believed whatever the unit; "" when it can. */
static void doubt(struct feed_meter *f, const struct reading *r, char why[JUDGE_WHY_MAX])
{
	double zero_watts = meter_config(f->meter)->accuracy.offset_watts;
	double watts = reading_get(r, READING_WATTS);
	bool frozen = reading_frozen(&f->watch, r, zero_watts);

	why[0] = '\0';
	for (int q = READING_VOLTS; q <= READING_WATTS && !why[0]; q++) {
		const char *word = reading_quantity_word((enum reading_quantity)q);
		if (r->at[q].state == VALUE_NAN && q != READING_AMPS)
			snprintf(why, JUDGE_WHY_MAX, "%s told as not a number", word);
		else if (r->at[q].state == VALUE_OVER)
			snprintf(why, JUDGE_WHY_MAX, "%s over the meter's range", word);
	}
	if (!why[0] && frozen)
		snprintf(why, JUDGE_WHY_MAX, "frozen: the watts stand still while the volts move");
	/* The session knows the unit and judges more narrowly; this is for the bytes' sake. */
	if (!why[0])
		(void)judge_possible(240, zero_watts, reading_get(r, READING_VOLTS), watts,
			reading_get(r, READING_AMPS), reading_get(r, READING_POWER_FACTOR), why);
	if (frozen && !f->frozen)
		tell(f, run_seconds(f, r->t_ms), "frozen",
			"its watts stand still while the volts move; not believed");
	f->frozen = frozen;
}

static bool meter_feed_next(void *self, struct event *ret)
{
	struct feed_meter *f = self;
	char why[JUDGE_WHY_MAX];
	struct reading r;

	if (f->n_news > 0) {
		*ret = f->news[0];
		f->n_news--;
		for (int i = 0; i < f->n_news; i++)
			f->news[i] = f->news[i + 1];
		return true;
	}
	if (!meter_next(f->meter, &r))
		return false;
	doubt(f, &r, why);
	*ret = (struct event){.seconds = run_seconds(f, r.t_ms),
		.kind = why[0] ? EVENT_IMPOSSIBLE : EVENT_READING, .stage = -1,
		.volts = reading_get(&r, READING_VOLTS), .watts = reading_get(&r, READING_WATTS),
		.amps = reading_get(&r, READING_AMPS),
		.power_factor = reading_get(&r, READING_POWER_FACTOR)};
	if (why[0])
		snprintf(ret->note, sizeof ret->note, "%s; %s, raw: %s", why,
			reading_from_word(r.from), r.raw);
	else if (isnan(ret->watts))
		snprintf(ret->note, sizeof ret->note, "%s; %.1f VA, watts not told",
			reading_from_word(r.from), reading_get(&r, READING_VA));
	else
		snprintf(ret->note, sizeof ret->note, "%s", reading_from_word(r.from));
	return true;
}

static bool meter_feed_describe(void *self, double now_s, char *ret, size_t size)
{
	struct feed_meter *f = self;
	const struct meter_health *health = meter_health(f->meter);
	bool well = health->state == METER_READING && !f->frozen;
	char text[METER_TROUBLE_MAX];

	(void)now_s;
	meter_describe(f->meter, loop_monotonic_ms(), text);
	snprintf(ret, size, "%s%s%s%s", f->frozen ? "FROZEN? " : "", text,
		health->state != METER_READING && health->trouble[0] ? ": " : "",
		health->state != METER_READING ? health->trouble : "");
	return well;
}

static void meter_feed_close(void *self)
{
	struct feed_meter *f = self;
	meter_close(f->meter);
	free(f);
}

/* The first news: what was opened, for whoever reads the record. */
static void introduce(struct feed_meter *f)
{
	const struct meter_config *c = meter_config(f->meter);
	const struct wire_settings *w = &c->wire;
	char text[EVENT_NOTE_MAX];

	snprintf(text, sizeof text, "%s, %d baud %d%c%d%s", w->name, w->baud, w->data_bits,
	         w->parity, w->stop_bits,
	         c->own_map ? "; no bench file describes it: mainstair's own default for "
	                      "where the values are"
	                    : "");
	tell(f, 0, meter_protocol_word(c->protocol), text);
}

int feed_meter_open(struct feed *ret, const struct meter_config *config, struct err *err)
{
	static const struct feed_ops ops = {
		.fd = meter_feed_fd, .due = meter_feed_due, .step = meter_feed_step,
		.next = meter_feed_next, .missed = meter_feed_missed,
		.describe = meter_feed_describe, .close = meter_feed_close,
	};
	struct feed_meter *f = calloc(1, sizeof *f);

	if (!f)
		return err_set(err, ERR_NOMEM, "out of memory");
	f->told = METER_STARTING;
	f->offset_s = -loop_monotonic_s();
	f->meter = meter_open(config, NULL, loop_monotonic_ms(), err);
	if (!f->meter) {
		free(f);
		return -1;
	}
	introduce(f);
	snprintf(f->source, sizeof f->source, "meter, %s", meter_protocol_word(config->protocol));
	*ret = (struct feed){.ops = &ops, .self = f,
		.source = f->source, .watch_s = config->watch_s};
	return 0;
}
