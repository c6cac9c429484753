/*
 * The model in time: against published warm-up times, against the virtual bench, and against itself
 * read in other rhythms.  (Against circuit simulation: tests/watch/warm_heater.py.)
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <time.h>

#include "bench/bench.h"
#include "bench/random.h"
#include "lib/text_unit.h"
#include "mainstair/core/emission.h"
#include "mainstair/core/heater.h"
#include "mainstair/core/judge.h"
#include "mainstair/core/session.h"
#include "mainstair/core/warming.h"

TestSuite(warming, .timeout = 100);

static const double usual = 0.06; /* share of conduction that network_build() assumes */

/* What the model calls quick, as rated, and slow: heat capacity over its usual value. */
static const double quick = 0.65, rated = 1.0, slow = 1.6;

/* --- one node, against published figures ---------------------------------------------------- */

static double amps(const struct heater_law *law, double u, double share)
{
	return share / heater_resistance(law, u);
}

/* Seconds from cold at `share` of rated volts until the amps are within `within` of final. */
static double amps_settle_s(enum heater_kind kind, double capacity, double share, double within)
{
	const struct heater_law law = heater_law(kind, usual);
	const double final = amps(&law, heater_settled_volts(&law, share, 1), share);
	double u = law.ambient, s = 0;

	while (amps(&law, u, share) > (1 + within) * final && s < 1000) {
		u = warming_node(kind, usual, capacity, u, share, 0.01);
		s += 0.01;
	}
	return s;
}

/* Seconds from cold until the cathode gives `part` of what it gives in the end at `share`. */
static double emission_s(enum heater_kind kind, double capacity, double share, double part)
{
	const struct heater_law law = heater_law(kind, usual);
	const double final = emission_share(heater_settled_volts(&law, share, 1));
	double u = law.ambient, s = 0;

	while (emission_share(u) < part * final && s < 1000) {
		u = warming_node(kind, usual, capacity, u, share, 0.01);
		s += 0.01;
	}
	return s;
}

/* Amps of the first instant over rated: heaters 5 to 10 (Gano and Sandy, IRE Trans. Electronic
 * Computers, March 1958, p. 61), tubes of all kinds 2.7 to 7.2 (audioXpress 9/2004), mains lamps
 * 15 (encyclopaedia article "Incandescent light bulb"), pilot lamps somewhat cooler. */
Test(warming, inrush)
{
	static const double limits[][2] = {
		[HEATER_INDIRECT] = { 5, 7.2 }, [HEATER_FILAMENT] = { 2.7, 7.2 },
		[HEATER_LAMP] = { 9, 15 },
	};

	for (int kind = 0; kind < 3; kind++) {
		const struct heater_law law = heater_law((enum heater_kind)kind, usual);
		const double u = warming_node((enum heater_kind)kind, usual, 1, law.ambient, 1, 1e-5);

		cr_assert(amps(&law, u, 1) > limits[kind][0] && amps(&law, u, 1) < limits[kind][1]);
	}
}

/* Heaters on constant volts: 6.7 s to 90, 13.3 s to 99 per cent (Harper, "Kindness to Filaments").
 * Between the quick and the slow, and within a fifth of the usual. */
Test(warming, heaters_warm_up_as_published)
{
	static const double published[][2] = { { 0.10, 6.7 }, { 0.01, 13.3 } };

	for (int i = 0; i < 2; i++) {
		const double within = published[i][0], s = published[i][1];

		cr_assert(amps_settle_s(HEATER_INDIRECT, quick, 1, within) < s);
		cr_assert(amps_settle_s(HEATER_INDIRECT, slow, 1, within) > s);
		cr_assert(fabs(amps_settle_s(HEATER_INDIRECT, rated, 1, within) / s - 1) < 0.2);
	}
}

/* A 5U4G's filament: current begins after 2 s and is whole after 7 (Emission Labs, data sheet
 * EML 5U4G). */
Test(warming, a_filament_warms_up_as_published)
{
	cr_assert(emission_s(HEATER_FILAMENT, quick, 1, 0.01) < 2);
	cr_assert(emission_s(HEATER_FILAMENT, slow, 1, 0.05) > 2);
	cr_assert(emission_s(HEATER_FILAMENT, quick, 1, 0.99) < 7);
	cr_assert(emission_s(HEATER_FILAMENT, slow, 1, 0.99) > 7);
	cr_assert(fabs(emission_s(HEATER_FILAMENT, rated, 1, 0.99) / 7 - 1) < 0.2);
}

