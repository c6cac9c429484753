/*
 * The virtual bench as its users see it: variac, meter, chance, faults.
 */
#include <criterion/criterion.h>
#include <math.h>

#include "bench/bench.h"
#include "bench_units.h"

TestSuite(bench_unit, .timeout = 100);

static struct bench *start(const struct network *net, uint64_t seed, double volts)
{
	struct bench_options o = { .seed = seed, .start_volts = volts };
	struct err err = { 0 };
	struct bench *b = bench_new(net, &o, &err);

	cr_assert_not_null(b, "%s", err.text);
	return b;
}

static struct bench_reading reading_after(struct bench *b, double seconds)
{
	struct bench_reading r;

	bench_advance(b, seconds);
	cr_assert(bench_read(b, &r));
	return r;
}

Test(bench_unit, meter_reads_like_a_meter)
{
	struct network *net = unit_oscillator();
	struct bench *b = start(net, 0, 0);
	struct bench_reading r, next;

	cr_assert(!bench_read(b, &r) && isnan(r.watts) && r.count == 0);
	bench_advance(b, 0.2);
	cr_assert(!bench_read(b, &r), "the first window is not over");
	r = reading_after(b, 0.1);
	cr_assert(r.count == 1 && r.watts == 0 && r.amps == 0 && r.power_factor == 0);
	cr_assert(r.volts == 0);
	bench_set_variac(b, 117, 20);
	r = reading_after(b, 60);
	next = reading_after(b, 1);
	cr_assert(next.count == r.count + 4 && next.seconds > r.seconds);
	cr_assert(fabs(r.volts - 117) < 0.5 && fabs(r.watts - 28.4) < 1);
	cr_assert(fabs(r.volts * 10 - round(r.volts * 10)) < 1e-9);
	cr_assert(fabs(r.watts * 100 - round(r.watts * 100)) < 1e-9);
	cr_assert(fabs(r.amps * 1000 - round(r.amps * 1000)) < 1e-9);
	cr_assert(r.power_factor > 0.8 && r.power_factor < 1);
	cr_assert(fabs(r.watts - r.volts * r.amps * r.power_factor) < 0.02 * r.watts);
	bench_free(b);
	free(net);
}

Test(bench_unit, variac_slews_and_stays_within_its_dial)
{
	struct network *net = unit_transistor();
	struct bench *b = start(net, 0, 0);

	bench_set_variac(b, 100, 20);
	bench_advance(b, 1);
	cr_assert(fabs(bench_variac(b) - 20) < 0.1 && bench_variac_target(b) == 100);
	bench_advance(b, 10);
	cr_assert(bench_variac(b) == 100);
	bench_set_variac(b, 40, 0);
	cr_assert(bench_variac(b) == 40);
	bench_set_variac(b, 1e9, 0);
	cr_assert(bench_variac(b) == 300);
	bench_set_variac(b, -5, 0);
	cr_assert(bench_variac(b) == 0);
	bench_set_variac(b, NAN, 0);
	cr_assert(bench_variac(b) == 0);
	bench_free(b);
	free(net);
}

Test(bench_unit, time_adds_up_whatever_the_steps)
{
	struct network *net = unit_oscillator();
	struct bench *one = start(net, 7, 90), *many = start(net, 7, 90);
	struct bench_reading a, b;

	bench_advance(one, 10);
	for (int k = 0; k < 1000; k++)
		bench_advance(many, 0.01);
	bench_advance(many, 1e-7);
	bench_advance(one, -3);
	cr_assert(fabs(bench_seconds(one) - 10) < 1e-6 && fabs(bench_seconds(many) - 10) < 1e-6);
	cr_assert(bench_read(one, &a) && bench_read(many, &b));
	cr_assert(a.watts == b.watts && a.volts == b.volts && a.amps == b.amps &&
	          a.count == b.count);
	bench_free(one);
	bench_free(many);
	free(net);
}

/* Twice the heat capacity: the same curve in twice the time, also after a fault came and went. */
Test(bench_unit, slow_heaters_warm_in_proportion)
{
	struct network *net = unit_oscillator();
	const struct bench_options usual = { .start_volts = 30, .meter_noise_share = -1 };
	const struct bench_options slow = { .start_volts = 30, .meter_noise_share = -1,
		                            .heat_capacity = 2 };
	struct err err;
	struct bench *a = bench_new(net, &usual, &err), *b = bench_new(net, &slow, &err);

	cr_assert(a && b);
	const double first = reading_after(a, 1).watts;
	cr_assert(reading_after(b, 1).watts > first, "slower to warm");
	cr_assert_eq(bench_fault(b, "open V1", &err), 0);
	bench_mend(b);
	cr_assert(fabs(reading_after(b, 1).watts - first) < 0.02 * first);
	const double later = reading_after(a, 9).watts;
	cr_assert(later < 0.7 * first, "%g W, then %g", first, later);
	cr_assert(fabs(reading_after(b, 18).watts - later) < 0.02 * later);
	bench_free(a);
	bench_free(b);
	free(net);
}

