/* leak_laws.c - see leak_laws.h */
#include "leak_laws.h"

#include <math.h>
#include <string.h>

static const double pi = 3.14159265358979;
enum { TERMS_MOST = 64 };

/* --- chance (xorshift64*, Vigna 2016, from memory) ----------------------------------------- */

double leak_even(struct leak_chance *c)
{
	uint64_t x = c->state;

	x ^= x >> 12;
	x ^= x << 25;
	x ^= x >> 27;
	c->state = x;
	return ((double)((x * 0x2545f4914f6cdd1du) >> 11) + 0.5) / 9007199254740992.0;
}

double leak_between(struct leak_chance *c, double low, double high)
{
	return low + (high - low) * leak_even(c);
}

double leak_log_between(struct leak_chance *c, double low, double high)
{
	return low * pow(high / low, leak_even(c));
}

double leak_bell(struct leak_chance *c)
{
	const double r = sqrt(-2 * log(leak_even(c)));

	return r * cos(2 * pi * leak_even(c));
}

/* --- a run -------------------------------------------------------------------------------- */

static double time_of(const struct leak *leak, int i)
{
	return exp(i * leak->step);
}

static double at_grid(const struct leak *leak, const double *values, double t)
{
	const double x = log(fmax(t, 1)) / leak->step;
	const int i = x < LEAK_POINTS - 2 ? (int)x : LEAK_POINTS - 2;

	return exp(values[i] + (fmin(x, LEAK_POINTS - 1) - i) * (values[i + 1] - values[i]));
}

double leak_amps(const struct leak *leak, double t)
{
	double kelvin = 0;

	for (int k = 0; k < 3; k++)
		kelvin += leak->room_kelvin[k] * sin(leak->room_phase[k] + 2 * pi * t /
		                                     leak->room_period_s[k]);
	/* two to three times from 20 to 60 C, second hand */
	return at_grid(leak, leak->log_amps, t) * exp(0.023 * kelvin);
}

double leak_volts(const struct leak *leak, double t)
{
	return 400 * at_grid(leak, leak->log_volts, t);
}

double leak_reaches(const struct leak *leak, double t, double end, double amps)
{
	for (; t < end; t *= 1.001)
		if (leak_amps(leak, t) <= amps)
			return t;
	return INFINITY;
}

/* What is common to all: how long, how much, how warm. */
static void begin(struct leak *leak, struct leak_chance *c, double room_kelvin)
{
	static const double periods[3] = { 4000, 20000, 86400 };

	memset(leak, 0, sizeof *leak);
	leak->run_s = leak_log_between(c, 1200, 259200);
	leak->step = log(40 * leak->run_s) / (LEAK_POINTS - 1);
	for (int k = 0; k < 3; k++) {
		leak->room_kelvin[k] = room_kelvin * leak_even(c) * (k == 2 ? 1 : 0.3);
		leak->room_period_s[k] = periods[k] * leak_between(c, 0.8, 1.25);
		leak->room_phase[k] = 2 * pi * leak_even(c);
	}
}

static void scale(struct leak *leak, struct leak_chance *c)
{
	const double factor = log(leak_log_between(c, 1e-3, 6e-3)) - leak->log_amps[0];

	for (int i = 0; i < LEAK_POINTS; i++)
		leak->log_amps[i] += factor;
}

void leak_draw(const struct leak_set *set, int law, struct leak_chance *c, struct leak *ret)
{
	begin(ret, c, 2);
	set->law[law].draw(ret, c);
}

/* --- training ----------------------------------------------------------------------------- */

static double gamma_like(struct leak_chance *c)
{
	/* a few terms carry most */
	return exp(1.2 * leak_bell(c));
}

static void few_exponentials(struct leak *leak, struct leak_chance *c)
{
	const int n = 2 + (int)(5 * leak_even(c));
	double tau[6], weight[6], rest = leak_even(c) < 0.5 ? leak_log_between(c, 0.003, 0.2) : 0;

	for (int k = 0; k < n; k++) {
		tau[k] = leak_log_between(c, leak->run_s / 200, leak->run_s * 3);
		weight[k] = gamma_like(c);
	}
	for (int i = 0; i < LEAK_POINTS; i++) {
		double sum = rest + 1e-7;

		for (int k = 0; k < n; k++)
			sum += weight[k] * exp(-time_of(leak, i) / tau[k]);
		leak->log_amps[i] = log(sum);
	}
	scale(leak, c);
}

