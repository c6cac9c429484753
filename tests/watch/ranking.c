/*
 * Which fault fits: units simulated in ngspice (fault_units.py), read by a 1 per cent meter up to
 * the first stage that is over, under or abort, then ranked.  From watts alone, with the volts of
 * every rail, and with those of the heated windings as well.
 *
 *   ranking [--markdown | --cases] FOLDER
 *
 * Wanted, with rail volts: the true fault in the first explanation in 80 per cent and in one of the
 * first two in 95.  An explanation may go by several names (core/suspects.h), where no reading told
 * them apart and one would look for them in the same way; how many names the right first ones have
 * is told as well.  Wanted of the single names, the likeliest of the first explanation first: the
 * same, with the volts of the heated windings as well, which the program asks for where they would
 * tell.  (Without them no ranking can: watts and rail volts are the same for a short of any
 * winding.) Results as TAP; with --markdown a table instead, with --cases every case.
 *
 * A name is right when kind and place are.  Some are one fault by whatever a meter shows, and
 * either name is right: which of several heaters of one rating is open; loads of a rail that draw
 * more or a leak from that rail; any open heater of a string; across the mains or a shorted turn
 * (they differ by what the primary's ohms take off every winding, a hundredth where it counts).
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "fault_rows.h"
#include "mainstair/core/suspects.h"

enum told { WATTS, RAILS, HEATERS, TOLDS };
static const char *const told_words[TOLDS] = {
	"watts alone", "and rail volts", "and heater volts"
};
static const double wanted_first = 0.80, wanted_two = 0.95;
enum { SETS_MAX = 32 };

struct score {
	int cases, first[TOLDS], two[TOLDS]; /* explanations */
	int name[TOLDS], two_names[TOLDS];   /* single names */
	int names[TOLDS];                    /* of the explanations that are right and first */
};

struct ranking {
	struct score scores[CLASSES], all;
	bool every; /* print every case */
	double slowest_s;
};

