/* mainstair run PROFILE - the job of a unit and its power-up; without a terminal, the same
 * headless */
#include "cli/commands.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "app/feed_bench.h"
#include "app/feed_meter.h"
#include "app/headless.h"
#include "app/job_loop.h"
#include "app/like.h"
#include "app/live.h"
#include "cli/book_words.h"
#include "cli/compare_gather.h"
#include "cli/like_table.h"
#include "cli/load_unit.h"
#include "cli/options.h"
#include "cli/output.h"
#include "cli/unit_book.h"
#include "io/bench_ini.h"
#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

static const char program[] = "mainstair " MAINSTAIR_VERSION;

enum {
	MEASURED_MAX = 16, /* --measured */
	ALL_MEASURED = BOOK_WORDS_MAX + MEASURED_MAX,
	WALK_FINDING = 1, WALK_ABORT = 3, ENDED_BY_SIGNAL = 128
};
static const double speed_most = 50;

struct run_options {
	const char *profile, *record, *unit, *reason, *like_record;
	struct option_words meters, faults, measured;
	struct like_curve like; /* of like_record */
	bool bench; /* the virtual one */
	double speed;
	struct bench_setup setup; /* the real one */
	struct buf setup_text;    /* its file, for the record */
};

/* What both the dashboard and the headless walk need of a unit. */
static struct run_unit judged_by(const struct loaded_unit *u)
{
	return (struct run_unit){u->network, u->plan, &u->rule, &u->accuracy};
}

static int create_record(const struct run_options *o, const struct loaded_unit *u,
                         struct record_writer **ret, struct err *err)
{
	struct record_head head = {
		.started_s = (int64_t)time(NULL),
		.program = program,
		.profile = {.name = o->profile, .text = u->text.data, .len = u->text.len},
		.bench = {.name = o->setup_text.len ? "bench.ini" : "", .text = o->setup_text.data,
			.len = o->setup_text.len},
	};
	return record_create(o->record, u->profile.name, &head, ret, err);
}

static int open_feed(const struct run_options *o, const struct loaded_unit *u, struct feed *ret,
                     struct err *err)
{
	if (o->bench)
		return feed_bench_open(ret, u->network, o->faults.list, o->faults.n, err);
	if (o->setup.has_meter)
		return feed_meter_open(ret, &o->setup.meter, err);
	*ret = feed_typed();
	return 0;
}

/* --- the unit's file ------------------------------------------------------------------------ */

/* Whatever blocks power is overridden with the reason of --override.  0, or -1 after a complaint:
 * also when there is no reason, and something blocks. */
static int clear_blocks(const struct run_options *o, const struct loaded_unit *u,
                        struct logbook *book)
{
	struct network *bare = unit_bare_network(u);
	struct job *job = malloc(sizeof *job);
	struct entry_draft d;
	struct err err;
	size_t n;
	int status = bare && job ? 0 : -1;

	if (status == 0) {
		const struct entry *entries = logbook_entries(book, &n);
		job_make(job, &u->profile, bare, &u->tables, entries, n);
		if (!o->reason && (job->n_standing > 0 || job->cut)) {
			complain("run: power is blocked by %d %s: mainstair job lists them; "
				"--override WHY goes on all the same", job->n_standing,
				job->n_standing == 1 ? "thing" : "things");
			status = -1;
		}
	}
	for (int i = 0; status == 0 && i < job->n_blocks; i++) {
		if (job->block[i].override_reason)
			continue;
		entry_draft_init(&d, ENTRY_OVERRIDE);
		snprintf(d.subject, sizeof d.subject, "%s", job->block[i].key);
		snprintf(d.note, sizeof d.note, "%s", o->reason);
		d.entry.utc_s = job_utc_s();
		status = logbook_append(book, &d.entry, true, &err);
		if (status != 0)
			complain("%s", err.text);
	}
	free(bare);
	free(job);
	return status;
}

/* What was measured on the unit, for the record: what its ohm readings say, then --measured. */
struct all_measured {
	char words[BOOK_WORDS_MAX][OHMS_WORDS_MAX];
	const char *list[ALL_MEASURED];
	int n;
};

static int gather_measured(const struct run_options *o, const struct loaded_unit *u,
                           const struct logbook *book, struct all_measured *ret, struct err *err)
{
	ret->n = 0;
	if (book) {
		struct network *bare = unit_bare_network(u);
		if (!bare)
			return err_set(err, ERR_NOMEM, "out of memory");
		int refused, n = book_words(book, bare, &u->profile, ret->words, &refused, err);
		free(bare);
		if (n < 0)
			return -1;
		for (int i = 0; i < n; i++)
			ret->list[ret->n++] = ret->words[i];
	}
	for (int i = 0; i < o->measured.n; i++)
		ret->list[ret->n++] = o->measured.list[i];
	return 0;
}

