#include "app/feed_meter.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/loop.h"

struct feed_meter {
	struct meter *meter;
	int64_t start_ms;         /* monotonic, at run time 0 */
	struct reading_watch watch;
	bool frozen;
	enum meter_state told;    /* the state that was last told as an event */
	struct event trouble;     /* waits to be taken */
	bool have_trouble;
};

static double run_seconds(const struct feed_meter *f, int64_t t_ms)
{
	return fmax((double)(t_ms - f->start_ms) / 1000.0, 0);
}

static void tell(struct feed_meter *f, double now_s, const char *what, const char *why)
{
	f->trouble = (struct event){.seconds = now_s, .kind = EVENT_METER, .stage = -1,
		.volts = (double)NAN, .watts = (double)NAN, .amps = (double)NAN,
		.power_factor = (double)NAN};
	snprintf(f->trouble.note, sizeof f->trouble.note, "%s%s%s", what, why[0] ? ": " : "", why);
	f->have_trouble = true;
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

static void meter_feed_step(void *self, short revents, double now_s)
{
	static const char *const words[] = {
		[METER_LOST] = "lost", [METER_SILENT] = "silent", [METER_STARTING] = "opened",
		[METER_READING] = "reading",
	};
	struct feed_meter *f = self;
	meter_step(f->meter, revents, loop_monotonic_ms());
	const struct meter_health *health = meter_health(f->meter);
	if (health->state != f->told) {
		tell(f, now_s, words[health->state], health->state == METER_LOST ||
			health->state == METER_SILENT ? health->trouble : "");
		f->told = health->state;
	}
}

static bool meter_feed_next(void *self, struct event *ret)
{
	struct feed_meter *f = self;
	struct reading r;

	if (f->have_trouble) {
		*ret = f->trouble;
		f->have_trouble = false;
		return true;
	}
	if (!meter_next(f->meter, &r))
		return false;
	*ret = (struct event){.seconds = run_seconds(f, r.t_ms), .kind = EVENT_READING, .stage = -1,
		.volts = reading_get(&r, READING_VOLTS), .watts = reading_get(&r, READING_WATTS),
		.amps = reading_get(&r, READING_AMPS),
		.power_factor = reading_get(&r, READING_POWER_FACTOR)};
	snprintf(ret->note, sizeof ret->note, "%s", reading_from_word(r.from));
	bool frozen = reading_frozen(&f->watch, &r, meter_config(f->meter)->accuracy.offset_watts);
	if (frozen && !f->frozen)
		tell(f, ret->seconds, "repeats itself", "its watts stand still while the volts move");
	f->frozen = frozen;
	return true;
}

static bool meter_feed_describe(void *self, double now_s, char *ret, size_t size)
{
	struct feed_meter *f = self;
	char text[METER_TROUBLE_MAX];
	(void)now_s;
	meter_describe(f->meter, loop_monotonic_ms(), text);
	snprintf(ret, size, "%s%s", f->frozen ? "FROZEN? " : "", text);
	return !f->frozen && meter_health(f->meter)->state == METER_READING;
}

static void meter_feed_close(void *self)
{
	struct feed_meter *f = self;
	meter_close(f->meter);
	free(f);
}

int feed_meter_open(struct feed *ret, const struct meter_config *config, struct err *err)
{
	static const struct feed_ops ops = {
		.fd = meter_feed_fd, .due = meter_feed_due, .step = meter_feed_step,
		.next = meter_feed_next, .describe = meter_feed_describe, .close = meter_feed_close,
	};
	struct feed_meter *f = calloc(1, sizeof *f);

	if (!f)
		return err_set(err, ERR_NOMEM, "out of memory");
	f->start_ms = loop_monotonic_ms();
	f->told = METER_STARTING;
	f->meter = meter_open(config, NULL, f->start_ms, err);
	if (!f->meter) {
		free(f);
		return -1;
	}
	*ret = (struct feed){.ops = &ops, .self = f,
		.source = meter_protocol_word(config->protocol), .watch_s = config->watch_s};
	return 0;
}
