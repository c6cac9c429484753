#include "restorer.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bench/bench.h"
#include "bench/random.h"
#include "lib/unit_file.h"

struct watched *watched_load(const char *path)
{
	struct watched *w = calloc(1, sizeof *w);
	struct unit_file *unit = w ? unit_file_load(path) : NULL;

	if (!unit) {
		if (!w)
			fprintf(stderr, "out of memory\n");
		free(w);
		return NULL;
	}
	w->name = unit->name;
	w->profile = unit->profile;
	w->net = unit->net;
	free(unit);
	w->meter = meter_accuracy_default;
	w->rule = abort_rule_of(&w->profile, &w->net);
	plan_make(&w->plan, &w->net, &w->profile, &w->rule, &w->meter, 0.0);
	return w;
}

/* One run: the bench, and chance. */
struct run {
	const struct watched *w;
	struct random chance;
	uint64_t seed;
	double window_s;
	struct network unit; /* what stands on the bench; bench_scatter() adds to it */
	double heat_capacity;
	struct bench *bench;
	double bench_from_s; /* run time at which this bench began */
	double shortest_s, longest_s; /* between looks at the meter */
	double looks_per_silence;     /* on an average; see silence() */
	unsigned long last_count;     /* of the meter, as last looked at */
	struct glances *seen;
};

/* Evenly between from and to. */
static double between(struct random *r, double from, double to)
{
	return from + (to - from) * 0.5 * (1.0 + random_even(r));
}

/* Evenly in the logarithm. */
static double about(struct random *r, double from, double to)
{
	return from * pow(to / from, between(r, 0.0, 1.0));
}

static bool one_in(struct random *r, double n)
{
	return between(r, 0.0, n) < 1.0;
}

static double now_s(const struct run *run)
{
	return run->bench_from_s + bench_seconds(run->bench);
}

static int remember(struct glances *seen, struct glance g)
{
	if (seen->n == seen->room) {
		const size_t room = seen->room ? 2 * seen->room : 1024;
		struct glance *list = realloc(seen->list, room * sizeof *list);

		if (!list)
			return -1;
		seen->list = list;
		seen->room = room;
	}
	seen->list[seen->n++] = g;
	return 0;
}

static int look_at_meter(struct run *run)
{
	struct bench_reading r;

	if (!bench_read(run->bench, &r) || r.count == run->last_count)
		return 0;
	run->last_count = r.count;
	return remember(run->seen, (struct glance){ now_s(run), r.volts, r.watts, r.amps });
}

/* In a jump as often as with a slow hand. */
static void turn_to(struct run *run, double volts)
{
	bench_set_variac(run->bench, volts, one_in(&run->chance, 2) ? 0.0 :
	                 about(&run->chance, 2.0, 40.0));
}

/* Old cathodes, each with half to twice the usual emission, and heaters that reach 90 per cent in
 * 4.5 to 8.4 s (8 to 15 s of heat capacity, see bench/thermal.h, where 12 s are usual). */
static void wear(struct run *run)
{
	struct random r = { run->seed };
	struct network *net = &run->unit;

	*net = run->w->net;
	run->heat_capacity = between(&r, 8.0, 15.0) / 12.0;
	for (int k = 0; k < net->n_rails; k++) {
		net->rails[k].saturation_amps *= about(&r, 0.5, 2.0);
		for (int d = 0; d < net->rails[k].n_draws; d++)
			net->rails[k].draws[d].emission *= about(&r, 0.5, 2.0);
	}
}

/* A unit that is cold and discharged, as after hours off. */
static int put_on_bench(struct run *run, double at_s)
{
	const struct bench_options o = { .seed = run->seed, .meter_window_s = run->window_s,
		                         .heat_capacity = run->heat_capacity };
	struct err err;

	bench_free(run->bench);
	run->bench_from_s = at_s;
	run->last_count = 0;
	run->bench = bench_new(&run->unit, &o, &err);
	return run->bench ? 0 : -1;
}

/* The dial is good to 2 per cent. */
static double dialled(struct run *run, double volts)
{
	return volts * (1.0 + 0.02 * random_even(&run->chance));
}

/* Nobody looks at the meter, and much can happen: nothing; other volts for a while, from nought to
 * full line; off and on again; hours off, and the cold unit plugged in at the volts it had.  The
 * dial is back at about the same when somebody looks again. */