/* Controlled warm-up: the volts of a heater fed with four times its rated volts through three times
 * its hot ohms reach 80 per cent of rated after 11 s (RETMA, from memory).  The series-string
 * types that this was made for are of the quick kind. */
Test(warming, controlled_warm_up)
{
	static const double capacities[] = { 0.65, 1.6 };
	double s[2];

	for (int i = 0; i < 2; i++) {
		const struct heater_law law = heater_law(HEATER_INDIRECT, usual);
		double u = law.ambient, r = heater_resistance(&law, u);

		for (s[i] = 0; 4 * r / (3 + r) < 0.8; s[i] += 0.01) {
			u = warming_node(HEATER_INDIRECT, usual, capacities[i], u, 4 * r / (3 + r), 0.01);
			r = heater_resistance(&law, u);
		}
	}
	cr_assert(s[0] < 11 && s[1] > 11, "%.1f..%.1f s", s[0], s[1]);
}

/* From cold to half the final emission: about 45 s at 30 per cent of line, 20 s at 45, 11 to 16 s
 * from 75 (circuit simulations of many sets; the project's design notes). */
Test(warming, half_emission)
{
	static const double told[][2] = { { 0.30, 45 }, { 0.45, 20 }, { 0.75, 16 }, { 0.75, 11 } };

	for (int i = 0; i < 4; i++) {
		cr_assert(emission_s(HEATER_INDIRECT, quick, told[i][0], 0.5) < told[i][1]);
		cr_assert(emission_s(HEATER_INDIRECT, slow, told[i][0], 0.5) > told[i][1]);
	}
}

/* A mains lamp settles in about 0.1 s (encyclopaedia article "Incandescent light bulb"). */
Test(warming, a_lamp_settles_at_once)
{
	const double s = amps_settle_s(HEATER_LAMP, rated, 1, 0.05);

	cr_assert(s > 0.04 && s < 0.15, "%.2f s", s);
}

/* Any step is safe, and many small ones come to where a large one does. */
Test(warming, steps_of_any_size)
{
	for (int kind = 0; kind < 3; kind++)
		for (double share = 0; share < 1.3; share += 0.2) {
			const struct heater_law law = heater_law((enum heater_kind)kind, usual);
			const double final = heater_settled_volts(&law, share, 1);
			const double far = warming_node((enum heater_kind)kind, usual, 1, law.ambient,
			                                share, 1e6);
			double u = 1.0;

			cr_assert(fabs(far - final) < 1e-3, "%g %g", far, final);
			for (int i = 0; i < 20000; i++)
				u = warming_node((enum heater_kind)kind, usual, 1, u, share, 0.1);
			cr_assert(fabs(u - final) < 2e-3, "%g: %g %g", share, u, final);
		}
}

/* --- whole units ------------------------------------------------------------------------------ */

/* A way of the volts: so much at so many seconds. */
struct hold {
	double share, seconds;
};
static const struct hold up_and_down[] = {
	{ 0.2, 90 }, { 0.5, 70 }, { 0.9, 40 }, { 0.4, 60 }, { 0, 50 }, { 0.7, 60 }, { 1, 60 },
};
enum { HOLDS = sizeof up_and_down / sizeof up_and_down[0] };

/* Follow the way with readings from_s to to_s apart (evenly in between), one right at each step. */
static void follow(struct warming *w, const struct network *net, struct random *chance, double from_s,
                   double to_s, int holds)
{
	double now_s = 0;

	warming_init(w, net);
	for (int k = 0; k < holds; k++) {
		const double volts = up_and_down[k].share * net->line_volts;
		const double until_s = now_s + up_and_down[k].seconds;

		while (now_s < until_s) {
			warming_reading(w, net, now_s, volts);
			now_s = fmin(until_s, now_s + from_s +
			             (to_s - from_s) * 0.5 * (1 + random_even(chance)));
		}
		warming_reading(w, net, until_s - 1e-6, volts);
	}
}

static double farthest(const struct load_thermal *a, const struct load_thermal *b,
                       const struct network *net)
{
	double far = 0;

	for (int h = 0; h < net->n_heaters; h++)
		far = fmax(far, fabs(a->u[h] - b->u[h]));
	return far;
}