Test(bench_unit, same_seed_same_unit_other_seed_another)
{
	struct network *net = unit_oscillator();
	struct bench *a = start(net, 3, 117), *b = start(net, 3, 117), *c = start(net, 4, 117);
	struct bench_reading ra = reading_after(a, 40), rb = reading_after(b, 40);
	struct bench_reading rc = reading_after(c, 40);

	cr_assert(ra.watts == rb.watts && ra.volts == rb.volts && ra.amps == rb.amps);
	cr_assert(ra.watts != rc.watts);
	cr_assert(memcmp(bench_network(a), bench_network(b), sizeof *net) == 0);
	bench_free(a);
	bench_free(b);
	bench_free(c);
	free(net);
}

Test(bench_unit, scatter_keeps_its_limits)
{
	struct network *net = unit_oscillator(), *one = malloc(sizeof *one);
	double least = 2, most = 0;

	memcpy(one, net, sizeof *one);
	bench_scatter(one, 0);
	cr_assert(memcmp(one, net, sizeof *one) == 0, "seed 0 is the network itself");
	for (uint64_t seed = 1; seed < 500; seed++) {
		memcpy(one, net, sizeof *one);
		bench_scatter(one, seed);
		double heater = one->heaters[1].amps / net->heaters[1].amps;
		double draw = one->rails[1].draws[0].amps / net->rails[1].draws[0].amps;
		double core = one->core_watts / net->core_watts;
		double ohms = one->windings[1].ohms / net->windings[1].ohms;
		cr_assert(fabs(heater - 1) <= 0.05 && fabs(draw - 1) <= 0.15 &&
		          fabs(core - 1) <= 0.20 && fabs(ohms - 1) <= 0.10);
		cr_assert(one->windings[1].ratio == net->windings[1].ratio);
		least = fmin(least, core);
		most = fmax(most, core);
	}
	cr_assert(least < 0.82 && most > 1.18, "and they are used");
	free(one);
	free(net);
}

Test(bench_unit, voltmeter)
{
	struct network *net = unit_oscillator();
	struct bench *b = start(net, 0, 117);

	bench_advance(b, 60);
	cr_assert(fabs(bench_rail_volts(b, "MAIN") - 297) < 6);
	cr_assert(isnan(bench_rail_volts(b, "none")));
	cr_assert(fabs(bench_heater_volts(b, "V1") - 6.3) < 0.4);
	cr_assert(isnan(bench_heater_volts(b, "V9")));
	bench_free(b);
	free(net);
}

/* ---- faults ---- */

typedef struct network *maker(void);

/* Watts and main rail of a unit with a fault, settled at `share` of line. */
struct faulty {
	double watts, rail_volts;
};

static struct faulty with_fault(maker *make, const char *words, double share)
{
	struct network *net = make();
	struct bench *b = start(net, 0, share * net->line_volts);
	struct err err = { 0 };
	struct faulty f;

	if (words)
		cr_assert(bench_fault(b, words, &err) == 0, "%s", err.text);
	f.watts = reading_after(b, 60).watts;
	f.rail_volts = bench_rail_volts(b, net->rails[0].name);
	bench_free(b);
	free(net);
	return f;
}