static int silence(struct run *run, double volts)
{
	struct random *r = &run->chance;

	bench_advance(run->bench, about(r, 3.0, 120.0));
	if (one_in(r, 3))
		return 0;
	if (one_in(r, 4)) {
		if (put_on_bench(run, now_s(run) + about(r, 1800.0, 20000.0)) < 0)
			return -1;
	} else {
		turn_to(run, one_in(r, 2) ? 0.0 : run->w->net.line_volts * between(r, 0.0, 1.05));
		bench_advance(run->bench, about(r, 2.0, 200.0));
	}
	turn_to(run, dialled(run, volts));
	bench_advance(run->bench, about(r, 0.1, 60.0));
	return 0;
}

/* Stay, and look at the meter now and then. */
static int stay(struct run *run, double volts, double seconds)
{
	const double until_s = now_s(run) + seconds;

	while (now_s(run) < until_s) {
		const double next_s = about(&run->chance, run->shortest_s, run->longest_s);

		bench_advance(run->bench, fmin(next_s, until_s - now_s(run) + 0.01));
		if (volts > 0.0 && one_in(&run->chance, run->looks_per_silence) &&
		    silence(run, volts) < 0)
			return -1;
		if (look_at_meter(run) < 0)
			return -1;
	}
	return 0;
}

/* Most look when they have arrived. */
static int arrive(struct run *run, double volts)
{
	turn_to(run, volts);
	bench_advance(run->bench, about(&run->chance, 0.25, 10.0));
	return one_in(&run->chance, 4) ? 0 : look_at_meter(run);
}

/* Minutes: the unit cools on the bench.  Hours: it comes back cold. */
static int take_a_break(struct run *run)
{
	struct random *r = &run->chance;

	turn_to(run, 0.0);
	if (stay(run, 0.0, between(r, 1.0, 4.0)) < 0)
		return -1;
	if (one_in(r, 2)) {
		bench_advance(run->bench, about(r, 10.0, 300.0));
		return 0;
	}
	return put_on_bench(run, now_s(run) + about(r, 3600.0, 20000.0));
}

static int walk_up(struct run *run)
{
	struct random *r = &run->chance;
	const struct plan *plan = &run->w->plan;
	const int top = plan->n_stages - 1;
	double volts = 0.0;

	for (int k = 0, at = -1; at != top;) {
		const struct stage *st = &plan->stages[k];

		volts = dialled(run, st->volts);
		if (arrive(run, volts) < 0 ||
		    stay(run, volts, about(r, 15.0, 2.0 * st->hold_s)) < 0)
			return -1;
		at = k;
		if (one_in(r, 12) && take_a_break(run) < 0)
			return -1;
		if (one_in(r, 8))
			k = k > 1 ? k - 2 : 0; /* back down */
		else
			k += one_in(r, 8) ? 2 : 1; /* a stage passed over */
		k = k > top ? top : k; /* the last one is never left out */
	}
	return stay(run, volts, about(r, 60.0, 400.0));
}

int restorer_works(const struct watched *w, uint64_t seed, struct glances *ret)
{
	struct run run = { .w = w, .chance = { .state = seed ^ 0x726573746f726572 }, .seed = seed,
		           .seen = ret };
	struct random *r = &run.chance;

	/* each profile has restorers of its own */
	for (const char *at = w->name; *at; at++)
		run.chance.state = (run.chance.state ^ (uint64_t)(unsigned char)*at) *
			1099511628211u;
	(void)random_bits(r);
	ret->n = 0;
	run.window_s = one_in(r, 3) ? about(r, 0.25, 2.0) : 0.25;
	run.shortest_s = about(r, 0.3, 5.0);
	run.longest_s = about(r, run.shortest_s * 1.5, 60.0);
	/* some keep watch, some are called away all the time */
	run.looks_per_silence = one_in(r, 3) ? INFINITY : about(r, 5.0, 200.0);
	wear(&run);
	int status = put_on_bench(&run, 0.0);

	if (status == 0 && one_in(r, 6)) { /* somebody had it on before */
		bench_set_variac(run.bench, w->net.line_volts * between(r, 0.1, 0.9), 0.0);
		bench_advance(run.bench, about(r, 5.0, 200.0));
	}
	if (status == 0)
		status = walk_up(&run);
	if (status < 0)
		fprintf(stderr, "%s: no bench, or no memory\n", w->name);
	bench_free(run.bench);
	return status;
}