/* Read in any rhythm, the histories come to the same; and what is read seldom never claims to know
 * more. */
Test(warming, irregular_readings_as_regular_ones)
{
	static const char *const files[] = { "bench-oscillator.ini", "table-radio.ini" };

	for (int f = 0; f < 2; f++) {
		struct text_unit *unit = shipped_unit(files[f]);

		for (int holds = 1; holds <= HOLDS; holds++) {
			struct random chance = { 7 };
			struct warming often, seldom;

			follow(&often, &unit->net, &chance, 0.25, 0.25, holds);
			follow(&seldom, &unit->net, &chance, 0.3, 11, holds);
			cr_assert(farthest(&often.early, &seldom.early, &unit->net) < 0.01);
			cr_assert(farthest(&often.late, &seldom.late, &unit->net) < 0.02);
			for (int h = 0; h < unit->net.n_heaters; h++) {
				cr_assert(seldom.early.u[h] > often.early.u[h] - 0.005);
				cr_assert(seldom.late.u[h] < often.late.u[h] + 0.005);
			}
		}
		free(unit);
	}
}

/* The warmest is never colder than the coldest, and both lie where a heater can. */
Test(warming, early_is_warmer_than_late)
{
	struct text_unit *unit = shipped_unit("oscilloscope.ini");
	struct random chance = { 3 };

	for (int round = 0; round < 3; round++) {
		struct warming w;
		double now_s = 0;

		warming_init(&w, &unit->net);
		for (int i = 0; i < 400; i++) {
			const double jump = random_even(&chance);

			now_s += 10 * (1 + random_even(&chance)) * (1 + random_even(&chance));
			warming_reading(&w, &unit->net, now_s, jump > 0.8 ? 0 :
			                jump > 0 ? 117 * 0.55 * (1 + random_even(&chance)) : w.line_volts);
			for (int h = 0; h < unit->net.n_heaters; h++) {
				cr_assert(w.early.u[h] >= w.late.u[h] - 1e-9);
				cr_assert(w.late.u[h] > 0.1 && w.early.u[h] < 1.2);
			}
		}
	}
	free(unit);
}

static void warm_at(struct warming *w, const struct network *net, double share, double *now_s,
                    double seconds)
{
	for (const double until_s = *now_s + seconds; *now_s < until_s; *now_s += 1)
		warming_reading(w, net, *now_s, share * net->line_volts);
}

/* Hours between two readings: the unit may have been off.  It costs no hours either. */
Test(warming, pauses_of_hours)
{
	static const double comes_back_at[] = { 1.0, 0.6, 0.2, 0 };
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct network *net = &unit->net;
	const clock_t start = clock();

	for (int i = 0; i < 4; i++) {
		struct warming w;
		double now_s = 0;

		warming_init(&w, net);
		warm_at(&w, net, 1, &now_s, 200);
		cr_assert(warming_settled(&w, net));
		now_s += 3 * 3600;
		warming_reading(&w, net, now_s, comes_back_at[i] * net->line_volts);
		cr_assert_not(warming_settled(&w, net));
		for (int h = 0; h < net->n_heaters; h++) {
			const struct heater_law law = heater_law(net->heaters[h].kind, usual);

			cr_assert(w.late.u[h] < 1.01 * law.ambient, "as cold as the room");
			cr_assert(w.early.u[h] > 0.99, "or it was on all the time");
		}
	}
	cr_assert((double)(clock() - start) / CLOCKS_PER_SEC < 5);
	free(unit);
}

/* A soak that is noted down every ten minutes stays settled; a break of ten minutes at other volts
 * does not. */
Test(warming, a_soak_read_seldom_is_no_pause)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct warming w;
	double now_s = 0;

	warming_init(&w, &unit->net);
	warm_at(&w, &unit->net, 1, &now_s, 200);
	for (int i = 0; i < 6; i++) {
		now_s += 600;
		warming_reading(&w, &unit->net, now_s, 117 + 0.4 * (i % 3));
		cr_assert(warming_settled(&w, &unit->net));
	}
	now_s += 600;
	warming_reading(&w, &unit->net, now_s, 105);
	cr_assert_not(warming_settled(&w, &unit->net));
	free(unit);
}

/* Watts of a step down lie below what they settle at, those of a step up above; the edges
 * follow. */