/* Curie and von Schweidler, with an exponent that is not constant. */
static void drifting_power(struct leak *leak, struct leak_chance *c)
{
	const double start = leak_log_between(c, 5, leak->run_s / 10);
	const double whole = log1p(leak->run_s / start);
	const double first = leak_between(c, 0.4, 1.2), drift = leak_between(c, -0.5, 0.5);
	double log_i = 0, before = 0;

	for (int i = 0; i < LEAK_POINTS; i++) {
		const double u = log1p(time_of(leak, i) / start);

		log_i -= fmax(first + drift * u / whole, 0.05) * (u - before);
		before = u;
		leak->log_amps[i] = log_i;
	}
	scale(leak, c);
}

static void weibull(struct leak *leak, struct leak_chance *c)
{
	const double tau = leak_log_between(c, leak->run_s / 100, leak->run_s);
	const double shape = leak_between(c, 0.3, 1.3), rest = leak_log_between(c, 0.002, 0.3);

	for (int i = 0; i < LEAK_POINTS; i++)
		leak->log_amps[i] = log(rest + exp(-pow(time_of(leak, i) / tau, shape)));
	scale(leak, c);
}

/* Three slopes, each in its turn, as the published run has. */
static void three_slopes(struct leak *leak, struct leak_chance *c)
{
	const double slope[3] = { leak_between(c, 0.1, 0.8), leak_between(c, 0.6, 1.8),
		                  leak_between(c, 0.1, 1.0) };
	const double bend = log(leak_log_between(c, leak->run_s / 60, leak->run_s / 3));
	const double other = bend + leak_between(c, 0.8, 3), width = leak_between(c, 0.2, 0.6);
	double log_i = 0;

	for (int i = 0; i < LEAK_POINTS; i++) {
		const double u = i * leak->step;
		const double a = 1 / (1 + exp(-(u - bend) / width));
		const double b = 1 / (1 + exp(-(u - other) / width));

		log_i -= leak->step * (slope[0] * (1 - a) + slope[1] * a * (1 - b) + slope[2] * b);
		leak->log_amps[i] = log_i;
	}
	scale(leak, c);
}

/* The published run (retronics.no, February 2023, part 5: 4.5 mA, 1 mA, 120 uA, 50 uA after 20 s,
 * 15 min, 1 h, 3 h) joined by two exponentials and what is left, slower or quicker. */
static void published_joined(struct leak *leak, struct leak_chance *c)
{
	const double pace = leak->run_s / 10800 * leak_log_between(c, 0.7, 1.4);

	for (int i = 0; i < LEAK_POINTS; i++) {
		const double t = time_of(leak, i) / pace;

		leak->log_amps[i] = log(4.6e-3 * exp(-t / 580) + 0.13e-3 * exp(-t / 4500) + 38e-6);
	}
	scale(leak, c);
}

static void swinging_room(struct leak *leak, struct leak_chance *c)
{
	const double tau = leak_log_between(c, leak->run_s / 20, leak->run_s);
	const double rest = leak_log_between(c, 0.01, 0.3), n = leak_between(c, 0.5, 3);

	for (int k = 0; k < 3; k++)
		leak->room_kelvin[k] *= 2;
	for (int i = 0; i < LEAK_POINTS; i++)
		leak->log_amps[i] = log(rest + pow(1 + time_of(leak, i) / tau / n, -n));
	scale(leak, c);
}

/* Straight lines between the logarithms of some points, corners rounded, the last slope kept. */
static void join(struct leak *leak, const double *u, const double *y, int n, double pace,
                 double width)
{
	double log_i = 0;

	for (int i = 0; i < LEAK_POINTS; i++) {
		const double at = i * leak->step - log(pace);
		double slope = (y[1] - y[0]) / (u[1] - u[0]);

		for (int k = 1; k < n - 1; k++)
			slope += ((y[k + 1] - y[k]) / (u[k + 1] - u[k]) -
			          (y[k] - y[k - 1]) / (u[k] - u[k - 1])) /
				(1 + exp(-(at - u[k]) / width));
		log_i += leak->step * fmin(slope, 0);
		leak->log_amps[i] = log_i;
	}
}

