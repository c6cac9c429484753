/* mainstair judge PROFILE READINGS - verdicts on a list of readings */
#include "cli/commands.h"

#include <math.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/input.h"
#include "cli/load_unit.h"
#include "cli/options.h"
#include "cli/output.h"
#include "mainstair/base/num.h"
#include "mainstair/base/text.h"
#include "mainstair/core/bands.h"
#include "mainstair/core/judge.h"
#include "mainstair/core/probe.h"
#include "mainstair/core/suspects.h"
#include "mainstair/core/warming.h"
#include "mainstair/proto/readings_text.h"

enum {
	EXIT_FINDING = 1,
	EXIT_ABORT = 3,
	READINGS_SIZE_MAX = 256 << 20,
	STRETCHES_MAX = 8,
	STRETCH_LEAST = 256, /* voltages: fewer are not worth a thread */
	RAILS_TOLD = 8
};

struct judged {
	struct band_edges edges;
	enum verdict verdict;
	bool settled; /* always true where no times are given */
};

struct job {
	struct loaded_unit unit;
	const char *name; /* of the readings, for messages */
	struct buf text;
	struct readings readings;
	struct judged *judged; /* for each row */
	size_t count[VERDICT_ABORT + 1];
	struct buf rails;      /* a line for each rail out of its limits */
	size_t rails_out;
};

/* The column to blame for a reading that cannot be. */
static const char *impossible_column(const struct job *job, const struct readings_row *row)
{
	const double nameplate = job->unit.network->line_volts;
	const double zero_watts = job->unit.accuracy.offset_watts;
	char why[JUDGE_WHY_MAX];

	if (!judge_possible(nameplate, zero_watts, row->volts, 0.0, NAN, NAN, why))
		return "line_volts";
	if (!judge_possible(nameplate, zero_watts, row->volts, row->watts, NAN, NAN, why))
		return "watts";
	return "amps";
}

static void check_possible(const struct job *job, struct complaints *faults)
{
	char why[JUDGE_WHY_MAX];

	for (size_t i = 0; i < job->readings.n_rows; i++) {
		const struct readings_row *row = &job->readings.rows[i];

		if (!judge_possible(job->unit.network->line_volts, job->unit.accuracy.offset_watts,
		                    row->volts, row->watts, row->amps, NAN, why))
			complaints_add(faults, row->line, NULL, impossible_column(job, row), "%s",
			               why);
	}
}

static bool has_column(const struct readings *r, enum readings_column column)
{
	for (size_t k = 0; k < r->n_columns; k++)
		if (r->column[k] == column)
			return true;
	return false;
}

static void check_times(const struct job *job, struct complaints *faults)
{
	const struct readings *r = &job->readings;

	double last = -INFINITY;

	for (size_t i = 0; i < r->n_rows; i++) {
		if (r->rows[i].seconds < last)
			complaints_add(faults, r->rows[i].line, NULL, "seconds", "goes back: "
			               "readings must stand in the order they were taken");
		else if (isfinite(r->rows[i].seconds))
			last = r->rows[i].seconds;
	}
}

/* A rail that the profile lacks is a column like any other; but it may be misspelt. */
static void warn_of_rails(const struct job *job)
{
	const struct network *net = job->unit.network;
	char name[64];

	for (size_t k = 0; k < job->readings.n_columns; k++) {
		bool found = false;

		if (job->readings.column[k] != READINGS_RAIL)
			continue;
		readings_rail_name(&job->readings, k, name, sizeof name);
		for (int i = 0; i < net->n_rails; i++)
			found |= text_same(name, net->rails[i].name);
		if (!found)
			complain("%s: column %s: this profile has no rail %s; carried along",
			         job->name, job->readings.name[k], name);
	}
}

static int parse(struct job *job)
{
	struct complaints faults;
	int status;

	complaints_init(&faults, job->name);
	status = readings_parse(job->text.data, job->text.len, &job->readings, &faults);
	if (status == 0) {
		check_possible(job, &faults);
		check_times(job, &faults);
	}
	if (complaints_count(&faults) > 0) {
		complain_all(&faults);
		status = -1;
	}
	complaints_release(&faults);
	if (status == 0)
		warn_of_rails(job);
	return status;
}

/* --- judging ---------------------------------------------------------------------------- */