/* --- without a terminal ------------------------------------------------------------------- */

/* A verdict that the settled band does not explain. */
static void print_moment(const struct session_stage *s, struct buf *out)
{
	buf_adds(out, "At ");
	add_number(out, s->reading.volts, 1);
	buf_adds(out, " V the heaters were still warming up: in band then was ");
	add_number(out, s->low, 2);
	buf_adds(out, " to ");
	add_number(out, s->high, 2);
	buf_adds(out, " W.\n");
}

static void print_walk(const struct loaded_unit *u, const struct headless_result *r,
                       struct buf *out)
{
	struct buf rows = BUF_INIT;
	char name[PROFILE_TEXT_MAX];

	(void)text_show(name, sizeof name, u->profile.name, strlen(u->profile.name));
	buf_addf(out, "%s on the virtual bench: a demonstration, nothing is measured; ", name);
	add_number(out, r->seconds, 0);
	buf_adds(out, " s simulated\n");
	buf_adds(&rows, "STAGE\tVOLTS\tLOW W\tWATTS\tHIGH W\tABORT W\tREAD V\tREAD W\tVERDICT\t\n");
	for (int i = 0; i < u->plan->n_stages; i++) {
		const struct band *band = &u->plan->stages[i].band;
		const struct session_stage *s = &r->stages[i];
		buf_addf(&rows, "%d\t", i + 1);
		number_cell(&rows, band->volts, 1);
		number_cell(&rows, band->low, 2);
		number_cell(&rows, band->expected, 2);
		number_cell(&rows, band->high, 2);
		number_cell(&rows, band->abort_watts, 2);
		number_cell(&rows, s->have_reading ? s->reading.volts : (double)NAN, 1);
		number_cell(&rows, s->have_reading ? s->reading.watts : (double)NAN, 2);
		buf_addf(&rows, "%s\t\n", s->have_reading ? verdict_word(s->reading.verdict) : "-");
	}
	align_columns(out, &rows, "rrrrrrrrl");
	out->failed |= rows.failed;
	buf_release(&rows);
	for (int i = 0; i < u->plan->n_stages; i++)
		if (r->stages[i].have_reading && !r->stages[i].settled)
			print_moment(&r->stages[i], out);
}

static int walk_status(const struct headless_result *r)
{
	if (r->end == HEADLESS_ABORTED)
		return WALK_ABORT;
	for (int i = 0; i < PLAN_STAGES_MAX; i++)
		if (r->stages[i].have_reading && (r->stages[i].reading.verdict == VERDICT_OVER ||
				r->stages[i].reading.verdict == VERDICT_UNDER))
			return WALK_FINDING;
	return r->end == HEADLESS_SOAKED ? EXIT_DONE : WALK_FINDING;
}

static void print_end(const struct headless_result *r, struct buf *out)
{
	switch (r->end) {
	case HEADLESS_SOAKED:
		buf_adds(out, "Full line reached, in band.\n");
		break;
	case HEADLESS_HELD:
		buf_addf(out, "Held at ");
		add_number(out, r->reading.volts, 1);
		buf_addf(out, " V: %s; no step up from there.\n", verdict_word(r->last));
		break;
	case HEADLESS_ABORTED:
		buf_adds(out, "ABORT at ");
		add_number(out, r->abort.volts, 1);
		buf_adds(out, " V: ");
		add_number(out, r->abort.watts, 2);
		buf_adds(out, " W, abort line ");
		add_number(out, r->abort_band.abort_watts, 2);
		buf_adds(out, " W. Variac to zero.\n");
		break;
	case HEADLESS_ENDLESS:
		buf_adds(out, "Not settled after hours: given up.\n");
		break;
	}
}

static void print_soak(const struct headless_result *r, struct buf *out)
{
	if (r->end != HEADLESS_SOAKED || !r->soak.known)
		return;
	buf_adds(out, "Soak: ");
	add_number(out, r->soak.slope_w_per_h, 2);
	buf_adds(out, " +/- ");
	add_number(out, r->soak.slope_error, 2);
	buf_adds(out, " W/h over the last ");
	add_number(out, r->soak.window_s, 0);
	buf_addf(out, " s%s.\n", r->soak.stable ? ", stable" : ", not stable yet");
}