/* --- training, second half ---------------------------------------------------------------- */

/* Oxide that grows with the charge that passes, and lets pass what the field across it drives:
 * i = A exp(B/x), dx/dt = k i (high-field growth: Guentherschulze and Betz, from memory), over a
 * shunt that does not heal. */
static void growing_oxide(struct leak *leak, struct leak_chance *c)
{
	const double steep = leak_between(c, 8, 40), shunt = leak_log_between(c, 1e-4, 0.1);
	double x = 1, before = 0, pace;

	/* grown by a third to twice within the run */
	pace = leak_between(c, 0.05, 0.4) / leak->run_s * exp(leak_between(c, 2, 5));
	for (int i = 0; i < LEAK_POINTS; i++) {
		const double t = time_of(leak, i), dt = (t - before) / 20;

		for (int k = 0; k < 20; k++) {
			/* the midpoint, so that a stiff start does not run away */
			const double half = x + 0.5 * dt * pace * exp(steep * (1 / x - 1));

			x += dt * pace * exp(steep * (1 / fmin(half, x + 0.05) - 1));
		}
		before = t;
		leak->log_amps[i] = log(exp(steep * (1 / x - 1)) + shunt);
	}
	scale(leak, c);
}

/* Weak spots, some large, most small, each healed in its own time. */
static void weak_spots(struct leak *leak, struct leak_chance *c)
{
	const int n = 8 + (int)(56 * leak_even(c));
	const double middle = leak_log_between(c, leak->run_s / 50, leak->run_s / 2);
	const double spread = leak_between(c, 0.8, 2), rest = leak_log_between(c, 1e-3, 0.1);
	double size[TERMS_MOST], healed[TERMS_MOST], quick[TERMS_MOST], all = 0;

	for (int k = 0; k < n; k++) {
		size[k] = exp(leak_bell(c));
		healed[k] = middle * exp(spread * leak_bell(c));
		quick[k] = leak_between(c, 1.5, 4);
		all += size[k];
	}
	for (int i = 0; i < LEAK_POINTS; i++) {
		double sum = rest * all;

		for (int k = 0; k < n; k++)
			sum += size[k] / (1 + pow(time_of(leak, i) / healed[k], quick[k]));
		leak->log_amps[i] = log(sum);
	}
	scale(leak, c);
}

/* A log-normal spread of rates, as amorphous layers relax. */
static void spread_of_rates(struct leak *leak, struct leak_chance *c)
{
	const double middle = leak_log_between(c, leak->run_s / 100, leak->run_s / 2);
	const double spread = leak_between(c, 0.7, 3), rest = leak_log_between(c, 1e-3, 0.15);

	for (int i = 0; i < LEAK_POINTS; i++) {
		double sum = 0, weights = 0;

		for (int k = 0; k < TERMS_MOST; k++) {
			const double z = -3.5 + 7.0 * k / (TERMS_MOST - 1);
			const double weight = exp(-0.5 * z * z);

			sum += weight * exp(-time_of(leak, i) / (middle * exp(spread * z)));
			weights += weight;
		}
		leak->log_amps[i] = log(sum / weights + rest);
	}
	scale(leak, c);
}

/* Behind its resistor: what it leaks hangs on the volts that the leakage leaves. */
static void behind_a_resistor(struct leak *leak, struct leak_chance *c)
{
	const double start = leak_log_between(c, leak->run_s / 200, leak->run_s / 10);
	const double n = leak_between(c, 0.6, 1.5), steep = leak_between(c, 2, 6);
	const double rest = leak_log_between(c, 1e-4, 0.03), amps = leak_log_between(c, 2e-3, 2e-2);

	leak->series_ohms = leak_log_between(c, 20e3, 120e3);
	for (int i = 0; i < LEAK_POINTS; i++) {
		const double base = amps * (rest + pow(1 + time_of(leak, i) / start, -n));
		double low = 0, high = 1;

		for (int k = 0; k < 50; k++) { /* v = 1 - R i(v)/400 */
			const double v = 0.5 * (low + high);

			if (v + leak->series_ohms * base * pow(v, steep) / 400 > 1)
				high = v;
			else
				low = v;
		}
		leak->log_volts[i] = log(low);
		leak->log_amps[i] = log(base) + steep * log(low);
	}
}

