/* mainstair replay RECORD - the dashboard on a saved power-up; without a terminal, its table */
#include "cli/commands.h"

#include <getopt.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/replay.h"
#include "cli/load_record.h"
#include "cli/output.h"
#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

static const char usage[] =
	"usage: mainstair replay [--profile PROFILE] [--speed FACTOR] RECORD\n"
	"\n"
	"The dashboard on a saved power-up: pause, faster, slower, step by event in both directions,\n"
	"jump to a stage or to the first finding; ? lists the keys. With --profile the readings are\n"
	"judged by another profile than the one in the record, and both verdicts shown.\n"
	"--speed: record seconds a second to begin with (1).\n"
	"Without a terminal the events are printed, each reading with its verdict then and now.\n"
	"Exit status: 0, 128 + N ended by signal N, 2 bad usage or input.\n";

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

static int print_table(struct record *record, const struct run_unit *unit, const char *name)
{
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
		if (out.len >= PRINT_AT_ONCE) {
			status = output_flush(&out);
			buf_clear(&out);
		}
	}
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

static int replay(struct record *record, const char *path, const char *profile, double speed)
{
	struct loaded_unit *u = malloc(sizeof *u);
	struct replay_setup setup = {.path = path, .other_profile = profile != NULL, .speed = speed};
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
		: print_table(record, &setup.unit, u->profile.name);
	unit_release(u);
	free(u);
	return status;
}

int cmd_replay(int argc, char **argv)
{
	static const struct option options[] = {
		{"profile", required_argument, NULL, 'p'},
		{"speed", required_argument, NULL, 's'},
		{"help", no_argument, NULL, 'h'},
		{NULL, 0, NULL, 0},
	};
	const char *profile = NULL;
	struct quantity speed = {.value = 1};
	struct record *record;
	struct err err;
	int option;

	opterr = 0;
	optind = 0;
	while ((option = getopt_long(argc, argv, ":h", options, NULL)) != -1) {
		switch (option) {
		case 'p':
			profile = optarg;
			break;
		case 's':
			if (num_parse(optarg, UNIT_NONE, &speed, &err) != 0) {
				complain("--speed: %s", err.text);
				return EXIT_USAGE;
			}
			if (!(speed.value >= 0.1 && speed.value <= speed_most)) {
				complain("--speed: 0.1 to 4096, please");
				return EXIT_USAGE;
			}
			break;
		case 'h':
			return output_text(usage);
		default:
			complain_option(option, argv);
			return EXIT_USAGE;
		}
	}
	if (argc - optind != 1) {
		complain("replay: one RECORD, please; see mainstair replay --help");
		return EXIT_USAGE;
	}
	if (record_open(argv[optind], &record, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	int status = replay(record, argv[optind], profile, speed.value);
	record_close(record);
	return status;
}