/* Never a certainty: the two best, where two fit as well. */
static void print_fits(const struct suspicion *c, bool aborted, struct buf *out)
{
	char poor[240];

	if (c->n > 0 && c->poor_fit) {
		suspicion_poor(c, aborted, poor, sizeof poor);
		buf_addf(out, "N%s.\n", poor + 1);
	}
	if (c->n == 0 || c->list[0].kind == SUSPECT_HEALTHY)
		return;
	buf_addf(out, "%s: %s", c->poor_fit ? "Nearest" : "Fits best", c->list[0].words);
	if (!c->can_tell && c->n > 1 && c->list[1].kind != SUSPECT_HEALTHY)
		buf_addf(out, "; or %s. It cannot be told yet which.\n", c->list[1].words);
	else
		buf_adds(out, c->list[0].n_also > 0 ? ". It cannot be told yet which.\n" : ".\n");
	if (c->separate[0])
		buf_addf(out, "What would tell: %s.\n", c->separate);
}

static const char *walk_word(const struct headless_result *r)
{
	return r->end == HEADLESS_ABORTED ? "abort"
		: r->end == HEADLESS_SOAKED ? "full-line" : "left";
}

static int walk(const struct run_options *o, struct loaded_unit *u, struct logbook *book)
{
	struct headless_result *r = calloc(1, sizeof *r);
	struct record_writer *record = NULL;
	struct buf out = BUF_INIT;
	struct run_unit unit;
	struct feed feed = {0};
	struct all_measured measured;
	struct run run = {0};
	struct err err;
	char where[4096] = "";
	int status = EXIT_USAGE;

	if (!r) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	if (unit_plan(u, 0) != 0)
		goto out;
	if (o->record)
		plan_prove(u->plan, u->network); /* the record tells what was ruled out */
	unit = judged_by(u);
	if (gather_measured(o, u, book, &measured, &err) != 0 ||
	    open_feed(o, u, &feed, &err) != 0 ||
	    (o->record && create_record(o, u, &record, &err) != 0) ||
	    run_init(&run, &unit, feed.watch_s, record, program, &err) != 0) {
		complain("%s", err.text);
		goto out;
	}
	for (int i = 0; i < measured.n; i++)
		run_note(&run, 0, EVENT_MEASURED, measured.list[i]);
	if (o->like_record) {
		char note[EVENT_NOTE_MAX];

		like_note(note, o->like_record);
		run_note(&run, 0, EVENT_NOTE, note);
	}
	headless_run(&run, &feed, r);
	status = walk_status(r);
	print_walk(u, r, &out);
	print_end(r, &out);
	print_soak(r, &out);
	if (o->like_record) /* the verdicts above are the model's */
		like_table(&out, &o->like, &u->accuracy, r->stages, u->plan->n_stages);
	print_fits(&r->fits.suspicion, r->end == HEADLESS_ABORTED, &out);
	if (run_finish(&run, where, sizeof where, &err) != 0) {
		complain("%s", err.text);
		status = EXIT_USAGE;
	}
	if (where[0]) {
		char shown[512];
		(void)text_show(shown, sizeof shown, where, strlen(where));
		buf_addf(&out, "record: %s\n", shown);
	}
	if (book) {
		struct live_end end = {walk_word(r), r->reading.volts, (double)NAN};
		if (book_keep_power(book, where, &end, true, job_utc_s()) != 0)
			status = EXIT_USAGE;
	}
	if (output_flush(&out) != EXIT_DONE)
		status = EXIT_USAGE;
out:
	feed_close(&feed);
	buf_release(&out);
	free(r);
	return status;
}

/* --- the dashboard -------------------------------------------------------------------------- */

struct measured_unit {
	struct loaded_unit *unit;
	struct logbook *book; /* or NULL: this run keeps none */
};

/* Kept first: what counts now must count the next time. */
static int measure_now(void *self, const char *words, struct err *err)
{
	const struct measured_unit *m = self;
	struct network *copy = malloc(sizeof *copy);
	int status = -1;

	if (!copy)
		return err_set(err, ERR_NOMEM, "out of memory");
	*copy = *m->unit->network;
	if (network_measure(copy, words, err) == 0 &&
	    (!m->book || book_keep_measured(m->book, words, job_utc_s(), err) == 0))
		status = unit_measure_now(m->unit, words, err);
	free(copy);
	return status;
}