struct place {
	double volts;
	size_t row;
};

static int by_volts(const void *a, const void *b)
{
	const double x = ((const struct place *)a)->volts, y = ((const struct place *)b)->volts;

	return (x > y) - (x < y);
}

/* Does the verdict hang on the side of a jump?  A tenth of a per cent on a smooth edge is beyond
 * any meter, and not worth a solve. */
static bool in_doubt(const struct band_edges *e, double watts)
{
	return e->jump && (fabs(watts - e->low) <= e->doubt || fabs(watts - e->high) <= e->doubt ||
	                   fabs(watts - e->abort_watts) <= e->doubt);
}

static enum verdict verdict_on(const struct job *job, const struct readings_row *row,
                               const struct band_edges *e)
{
	struct band band = { .volts = row->volts, .low = e->low, .expected = e->expected,
		             .high = e->high, .abort_watts = e->abort_watts };

	band.at.converged = isfinite(e->expected);
	/* a little below nought is the meter's own zero */
	return judge_settled(&band, job->unit.network->fuse_amps, fmax(row->watts, 0.0), row->amps);
}

/* Stretches of the voltages, worked out by as many threads as there are processors.  How they
 * are cut depends on the voltages alone, so that every machine prints the same digits. */
struct stretches {
	const struct loaded_unit *unit;
	const double *volts;
	struct band_edges *edges;
	size_t n, count;
	atomic_size_t next;
};

static void *work(void *argument)
{
	struct stretches *s = argument;
	size_t k;

	while ((k = atomic_fetch_add(&s->next, 1)) < s->count) {
		const size_t from = k * s->n / s->count, to = (k + 1) * s->n / s->count;

		(void)bands_along(s->unit->network, &s->unit->rule, &s->unit->accuracy,
		                  s->volts + from, to - from, s->edges + from);
	}
	return NULL;
}

static void work_out_edges(const struct loaded_unit *unit, const double *volts, size_t n,
                           struct band_edges *edges)
{
	struct stretches s = { .unit = unit, .volts = volts, .edges = edges, .n = n };
	const long processors = sysconf(_SC_NPROCESSORS_ONLN);
	pthread_t threads[STRETCHES_MAX];
	size_t started = 0;

	s.count = n / STRETCH_LEAST;
	s.count = s.count < 1 ? 1 : s.count > STRETCHES_MAX ? STRETCHES_MAX : s.count;
	/* this thread is one of them; where none can be started it does it all */
	while (started + 1 < s.count && (long)started + 1 < processors &&
	       pthread_create(&threads[started], NULL, work, &s) == 0)
		started++;
	(void)work(&s);
	while (started > 0)
		(void)pthread_join(threads[--started], NULL);
}

/* Rows sorted by volts, so that each voltage is worked out once. */
static int judge_sorted(struct job *job, struct place *places, double *volts,
                        struct band_edges *edges)
{
	const struct loaded_unit *u = &job->unit;
	const size_t n = job->readings.n_rows;
	size_t distinct = 0, k = 0;

	for (size_t i = 0; i < n; i++)
		places[i] = (struct place){ job->readings.rows[i].volts, i };
	qsort(places, n, sizeof *places, by_volts);
	for (size_t i = 0; i < n; i++)
		if (i == 0 || places[i].volts > places[i - 1].volts)
			volts[distinct++] = places[i].volts;
	work_out_edges(u, volts, distinct, edges);
	for (size_t i = 0; i < n; i++) {
		const struct readings_row *row = &job->readings.rows[places[i].row];
		struct judged *judged = &job->judged[places[i].row];

		k += i > 0 && places[i].volts > places[i - 1].volts;
		if (in_doubt(&edges[k], row->watts))
			bands_exact(u->network, &u->rule, &u->accuracy, row->volts, &edges[k]);
		judged->edges = edges[k];
		judged->verdict = verdict_on(job, row, &edges[k]);
		judged->settled = true;
	}
	return 0;
}

/* An unsettled band holds for this long: a heater moves by a per cent or two in it. */
static const double moment_s = 0.25;

/* Readings with times are one power-up: where the heaters have not caught up, the band is that
 * of the moment. */
