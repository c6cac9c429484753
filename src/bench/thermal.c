#include "bench/thermal.h"

static const double capacity_seconds[] = {
	[HEATER_INDIRECT] = 12.0,
	[HEATER_FILAMENT] = 5.0,
	[HEATER_LAMP] = 0.12,
};

/* Far above any filament's melting point over its rated temperature: where the law ends. */
static const double hottest = 2.0;

static void set_temperature(struct thermal *t, double u)
{
	if (u < t->law.ambient)
		u = t->law.ambient;
	if (u > hottest)
		u = hottest;
	t->u = u;
	t->ohms = t->rated_ohms * heater_resistance(&t->law, u);
}

void thermal_rate(struct thermal *t, double volts, double amps)
{
	t->rated_ohms = volts / amps;
	t->rated_watts = volts * amps;
	set_temperature(t, t->u);
}

void thermal_init(struct thermal *t, enum heater_kind kind, double volts, double amps,
                  double conduction)
{
	t->law = heater_law(kind, conduction);
	t->seconds = capacity_seconds[kind];
	t->u = t->law.ambient;
	thermal_rate(t, volts, amps);
}

void thermal_step(struct thermal *t, double watts, double dt_s)
{
	double gain = watts / t->rated_watts - heater_loss(&t->law, t->u);

	set_temperature(t, t->u + gain * dt_s / t->seconds);
}