int glances_write(const char *path, const struct glances *seen)
{
	FILE *f = fopen(path, "w");

	for (size_t i = 0; f && i < seen->n; i++)
		fprintf(f, "%a %a %a %a\n", seen->list[i].seconds, seen->list[i].volts,
		        seen->list[i].watts, seen->list[i].amps);
	if (!f || fprintf(f, "end\n") < 0 || fclose(f) != 0) {
		fprintf(stderr, "%s: cannot be written\n", path);
		return -1;
	}
	return 0;
}

int glances_read(const char *path, struct glances *ret)
{
	FILE *f = fopen(path, "r");
	char line[160] = "";
	int status = 0;

	ret->n = 0;
	while (f && status == 0 && fgets(line, sizeof line, f)) {
		struct glance g;

		if (sscanf(line, "%la %la %la %la", &g.seconds, &g.volts, &g.watts, &g.amps) == 4)
			status = remember(ret, g);
	}
	if (f)
		fclose(f);
	return f && status == 0 && strcmp(line, "end\n") == 0 ? 0 : -1;
}

/* --- the session ------------------------------------------------------------------------- */

static void apply(struct session *s, struct event *ev)
{
	struct event follow[SESSION_FOLLOW_MAX];
	const size_t n = session_apply(s, ev, follow, SESSION_FOLLOW_MAX);

	for (size_t i = 0; i < n; i++)
		(void)session_apply(s, &follow[i], NULL, 0);
}

static struct event event_at(double seconds, enum event_kind kind)
{
	return (struct event){ .seconds = seconds, .kind = kind, .stage = -1, .volts = NAN,
		               .watts = NAN, .amps = NAN, .power_factor = NAN };
}

static void count(struct tally *t, const struct session *s, const struct event *ev)
{
	const struct band *band = &s->band;

	t->readings++;
	t->settled += s->settled;
	t->settling += ev->verdict == VERDICT_SETTLING;
	t->over += ev->verdict == VERDICT_OVER;
	t->under += ev->verdict == VERDICT_UNDER;
	t->aborts += ev->verdict == VERDICT_ABORT;
	t->unknown += ev->verdict == VERDICT_UNKNOWN;
	/* a low edge at nought says nothing */
	if (s->settled && ev->volts > 0.0 && (ev->watts > band->expected || band->low > 0.0))
		t->least_room = fmin(t->least_room, ev->watts > band->expected ?
			(band->high - ev->watts) / (band->high - band->expected) :
			(ev->watts - band->low) / (band->expected - band->low));
	if (t->first.seconds < 0.0 && (ev->verdict == VERDICT_OVER ||
	                               ev->verdict == VERDICT_UNDER || ev->verdict == VERDICT_ABORT))
		t->first = (struct alarm){ ev->seconds, ev->volts, ev->watts, band->low,
			                   band->expected, band->high, band->abort_watts,
			                   s->settled, ev->verdict };
}

int session_watches(struct watched *w, const struct glances *seen, struct tally *ret)
{
	struct session *s = malloc(sizeof *s);

	if (!s)
		return -1;
	*ret = (struct tally){ .first.seconds = -1.0, .least_room = 1.0 };
	session_init(s, &w->net, &w->plan, &w->rule, &w->meter, 0.0);
	s->bands = &w->bands;
	struct event start = event_at(0.0, EVENT_START), cautions = event_at(0.0, EVENT_CAUTIONS);

	apply(s, &start);
	apply(s, &cautions);
	for (size_t i = 0; i < seen->n; i++) {
		const struct glance *g = &seen->list[i];
		struct event ev = event_at(g->seconds, EVENT_READING);

		ev.volts = g->volts;
		ev.watts = g->watts;
		ev.amps = g->amps;
		apply(s, &ev);
		count(ret, s, &ev);
		if (ev.verdict == VERDICT_ABORT) {
			struct event read = event_at(g->seconds, EVENT_ABORT_ACKNOWLEDGED);

			apply(s, &read);
		}
	}
	free(s);
	return 0;
}
