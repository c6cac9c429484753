#include "app/feed_bench.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "bench/bench.h"

/* Two readings a second, as common plug-in meters give; a hand turns a variac so fast. */
static const double reading_s = 0.5, slew_volts_s = 20;
/* A step longer than this (a stopped process, say) is not made up for. */
static const double longest_step_s = 5;

enum { WAITING_MAX = 64 };

struct feed_bench {
	struct bench *bench;
	double now_s;               /* run time up to which the bench has been advanced */
	unsigned long seen;         /* count of the last reading taken from the bench */
	struct event waiting[WAITING_MAX];
	int first, n;
};

static int bench_no_fd(void *self)
{
	(void)self;
	return -1;
}

static double bench_due(void *self)
{
	const struct feed_bench *b = self;
	return b->now_s + reading_s;
}

/* A new reading of the bench's meter, if there is one. */
static void take_reading(struct feed_bench *b)
{
	struct bench_reading r;
	if (!bench_read(b->bench, &r) || r.count == b->seen || b->n == WAITING_MAX)
		return;
	b->seen = r.count;
	struct event *ev = &b->waiting[(b->first + b->n++) % WAITING_MAX];
	*ev = (struct event){.seconds = b->now_s, .kind = EVENT_READING, .stage = -1,
		.volts = r.volts, .watts = r.watts, .amps = r.amps, .power_factor = r.power_factor,
		.note = "virtual bench"};
}

static void bench_step(void *self, short revents, double now_s)
{
	struct feed_bench *b = self;
	(void)revents;
	if (now_s - b->now_s > longest_step_s)
		b->now_s = now_s - longest_step_s;
	while (now_s - b->now_s > 0) {
		double step = fmin(now_s - b->now_s, reading_s / 2);
		bench_advance(b->bench, step);
		b->now_s += step;
		take_reading(b);
	}
}

static bool bench_next(void *self, struct event *ret)
{
	struct feed_bench *b = self;
	if (b->n == 0)
		return false;
	*ret = b->waiting[b->first];
	b->first = (b->first + 1) % WAITING_MAX;
	b->n--;
	return true;
}

static bool bench_describe(void *self, double now_s, char *ret, size_t size)
{
	struct feed_bench *b = self;
	double at = bench_variac(b->bench), to = bench_variac_target(b->bench);
	(void)now_s;
	if (fabs(at - to) < 0.05)
		snprintf(ret, size, "variac at %.1f V", at);
	else
		snprintf(ret, size, "variac at %.1f V, going to %.1f V", at, to);
	return true;
}

static double bench_target(void *self)
{
	struct feed_bench *b = self;
	return bench_variac_target(b->bench);
}

static void bench_turn(void *self, double volts)
{
	struct feed_bench *b = self;
	bench_set_variac(b->bench, volts, slew_volts_s);
}

static bool bench_probe(void *self, int i, struct event *ret)
{
	struct feed_bench *b = self;
	const struct network *net = bench_network(b->bench);
	if (i < 0 || i >= net->n_rails)
		return false;
	*ret = (struct event){.seconds = b->now_s, .kind = EVENT_RAIL, .stage = -1,
		.volts = round(bench_rail_volts(b->bench, net->rails[i].name) * 10) / 10,
		.watts = (double)NAN, .amps = (double)NAN, .power_factor = (double)NAN};
	snprintf(ret->note, sizeof ret->note, "rail %s", net->rails[i].name);
	return true;
}

static void bench_close(void *self)
{
	struct feed_bench *b = self;
	bench_free(b->bench);
	free(b);
}

int feed_bench_open(struct feed *ret, const struct network *net, const char *const *faults,
                    int n_faults, struct err *err)
{
	static const struct feed_ops ops = {
		.fd = bench_no_fd, .due = bench_due, .step = bench_step, .next = bench_next,
		.describe = bench_describe, .variac = bench_target, .turn = bench_turn,
		.probe = bench_probe, .close = bench_close,
	};
	struct bench_options options = {.meter_window_s = reading_s};
	struct feed_bench *b = calloc(1, sizeof *b);

	if (!b)
		return err_set(err, ERR_NOMEM, "out of memory");
	b->bench = bench_new(net, &options, err);
	bool ready = b->bench != NULL;
	for (int i = 0; i < n_faults && ready; i++)
		ready = bench_fault(b->bench, faults[i], err) == 0;
	if (!ready) {
		bench_close(b);
		return -1;
	}
	*ret = (struct feed){.ops = &ops, .self = b, .source = "VIRTUAL BENCH, demonstration",
		.invented = true, .watch_s = 5};
	return 0;
}
