/* mainstair replay RECORD - the dashboard on a saved power-up; without a terminal, its table */
#include "cli/commands.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/replay.h"
#include "cli/compare_gather.h"
#include "cli/like_table.h"
#include "cli/load_record.h"
#include "cli/options.h"
#include "cli/output.h"
#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

enum { ENDED_BY_SIGNAL = 128, PRINT_AT_ONCE = 1 << 16 };
static const double speed_most = 4096;

/* --- without a terminal ----------------------------------------------------------------------- */

static void cell(struct buf *out, double value, int decimals)
{
	char digits[64] = "-";
	if (isfinite(value))
		(void)num_print(digits, sizeof digits, value, decimals);
	buf_addf(out, " %8s", digits);
}

static void add_event(struct buf *out, const struct event *ev, enum verdict then)
{
	char note[EVENT_NOTE_MAX], seconds[32], stage[16] = "-";

	(void)num_print(seconds, sizeof seconds, ev->seconds, 2);
	(void)text_show(note, sizeof note, ev->note, strlen(ev->note));
	if (ev->stage >= 0)
		snprintf(stage, sizeof stage, "%d", ev->stage + 1);
	buf_addf(out, "%10s %-18s %5s", seconds, event_word(ev->kind), stage);
	cell(out, ev->volts, 2);
	cell(out, ev->watts, 2);
	cell(out, ev->amps, 3);
	bool reading = ev->kind == EVENT_READING;
	buf_addf(out, "  %-9s %-9s %s\n", reading ? verdict_word(then) : "-",
		reading ? verdict_word(ev->verdict) : "-", note);
}

/* What every stage came to so far: an abort or the stop key begins the walk anew, and what is read
 * on the way down is no stage's. */
static void follow_stages(const struct session *s, struct session_stage *stages)
{
	if (s->phase == PHASE_ABORT || s->phase == PHASE_STOPPED)
		return;
	for (int i = 0; i < s->plan->n_stages; i++)
		if (s->stages[i].have_reading && (s->stages[i].settled || !stages[i].settled))
			stages[i] = s->stages[i];
}

static int print_table(struct record *record, const struct run_unit *unit, const char *name,
                       const struct like_curve *like)
{
	struct session_stage stages[PLAN_STAGES_MAX] = {0};
	struct buf out = BUF_INIT;
	struct player player;
	struct event ev;
	enum verdict then;
	struct err err;
	char stamp[RECORD_STAMP_MAX], shown[PROFILE_TEXT_MAX];
	int status = EXIT_DONE;

	if (player_init(&player, record, unit, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	(void)text_show(shown, sizeof shown, name, strlen(name));
	record_stamp(stamp, record_head(record)->started_s);
	buf_addf(&out, "%s, started %s\n", shown, stamp);
	buf_addf(&out, "%10s %-18s %5s %8s %8s %8s  %-9s %-9s %s\n", "SECONDS", "EVENT", "STAGE",
		"VOLTS", "WATTS", "AMPS", "THEN", "NOW", "NOTE");
	for (size_t i = 0; i < record_n_events(record) && status == EXIT_DONE; i++) {
		if (player_step(&player, &ev, &then, &err) != 0) {
			complain("%s", err.text);
			status = EXIT_USAGE;
			break;
		}
		add_event(&out, &ev, then);
		follow_stages(player.session, stages);
		if (out.len >= PRINT_AT_ONCE) {
			status = output_flush(&out);
			buf_clear(&out);
		}
	}
	if (like && status == EXIT_DONE)
		like_table(&out, like, unit->meter, stages, unit->plan->n_stages);
	if (output_flush(&out) != EXIT_DONE)
		status = EXIT_USAGE;
	player_release(&player);
	buf_release(&out);
	return status;
}

/* --- the dashboard ------------------------------------------------------------------------------ */

static int dashboard(struct record *record, const struct replay_setup *setup)
{
	struct loop loop = {0};
	struct err err;
	int signal_number = 0, status = EXIT_DONE;

	if (loop_open(&loop, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	if (replay_run(&loop, setup, record, &signal_number, &err) != 0) {
		complain("%s", err.text);
		status = EXIT_USAGE;
	}
	loop_release(&loop);
	return signal_number ? ENDED_BY_SIGNAL + signal_number : status;
}

static int replay(struct record *record, const char *path, const char *profile,
                  const struct like_curve *like, double speed)
{
	struct loaded_unit *u = malloc(sizeof *u);
	struct replay_setup setup = {.path = path, .other_profile = profile != NULL, .like = like,
		.speed = speed};
	int status = EXIT_USAGE;

	if (!u) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	if (unit_load_record(u, record, profile) != 0) {
		free(u);
		return EXIT_USAGE;
	}
	plan_prove(u->plan, u->network);
	setup.unit = (struct run_unit){u->network, u->plan, &u->rule, &u->accuracy};
	setup.title = u->profile.name;
	setup.series_lamp = u->lamp.watts > 0;
	record_remark(record, setup.remark, sizeof setup.remark);
	if (setup.remark[0] && !terminal_is_there())
		complain("%s: %s", path, setup.remark);
	status = terminal_is_there() ? dashboard(record, &setup)
		: print_table(record, &setup.unit, u->profile.name, like);
	unit_release(u);
	free(u);
	return status;
}

int cmd_replay(int argc, char **argv)
{
	const char *profile = NULL, *like_record = NULL;
	struct like_curve like;
	double factor = 1;
	struct option_number speed = {.to = &factor, .unit = UNIT_NONE, .least = 0.1,
		.most = speed_most};
	const struct option_row rows[] = {
		{"profile", "FILE", take_word, &profile,
		 "judge the readings by another profile than the one in the record; both verdicts "
		 "are shown"},
		{"like", "RECORD", take_word, &like_record,
		 "lay the settled watts of another power-up under this one: agree, differ or cannot "
		 "tell at each stage"},
		{"speed", "FACTOR", take_number, &speed, "record seconds a second to begin with (1)"},
	};
	const struct command_usage usage = {
		.synopsis = "replay [OPTION]... RECORD",
		.about = "The dashboard on a saved power-up: pause, faster, slower, step by event "
			"in both directions, jump to a stage or to the first finding; ? lists the "
			"keys. Without a terminal the events are printed, each reading with its "
			"verdict then and now.",
		.after = "Exit status: 0, 128 + N ended by signal N, 2 bad usage or input.",
		.rows = rows, .n_rows = sizeof rows / sizeof rows[0],
		.least = 1, .most = 1, .wanted = "one RECORD, please",
	};
	struct record *record;
	struct err err;
	char **operands;
	int status = options_read(&usage, argc, argv, &operands);

	if (status != OPTIONS_READ)
		return status;
	if (like_record && compare_read_like(like_record, &like) != 0)
		return EXIT_USAGE;
	if (record_open(operands[0], &record, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	status = replay(record, operands[0], profile, like_record ? &like : NULL, factor);
	record_close(record);
	return status;
}