static void judge_in_time(struct job *job)
{
	const struct loaded_unit *u = &job->unit;
	struct warming warming;
	double worked_out_s = -INFINITY, worked_out_volts = NAN;
	struct band_edges moment = { 0 };

	warming_init(&warming, u->network);
	for (size_t i = 0; i < job->readings.n_rows; i++) {
		const struct readings_row *row = &job->readings.rows[i];
		struct judged *judged = &job->judged[i];

		if (isnan(row->seconds)) /* no time: taken as settled */
			continue;
		warming_reading(&warming, u->network, row->seconds, row->volts);
		judged->settled = warming_settled(&warming, u->network);
		if (!isfinite(judged->edges.expected))
			continue;
		if (judged->settled && !warming.doubt) {
			(void)warming_excuse(&warming, u->network, judged->verdict);
			continue;
		}
		if (row->seconds - worked_out_s > moment_s ||
		    !(fabs(row->volts - worked_out_volts) <= 1e-3 * row->volts)) {
			struct band band = { .volts = row->volts, .low = judged->edges.low,
				             .expected = judged->edges.expected,
				             .high = judged->edges.high,
				             .abort_watts = judged->edges.abort_watts };

			warming_band(&warming, u->network, &u->rule, &u->accuracy, &band);
			moment = (struct band_edges){ .low = band.low, .expected = band.expected,
				                      .high = band.high,
				                      .abort_watts = band.abort_watts };
			worked_out_s = row->seconds;
			worked_out_volts = row->volts;
		}
		judged->edges = moment;
		judged->verdict = warming_excuse(&warming, u->network,
		                                 verdict_on(job, row, &moment));
		judged->settled = judged->settled && judged->verdict != VERDICT_SETTLING;
	}
}

static int judge_all(struct job *job)
{
	const size_t n = job->readings.n_rows;
	struct place *places = malloc(n * sizeof *places);
	double *volts = malloc(n * sizeof *volts);
	struct band_edges *edges = malloc(n * sizeof *edges);
	int status = -1;

	job->judged = malloc(n * sizeof *job->judged);
	if (places && volts && edges && job->judged) {
		status = judge_sorted(job, places, volts, edges);
		if (has_column(&job->readings, READINGS_SECONDS))
			judge_in_time(job);
		for (size_t i = 0; i < n; i++)
			job->count[job->judged[i].verdict]++;
	} else {
		complain("out of memory");
	}
	free(places);
	free(volts);
	free(edges);
	if (status == 0 && job->count[VERDICT_UNKNOWN] > 0)
		complain("no verdict on %zu readings: the model does not settle there; is a value "
		         "in the profile far from real?", job->count[VERDICT_UNKNOWN]);
	return status;
}

static int rail_of(const struct job *job, size_t column)
{
	char name[64];

	readings_rail_name(&job->readings, column, name, sizeof name);
	for (int i = 0; i < job->unit.network->n_rails; i++)
		if (text_same(name, job->unit.network->rails[i].name))
			return i;
	return -1;
}

/* "rail main reads 20 V at 117 V: under, 231 to 268 V expected" */
static void tell_rail(struct job *job, const char *name, double line_volts, double volts,
                      enum verdict verdict, const struct probe_band *band)
{
	char number[4][40];

	if (job->rails_out++ >= RAILS_TOLD)
		return;
	num_print(number[0], sizeof number[0], volts, 1);
	num_print(number[1], sizeof number[1], line_volts, 1);
	num_print(number[2], sizeof number[2], band->low, 0);
	num_print(number[3], sizeof number[3], band->high, 0);
	buf_addf(&job->rails, "rail %s reads %s V at %s V: %s, %s to %s V expected\n", name,
	         number[0], number[1], verdict_word(verdict), number[2], number[3]);
}

/* One rail's column: volts of settled readings against what a healthy unit has there.  Limits are
 * worked out once for every tenth of a volt of line, finer than they are known. */