/* A power-up on the dashboard, from the bench's feed to the closed record.  The terminal is given
 * back in between.  EXIT_DONE, EXIT_USAGE after a complaint, or 128 + the signal that ended it;
 * *ret_left: its user ended it, and all went well. */
static int power_up(struct run_options *o, struct loaded_unit *u, struct logbook *book,
                    struct loop *loop, bool cautions_read, bool *ret_left)
{
	struct measured_unit measured_unit = {u, book};
	struct live_setup setup = {.title = u->profile.name, .chassis = u->profile.chassis,
		.program = program, .speed = o->speed, .measure = measure_now,
		.measure_self = &measured_unit, .measure_kept = book != NULL,
		.cautions_read = cautions_read, .like = o->like_record ? &o->like : NULL,
		.like_path = o->like_record};
	const struct bench_setup *bench = &o->setup;
	struct all_measured measured;
	struct record_writer *record = NULL;
	struct feed feed = {0};
	struct live_end end;
	struct err err;
	char where[4096] = "", shown[512];
	int signal_number = 0, status = EXIT_USAGE;

	*ret_left = false;
	setup.line_volts = isfinite(bench->line_volts) ? bench->line_volts : u->network->line_volts;
	setup.not_isolated = bench->isolation == BENCH_NO;
	setup.lamp = u->lamp;
	setup.meter_ahead = u->meter_ahead;
	if (gather_measured(o, u, book, &measured, &err) != 0 ||
	    open_feed(o, u, &feed, &err) != 0 || (!loop->terminal && loop_open(loop, &err) != 0)) {
		loop_close(loop);
		complain("%s", err.text);
		goto out;
	}
	const bool invented = feed.invented;
	setup.measured = measured.list;
	setup.n_measured = measured.n;
	if (!cautions_read)
		live_first_frame(loop, &setup, &feed);
	if (unit_plan(u, isfinite(bench->line_volts) ? bench->line_volts : 0) != 0)
		goto out;
	plan_prove(u->plan, u->network);
	setup.unit = judged_by(u);
	if (create_record(o, u, &record, &err) != 0) {
		loop_close(loop);
		complain("%s", err.text);
		goto out;
	}
	o->record = NULL; /* the next one must have a name of its own */
	status = EXIT_DONE;
	if (live_run(loop, &setup, feed, record, &signal_number, &end, where, sizeof where,
			&err) != 0) {
		complain("%s", err.text);
		status = EXIT_USAGE;
	}
	feed = (struct feed){0};
	if (book && book_keep_power(book, where, &end, invented,
			job_utc_s()) != 0)
		status = EXIT_USAGE;
	if (where[0]) { /* last: the terminal may be stopped, or gone */
		struct buf out = BUF_INIT;
		(void)text_show(shown, sizeof shown, where, strlen(where));
		buf_addf(&out, "record: %s\n", shown);
		(void)output_flush(&out);
		buf_release(&out);
	}
	if (signal_number)
		status = ENDED_BY_SIGNAL + signal_number;
	*ret_left = status == EXIT_DONE;
out:
	feed_close(&feed);
	return status;
}

struct at_bench {
	struct run_options *options;
	struct loaded_unit *unit;
	struct logbook *book;
};

static int open_meter(void *self, struct feed *ret, struct err *err)
{
	const struct at_bench *at = self;
	return feed_meter_open(ret, &at->options->setup.meter, err);
}

static int put_measured(void *self, struct err *err)
{
	const struct at_bench *at = self;
	const struct option_words *words = &at->options->measured;
	int refused; /* told when the unit was opened */

	return book_measure(at->book, words->list, words->n, at->unit, &refused, err);
}

/* The job's pages, and the power-up as often as the user goes there. */
static int job(struct run_options *o, struct loaded_unit *u, struct logbook *book, struct loop *loop)
{
	struct at_bench at = {o, u, book};
	struct network *bare = unit_bare_network(u);
	struct job_setup setup = {.title = u->profile.name, .profile = &u->profile, .network = bare,
		.tables = &u->tables, .book = book,
		.not_isolated = o->setup.isolation == BENCH_NO, .invented = o->bench,
		.open_meter = o->setup.has_meter ? open_meter : NULL, .meter_self = &at,
		.measured = put_measured, .measured_self = &at};
	enum job_phase in_hand = JOB_PHASES;
	enum job_end end = JOB_LEFT;
	struct err err;
	bool again = bare != NULL;
	int status = bare ? EXIT_DONE : EXIT_USAGE;

	while (again) {
		int signal_number = 0;
		again = false;
		if ((!loop->terminal && loop_open(loop, &err) != 0) ||
		    job_loop(loop, &setup, &in_hand, &end, &signal_number, &err) != 0) {
			loop_close(loop);
			complain("%s", err.text);
			status = EXIT_USAGE;
		} else if (end == JOB_SIGNAL) {
			status = ENDED_BY_SIGNAL + signal_number;
		} else if (end == JOB_TO_POWER) {
			status = power_up(o, u, book, loop, setup.cautions_read, &again);
			loop_release(loop); /* signals are taken anew with the terminal */
			*loop = (struct loop){0};
		}
	}
	free(bare);
	return status;
}