static void two_powers(struct leak *leak, struct leak_chance *c)
{
	const double a = leak_log_between(c, 5, leak->run_s / 10);
	const double b = leak_log_between(c, 5, leak->run_s / 3);
	const double n = leak_between(c, 0.8, 2), m = leak_between(c, 0.1, 0.6);
	const double share = leak_log_between(c, 0.02, 0.5);

	for (int i = 0; i < LEAK_POINTS; i++)
		leak->log_amps[i] = log(pow(1 + time_of(leak, i) / a, -n) +
		                        share * pow(1 + time_of(leak, i) / b, -m));
	scale(leak, c);
}

/* The same published run, its four readings joined by straight lines between logarithms with their
 * corners rounded, its last slope (0.80) kept; slower or quicker, and each reading moved a little:
 * they were read off a picture. */
static void published_straight(struct leak *leak, struct leak_chance *c)
{
	double u[4] = { log(20), log(900), log(3600), log(10800) };
	double y[4] = { log(4.5e-3), log(1e-3), log(120e-6), log(50e-6) };

	for (int k = 0; k < 4; k++)
		y[k] += 0.07 * leak_bell(c);
	join(leak, u, y, 4, leak->run_s / 10800 * leak_log_between(c, 0.7, 1.4), 0.15);
	scale(leak, c);
}

const struct leak_set leak_training = {
	"training", 12, {
		{ "few exponentials", few_exponentials, false },
		{ "power law, exponent drifts", drifting_power, false },
		{ "Weibull, plateau", weibull, false },
		{ "three slopes", three_slopes, false },
		{ "swinging room", swinging_room, false },
		{ "published run, joined", published_joined, true },
		{ "oxide that grows", growing_oxide, false },
		{ "weak spots that heal", weak_spots, false },
		{ "log-normal spread of rates", spread_of_rates, false },
		{ "behind a resistor", behind_a_resistor, false },
		{ "two power laws", two_powers, false },
		{ "published run, straight", published_straight, true },
	},
};

/* --- held out ----------------------------------------------------------------------------- */

static void two_stretched(struct leak *leak, struct leak_chance *c)
{
	const double tau = leak_log_between(c, leak->run_s / 100, leak->run_s / 3);
	const double slower = tau * leak_log_between(c, 3, 30), share = leak_between(c, 0.05, 0.6);
	const double shape = leak_between(c, 0.4, 1), other = leak_between(c, 0.4, 1);
	const double rest = leak_log_between(c, 5e-4, 0.1);

	for (int i = 0; i < LEAK_POINTS; i++)
		leak->log_amps[i] = log((1 - share) * exp(-pow(time_of(leak, i) / tau, shape)) +
		                        share * exp(-pow(time_of(leak, i) / slower, other)) + rest);
	scale(leak, c);
}

/* An exponent that wanders about its mean: nobody's law, and nothing to be foreseen. */
static void wandering_exponent(struct leak *leak, struct leak_chance *c)
{
	const double start = log(leak_log_between(c, 5, leak->run_s / 20));
	const double mean = leak_between(c, 0.4, 1.2), spread = leak_between(c, 0.1, 0.35);
	double off = spread * leak_bell(c), log_i = 0;

	for (int i = 0; i < LEAK_POINTS; i++) {
		const double keeps = exp(-leak->step / 1.5);

		off = keeps * off + spread * sqrt(1 - keeps * keeps) * leak_bell(c);
		log_i -= leak->step * fmax(mean + off, 0.02) / (1 + exp(3 * (start - i * leak->step)));
		leak->log_amps[i] = log_i;
	}
	scale(leak, c);
}

/* Second order, over a shunt that heals at a pace of its own. */
static void healing_shunt(struct leak *leak, struct leak_chance *c)
{
	const double tau = leak_log_between(c, 10, leak->run_s / 10);
	const double shunt = leak_log_between(c, 0.01, 0.3);
	const double heals = leak_log_between(c, leak->run_s / 20, leak->run_s * 5);
	const double rest = leak_log_between(c, 1e-4, 0.02);

	for (int i = 0; i < LEAK_POINTS; i++) {
		const double t = time_of(leak, i);

		leak->log_amps[i] = log(1 / (1 + t / tau) + shunt * exp(-t / heals) + rest);
	}
	scale(leak, c);
}

