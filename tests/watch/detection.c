/*
 * Which faults the band shows, at which stage, what two rules of thumb make of the same readings,
 * and what a voltmeter on every rail shows: units simulated in ngspice (fault_units.py), read by
 * meters that are right to 1 per cent.
 *
 *   detection [--markdown] FOLDER
 *
 * Wanted: a fault that moves the watts of its unit by twice the band's half width is over, under or
 * abort at that very reading; of healthy readings one in a hundred at most is called, and as few of
 * healthy rails' volts.  Results as TAP; with --markdown a table instead.
 *
 * Rules of thumb (common practice, no source): full-line watts times (V / nameplate)^2 or ^1.6, and
 * too much is what lies more than a quarter above.  Whatever the method, a fault counts as seen
 * only where the same unit without it is not called too: a rule that always shouts sees nothing.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fault_rows.h"
#include "mainstair/core/probe.h"

enum method { METHOD_BAND, METHOD_SQUARE, METHOD_LAMP, METHOD_RAILS, METHODS };
static const char *const method_words[METHODS] = {
	"band", "25 % over V^2", "25 % over V^1.6", "volts of rails"
};
static const double exponents[METHODS] = { [METHOD_SQUARE] = 2.0, [METHOD_LAMP] = 1.6 };
static const double thumb_excess = 1.25;

enum { SETS_MAX = 32, LEVELS_MAX = 16 };

/* Per kind of fault and method: how many were seen at all, and at which share of line first. */
struct score {
	int cases;
	int seen[METHODS];
	double first[METHODS][SETS_MAX * FAULT_CASES_MAX]; /* of those seen */
};

struct watch {
	struct score scores[CLASSES];
	int healthy_readings, healthy_flagged[METHODS];
	int healthy_low, healthy_low_flagged[METHODS]; /* at half line or below */
	int must, missed; /* readings with twice the half width, and those not called */
	bool tell;        /* each reading that is called wrong, or not called */
};

/* Does a voltmeter find any rail outside its limits? */
static bool rails_flagged(const struct fault_rows *f, const struct fault_case *c, int stage)
{
	const struct network *net = &f->watched->net;
	const struct fault_stage *st = &c->stages[stage];
	bool any = false;

	for (int r = 0; r < net->n_rails; r++) {
		struct probe_band band;

		if (!isfinite(st->rail_volts[r]) ||
		    !probe_band_at(net, st->line_volts, OBSERVED_RAIL_VOLTS, r, &band))
			continue;
		any = any || probe_judge(&band, fault_volts(f, c, st->rail_volts[r])) !=
			VERDICT_IN_BAND;
	}
	return any;
}

static bool flagged(const struct fault_rows *f, const struct fault_case *c, int stage,
                    const struct band *band, enum method method, double full_watts)
{
	const double share = band->volts / f->watched->net.line_volts;
	const double reading = fault_reading(f, c, stage);

	if (method == METHOD_RAILS)
		return rails_flagged(f, c, stage);
	if (method != METHOD_BAND)
		return reading > thumb_excess * full_watts * pow(share, exponents[method]);
	switch (judge_settled(band, f->watched->rule.fuse_amps, fmax(reading, 0.0), NAN)) {
	case VERDICT_OVER:
	case VERDICT_UNDER:
	case VERDICT_ABORT:
		return true;
	case VERDICT_UNKNOWN:
	case VERDICT_SETTLING:
	case VERDICT_IN_BAND:
		break;
	}
	return false;
}

/* Stage of the case `whole` at these volts; -1: none. */
static int stage_at(const struct fault_case *whole, double volts)
{
	for (int k = 0; whole && k < whole->n_stages; k++)
		if (fabs(whole->stages[k].line_volts - volts) < 0.1)
			return k;
	return -1;
}

/* The reading must be called: the fault moves its own unit's watts by twice the half width. */
static void check_must(struct watch *w, const struct fault_rows *f, const struct fault_case *c,
                       int stage, const struct band *band, bool called)
{
	const struct fault_case *whole = fault_healthy(f, c);
	const struct fault_stage *st = &c->stages[stage];

	const int k = stage_at(whole, st->line_volts);

	if (k < 0 || fabs(st->watts - whole->stages[k].watts) < band->high - band->low)
		return;
	w->must++;
	if (called)
		return;
	w->missed++;
	if (w->tell)
		printf("# missed: %s, %s at %.0f V: %.2f W, without it %.2f; band %.2f..%.2f\n",
		       f->watched->name, c->words, st->line_volts, st->watts,
		       whole->stages[k].watts, band->low, band->high);
}