static int on_terminal(struct run_options *o, struct loaded_unit *u, struct logbook *book)
{
	struct loop loop = {0};
	bool left;
	int status = book && !o->reason ? job(o, u, book, &loop)
	                                : power_up(o, u, book, &loop, false, &left);

	loop_close(&loop);
	loop_release(&loop);
	return status;
}

/* The unit's file, if this run keeps one, and what was measured before.  0, or -1 after
 * complaints. */
static int find_book(const struct run_options *o, struct loaded_unit *u, struct logbook **ret)
{
	struct err err;
	int refused;

	*ret = NULL;
	if (o->bench && !o->unit)
		return 0;
	if (book_open(o->unit, o->profile, u, job_utc_s(), ret) != 0)
		return -1;
	if (book_measure(*ret, o->measured.list, o->measured.n, u, &refused, &err) != 0) {
		complain("%s", err.text);
		return -1;
	}
	book_complain_refused(refused);
	return o->reason || !terminal_is_there() ? clear_blocks(o, u, *ret) : 0;
}

/* --- options ---------------------------------------------------------------------------------- */

/* 0, or -1 after a complaint. */
static int check_options(struct run_options *o)
{
	if (o->reason && strlen(o->reason) < 3) {
		complain("run: --override wants a reason in words");
		return -1;
	}
	if (o->reason && strlen(o->reason) >= ENTRY_NOTE_MAX) {
		complain("run: --override: a reason of at most %d bytes, please; this one has %zu",
			ENTRY_NOTE_MAX - 1, strlen(o->reason));
		return -1;
	}
	if (o->reason && o->bench && !o->unit) {
		complain("run: --override is for a unit's file: with --bench, add --unit");
		return -1;
	}
	if (o->bench && o->meters.n > 0) {
		complain("run: --bench and --meter exclude each other");
		return -1;
	}
	if (!o->bench && (o->faults.n > 0 || o->speed > 1 || o->speed < 1)) {
		complain("run: --fault and --speed are for the virtual bench: add --bench");
		return -1;
	}
	if (!o->bench && !terminal_is_there()) {
		complain("run: the dashboard needs a terminal on standard input and output; "
			"run --bench does without, and mainstair judge reads a list of readings");
		return -1;
	}
	return 0;
}

/* The real bench, if there is one.  0, or -1 after complaints. */
static int find_bench(struct run_options *o)
{
	struct complaints c;

	complaints_init(&c, "bench.ini");
	int status = bench_find(o->meters.list, (size_t)o->meters.n, &o->setup, &o->setup_text, &c);
	complain_all(&c);
	complaints_release(&c);
	return status;
}