static int judge_rail(struct job *job, size_t column, int rail)
{
	enum { TENTHS = 3000 }; /* judge_possible() lets no more line volts through */
	struct known {
		bool tried, given;
		struct probe_band band;
	} *known = calloc(TENTHS + 1, sizeof *known);
	const struct readings *r = &job->readings;

	if (!known) {
		complain("out of memory");
		return -1;
	}
	for (size_t i = 0; i < r->n_rows; i++) {
		const struct readings_row *row = &r->rows[i];
		const double volts = readings_number(r, row, column);
		const long tenth = lround(10.0 * row->volts);

		if (!job->judged[i].settled || !isfinite(volts) || tenth < 1 || tenth > TENTHS)
			continue;
		struct known *k = &known[tenth];

		if (!k->tried)
			k->given = probe_band_at(job->unit.network, 0.1 * (double)tenth,
			                         OBSERVED_RAIL_VOLTS, rail, &k->band);
		k->tried = true;
		const enum verdict verdict = k->given ? probe_judge(&k->band, volts) :
			VERDICT_IN_BAND;

		if (verdict != VERDICT_IN_BAND)
			tell_rail(job, job->unit.network->rails[rail].name, row->volts, volts,
			          verdict, &k->band);
	}
	free(known);
	return 0;
}

static int judge_rails(struct job *job)
{
	int status = 0;

	for (size_t k = 0; k < job->readings.n_columns && status == 0; k++) {
		const int rail = job->readings.column[k] == READINGS_RAIL ? rail_of(job, k) : -1;

		if (rail >= 0)
			status = judge_rail(job, k, rail);
	}
	if (job->rails_out > RAILS_TOLD)
		buf_addf(&job->rails, "and %zu more readings of rails out of their limits\n",
		         job->rails_out - RAILS_TOLD);
	return status;
}

static bool all_in_band(const struct job *job)
{
	return job->count[VERDICT_IN_BAND] == job->readings.n_rows && job->rails_out == 0;
}

static int exit_status(const struct job *job)
{
	if (job->count[VERDICT_ABORT] > 0)
		return EXIT_ABORT;
	return all_in_band(job) ? EXIT_DONE : EXIT_FINDING;
}

/* --- printing --------------------------------------------------------------------------- */

static void add_edges(struct buf *out, const struct band_edges *e, char separator, int decimals)
{
	const double edges[] = { e->low, e->expected, e->high, e->abort_watts };
	char number[64];

	for (size_t i = 0; i < sizeof edges / sizeof *edges; i++) {
		buf_addc(out, separator);
		if (isfinite(edges[i]))
			buf_add(out, number, num_print(number, sizeof number, edges[i], decimals));
	}
}

/* A name of ours, with expected_ before it until no column of the input bears it. */
static void add_own_name(struct buf *out, const struct readings *r, const char *name)
{
	struct buf own = BUF_INIT;

	buf_adds(&own, name);
	for (size_t k = 0; k < r->n_columns; k++) {
		struct buf longer = BUF_INIT;

		if (strcmp(r->name[k], own.data) != 0)
			continue;
		buf_addf(&longer, "expected_%s", own.data);
		buf_release(&own);
		own = longer;
		k = SIZE_MAX; /* begin again: the longer one may be taken too */
	}
	buf_addf(out, ",%s", own.data);
	out->failed |= own.failed;
	buf_release(&own);
}

static void print_csv(struct buf *out, const struct job *job)
{
	static const char *const own[] = { "watts_low", "watts", "watts_high", "watts_abort",
		                           "verdict" };
	const struct readings *r = &job->readings;

	buf_add(out, r->head.raw, r->head.len);
	for (size_t i = 0; i < sizeof own / sizeof *own; i++)
		add_own_name(out, r, own[i]);
	buf_addc(out, '\n');
	for (size_t i = 0; i < r->n_rows; i++) {
		buf_add(out, r->rows[i].raw, r->rows[i].len);
		add_edges(out, &job->judged[i].edges, ',', 4);
		buf_addf(out, ",%s\n", verdict_word(job->judged[i].verdict));
	}
}