static void watch_case(struct watch *w, const struct fault_rows *f, const struct fault_case *c,
                       double full_watts)
{
	const struct watched *unit = f->watched;
	const enum fault_class kind = fault_class_of(&unit->net, c->words);
	const struct fault_case *whole = fault_healthy(f, c);
	struct score *score = &w->scores[kind];
	double first[METHODS] = { NAN, NAN, NAN, NAN };

	for (int k = 0; k < c->n_stages; k++) {
		const double volts = c->stages[k].line_volts, share = volts / unit->net.line_volts;
		const int at = stage_at(whole, volts);
		struct band band;

		envelope_at(&unit->net, &unit->rule, &unit->meter, volts, NULL, &band, NULL);
		for (int m = 0; m < METHODS; m++) {
			const bool called = flagged(f, c, k, &band, (enum method)m, full_watts);

			if (called && isnan(first[m]) && at >= 0 &&
			    !flagged(f, whole, at, &band, (enum method)m, full_watts))
				first[m] = share;
			if (kind == CLASS_HEALTHY) {
				w->healthy_flagged[m] += called;
				w->healthy_low_flagged[m] += called && share < 0.5;
			}
			if (m == METHOD_BAND && kind == CLASS_HEALTHY && called && w->tell)
				printf("# healthy: %s unit %d at %.0f V: %.2f W; band %.2f..%.2f\n",
				       unit->name, c->unit, volts, fault_reading(f, c, k), band.low,
				       band.high);
			if (m == METHOD_BAND && kind != CLASS_HEALTHY)
				check_must(w, f, c, k, &band, called);
		}
		w->healthy_readings += kind == CLASS_HEALTHY;
		w->healthy_low += kind == CLASS_HEALTHY && share < 0.5;
	}
	score->cases++;
	for (int m = 0; m < METHODS; m++)
		if (!isnan(first[m]))
			score->first[m][score->seen[m]++] = first[m];
}

static int ascending(const void *a, const void *b)
{
	const double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

/* "17 of 20, 60 %": how many, and at which share of line the middle one first. */
static const char *cell(char out[48], struct score *s, enum method m)
{
	if (s->seen[m] == 0) {
		(void)snprintf(out, 48, "0 of %d", s->cases);
		return out;
	}
	qsort(s->first[m], (size_t)s->seen[m], sizeof s->first[m][0], ascending);
	(void)snprintf(out, 48, "%d of %d, %.0f %%", s->seen[m], s->cases,
	               100.0 * s->first[m][s->seen[m] / 2]);
	return out;
}

static void print_table(struct watch *w, const char *start, const char *between, const char *end,
                        bool markdown)
{
	char text[48];

	printf("%s%-42s", start, "fault");
	for (int m = 0; m < METHODS; m++)
		printf("%s%-16s", between, method_words[m]);
	printf("%s\n", end);
	if (markdown)
		printf("| --- | --- | --- | --- | --- |\n");
	for (int k = CLASS_HEALTHY + 1; k < CLASSES; k++) {
		printf("%s%-42s", start, fault_class_words[k]);
		for (int m = 0; m < METHODS; m++)
			printf("%s%-16s", between, cell(text, &w->scores[k], (enum method)m));
		printf("%s\n", end);
	}
	printf("%s%-42s", start, "healthy readings called wrong");
	for (int m = 0; m < METHODS; m++) {
		(void)snprintf(text, sizeof text, "%d of %d", w->healthy_flagged[m],
		               w->healthy_readings);
		printf("%s%-16s", between, text);
	}
	printf("%s\n%s%-42s", end, start, "… of them at half line or below");
	for (int m = 0; m < METHODS; m++) {
		(void)snprintf(text, sizeof text, "%d of %d", w->healthy_low_flagged[m],
		               w->healthy_low);
		printf("%s%-16s", between, text);
	}
	printf("%s\n", end);
}

int main(int argc, char **argv)
{
	const bool markdown = argc == 3 && strcmp(argv[1], "--markdown") == 0;
	static char names[SETS_MAX][64];
	struct watch *w = calloc(1, sizeof *w);

	if ((argc != 2 && !markdown) || !w) {
		fprintf(stderr, "usage: detection [--markdown] FOLDER\n");
		free(w);
		return 2;
	}
	const char *folder = argv[argc - 1];

	w->tell = !markdown;
	const int n = fault_rows_names(folder, names, SETS_MAX);
	int cases = 0;

	for (int k = 0; k < n; k++) {
		struct fault_rows *f = fault_rows_load(folder, names[k]);
		struct load_result full;

		if (!f) {
			free(w);
			return 1;
		}
		load_settled(&f->watched->net, f->watched->net.line_volts, NULL, &full);
		for (int i = 0; i < f->n; i++)
			watch_case(w, f, &f->cases[i], full.watts);
		cases += f->n;
		fault_rows_free(f);
	}
	print_table(w, markdown ? "| " : "# ", markdown ? " | " : "  ", markdown ? " |" : "", markdown);
	const bool read = cases > 0;
	const bool all = read && w->missed == 0;
	/* the band is meant to hold 99 per cent */
	const bool quiet = read && 100 * w->healthy_flagged[METHOD_BAND] <= w->healthy_readings;
	const bool calm = read && 100 * w->healthy_flagged[METHOD_RAILS] <= w->healthy_readings;

	if (!markdown) {
		printf("%sok 1 - %d readings moved by twice the half width, %d not called\n",
		       all ? "" : "not ", w->must, w->missed);
		printf("%sok 2 - %d healthy readings, %d called\n", quiet ? "" : "not ",
		       w->healthy_readings, w->healthy_flagged[METHOD_BAND]);
		printf("%sok 3 - %d healthy readings, a rail called at %d\n", calm ? "" : "not ",
		       w->healthy_readings, w->healthy_flagged[METHOD_RAILS]);
		printf("1..3\n");
	}
	free(w);
	return all && quiet && calm ? 0 : 1;
}
