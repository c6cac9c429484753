/*
 * How soon a dead short is an abort: units on the virtual bench are walked up their stages, and at
 * every stage each rail, winding and the primary is shorted in turn: once settled; once in the very
 * second of the step up, when heaters explain more watts than usual; and once in a minute off that
 * nobody entered, after which it could be the surge of the cold unit.
 *
 *   dead_shorts [--seconds S] [--seed N] PROFILE...
 *
 * Two twins without the short run beside it, one as usual and one that is slow: heaters with 1.6
 * times the usual heat capacity (core/judge/warming.c says from what).  The short draws from the first
 * reading at which the unit takes more than either twin now, and than the slow one took in the last
 * two seconds (a meter may average over them), by the settled band's whole width, in proportion to
 * the watts of the moment, and the abort line's excess: more than any healthy unit of the kind
 * could.  Wanted: abort within 2 s of that, at any time.  A short that does not draw (behind a
 * rectifier that is cold) is told as such and asked for nothing.  It ends early, and says so, when
 * S seconds of processor time have been used.  Results as TAP.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "bench/bench.h"
#include "restorer.h"

static const double wanted_s = 2.0;
static const double look_s = 0.25;   /* between readings */
static const double settle_s = 25.0; /* at each stage before it is shorted */
static const double watch_s = 12.0;  /* how long a short is watched */
static const double mend_s = 6.0;    /* … and how long the rails have to come back */
static const double off_s = 60.0;    /* without a look */

enum moment { SETTLED, STEPPING_UP, AFTER_SILENCE, MOMENTS };
static const char *const moment_words[MOMENTS] = {
	"", ", stepping up", ", off for a minute before"
};

static const double slowest = 1.6;

enum { FAULTS_MAX = 40, FAULT_WORDS_MAX = 64, LAG = 8 /* looks in longest_mean_s */ };

struct count {
	int shorts[MOMENTS], drawing[MOMENTS], late, never;
	double slowest_s[MOMENTS];
};

/* One walk with one fault: three benches and what watches the one with the short. */
struct walk {
	struct watched *w;
	struct bench *sick, *whole, *slow;
	struct warming warming;
	unsigned long seen;     /* readings of the sick one */
	double slow_watts[LAG]; /* of the slow twin, at the last looks since the volts were set */
	int looks;              /* since then */
	const char *fault;
	enum moment moment;
	struct count *count;
};