static void print_table(struct buf *out, const struct job *job)
{
	const struct readings *r = &job->readings;
	const bool seconds = has_column(r, READINGS_SECONDS), amps = has_column(r, READINGS_AMPS);
	struct buf rows = BUF_INIT;
	char name[PROFILE_TEXT_MAX];

	(void)text_show(name, sizeof name, job->unit.profile.name, strlen(job->unit.profile.name));
	buf_addf(out, "%s, %s\n", name, seconds ? "each reading by the band of its moment" :
	         "settled values");
	buf_addf(&rows, "%sLINE V\tWATTS%s\tLOW W\tEXPECTED W\tHIGH W\tABORT W\tVERDICT\n",
	         seconds ? "SECONDS\t" : "", amps ? "\tAMPS" : "");
	for (size_t i = 0; i < r->n_rows; i++) {
		const struct readings_row *row = &r->rows[i];

		if (seconds) {
			add_number(&rows, row->seconds, 3);
			buf_addc(&rows, '\t');
		}
		add_number(&rows, row->volts, 3);
		buf_addc(&rows, '\t');
		add_number(&rows, row->watts, 3);
		if (amps) {
			buf_addc(&rows, '\t');
			add_number(&rows, row->amps, 4);
		}
		add_edges(&rows, &job->judged[i].edges, '\t', 2);
		buf_addf(&rows, "\t%s\n", verdict_word(job->judged[i].verdict));
	}
	align_columns(out, &rows, seconds && amps ? "rrrrrrrrl" : seconds || amps ? "rrrrrrrl" :
	                          "rrrrrrl");
	buf_addf(out, "%zu reading%s: %zu in band, %zu under, %zu over, %zu abort", r->n_rows,
	         r->n_rows == 1 ? "" : "s", job->count[VERDICT_IN_BAND], job->count[VERDICT_UNDER],
	         job->count[VERDICT_OVER], job->count[VERDICT_ABORT]);
	if (job->count[VERDICT_SETTLING] > 0)
		buf_addf(out, ", %zu settling", job->count[VERDICT_SETTLING]);
	buf_addc(out, '\n');
	out->failed |= rows.failed;
	buf_release(&rows);
}

/* The faults that fit, best first: what the last settled readings say together. */
enum { FAULTS_TOLD = 3 };

static int observe(const struct job *job, struct observation *obs)
{
	const struct readings *r = &job->readings;
	size_t first = r->n_rows;
	int n = 0;

	/* from the last one backwards until there is no room for one more row */
	for (size_t rows = 0; first > 0 && rows < OBSERVATIONS_MAX; first--)
		rows += job->judged[first - 1].settled;
	for (size_t i = r->n_rows; i-- > first;) {
		const struct readings_row *row = &r->rows[i];

		const bool counts = job->judged[i].settled ||
			job->judged[i].verdict == VERDICT_ABORT; /* no waiting for that one */

		if (!counts || !(row->volts > 0.0) || n >= OBSERVATIONS_MAX)
			continue;
		obs[n++] = (struct observation){ row->volts, OBSERVED_WATTS, -1,
		                                 fmax(row->watts, 0.0) };
		for (size_t k = 0; k < r->n_columns && n < OBSERVATIONS_MAX; k++) {
			const int rail = r->column[k] == READINGS_RAIL ? rail_of(job, k) : -1;
			const double volts = rail >= 0 ? readings_number(r, row, k) : NAN;

			if (isfinite(volts))
				obs[n++] = (struct observation){ row->volts, OBSERVED_RAIL_VOLTS,
				                                 rail, volts };
		}
	}
	/* oldest first, as they were taken */
	for (int i = 0; i < n / 2; i++) {
		const struct observation swap = obs[i];

		obs[i] = obs[n - 1 - i];
		obs[n - 1 - i] = swap;
	}
	return n;
}

/* "Healthy" is not left to stand first, nor a fault that fits badly, without a word. */
static void add_heading(struct buf *out, const struct job *job, const struct suspicion *s)
{
	const bool aborted = job->count[VERDICT_ABORT] > 0;
	const bool finding = aborted || job->count[VERDICT_OVER] > 0 ||
		job->count[VERDICT_UNDER] > 0 || job->rails_out > 0;
	char poor[240];

	if (s->poor_fit) {
		suspicion_poor(s, aborted, poor, sizeof poor);
		buf_addf(out, "%s\nnearest, best first:\n", poor);
	} else if (finding && s->list[0].kind == SUSPECT_HEALTHY) {
		buf_adds(out, "no known fault is likelier than a healthy unit, but what is out of "
		         "band stands\nnearest, best first:\n");
	} else {
		buf_adds(out, "what fits, best first:\n");
	}
}