static double processor_s(void)
{
	struct timespec t;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static bool heaters_alike(const struct net_heater *a, const struct net_heater *b)
{
	return a->winding == b->winding && (a->winding < 0 ||
		(fabs(a->amps - b->amps) < 1e-6 && fabs(a->volts - b->volts) < 1e-6));
}

/* Does the name mean the fault of these words? */
static bool means(const struct network *net, const char *fault, const struct suspect_name *s)
{
	char kind[16] = "", place[32] = "", how[16] = "";

	(void)sscanf(fault, "%15s %31s %15s", kind, place, how);
	switch (s->kind) {
	case SUSPECT_HEALTHY:
	case SUSPECT_LINE_HIGHER:
		return false;
	case SUSPECT_MAINS_SHUNT:
	case SUSPECT_SHORTED_TURN:
		return strcmp(kind, "primary") == 0 || strcmp(kind, "turn") == 0;
	case SUSPECT_WINDING_SHORT:
		return strcmp(kind, "heater") == 0 &&
			strcmp(place, net->windings[s->index].name) == 0;
	case SUSPECT_HEATER_OPEN:
		for (int h = 0; h < net->n_heaters && strcmp(kind, "open") == 0; h++)
			if (strcmp(place, net->heaters[h].place) == 0)
				return heaters_alike(&net->heaters[h], &net->heaters[s->index]);
		return false;
	case SUSPECT_PLATE_SHORT:
		if (strcmp(kind, "plate") != 0)
			return false;
		for (int i = 0; i < net->rails[s->index].n_rectifier_by; i++)
			if (strcmp(place, net->heaters[net->rails[s->index].rectifier_by[i]].place) == 0)
				return true;
		return strcmp(place, net->rails[s->index].name) == 0;
	case SUSPECT_RAIL_LEAK:
	case SUSPECT_RAIL_LOAD:
		return strcmp(kind, "rail") == 0 && strcmp(how, "dead") != 0 &&
			strcmp(place, net->rails[s->index].name) == 0;
	case SUSPECT_RAIL_DEAD:
		return strcmp(kind, "rail") == 0 && strcmp(how, "dead") == 0 &&
			strcmp(place, net->rails[s->index].name) == 0;
	}
	return false;
}

/* The first stage at which the band shows it; -1: none. */
static int seen_at(const struct fault_rows *f, const struct fault_case *c)
{
	const struct watched *w = f->watched;

	for (int k = 0; k < c->n_stages; k++) {
		struct band band;

		envelope_at(&w->net, &w->rule, &w->meter, c->stages[k].line_volts, NULL, &band, NULL);
		const enum verdict v = judge_settled(&band, w->rule.fuse_amps,
		                                     fmax(fault_reading(f, c, k), 0.0), NAN);

		if (v == VERDICT_OVER || v == VERDICT_UNDER || v == VERDICT_ABORT)
			return k;
	}
	return -1;
}

static int observe(const struct fault_rows *f, const struct fault_case *c, int last,
                   enum told told, struct observation *obs)
{
	const struct network *net = &f->watched->net;
	int n = 0;

	for (int k = 0; k <= last; k++) {
		const struct fault_stage *st = &c->stages[k];
		const double volts = st->line_volts;

		obs[n++] = (struct observation){ volts, OBSERVED_WATTS, -1,
			                         fmax(fault_reading(f, c, k), 0.0) };
		for (int r = 0; r < net->n_rails && told >= RAILS && n < OBSERVATIONS_MAX - 1; r++)
			if (isfinite(st->rail_volts[r]))
				obs[n++] = (struct observation){ volts, OBSERVED_RAIL_VOLTS, r,
					fault_volts(f, c, st->rail_volts[r]) };
		for (int i = 0; i < net->n_windings && told >= HEATERS && n < OBSERVATIONS_MAX - 1; i++)
			if (isfinite(st->winding_volts[i]))
				obs[n++] = (struct observation){ volts, OBSERVED_WINDING_VOLTS, i,
					fault_volts(f, c, st->winding_volts[i]) };
	}
	return n;
}

static struct suspect_name name_of(const struct suspect *s, int k)
{
	return k == 0 ? (struct suspect_name){ s->kind, s->index, s->size } : s->also[k - 1];
}

/* Place of the true fault in the ranking, from 1; 0: not in it. */
struct place {
	int explanation, name;
};

/* Across the mains and a shorted turn hold one place, that of the first of them. */
static struct place place_of(const struct network *net, const char *words, const struct suspicion *s)
{
	struct place place = { 0, 0 };
	bool parallel = false;

	for (int i = 0; i < s->n; i++)
		for (int k = 0; k <= s->list[i].n_also; k++) {
			const struct suspect_name name = name_of(&s->list[i], k);
			const bool beside = name.kind == SUSPECT_MAINS_SHUNT ||
				name.kind == SUSPECT_SHORTED_TURN;

			place.name += !(beside && parallel);
			parallel = parallel || beside;
			if (means(net, words, &name)) {
				place.explanation = i + 1;
				return place;
			}
		}
	return (struct place){ 0, 0 };
}

static void count(struct score *s, enum told told, struct place place, int names)
{
	s->first[told] += place.explanation == 1;
	s->two[told] += place.explanation == 1 || place.explanation == 2;
	s->name[told] += place.name == 1;
	s->two_names[told] += place.name == 1 || place.name == 2;
	s->names[told] += place.explanation == 1 ? names : 0;
}

static void print_case(const struct suspicion *s, enum told told, int place)
{
	for (int i = 0; i < s->n; i++)
		if (i < 3 || i == place - 1)
			printf("   %-18s %s%d. %s (%.1f, misfit %.1f)\n", i == 0 ? told_words[told] : "",
			       i > 0 ? "  " : place == 1 ? "= " : place == 2 ? "- " : "! ", i + 1,
			       s->list[i].words, s->list[i].log_odds, s->list[i].misfit);
}

static void rank_case(struct ranking *r, const struct fault_rows *f, const struct fault_case *c,
                      struct suspicion *s)
{
	const struct network *net = &f->watched->net;
	const int last = seen_at(f, c);
	struct score *score = &r->scores[fault_class_of(net, c->words)];
	struct observation obs[OBSERVATIONS_MAX];

	if (strcmp(c->words, "healthy") == 0 || last < 0)
		return;
	score->cases++;
	r->all.cases++;
	if (r->every)
		printf("%s: %s, seen at %.0f V\n", f->watched->name, c->words,
		       c->stages[last].line_volts);
	for (int g = 0; g < TOLDS; g++) {
		const int n = observe(f, c, last, (enum told)g, obs);
		const double start = processor_s();

		suspects_rank(net, &f->watched->meter, obs, n, s);
		r->slowest_s = fmax(r->slowest_s, processor_s() - start);
		const struct place place = place_of(net, c->words, s);

		count(score, (enum told)g, place, 1 + s->list[0].n_also);
		count(&r->all, (enum told)g, place, 1 + s->list[0].n_also);
		if (r->every)
			print_case(s, (enum told)g, place.explanation);
	}
}

static void print_row(const char *words, char (*cells)[48], bool markdown)
{
	printf("%s%-42s", markdown ? "| " : "# ", words);
	for (int g = 0; g < TOLDS; g++)
		printf("%s%-22s", markdown ? " | " : "  ", cells[g]);
	printf("%s\n", markdown ? " |" : "");
}

/* "12, 15 (9, 14) of 17": explanations, and single names; first, and among the first two. */
static void print_score(const char *words, const struct score *s, bool markdown)
{
	char cells[TOLDS][48];

	for (int g = 0; g < TOLDS; g++)
		(void)snprintf(cells[g], sizeof cells[g], "%d, %d (%d, %d) of %d", s->first[g],
		               s->two[g], s->name[g], s->two_names[g], s->cases);
	print_row(words, cells, markdown);
}

static void print_totals(const struct score *s, bool markdown)
{
	const double cases = 0.01 * s->cases;
	char cells[TOLDS][48];

	for (int g = 0; g < TOLDS; g++)
		(void)snprintf(cells[g], sizeof cells[g], "%.0f, %.0f (%.0f, %.0f)",
		               s->first[g] / cases, s->two[g] / cases, s->name[g] / cases,
		               s->two_names[g] / cases);
	print_row("per cent", cells, markdown);
	for (int g = 0; g < TOLDS; g++)
		(void)snprintf(cells[g], sizeof cells[g], "%.1f",
		               (double)s->names[g] / (s->first[g] > 0 ? s->first[g] : 1));
	print_row("names of a right first one, on average", cells, markdown);
}

static void print_table(const struct ranking *r, bool markdown)
{
	printf("%s%-42s", markdown ? "| " : "# ", "explanations (names): first, first two");
	for (int g = 0; g < TOLDS; g++)
		printf("%s%-22s", markdown ? " | " : "  ", told_words[g]);
	printf("%s\n", markdown ? " |\n| --- | --- | --- | --- |" : "");
	for (int k = CLASS_HEALTHY + 1; k < CLASSES; k++)
		print_score(fault_class_words[k], &r->scores[k], markdown);
	print_score("all", &r->all, markdown);
	print_totals(&r->all, markdown);
}

static int check_one(int number, const char *what, int right, int cases, double wanted)
{
	const double share = cases > 0 ? (double)right / cases : NAN;
	const bool fine = share >= wanted;

	printf("%sok %d - %s in %.0f %%\n", fine ? "" : "not ", number, what, 100.0 * share);
	return fine ? 0 : 1;
}

/* How many of the four are not as wanted. */
static int check(const struct score *s)
{
	const int wrong =
		check_one(1, "with rail volts the fault is in the first explanation", s->first[RAILS],
		          s->cases, wanted_first) +
		check_one(2, "with rail volts it is in one of the first two", s->two[RAILS], s->cases,
		          wanted_two) +
		check_one(3, "with heater volts as well it is the first name", s->name[HEATERS],
		          s->cases, wanted_first) +
		check_one(4, "with heater volts as well it is one of the first two names",
		          s->two_names[HEATERS], s->cases, wanted_two);

	printf("1..4\n");
	return wrong;
}

int main(int argc, char **argv)
{
	const bool markdown = argc == 3 && strcmp(argv[1], "--markdown") == 0;
	const bool every = argc == 3 && strcmp(argv[1], "--cases") == 0;
	static char name[SETS_MAX][64];
	struct ranking r = { .every = every };
	struct suspicion *s = malloc(sizeof *s);

	if ((argc != 2 && !markdown && !every) || !s) {
		fprintf(stderr, "usage: ranking [--markdown | --cases] FOLDER\n");
		free(s);
		return 2;
	}
	const int n = fault_rows_names(argv[argc - 1], name, SETS_MAX);

	for (int k = 0; k < n; k++) {
		struct fault_rows *f = fault_rows_load(argv[argc - 1], name[k]);

		if (!f) {
			free(s);
			return 1;
		}
		for (int i = 0; i < f->n; i++)
			rank_case(&r, f, &f->cases[i], s);
		fault_rows_free(f);
	}
	free(s);
	print_table(&r, markdown);
	const int wrong = markdown ? 0 : check(&r.all);

	if (!markdown)
		printf("# slowest ranking %.0f ms\n", 1e3 * r.slowest_s);
	return wrong > 0 ? 1 : 0;
}