Test(warming, the_edges_follow_up_and_down)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct network *net = &unit->net;
	const struct abort_rule rule = abort_rule_of(&unit->profile, net);
	struct warming w;
	struct band settled, band;
	double now_s = 0;

	warming_init(&w, net);
	warm_at(&w, net, 0.5, &now_s, 200);
	envelope_at(net, &rule, &meter_accuracy_default, 0.5 * net->line_volts, NULL, &settled, NULL);
	band = settled;
	warming_band(&w, net, &rule, &meter_accuracy_default, &band);
	cr_assert(band.low == settled.low && band.high == settled.high, "settled is left alone");

	warm_at(&w, net, 1, &now_s, 1); /* up */
	envelope_at(net, &rule, &meter_accuracy_default, net->line_volts, NULL, &settled, NULL);
	band = settled;
	warming_band(&w, net, &rule, &meter_accuracy_default, &band);
	cr_assert(band.high > 1.2 * settled.high, "half-warm heaters draw more");
	cr_assert(band.abort_watts >= band.high + rule.floor_watts);
	cr_assert_eq(judge_reading(&band, 0, 1.15 * settled.high, NAN, false), VERDICT_IN_BAND);

	warm_at(&w, net, 1, &now_s, 200);
	warm_at(&w, net, 0.3, &now_s, 1); /* down */
	envelope_at(net, &rule, &meter_accuracy_default, 0.3 * net->line_volts, NULL, &settled, NULL);
	band = settled;
	warming_band(&w, net, &rule, &meter_accuracy_default, &band);
	cr_assert(band.low < 0.8 * settled.low, "hot heaters draw less");
	free(unit);
}

/* Settled says that every heater's watts are within 2 per cent of their end, whatever its heat
 * capacity between the quick and the slow; and it is not said much later than that. */
Test(warming, settled_is_computed)
{
	struct text_unit *unit = shipped_unit("table-radio.ini");
	const struct network *net = &unit->net;

	for (double share = 0.2; share < 1.05; share += 0.1) {
		const struct heater_law law = heater_law(HEATER_INDIRECT, usual);
		struct warming w;
		double now_s = 0, slowest = law.ambient;

		warming_init(&w, net);
		warming_reading(&w, net, 0, 0);
		/* one string: all its heaters are equally hot, at the same share */
		while (!warming_settled(&w, net) || now_s == 0) {
			now_s += 0.5;
			warming_reading(&w, net, now_s, share * net->line_volts);
			cr_assert(now_s < 600);
		}
		const double string_share = share * net->line_volts /
			(12.6 * 3 + 50 + 35);
		const double end = amps(&law, heater_settled_volts(&law, string_share, 1),
		                        string_share);

		for (double s = 0; s < now_s; s += 0.1)
			slowest = warming_node(HEATER_INDIRECT, usual, slow, slowest, string_share, 0.1);
		cr_assert(amps(&law, slowest, string_share) < 1.03 * end, "at %g", share);
		cr_assert(now_s < 1.3 * amps_settle_s(HEATER_INDIRECT, slow, string_share, 0.02) + 5,
		          "at %g: %g s", share, now_s);
	}
	free(unit);
}

/* Seconds left are what it then takes. */
Test(warming, seconds_left_are_kept)
{
	for (int k = 0; shipped_profile(k); k++) {
		struct text_unit *unit = shipped_unit(shipped_profile(k));
		struct warming w;
		double now_s = 0;

		warming_init(&w, &unit->net);
		for (int i = 0; i < HOLDS; i++) {
			const double volts = up_and_down[i].share * unit->net.line_volts;

			now_s += 1;
			warming_reading(&w, &unit->net, now_s, volts);
			const double left_s = warming_seconds_left(&w, &unit->net, 3000);
			double took_s = 0;

			while (!warming_settled(&w, &unit->net) && took_s < 3000) {
				took_s += 0.5;
				warming_reading(&w, &unit->net, now_s + took_s, volts);
			}
			/* the late history lags by the age of a reading, 2 s */
			cr_assert(fabs(took_s - left_s) < 3.5, "%s to %g V: told %g, took %g",
			          shipped_profile(k), volts, left_s, took_s);
			cr_assert(warming_seconds_left(&w, &unit->net, 3000) <= 0);
			now_s += took_s;
		}
		cr_assert(warming_seconds_left(&w, &unit->net, 5) <= 5);
		free(unit);
	}
}

