/*
 * When will it be formed?  From the first third of a run the fit tells an interval that is to hold
 * the truth 9 times in 10.  Here the truth is known: runs of many laws (leak_laws.h).
 *
 *   reform_coverage [--set training|held-out] [--runs N] [--seed S] [--markdown]
 *
 * N runs of each law (30).  The target is drawn between 0.2 and 0.95 of the last leakage; what is
 * not reached within REFORM_HORIZON times the time so far is `never`.  An interval may be
 *   closed      both ends are times: the truth is inside, sooner or later;
 *   open        the upper end is `never`: told apart, since its inside says half as much;
 *   all never   both ends are: right only if the target is not reached.
 * `never: told, true` adds up the chance of never that was told, against how often it was so.
 * `strict` counts an open interval only if the target is truly not reached.
 *
 * How the fit was chosen: the form it had was run over the first half of the training set,
 * 86 per cent inside, 2.5 times as many nevers told as were true; the creep of what remains and the
 * weights of the parameters were then picked among some fifteen variants by both halves of the
 * training set (seeds 1 to 9, 31).  The held-out set was run once, at the end, seed 2027.
 *
 * Results as TAP.  It fails below 90 per cent by more than chance explains (2.5 standard
 * deviations), over all runs and over the closed intervals alone.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "leak_laws.h"

struct score {
	int runs, inside;
	int closed, closed_inside, closed_early, closed_late;
	int open, open_inside, open_truly_never;
	int never, never_right;
	double log_width; /* of the closed, summed */
	double chance;    /* of never that was told, summed over all */
	int truly;        /* never, of all */
};

static void count(struct score *s, const struct reform_reach *told, double ends)
{
	const struct reform_range *r = &told->seconds;
	const bool inside = r->low <= ends && ends <= r->high;

	s->runs++;
	s->inside += inside;
	s->chance += told->share_never;
	s->truly += isinf(ends) ? 1 : 0;
	if (isinf(r->low)) {
		s->never++;
		s->never_right += inside;
	} else if (isinf(r->high)) {
		s->open++;
		s->open_inside += inside;
		s->open_truly_never += isinf(ends) ? 1 : 0;
	} else {
		s->closed++;
		s->closed_inside += inside;
		s->closed_early += ends < r->low;
		s->closed_late += ends > r->high;
		s->log_width += log(r->high / fmax(r->low, 1));
	}
}

static void add(struct score *to, const struct score *s)
{
	to->runs += s->runs;
	to->inside += s->inside;
	to->closed += s->closed;
	to->closed_inside += s->closed_inside;
	to->closed_early += s->closed_early;
	to->closed_late += s->closed_late;
	to->open += s->open;
	to->open_inside += s->open_inside;
	to->open_truly_never += s->open_truly_never;
	to->never += s->never;
	to->never_right += s->never_right;
	to->log_width += s->log_width;
	to->chance += s->chance;
	to->truly += s->truly;
}

static void tell(const char *name, const struct score *s, bool markdown)
{
	const char *bar = markdown ? " | " : "  ";
	const int strict = s->closed_inside + s->open_truly_never + s->never_right;

	printf("%s%-27s%s%4d%s%5.1f %%%s%4d of %4d (%3d sooner, %3d later) x%-5.1f%s%4d of %4d (%4d "
	       "never)%s%3d of %3d%s%4.0f %4d%s%3.0f %%%s\n", markdown ? "| " : "# ", name, bar,
	       s->runs, bar, 100.0 * s->inside / s->runs, bar, s->closed_inside, s->closed, s->closed_early,
	       s->closed_late, s->closed > 0 ? exp(s->log_width / s->closed) : NAN, bar,
	       s->open_inside, s->open, s->open_truly_never, bar, s->never_right, s->never, bar,
	       s->chance, s->truly, bar, 100.0 * strict / s->runs, markdown ? " |" : "");
}

static void one_run(const struct leak_set *set, int law, struct leak_chance *c,
                    struct reform_work *work, struct score *s, int *alarms)
{
	static struct leak leak;
	struct reform_reading readings[LEAK_READINGS_MOST];
	struct reform_aim aim = { .part = { 20e-6, 450 }, .form_volts = 450, .floor_amps = 0.5e-6 };
	struct reform_judgement j;
	double applied, now, ends;
	size_t n;

	leak_draw(set, law, c, &leak);
	n = leak_first_third(&leak, c, &applied, readings);
	now = readings[n - 1].seconds - applied;
	aim.series_ohms = leak.series_ohms;
	aim.applied_told = true;
	aim.applied_s = applied;
	aim.limit_amps = leak_amps(&leak, now) * leak_between(c, 0.2, 0.95);
	ends = leak_reaches(&leak, now, REFORM_HORIZON * now, aim.limit_amps) - now;
	j = reform_judge(&aim, readings, n, work);
	*alarms += j.verdict == REFORM_FAILING;
	if (j.fitted)
		count(s, &j.reach, ends);
}

int main(int argc, char **argv)
{
	const struct leak_set *set = &leak_held_out;
	struct reform_work *work = malloc(sizeof *work);
	unsigned long runs = 30, seed = 2027;
	struct score all = { 0 }, simulated = { 0 }, published = { 0 };
	bool markdown = false, good, failed = false;
	int alarms = 0;

	for (int i = 1; i < argc; i++) {
		if (strcmp(argv[i], "--markdown") == 0)
			markdown = true;
		else if (i + 1 < argc && strcmp(argv[i], "--runs") == 0)
			runs = strtoul(argv[++i], NULL, 10);
		else if (i + 1 < argc && strcmp(argv[i], "--seed") == 0)
			seed = strtoul(argv[++i], NULL, 10);
		else if (i + 1 < argc && strcmp(argv[i], "--set") == 0)
			set = strcmp(argv[++i], "training") == 0 ? &leak_training : &leak_held_out;
	}
	if (!work || runs == 0)
		return 2;
	printf("TAP version 13\n# %s set, seed %lu\n%s law | runs | inside | closed: inside (sooner, "
	       "later), width | open: inside (truly never) | all never: right | never: told, true | "
	       "strict%s\n",
	       set->name, seed, markdown ? "|" : "#", markdown ? " |" : "");
	if (markdown)
		printf("| --- | --- | --- | --- | --- | --- | --- | --- |\n");
	for (int law = 0; law < set->n; law++) {
		struct leak_chance c = { 0x9e3779b97f4a7c15u * (seed * 100 + (unsigned)law + 1) };
		struct score one = { 0 };

		for (unsigned long run = 0; run < runs; run++)
			one_run(set, law, &c, work, &one, &alarms);
		tell(set->law[law].name, &one, markdown);
		add(set->law[law].published ? &published : &simulated, &one);
		add(&all, &one);
		fflush(stdout);
	}
	tell("all simulated", &simulated, markdown);
	tell("all of the published", &published, markdown);
	tell("all", &all, markdown);
	printf("# of these healthy runs called failing: %d\n", alarms);
	good = all.inside >= 0.9 * all.runs - 2.5 * sqrt(0.09 * all.runs);
	failed |= !good;
	printf("%s 1 - nine of ten ends are inside\n", good ? "ok" : "not ok");
	good = all.closed_inside >= 0.9 * all.closed - 2.5 * sqrt(0.09 * all.closed);
	failed |= !good;
	printf("%s 2 - and of the intervals that are closed\n", good ? "ok" : "not ok");
	good = alarms <= 0.01 * all.runs;
	failed |= !good;
	printf("%s 3 - healthy runs are not called failing\n1..3\n", good ? "ok" : "not ok");
	free(work);
	return failed ? 1 : 0;
}