Test(bench_unit, each_fault_changes_what_it_should)
{
	static const struct {
		const char *words;
		maker *make;
		double share;
		double least, most;           /* watts over those of the healthy unit */
		double rail_least, rail_most; /* rail volts over healthy */
	} rows[] = {
		/* V^2/R and the turn's watts are known; the rest by kind and direction */
		{ "primary short 200 ohm", unit_oscillator, 1, 3.2, 3.7, 0.99, 1.01 },
		{ "turn 15 W", unit_oscillator, 1, 1.4, 1.65, 0.95, 1 },
		{ "heater heater short 1 ohm", unit_oscillator, 1, 1.8, 4, 0.6, 0.95 },
		{ "open V1", unit_oscillator, 1, 0.8, 0.97, 1, 1.2 },
		{ "rail main short", unit_oscillator, 1, 2, 6, 0, 0.05 },
		/* a dead short behind a tube stays hidden until its heater is warm */
		{ "rail main short", unit_oscillator, 0.3, 0.99, 1.02, 0, 0.1 },
		{ "rail main leak 20k", unit_oscillator, 1, 1.05, 1.4, 0.9, 1 },
		{ "rail main dead", unit_oscillator, 1, 0.4, 0.75, 0, 0.01 },
		{ "rail screen dead", unit_oscillator, 1, 0.4, 0.85, 1.02, 1.6 },
		{ "rail screen load 2", unit_oscillator, 1, 1.02, 1.5, 0.8, 1 },
		{ "plate V3 short", unit_oscillator, 1, 2, 12, 0, 0.9 },
		/* behind selenium it shows at the first volts */
		{ "rail raw short", unit_pass_supply, 0.15, 1.8, 30, 0, 0.2 },
		{ "plate raw short", unit_pass_supply, 0.15, 1.8, 60, 0, 0.9 },
		/* a broken string: all heaters dark */
		{ "open V2", unit_string_radio, 1, 0, 0.01, 0, 0.01 },
	};

	for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
		struct faulty healthy = with_fault(rows[k].make, NULL, rows[k].share);
		struct faulty f = with_fault(rows[k].make, rows[k].words, rows[k].share);
		double watts = f.watts / healthy.watts;
		double rail = (f.rail_volts + 1e-3) / (healthy.rail_volts + 1e-3);

		cr_assert(watts >= rows[k].least && watts <= rows[k].most,
		          "%s at %g of line: %g times the watts", rows[k].words, rows[k].share,
		          watts);
		cr_assert(rail >= rows[k].rail_least && rail <= rows[k].rail_most,
		          "%s at %g of line: %g times the rail", rows[k].words, rows[k].share,
		          rail);
	}
}

Test(bench_unit, faults_come_and_go_while_it_runs)
{
	struct network *net = unit_oscillator();
	struct bench *b = start(net, 5, 117);
	struct err err = { 0 };
	double healthy = reading_after(b, 60).watts, rail = bench_rail_volts(b, "main");
	double warm = bench_heater_volts(b, "V1");

	cr_assert(bench_fault(b, "rail nowhere short", &err) == -1 && err.code == ERR_INPUT);
	cr_assert(fabs(reading_after(b, 0.5).watts - healthy) < 0.02 * healthy, "nothing changed");
	cr_assert(bench_fault(b, "turn 10 W", &err) == 0);
	cr_assert(bench_fault(b, "rail steady load 3", &err) == 0);
	/* at once, not after a new warm-up: the charges stayed */
	double faulty = reading_after(b, 0.6).watts;
	cr_assert(faulty > healthy + 8 && faulty < healthy + 13, "%g W, healthy %g W", faulty,
	          healthy);
	cr_assert(bench_rail_volts(b, "main") > 0.9 * rail);
	bench_mend(b);
	cr_assert(fabs(reading_after(b, 20).watts - healthy) < 0.01 * healthy);
	cr_assert(fabs(bench_heater_volts(b, "V1") - warm) < 0.02 * warm);
	struct bench_energy e = bench_energy(b);
	cr_assert(fabs(e.in - e.spent - e.stored) < 0.003 * e.in);
	bench_free(b);
	free(net);
}

Test(bench_unit, broken_string_stands_on_the_break)
{
	/* the whole line across the open heater's pins: how it is found with a voltmeter */
	struct network *net = unit_string_radio();
	struct bench *b = start(net, 0, 117);
	struct err err;

	bench_advance(b, 30);
	cr_assert(fabs(bench_heater_volts(b, "V4") - 48) < 4);
	cr_assert(bench_fault(b, "open V4", &err) == 0);
	bench_advance(b, 2);
	cr_assert(bench_heater_volts(b, "V4") > 115 && bench_heater_volts(b, "V1") < 1);
	bench_free(b);
	free(net);
}

Test(bench_unit, a_network_that_cannot_be_is_refused)
{
	struct network *net = unit_oscillator();
	struct err err = { 0 };

	net->heaters[0].amps = 0;
	cr_assert_null(bench_new(net, NULL, &err));
	cr_assert(err.code == ERR_RANGE && err.text[0]);
	net->heaters[0].amps = NAN;
	cr_assert_null(bench_new(net, NULL, &err));
	net->heaters[0].amps = 0.3;
	net->line_hz = 0;
	cr_assert_null(bench_new(net, NULL, &err));
	bench_free(NULL);
	free(net);
}