/* OPTIONS_READ, or the exit status. */
static int read_options(int argc, char **argv, struct run_options *o)
{
	struct option_number speed = {.to = &o->speed, .unit = UNIT_NONE, .least = 0.1,
		.most = speed_most};
	const struct option_row rows[] = {
		{"unit", "UNIT", take_word, &o->unit,
		 "the unit's file: a label (serial number, your own word), kept in "
		 "$XDG_DATA_HOME/mainstair/units (~/.local/share/mainstair/units), or a path. "
		 "Without it the label is the profile's file name: two units of the same kind need "
		 "labels"},
		{"override", "WHY", take_word, &o->reason,
		 "straight to the power-up; all that blocks power is overridden with this reason, "
		 "which the unit's file and the report keep"},
		{"meter", "SPEC", take_words, &o->meters,
		 "PROTOCOL:PORT[,BAUD[,FRAMING[,UNIT]]], PROTOCOL modbus, scpi or text, as in "
		 "modbus:/dev/ttyUSB0,9600,8N1,1; or a bench file (FILE.ini); or none: readings "
		 "are typed. May be given again: a bench file, then a port. Without it, the meter "
		 "of $XDG_CONFIG_HOME/mainstair/bench.ini, if any"},
		{"record", "FILE", take_word, &o->record,
		 "where the record goes; it must not be there yet. Without it, a new file in "
		 "$XDG_DATA_HOME/mainstair (~/.local/share/mainstair)"},
		{"like", "RECORD", take_word, &o->like_record,
		 "lay the settled watts of an earlier power-up, a sister unit's or this one's, "
		 "under this one: agree, differ or cannot tell at each stage. The band and the "
		 "abort line stay the model's"},
		{"measured", "WORDS", take_words, &o->measured,
		 "a number measured on this unit with the multimeter, in place of the profile's: "
		 "`primary 21.4 ohm`, `dropper 120 ohm`, `winding NAME 340 ohm`, `rail NAME filter "
		 "2k1`, or bleeder 98k, surge 47 ohm, reservoir 18 uF; with every tube and lamp out "
		 "`idle 3.1 W`, `idle 0.1 A`, `winding NAME 0.84 V at 15 V`; running at full line "
		 "`rail NAME 250 V`, `rail NAME 45 mA`. `mainstair check` says which, and how. May "
		 "be given again; the band gets narrower, the record keeps it, this run only: what "
		 "is typed at the power-up is kept in the unit's file"},
		{"bench", NULL, take_flag, &o->bench,
		 "a virtual unit, variac and meter instead of real ones: a demonstration; only the "
		 "power-up, and no unit's file, unless --unit names one"},
		{"fault", "WORDS", take_words, &o->faults,
		 "put a fault into the virtual unit, as in `rail main short`; may be given again; "
		 "mainstair simulate --help lists them"},
		{"speed", "FACTOR", take_number, &speed,
		 "with --bench: simulated seconds a second (1)"},
	};
	const struct command_usage usage = {
		.synopsis = "run [OPTION]... PROFILE",
		.about = "The whole job of the unit in PROFILE: look, tubes, ohms, re-forming, "
			"then the staged power-up on the dashboard (what it should draw at every "
			"voltage, whether it does, what to do next), calibration, comparison. "
			"Readings are typed, or come from a meter. It opens on what is next and on "
			"what blocks power; results are kept in the unit's own file, over days and "
			"runs.",
		.after = "While heaters warm up the band moves with the second. The stage page "
			"(Tab) ranks the faults that fit a finding, with the measurement that "
			"would tell, lists what the stages passed have ruled out and what not yet, "
			"and in the soak drift, slope and what is left to the abort line. A series "
			"lamp stands in the bench file (series_lamp = 60 W 120 V), and whether the "
			"meter is ahead of it or behind.\n"
			"\n"
			"With --bench and without a terminal the walk is done at once, in "
			"simulated time, and its table printed; a record is then kept only with "
			"--record.\n"
			"Exit status: 0 the run was ended by its user; 128 + N by signal N; 2 bad "
			"usage or input. Without a terminal: 0 all in band, 1 over or under, 3 an "
			"abort, 2 bad usage or input.",
		.rows = rows, .n_rows = sizeof rows / sizeof rows[0],
		.least = 1, .most = 1, .wanted = "one PROFILE, please",
	};
	char **operands;
	int status = options_read(&usage, argc, argv, &operands);

	if (status != OPTIONS_READ)
		return status;
	o->profile = operands[0];
	return check_options(o) == 0 && (!o->like_record ||
	       compare_read_like(o->like_record, &o->like) == 0) ? OPTIONS_READ : EXIT_USAGE;
}

int cmd_run(int argc, char **argv)
{
	struct run_options o = {.speed = 1, .meters.most = 4, .faults.most = 8,
		.measured.most = MEASURED_MAX};
	int status = read_options(argc, argv, &o);

	if (status != OPTIONS_READ)
		return status;
	bench_clear(&o.setup);
	buf_init(&o.setup_text);
	struct loaded_unit *u = malloc(sizeof *u);

	status = EXIT_USAGE;
	if (!u) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	if ((o.bench || find_bench(&o) == 0) && unit_load(u, o.profile) == 0) {
		unit_on_bench(u, &o.setup);
		bool measured = true;
		for (int i = 0; measured && i < o.measured.n; i++)
			measured = unit_measure(u, o.measured.list[i]) == 0;
		struct logbook *book = NULL;
		if (measured && find_book(&o, u, &book) == 0)
			status = terminal_is_there() ? on_terminal(&o, u, book) : walk(&o, u, book);
		logbook_close(book);
		unit_release(u);
	}
	buf_release(&o.setup_text);
	free(u);
	return status;
}