static void add_faults(struct buf *out, const struct job *job)
{
	struct observation obs[OBSERVATIONS_MAX];
	struct suspicion *s = malloc(sizeof *s);
	char words[SUSPECT_WORDS_MAX], odds[48];

	if (!s) {
		out->failed = true;
		return;
	}
	const int n = observe(job, obs);
	suspects_rank(job->unit.network, &job->unit.accuracy, obs, n, s);
	add_heading(out, job, s);
	for (int i = 0; i < s->n && i < FAULTS_TOLD; i++) {
		suspect_words(job->unit.network, &s->list[i], words, sizeof words);
		suspect_odds(&s->list[i], odds, sizeof odds);
		/* the odds of what fits badly would mislead */
		if (s->list[i].kind == SUSPECT_HEALTHY || s->poor_fit)
			buf_addf(out, "  %s\n", words);
		else
			buf_addf(out, "  %s (%s)\n", words, odds);
	}
	if (!s->can_tell)
		buf_adds(out, "  these readings cannot tell the first two apart\n");
	if (s->separate[0])
		buf_addf(out, "  measure: %s\n", s->separate);
	free(s);
}

static void print_faults(struct buf *out, const struct job *job, enum output_format format)
{
	struct buf faults = BUF_INIT;

	if (all_in_band(job))
		return;
	buf_adds(&faults, job->rails.data ? job->rails.data : "");
	add_faults(&faults, job);
	if (format == OUTPUT_TABLE)
		buf_adds(out, faults.data);
	else if (!faults.failed)
		for (char *line = strtok(faults.data, "\n"); line; line = strtok(NULL, "\n"))
			complain("%s", line);
	out->failed |= faults.failed;
	buf_release(&faults);
}

static int judge_file(struct job *job, const char *path, enum output_format format)
{
	struct buf out = BUF_INIT;
	int status = EXIT_USAGE;

	job->name = input_read(path, READINGS_SIZE_MAX, &job->text);
	if (job->name && parse(job) == 0 && judge_all(job) == 0 && judge_rails(job) == 0) {
		if (format == OUTPUT_CSV)
			print_csv(&out, job);
		else
			print_table(&out, job);
		print_faults(&out, job, format);
		status = output_flush(&out);
		if (status == EXIT_DONE)
			status = exit_status(job);
	}
	buf_release(&out);
	buf_release(&job->text);
	buf_release(&job->rails);
	readings_release(&job->readings);
	free(job->judged);
	return status;
}

int cmd_judge(int argc, char **argv)
{
	enum output_format format = OUTPUT_TABLE;
	const struct option_row rows[] = {
		{ "format", "FORMAT", take_format, &format,
		  "table (the default) or csv: the columns watts_low, watts, watts_high, "
		  "watts_abort and verdict are appended, expected_ before a name that is taken" },
	};
	const struct command_usage usage = {
		.synopsis = "judge [OPTION]... PROFILE READINGS",
		.about = "Judges each line of READINGS (CSV; - reads standard input) against what "
			"a healthy unit built to PROFILE draws once it has settled: in-band, over, "
			"under or abort. The first line names the columns, in any order: "
			"line_volts and watts are needed, amps, seconds and rail_NAME_volts known, "
			"any other is carried along.\n"
			"With a column seconds the readings are taken as one power-up, and each is "
			"judged by the band of its moment: heaters that have not caught up may "
			"draw more. What lies outside after a silence, in which the unit may have "
			"been off, is settling: see the next one.\n"
			"Volts in rail_NAME_volts of settled readings are judged as well: what lies "
			"outside the limits of a healthy unit's rail is listed below; the column "
			"verdict is of the watts.\n"
			"Where something is not in band, the faults that fit come last, with their "
			"odds against healthy: in the table's foot, or with csv on standard error. "
			"Nothing is judged while anything in READINGS is wrong.",
		.after = "Exit status: 0 all in band, 1 something over or under (rails too), 3 an abort, "
			"2 bad usage or input.",
		.rows = rows, .n_rows = sizeof rows / sizeof rows[0],
		.least = 2, .most = 2, .wanted = "a PROFILE and a file of READINGS, please",
	};
	struct job *job;
	char **operands;
	int status = options_read(&usage, argc, argv, &operands);

	if (status != OPTIONS_READ)
		return status;
	status = EXIT_USAGE;
	job = calloc(1, sizeof *job);
	if (!job) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	buf_init(&job->text);
	buf_init(&job->rails);
	if (unit_load(&job->unit, operands[0]) == 0) {
		status = judge_file(job, operands[1], format);
		unit_release(&job->unit);
	}
	free(job);
	return status;
}
