#include "bench/meter.h"

#include <math.h>

void power_meter_init(struct power_meter *m, uint64_t seed, int window_steps, double noise_share)
{
	*m = (struct power_meter){
		.random.state = seed ^ 0x6d65746572,
		.volts_gain = 1, .amps_gain = 1, .watts_gain = 1,
		.noise_share = noise_share, .window_steps = window_steps,
		.last = { NAN, NAN, NAN, NAN, NAN, 0 }
	};
	if (seed != 0) {
		m->volts_gain += 0.005 * random_even(&m->random);
		m->amps_gain += 0.005 * random_even(&m->random);
		m->watts_gain += 0.01 * random_even(&m->random);
	}
}

static double round_to(double value, double per_unit)
{
	return round(value * per_unit) / per_unit;
}

static double noisy(struct power_meter *m, double value, double gain)
{
	return value * gain * (1 + m->noise_share * random_bell(&m->random));
}

static void close_window(struct power_meter *m, double seconds)
{
	struct bench_reading *r = &m->last;
	double volts = noisy(m, sqrt(m->volts_squared / m->n), m->volts_gain);
	double amps = noisy(m, sqrt(m->amps_squared / m->n), m->amps_gain);
	double watts = noisy(m, m->watts / m->n, m->watts_gain);

	/* charges may flow back for a moment; a plug-in meter shows nought */
	watts = fmax(watts, 0);
	r->seconds = seconds;
	r->volts = round_to(volts, 10);
	r->amps = round_to(amps, 1000);
	r->watts = round_to(watts, watts < 100 ? 100 : 10);
	r->power_factor = r->amps > 0 && r->volts > 0 ?
		round_to(fmin(watts / (volts * amps), 1), 100) : 0;
	r->count++;
	m->n = 0;
	m->volts_squared = m->amps_squared = m->watts = 0;
}

bool power_meter_step(struct power_meter *m, double volts, double amps, double seconds)
{
	m->volts_squared += volts * volts;
	m->amps_squared += amps * amps;
	m->watts += volts * amps;
	if (++m->n < m->window_steps)
		return false;
	close_window(m, seconds);
	return true;
}