/* Reservoirs behind silicon take charge when the volts rise: a meter's mean of that moment is high,
 * and no settled one. */
Test(warming, charging_reservoirs)
{
	struct text_unit *unit = shipped_unit("solid-state.ini");
	const struct network *net = &unit->net;
	const struct abort_rule rule = abort_rule_of(&unit->profile, net);
	const struct bench_options o = { .seed = 5, .meter_noise_share = -1 };
	struct err err;
	struct bench *b = bench_new(net, &o, &err);
	struct warming w;
	struct bench_reading r;
	struct band settled, band;

	cr_assert_not_null(b);
	warming_init(&w, net);
	bench_advance(b, 0.25);
	warming_reading(&w, net, 0.25, 0);
	bench_set_variac(b, net->line_volts, 0);
	bench_advance(b, 0.25);
	cr_assert(bench_read(b, &r));
	warming_reading(&w, net, 0.5, r.volts);
	cr_assert_not(warming_settled(&w, net));
	envelope_at(net, &rule, &meter_accuracy_default, r.volts, NULL, &settled, NULL);
	band = settled;
	warming_band(&w, net, &rule, &meter_accuracy_default, &band);
	cr_assert(r.watts > settled.high, "%g W", r.watts);
	cr_assert(r.watts < band.high, "%g W, up to %g", r.watts, band.high);
	for (double s = 0.75; s < 8; s += 0.25)
		warming_reading(&w, net, s, r.volts);
	cr_assert(warming_settled(&w, net));
	bench_free(b);
	free(unit);
}

/* --- against the virtual bench ------------------------------------------------------------------ */

/* Every reading of a run inside the band of its moment. */
static void runs_inside(const struct text_unit *unit, const char *file, uint64_t seed, double on_before_s)
{
	const struct network *net = &unit->net;
	const struct abort_rule rule = abort_rule_of(&unit->profile, net);
	const struct bench_options o = { .seed = seed, .start_volts = 0.8 * net->line_volts };
	struct err err;
	struct bench *b = bench_new(net, &o, &err);
	struct warming w;

	cr_assert_not_null(b);
	bench_advance(b, on_before_s);
	warming_init(&w, net);
	for (int k = 0; k < HOLDS; k++) {
		bench_set_variac(b, up_and_down[k].share * net->line_volts, k % 2 ? 0 : 25);
		for (double s = 0; s < 0.5 * up_and_down[k].seconds; s += 1) {
			struct bench_reading r;
			struct band band;

			bench_advance(b, 1);
			cr_assert(bench_read(b, &r));
			warming_reading(&w, net, bench_seconds(b), r.volts);
			envelope_at(net, &rule, &meter_accuracy_default, r.volts, NULL, &band, NULL);
			warming_band(&w, net, &rule, &meter_accuracy_default, &band);
			cr_assert(r.watts >= band.low && r.watts <= band.high,
			          "%s seed %d at %.1f s: %.1f V %.2f W, band %.2f..%.2f", file, (int)seed,
			          bench_seconds(b), r.volts, r.watts, band.low, band.high);
		}
	}
	bench_free(b);
}

/* Units as built, every second of a power-up, up, down, off and up again; begun cold, and begun on
 * a unit that was on before anybody looked. */
Test(warming, healthy_units_stay_inside_at_every_second)
{
	static const char *const files[] = { "bench-oscillator.ini", "doubler-amplifier.ini",
		"table-radio.ini", "choke-input-receiver.ini", "solid-state.ini" };

	for (uint64_t seed = 1; seed <= 5; seed++) {
		struct text_unit *unit = shipped_unit(files[seed - 1]);

		runs_inside(unit, files[seed - 1], seed, 0);
		runs_inside(unit, files[seed - 1], 10 + seed, 100);
		free(unit);
	}
}

static enum verdict verdict_now(struct warming *w, const struct text_unit *unit, struct bench *b,
                                struct bench_reading *ret)
{
	const struct network *net = &unit->net;
	const struct abort_rule rule = abort_rule_of(&unit->profile, net);
	struct band band;

	cr_assert(bench_read(b, ret));
	warming_reading(w, net, bench_seconds(b), ret->volts);
	envelope_at(net, &rule, &meter_accuracy_default, ret->volts, NULL, &band, NULL);
	warming_band(w, net, &rule, &meter_accuracy_default, &band);
	return warming_excuse(w, net, judge_reading(&band, net->fuse_amps, ret->watts, ret->amps,
	                                            warming_settled(w, net) && !w->doubt));
}