static void inverse_log_square(struct leak *leak, struct leak_chance *c)
{
	const double tau = leak_log_between(c, 5, leak->run_s / 15), a = leak_between(c, 0.2, 2);
	const double rest = leak_even(c) < 0.3 ? leak_log_between(c, 0.01, 0.1) : 0;

	for (int i = 0; i < LEAK_POINTS; i++)
		leak->log_amps[i] = log(pow(1 + a * log1p(time_of(leak, i) / tau), -2) + rest);
	scale(leak, c);
}

/* Common practice, no source: 3.5 mA at first, 1 mA after 20 to 30 minutes, 50 to 80 uA
 * overnight. */
static void common_practice(struct leak *leak, struct leak_chance *c)
{
	const double u[3] = { log(leak_between(c, 60, 200)), log(60 * leak_between(c, 20, 30)),
		              log(3600 * leak_between(c, 8, 12)) };
	const double y[3] = { log(3.5e-3), log(1e-3), log(1e-6 * leak_between(c, 50, 80)) };

	leak->run_s = 36000;
	leak->step = log(40 * leak->run_s) / (LEAK_POINTS - 1);
	join(leak, u, y, 3, 1, leak_between(c, 0.2, 0.8));
	scale(leak, c);
}

/* The published run once more, its corners wide, the slope after its end anything from creeping on
 * to as steep as before: what comes after three hours was not published. */
static void published_rounded(struct leak *leak, struct leak_chance *c)
{
	const double later = leak_between(c, 0.1, 1.2);
	double u[5] = { log(20), log(900), log(3600), log(10800), log(108000) };
	double y[5] = { log(4.5e-3), log(1e-3), log(120e-6), log(50e-6), 0 };

	for (int k = 0; k < 4; k++)
		y[k] += 0.07 * leak_bell(c);
	y[4] = y[3] - later * (u[4] - u[3]);
	join(leak, u, y, 5, leak->run_s / 10800 * leak_log_between(c, 0.7, 1.4),
	     leak_between(c, 0.25, 0.5));
	scale(leak, c);
}

const struct leak_set leak_held_out = {
	"held-out", 6, {
		{ "two stretched falls", two_stretched, false },
		{ "exponent wanders", wandering_exponent, false },
		{ "shunt that heals", healing_shunt, false },
		{ "inverse square of log", inverse_log_square, false },
		{ "common practice", common_practice, false },
		{ "published run, rounded", published_rounded, true },
	},
};

/* --- readings ----------------------------------------------------------------------------- */

size_t leak_first_third(const struct leak *leak, struct leak_chance *c, double *ret_applied,
                        struct reform_reading ret[LEAK_READINGS_MOST])
{
	const double scatter = leak_log_between(c, 0.01, 0.05);
	const size_t steps = leak->series_ohms > 0 ? 0 : (size_t)(3 * leak_even(c));
	const bool by_clock = leak_even(c) < 0.5;
	const size_t per_step = 3 + (size_t)(3 * leak_even(c));
	const size_t last = by_clock ? 12 + (size_t)(36 * leak_even(c)) :
		6 + (size_t)(14 * leak_even(c));
	double from = 0;
	size_t n = 0;

	for (size_t s = 0; s <= steps; s++) {
		const double length = s == steps ? leak->run_s / 3 : leak->run_s / 30;
		const size_t count = s == steps ? last : per_step;
		const double share = (double)(s + 1) / (double)(steps + 1);

		for (size_t i = 0; i < count; i++) {
			const double passed = (double)(i + 1) / (double)count;
			const double t = by_clock ? length * passed : 10 * pow(length / 10, passed);
			/* a lower step leaks less */
			const double amps = leak_amps(leak, t) * share * (1 + scatter * leak_bell(c));

			ret[n++] = (struct reform_reading){ from + t, leak_volts(leak, t) * share,
				                            1e-6 * round(fmax(amps, 0) / 1e-6) };
		}
		*ret_applied = from;
		from += length;
	}
	return n;
}
