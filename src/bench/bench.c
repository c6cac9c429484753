#include "bench/bench.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "bench/circuit.h"
#include "bench/meter.h"
#include "mainstair/base/text.h"
#include "mainstair/core/fault.h"

static const double pi = 3.14159265358979323846;
static const double default_window_s = 0.25;
static const double default_noise_share = 0.0005;
static const double variac_top_volts = 300;

struct bench {
	struct network whole; /* as built, no faults */
	struct network net;   /* as it is now; the circuit borrows it */
	struct circuit *circuit, *spare;
	struct power_meter meter;

	unsigned long long steps;
	double left_over_s; /* not yet a step */
	double variac_volts, target_volts, slew;

	double in_joule;
	double rail_sum[NET_RAILS_MAX]; /* over the meter's window */
	double rail_mean[NET_RAILS_MAX];
};

struct bench *bench_new(const struct network *net, const struct bench_options *options,
                        struct err *err)
{
	static const struct bench_options plain;
	const struct bench_options *o = options ? options : &plain;
	struct bench *b = calloc(1, sizeof *b);

	if (b) {
		b->circuit = malloc(sizeof *b->circuit);
		b->spare = malloc(sizeof *b->spare);
	}
	if (!b || !b->circuit || !b->spare) {
		bench_free(b);
		err_set(err, ERR_NOMEM, "not enough memory for the virtual bench");
		return NULL;
	}
	b->whole = *net;
	bench_scatter(&b->whole, o->seed);
	b->net = b->whole;
	if (circuit_build(b->circuit, &b->net, NULL, err) != 0) {
		bench_free(b);
		return NULL;
	}
	for (int k = 0; k < b->net.n_heaters && o->heat_capacity > 0; k++)
		b->circuit->heaters[k].seconds *= o->heat_capacity;
	double window_s = o->meter_window_s > 0 ? o->meter_window_s : default_window_s;
	double cycles = fmin(fmax(round(window_s * net->line_hz), 1), 100 * net->line_hz);
	double noise = o->meter_noise_share == 0 ? default_noise_share :
		fmax(o->meter_noise_share, 0);
	power_meter_init(&b->meter, o->seed, (int)cycles * CIRCUIT_STEPS_A_CYCLE, noise);
	bench_set_variac(b, o->start_volts, 0);
	return b;
}

void bench_free(struct bench *b)
{
	if (!b)
		return;
	free(b->circuit);
	free(b->spare);
	free(b);
}

void bench_set_variac(struct bench *b, double volts, double slew)
{
	b->target_volts = volts > 0 ? fmin(volts, variac_top_volts) : 0; /* NaN too: down */
	b->slew = slew;
	if (!(slew > 0))
		b->variac_volts = b->target_volts;
}

double bench_variac(const struct bench *b)
{
	return b->variac_volts;
}

double bench_variac_target(const struct bench *b)
{
	return b->target_volts;
}

static void move_variac(struct bench *b, double dt_s)
{
	double most = b->slew * dt_s, way = b->target_volts - b->variac_volts;

	if (fabs(way) <= most)
		b->variac_volts = b->target_volts;
	else
		b->variac_volts += copysign(most, way);
}

static void step(struct bench *b)
{
	struct circuit *c = b->circuit;

	if (b->variac_volts != b->target_volts)
		move_variac(b, c->step_s);
	b->steps++;
	double turn = (double)(b->steps % CIRCUIT_STEPS_A_CYCLE) / CIRCUIT_STEPS_A_CYCLE;
	double volts = sqrt(2.0) * b->variac_volts * sin(2 * pi * turn);

	circuit_step(c, volts);
	b->in_joule += volts * c->line_amps * c->step_s;
	for (int r = 0; r < b->net.n_rails; r++)
		b->rail_sum[r] += circuit_rail_volts(c, r);
	if (power_meter_step(&b->meter, volts, c->line_amps, (double)b->steps * c->step_s))
		for (int r = 0; r < b->net.n_rails; r++) {
			b->rail_mean[r] = b->rail_sum[r] / b->meter.window_steps;
			b->rail_sum[r] = 0;
		}
}

void bench_advance(struct bench *b, double dt_s)
{
	double step_s = b->circuit->step_s;

	b->left_over_s += dt_s > 0 ? dt_s : 0;
	/* the slack keeps rounding, of a second cut into many pieces, from moving a step */
	double due = floor(b->left_over_s / step_s + 1e-6);
	b->left_over_s -= due * step_s;
	for (unsigned long long n = (unsigned long long)due; n > 0; n--)
		step(b);
}

double bench_seconds(const struct bench *b)
{
	return (double)b->steps * b->circuit->step_s + b->left_over_s;
}

bool bench_read(const struct bench *b, struct bench_reading *ret)
{
	*ret = b->meter.last;
	return ret->count > 0;
}

static int rail_index(const struct bench *b, const char *name)
{
	for (int r = 0; r < b->net.n_rails; r++)
		if (text_same(b->net.rails[r].name, name))
			return r;
	return -1;
}

double bench_rail_volts(const struct bench *b, const char *rail)
{
	int r = rail_index(b, rail);

	return r < 0 ? NAN : b->rail_mean[r];
}

double bench_heater_volts(const struct bench *b, const char *place)
{
	for (int k = 0; k < b->net.n_heaters; k++)
		if (text_same(b->net.heaters[k].place, place))
			return sqrt(b->circuit->heater_squared[k]);
	return NAN;
}

bool bench_regulator_lit(const struct bench *b, const char *rail)
{
	int r = rail_index(b, rail);

	for (int k = 0; k < b->circuit->n_gases; k++)
		if (b->circuit->gases[k].rail == r)
			return b->circuit->gases[k].lit;
	return false;
}

/* Put b->net on the bench, keeping charges and temperatures. */
static int rebuild(struct bench *b, const struct network *net, struct err *err)
{
	struct circuit *fresh = b->spare;

	if (circuit_build(fresh, net, b->circuit, err) != 0)
		return -1;
	b->net = *net;
	fresh->net = &b->net;
	b->spare = b->circuit;
	b->circuit = fresh;
	return 0;
}

int bench_fault(struct bench *b, const char *words, struct err *err)
{
	struct network *net = malloc(sizeof *net);
	int rc;

	if (!net)
		return err_set(err, ERR_NOMEM, "not enough memory for a fault");
	*net = b->net;
	rc = fault_apply(net, words, err);
	if (rc == 0)
		rc = rebuild(b, net, err);
	free(net);
	return rc;
}

void bench_mend(struct bench *b)
{
	struct err err;

	/* it was built once, so it can be built again */
	(void)rebuild(b, &b->whole, &err);
}

const struct network *bench_network(const struct bench *b)
{
	return &b->net;
}

struct bench_energy bench_energy(const struct bench *b)
{
	return (struct bench_energy){
		.in = b->in_joule, .spent = b->circuit->spent_joule,
		.stored = circuit_stored(b->circuit)
	};
}