/* Off for four minutes without a reading, and read two seconds after it is on again: what a cold
 * unit draws, with reservoirs that may be charging, is to be read again.  With a dead short across
 * its heaters as well it is an abort all the same, and stays one.
 * What stays too much is over once the unit would have settled, even if it is read once a
 * minute. */
Test(warming, a_silence_excuses_a_surge_and_nothing_else)
{
	struct text_unit *unit = shipped_unit("doubler-amplifier.ini");
	const double volts = 0.45 * unit->net.line_volts;

	for (int fault = 0; fault < 3; fault++) {
		const struct bench_options o = { .seed = 11 };
		struct err err;
		struct bench *b = bench_new(&unit->net, &o, &err);
		struct bench_reading r;
		struct warming w;
		enum verdict v;

		cr_assert_not_null(b);
		warming_init(&w, &unit->net);
		bench_set_variac(b, volts, 0);
		for (int i = 0; i < 200; i++) {
			bench_advance(b, 1);
			v = verdict_now(&w, unit, b, &r);
			cr_assert_eq(v, VERDICT_IN_BAND);
		}
		const double settled_watts = r.watts;

		bench_set_variac(b, 0, 0);
		bench_advance(b, 240);
		if (fault > 0)
			cr_assert_eq(bench_fault(b, fault == 1 ? "heater heater short 0.05 ohm" :
			                         "primary short 1k", &err), 0);
		bench_set_variac(b, volts, 0);
		bench_advance(b, 2);
		v = verdict_now(&w, unit, b, &r);
		cr_assert(r.watts > 1.3 * settled_watts, "%g W", r.watts);
		cr_assert_eq(v, fault == 1 ? VERDICT_ABORT : VERDICT_SETTLING, "%s: %g W, %g A",
		             verdict_word(v), r.watts, r.amps);
		bench_advance(b, 3);
		v = verdict_now(&w, unit, b, &r);
		cr_assert_eq(v, fault == 1 ? VERDICT_ABORT : VERDICT_SETTLING, "%s: %g W, %g A",
		             verdict_word(v), r.watts, r.amps);
		for (int minute = 0; minute < 4 && fault != 1; minute++) {
			bench_advance(b, 60);
			v = verdict_now(&w, unit, b, &r);
		}
		if (fault != 1)
			cr_assert_eq(v, fault == 0 ? VERDICT_IN_BAND : VERDICT_OVER, "%d", (int)v);
		bench_free(b);
	}
	free(unit);
}

/* Full line straight from cold: what the heaters do until they have settled is no drift. */
Test(warming, a_soak_begins_once_heaters_have_settled)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	const struct bench_options o = { .seed = 3 };
	struct plan *plan = malloc(sizeof *plan);
	struct session *s = malloc(sizeof *s);
	struct err err;
	struct bench *b = bench_new(&unit->net, &o, &err);
	struct soak soak;
	double settled_s = 0;

	cr_assert(plan && s && b);
	plan_make(plan, &unit->net, &unit->profile, &rule, &meter_accuracy_default, 0);
	session_init(s, &unit->net, plan, &rule, &meter_accuracy_default, 0);
	bench_set_variac(b, plan->stages[plan->n_stages - 1].volts, 0);
	while (bench_seconds(b) < 250) {
		struct bench_reading r;
		struct event ev = { .kind = EVENT_READING, .power_factor = NAN };

		bench_advance(b, 1);
		cr_assert(bench_read(b, &r));
		ev.seconds = bench_seconds(b);
		ev.volts = r.volts;
		ev.watts = r.watts;
		ev.amps = r.amps;
		(void)session_apply(s, &ev, NULL, 0);
		if (!s->settled)
			settled_s = bench_seconds(b);
	}
	session_soak(s, &soak);
	cr_assert(settled_s > 10 && settled_s < 100, "%g s", settled_s);
	cr_assert(soak.known && soak.window_s < 250.5 - settled_s, "%g s", soak.window_s);
	cr_assert(fabs(soak.slope_w_per_h) < 2 * soak.slope_error && fabs(soak.drift_watts) < 0.05,
	          "%g +- %g W/h", soak.slope_w_per_h, soak.slope_error);
	bench_free(b);
	free(s);
	free(plan);
	free(unit);
}