static double processor_s(void)
{
	struct timespec t;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Dead: a tenth of what lies in its way already. */
static int list_faults(const struct network *net, char (*words)[FAULT_WORDS_MAX])
{
	int n = 0;

	(void)snprintf(words[n++], FAULT_WORDS_MAX, "primary short %.3g ohm",
	               fmax(0.1 * net->primary_ohms, 1.0));
	for (int k = 0; k < net->n_windings && n < FAULTS_MAX; k++)
		(void)snprintf(words[n++], FAULT_WORDS_MAX, "heater %s short %.3g ohm",
		               net->windings[k].name, fmax(0.1 * net->windings[k].ohms, 0.003));
	for (int k = 0; k < net->n_rails && n < FAULTS_MAX; k++)
		(void)snprintf(words[n++], FAULT_WORDS_MAX, "rail %s short 1 ohm", net->rails[k].name);
	return n;
}

/* The most that a healthy unit would show now, by the readings of both twins. */
static double healthy_watts(struct walk *k, double whole, double slow)
{
	double most = whole;

	k->slow_watts[k->looks++ % LAG] = slow;
	for (int i = 0; i < LAG && i < k->looks; i++)
		most = fmax(most, k->slow_watts[i]);
	return most;
}

/* Let time pass and judge what the meter shows; *ret_drawn: by how much the short draws more than
 * it must to be seen, W. */
static enum verdict look(struct walk *k, double *ret_drawn)
{
	struct watched *w = k->w;
	struct bench_reading sick, whole, slow;
	struct band band;

	*ret_drawn = -1.0;
	bench_advance(k->sick, look_s);
	bench_advance(k->whole, look_s);
	bench_advance(k->slow, look_s);
	if (!bench_read(k->sick, &sick) || !bench_read(k->whole, &whole) ||
	    !bench_read(k->slow, &slow) || sick.count == k->seen)
		return VERDICT_UNKNOWN;
	k->seen = sick.count;
	warming_reading(&k->warming, &w->net, bench_seconds(k->sick), sick.volts);
	band_cache_at(&w->bands, &w->net, &w->rule, &w->meter, sick.volts, NULL, &band);
	const double healthy = healthy_watts(k, whole.watts, slow.watts);

	*ret_drawn = sick.watts - healthy - (band.abort_watts - band.high) -
		(band.high - band.low) * fmax(1.0, healthy / band.expected);
	warming_band(&k->warming, &w->net, &w->rule, &w->meter, &band);
	return judge_reading(&band, w->net.fuse_amps, sick.watts, sick.amps,
	                     warming_settled(&k->warming, &w->net) && !k->warming.doubt);
}

static void pass(struct walk *k, double seconds)
{
	double drawn;

	for (double s = 0; s < seconds; s += look_s)
		(void)look(k, &drawn);
}

static int watch_short(struct walk *k, double volts, struct err *err)
{
	double drawing_s = NAN, abort_s = NAN;

	if (bench_fault(k->sick, k->fault, err) < 0)
		return -1;
	for (double s = look_s; isnan(abort_s) && (s < watch_s || s <= drawing_s + wanted_s);
	     s += look_s) {
		double drawn;
		const enum verdict v = look(k, &drawn);

		if (isnan(drawing_s) && drawn > 0.0)
			drawing_s = s;
		if (v == VERDICT_ABORT)
			abort_s = s;
	}
	bench_mend(k->sick);
	k->count->shorts[k->moment]++;
	if (isnan(drawing_s) && isnan(abort_s))
		return 0;
	k->count->drawing[k->moment]++;
	const double late_s = isnan(abort_s) ? INFINITY : isnan(drawing_s) ? 0.0 : abort_s - drawing_s;

	if (late_s <= wanted_s) {
		k->count->slowest_s[k->moment] = fmax(k->count->slowest_s[k->moment], late_s);
		return 0;
	}
	k->count->late += isfinite(late_s);
	k->count->never += !isfinite(late_s);
	printf("# %s, %s at %.0f V%s: draws after %.2f s, abort %s%.2f s\n", k->w->name, k->fault,
	       volts, moment_words[k->moment], drawing_s,
	       isfinite(late_s) ? "after " : "not within ", isfinite(late_s) ? abort_s : watch_s);
	return 0;
}

static void set_volts(struct walk *k, double volts)
{
	bench_set_variac(k->sick, volts, 0.0);
	bench_set_variac(k->whole, volts, 0.0);
	bench_set_variac(k->slow, volts, 0.0);
	k->looks = 0;
}

static int walk_up(struct walk *k, struct err *err)
{
	const struct plan *plan = &k->w->plan;

	for (int i = 0; i < plan->n_stages; i++) {
		const double volts = plan->stages[i].volts;

		set_volts(k, volts);
		if (k->moment != STEPPING_UP)
			pass(k, settle_s);
		if (k->moment == AFTER_SILENCE) {
			set_volts(k, 0.0);
			bench_advance(k->sick, off_s);
			bench_advance(k->whole, off_s);
			bench_advance(k->slow, off_s);
			set_volts(k, volts);
		}
		if (watch_short(k, volts, err) < 0)
			return -1;
		pass(k, k->moment == STEPPING_UP ? settle_s : mend_s);
	}
	return 0;
}

static int short_one(struct watched *w, const char *fault, enum moment moment, uint64_t seed,
                     struct count *count)
{
	const struct bench_options o = { .seed = seed };
	const struct bench_options slow = { .seed = seed, .heat_capacity = slowest };
	struct walk k = { .w = w, .fault = fault, .moment = moment, .count = count };
	struct err err = { 0 };
	int status = -1;

	warming_init(&k.warming, &w->net);
	k.sick = bench_new(&w->net, &o, &err);
	k.whole = bench_new(&w->net, &o, &err);
	k.slow = bench_new(&w->net, &slow, &err);
	if (k.sick && k.whole && k.slow)
		status = walk_up(&k, &err);
	if (status < 0)
		fprintf(stderr, "%s, %s: %s\n", w->name, fault, err.text);
	bench_free(k.sick);
	bench_free(k.whole);
	bench_free(k.slow);
	return status;
}

static int short_all(const char *path, double until_s, uint64_t seed, struct count *count)
{
	static char faults[FAULTS_MAX][FAULT_WORDS_MAX];
	struct watched *w = watched_load(path);

	if (!w)
		return -1;
	const int n = list_faults(&w->net, faults);
	int status = 0, done = 0;

	/* the few that time allows are not always the first ones */
	for (int i = 0; i < MOMENTS * n && status == 0 && processor_s() < until_s; i++, done++) {
		const int k = (int)((i + (int)seed) % (MOMENTS * n));

		status = short_one(w, faults[k / MOMENTS], (enum moment)(k % MOMENTS), seed, count);
	}
	printf("# %-26s %d of %d walks\n", w->name, done, MOMENTS * n);
	fflush(stdout);
	free(w);
	return status;
}

int main(int argc, char **argv)
{
	double seconds = INFINITY;
	uint64_t seed = 1;
	struct count count = { 0 };
	int first = 1;

	for (; first + 1 < argc && strncmp(argv[first], "--", 2) == 0; first += 2)
		if (strcmp(argv[first], "--seconds") == 0)
			seconds = strtod(argv[first + 1], NULL);
		else if (strcmp(argv[first], "--seed") == 0)
			seed = strtoull(argv[first + 1], NULL, 10);
		else
			break;
	if (first >= argc || strncmp(argv[first], "--", 2) == 0) {
		fprintf(stderr, "usage: dead_shorts [--seconds S] [--seed N] PROFILE...\n");
		return 2;
	}
	for (int k = first; k < argc; k++) {
		const double until_s = processor_s() + (seconds - processor_s()) / (argc - k);

		if (short_all(argv[k], until_s, seed, &count) < 0)
			return 1;
	}
	static const char *const when[MOMENTS] = {
		"settled", "in the second of a step up", "after a minute off that nobody entered"
	};
	int drawing = 0;

	for (int m = 0; m < MOMENTS; m++) {
		printf("# %s: %d shorts, %d of them drew; slowest abort %.2f s after that\n", when[m],
		       count.shorts[m], count.drawing[m], count.slowest_s[m]);
		drawing += count.drawing[m];
	}
	const bool fine = drawing > 0 && count.late + count.never == 0;

	printf("%sok 1 - %d dead shorts that drew, %d late, %d never an abort\n", fine ? "" : "not ",
	       drawing, count.late, count.never);
	printf("1..1\n");
	return fine ? 0 : 1;
}
