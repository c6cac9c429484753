/* mainstair simulate PROFILE - a virtual bench behind a pseudo-terminal */
#include "cli/commands.h"

#include <errno.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "bench/bench.h"
#include "bench/order.h"
#include "bench/talk.h"
#include "cli/load_unit.h"
#include "cli/options.h"
#include "cli/output.h"
#include "cli/pty_port.h"
#include "io/whole_file.h"
#include "mainstair/base/num.h"
#include "mainstair/base/text.h"
#include "mainstair/core/fault.h"

/* Between two looks at the clock, ms. */
enum { TICK_MS = 20 };
static const double meter_window_s = 0.2;
static const double text_period_s = 0.2;
/* After a pause of the whole program (stopped, laptop asleep) only so much is made up for. */
static const double most_lag_s = 1;
/* The bench runs in slices, and no longer than this without a look at line and orders: a machine
 * too slow for the speed asked for simulates more slowly, and answers as it should. */
static const double slice_s = 0.05, most_busy_s = 0.05;
/* An order a second for days. */
static const size_t script_bytes_max = 4 << 20;

struct timed_order {
	double at_s;
	struct order order;
};

struct simulation {
	struct bench *bench;
	struct talk talk;
	struct pty_port port;
	const char *link;
	double slew, speed;
	struct timed_order *script;
	size_t n_script, next_order;
	unsigned long told; /* bench readings handed to the meter's line */
	bool over;

	char typed[256]; /* a line of standard input under way */
	size_t n_typed;
	bool typed_overlong;
};

static double now_s(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* ---- orders ---- */

static void print_status(const struct simulation *s)
{
	const struct network *net = bench_network(s->bench);
	struct bench_reading r;

	bench_read(s->bench, &r);
	printf("%.1f s, variac %.1f V", bench_seconds(s->bench), bench_variac(s->bench));
	if (r.count > 0)
		printf(", meter %.1f V %.2f W %.3f A %.2f PF", r.volts, r.watts, r.amps,
		       r.power_factor);
	for (int k = 0; k < net->n_rails; k++) {
		const char *name = net->rails[k].name;
		printf(", rail %s %.1f V%s", name, bench_rail_volts(s->bench, name),
		       bench_regulator_lit(s->bench, name) ? " lit" : "");
	}
	putchar('\n');
}

static int join_line(struct simulation *s, struct err *err)
{
	if (s->port.master >= 0)
		return 0;
	if (pty_port_open(&s->port, err) != 0)
		return -1;
	if (s->link && pty_port_link(&s->port, s->link, err) != 0) {
		pty_port_close(&s->port);
		return -1;
	}
	printf("%s\n", s->port.name);
	return 0;
}

static void cut_line(struct simulation *s)
{
	talk_hang_up(&s->talk);
	pty_port_close(&s->port);
}

/* 0, or -1 after nothing was done. */
static int obey(struct simulation *s, const struct order *o, struct err *err)
{
	struct talk_line *line = &s->talk.line;

	switch (o->kind) {
	case ORDER_VARIAC:
		bench_set_variac(s->bench, o->value, s->slew);
		break;
	case ORDER_UP:
		bench_set_variac(s->bench, bench_variac_target(s->bench) + o->value, s->slew);
		break;
	case ORDER_FAULT:
		return bench_fault(s->bench, o->words, err);
	case ORDER_MEND:
		bench_mend(s->bench);
		break;
	case ORDER_LINE_NOISE:
		line->noise_share = o->value;
		break;
	case ORDER_LINE_DROP:
		line->drop_share = o->value;
		break;
	case ORDER_LINE_SLOW:
		line->slow_s = o->value;
		break;
	case ORDER_LINE_CHECK:
		line->bad_check = true;
		break;
	case ORDER_LINE_FREEZE:
		line->frozen = true;
		break;
	case ORDER_LINE_MUTE:
		line->mute = true;
		break;
	case ORDER_LINE_GOOD:
		*line = (struct talk_line){ 0 };
		break;
	case ORDER_LINE_CUT:
		cut_line(s);
		break;
	case ORDER_LINE_JOIN:
		return join_line(s, err);
	case ORDER_SLEW:
		s->slew = o->value;
		break;
	case ORDER_SPEED:
		s->speed = o->value;
		break;
	case ORDER_STATUS:
		print_status(s);
		break;
	case ORDER_QUIT:
		s->over = true;
		break;
	case ORDER_NOTHING:
		break;
	}
	return 0;
}

static void obey_typed(struct simulation *s, const char *line)
{
	struct order order;
	struct err err;

	if (order_parse(line, &order, &err) != 0 || obey(s, &order, &err) != 0)
		complain("%s", err.text);
}

/* Bytes of standard input; whole lines are obeyed. */
static void take_typed(struct simulation *s, const char *bytes, size_t n)
{
	for (size_t k = 0; k < n; k++) {
		if (bytes[k] != '\n') {
			if (s->n_typed + 1 < sizeof s->typed)
				s->typed[s->n_typed++] = bytes[k];
			else
				s->typed_overlong = true;
			continue;
		}
		s->typed[s->n_typed] = 0;
		if (s->typed_overlong)
			complain("an order of more than %zu characters is passed over",
			         sizeof s->typed - 1);
		else if (strlen(s->typed) != s->n_typed)
			complain("an order with a NUL in it is passed over");
		else
			obey_typed(s, s->typed);
		s->n_typed = 0;
		s->typed_overlong = false;
	}
}

/* ---- the script ---- */

static int add_scripted(struct simulation *s, const struct timed_order *o)
{
	struct timed_order *more = realloc(s->script, (s->n_script + 1) * sizeof *more);

	if (!more)
		return -1;
	s->script = more;
	s->script[s->n_script++] = *o;
	return 0;
}

/* One line of a script.  0, or -1 with err. */
static int take_scripted(struct simulation *s, const char *line, const struct network *net,
                         struct network *copy, struct err *err)
{
	const double last_s = s->n_script > 0 ? s->script[s->n_script - 1].at_s : 0;
	struct timed_order o;

	if (order_parse_timed(line, &o.at_s, &o.order, err) != 0)
		return -1;
	if (o.order.kind == ORDER_NOTHING)
		return 0;
	*copy = *net;
	if (o.order.kind == ORDER_FAULT && fault_apply(copy, o.order.words, err) != 0)
		return -1;
	if (o.at_s < last_s)
		return err_set(err, ERR_INPUT, "the seconds go back, from %g to %g", last_s, o.at_s);
	if (add_scripted(s, &o) != 0)
		return err_set(err, ERR_NOMEM, "out of memory");
	return 0;
}

/* Read and check all of a script; a fault is tried on a copy of the unit.  0, or -1 after
 * complaints about every line that is wrong. */
static int load_script(struct simulation *s, const char *path, const struct network *net)
{
	struct network *copy = malloc(sizeof *copy);
	struct buf bytes = BUF_INIT;
	struct complaints wrong;
	struct err err;
	int number = 0, status = -1;

	complaints_init(&wrong, path);
	if (!copy || whole_file_read(path, script_bytes_max, &bytes, &err) != 0) {
		complain("%s", copy ? err.text : "out of memory");
		goto out;
	}
	for (size_t at = 0; at < bytes.len; at++) {
		char *line = bytes.data + at;
		char *end = memchr(line, '\n', bytes.len - at);
		const size_t n = end ? (size_t)(end - line) : bytes.len - at;

		number++;
		line[n] = '\0';
		if (strlen(line) < n)
			complaints_add(&wrong, number, NULL, NULL, "a zero byte; this is no text");
		else if (take_scripted(s, line, net, copy, &err) != 0)
			complaints_add(&wrong, number, NULL, NULL, "%s", err.text);
		at += n;
	}
	if (complaints_count(&wrong) == 0 && s->n_script == 0)
		complaints_add(&wrong, COMPLAINT_WHOLE_FILE, NULL, NULL, "no orders in it");
	complain_all(&wrong);
	status = complaints_count(&wrong) == 0 ? 0 : -1;
out:
	complaints_release(&wrong);
	buf_release(&bytes);
	free(copy);
	return status;
}

/* ---- time ---- */

static void tell_reading(struct simulation *s, double clock_s)
{
	struct bench_reading r;
	struct reading told;

	if (!bench_read(s->bench, &r) || r.count == s->told)
		return;
	s->told = r.count;
	reading_clear(&told);
	told.from = FROM_BENCH;
	told.t_ms = (int64_t)(clock_s * 1000);
	reading_set(&told, READING_VOLTS, r.volts);
	reading_set(&told, READING_AMPS, r.amps);
	reading_set(&told, READING_WATTS, r.watts);
	reading_set(&told, READING_POWER_FACTOR, r.power_factor);
	reading_set(&told, READING_HERTZ, bench_network(s->bench)->line_hz);
	reading_complete(&told);
	talk_reading(&s->talk, &told);
}

/* Let the bench run on, with the orders of the script at their times. */
static void run_bench(struct simulation *s, double dt_s, double clock_s)
{
	double until_s = bench_seconds(s->bench) + dt_s;

	while (!s->over && s->next_order < s->n_script &&
	       s->script[s->next_order].at_s <= until_s) {
		const struct timed_order *o = &s->script[s->next_order++];
		struct err err;
		bench_advance(s->bench, o->at_s - bench_seconds(s->bench));
		tell_reading(s, clock_s);
		if (obey(s, &o->order, &err) != 0)
			complain("%s", err.text);
		if (s->next_order == s->n_script)
			s->over = true;
	}
	if (!s->over)
		bench_advance(s->bench, until_s - bench_seconds(s->bench));
	tell_reading(s, clock_s);
}

static void serve_port(struct simulation *s)
{
	uint8_t bytes[1024];
	size_t n = pty_port_read(&s->port, bytes, sizeof bytes);

	talk_hear(&s->talk, bytes, n, now_s());
	n = talk_say(&s->talk, now_s(), bytes, sizeof bytes);
	pty_port_write(&s->port, bytes, n);
}

/* Make up for the real time since *last_s, as far as the machine can. */
static void catch_up(struct simulation *s, double *last_s)
{
	double start_s = now_s(), due_s = fmin(start_s - *last_s, most_lag_s) * s->speed;

	*last_s = start_s;
	while (!s->over && due_s > 0 && now_s() - start_s < most_busy_s) {
		double dt_s = fmin(due_s, slice_s);
		run_bench(s, dt_s, start_s);
		due_s -= dt_s;
	}
}

/* Milliseconds until there is something to do. */
static int wait_ms(const struct simulation *s)
{
	double ms = ceil((talk_due(&s->talk) - now_s()) * 1000);

	return ms < 1 ? 1 : ms < TICK_MS ? (int)ms : TICK_MS;
}

/* Until quit, the script's end or a signal. */
static void run(struct simulation *s, int signals, bool listen)
{
	double last_s = now_s();
	struct pollfd p[3] = {
		{ signals, POLLIN, 0 }, { listen ? STDIN_FILENO : -1, POLLIN, 0 }, { -1, POLLIN, 0 }
	};

	while (!s->over) {
		p[2].fd = s->port.master;
		(void)fflush(stdout);
		if (poll(p, 3, wait_ms(s)) < 0 && errno != EINTR)
			break;
		if (p[0].revents)
			break;
		catch_up(s, &last_s);
		if (p[1].revents) {
			char bytes[256];
			ssize_t n = read(STDIN_FILENO, bytes, sizeof bytes);
			if (n > 0)
				take_typed(s, bytes, (size_t)n);
			else if (n == 0 && isatty(STDIN_FILENO))
				s->over = true;
			else
				p[1].fd = -1; /* a pipe that ended: go on without it */
		}
		serve_port(s);
	}
	(void)fflush(stdout);
}

/* Signals that end it, as a descriptor.  -1 after a complaint. */
static int open_signals(void)
{
	sigset_t set;
	int fd;

	sigemptyset(&set);
	sigaddset(&set, SIGTERM);
	sigaddset(&set, SIGHUP);
	sigaddset(&set, SIGINT);
	sigprocmask(SIG_BLOCK, &set, NULL);
	/* in the background of a terminal, reading it is an error to us, not a stop */
	signal(SIGTTIN, SIG_IGN);
	signal(SIGPIPE, SIG_IGN);
	fd = signalfd(-1, &set, SFD_CLOEXEC | SFD_NONBLOCK);
	if (fd < 0)
		complain("cannot take signals: %s", strerror(errno));
	return fd;
}

static bool is_listened_to(int fd)
{
	struct stat st;

	if (isatty(fd))
		return true;
	return fstat(fd, &st) == 0 && (S_ISFIFO(st.st_mode) || S_ISSOCK(st.st_mode));
}

/* ---- options ---- */

struct simulate_options {
	struct option_words faults;
	const char *profile, *link, *script;
	enum talk_protocol protocol;
	double seed, variac_volts, slew, speed, unit; /* seed and unit are whole */
};

static int take_protocol(const char *option, const char *text, void *into)
{
	int protocol = talk_protocol_from_word(text);
	char shown[64];

	if (protocol < 0) {
		text_show(shown, sizeof shown, text, strlen(text));
		complain("%s: \"%s\" is none of text, scpi, modbus", option, shown);
		return -1;
	}
	*(enum talk_protocol *)into = (enum talk_protocol)protocol;
	return 0;
}

/* What the help says behind the options. */
static void tell_more(struct buf *out)
{
	buf_adds(out,
	         "text: five lines a second, `VOLTS,AMPS,WATTS`. scpi: answers "
	         "MEASure:VOLTage:AC?, MEASure:CURRent:AC?, MEASure:POWer:AC?, ...:APParent?, "
	         "...:PFACtor?, MEASure:FREQuency?, *IDN?, SYSTem:ERRor?. modbus: RTU, functions 03 "
	         "and 04, IEEE 754 floats, high word first; registers 0 volts, 2 amps, 4 watts, 6 "
	         "VA, 8 power factor, 10 hertz.\n"
	         "\n"
	         "Orders, from standard input when that is a terminal or a pipe:\n");
	buf_adds(out, order_help);
	buf_adds(out, "\nFaults:\n");
	for (size_t k = 0; k < n_fault_help; k++)
		buf_addf(out, "  %-30s %s\n", fault_help[k].words, fault_help[k].meaning);
	buf_adds(out, "\nExit status: 0 ended, 2 bad usage or input.");
}

/* OPTIONS_READ, or the exit status. */
static int read_options(int argc, char **argv, struct simulate_options *o)
{
	/* addresses: Modbus over serial line V1.02, 2.2 */
	struct option_number seed = { &o->seed, UNIT_NONE, 0, 1e15, .whole = true };
	struct option_number unit = { &o->unit, UNIT_NONE, 1, 247, .whole = true };
	struct option_number variac = { .to = &o->variac_volts, .unit = UNIT_NONE, .least = 0,
		.most = 300 };
	struct option_number slew = { .to = &o->slew, .unit = UNIT_NONE, .least = 0.1,
		.most = 1000 };
	struct option_number speed = { .to = &o->speed, .unit = UNIT_NONE, .least = 0.01,
		.most = 100 };
	const struct option_row rows[] = {
		{ "fault", "WORDS", take_words, &o->faults,
		  "put a fault in from the start (may be given again)" },
		{ "protocol", "NAME", take_protocol, &o->protocol, "text (default), scpi or modbus" },
		{ "link", "PATH", take_word, &o->link,
		  "make PATH a symbolic link to the pseudo-terminal, removed at the end; nothing "
		  "but an older symbolic link is replaced" },
		{ "seed", "N", take_number, &seed,
		  "one unit out of many (0: none): heaters +-5 %, core loss +-20 %, rail loads "
		  "+-15 %, ohms +-10 %; and a meter with errors of its own" },
		{ "variac", "VOLTS", take_number, &variac, "where the variac stands at the start (0)" },
		{ "slew", "VOLTS", take_number, &slew, "variac, volts a second (20)" },
		{ "speed", "FACTOR", take_number, &speed,
		  "simulated seconds a second (1)" },
		{ "script", "FILE", take_word, &o->script,
		  "lines `SECONDS ORDER`, simulated seconds since the start, not falling; ends "
		  "after the last" },
		{ "unit", "N", take_number, &unit, "Modbus: address (1)" },
	};
	struct buf more = BUF_INIT;
	struct command_usage usage = {
		.synopsis = "simulate [OPTION]... PROFILE",
		.about = "A virtual bench: a unit built to PROFILE, a variac in front of it and a "
			"power meter between them, behind a pseudo-terminal whose name is the "
			"first line printed. It is a simulation; it measures nothing.",
		.rows = rows, .n_rows = sizeof rows / sizeof rows[0],
		.least = 1, .most = 1, .wanted = "one PROFILE, please",
	};
	char **operands;
	int status;

	tell_more(&more);
	usage.after = more.data;
	status = options_read(&usage, argc, argv, &operands);
	if (status == OPTIONS_READ)
		o->profile = operands[0];
	buf_release(&more);
	return status;
}

/* A bench with the faults in it.  NULL after a complaint. */
static struct bench *build_bench(const struct network *net, const struct simulate_options *o)
{
	struct bench_options options = {
		.seed = (uint64_t)o->seed, .start_volts = o->variac_volts,
		.meter_window_s = meter_window_s
	};
	struct err err;
	struct bench *b = bench_new(net, &options, &err);

	for (int k = 0; b && k < o->faults.n; k++)
		if (bench_fault(b, o->faults.list[k], &err) != 0) {
			bench_free(b);
			b = NULL;
		}
	if (!b)
		complain("%s", err.text);
	return b;
}

static int simulate(const struct network *net, const struct simulate_options *o)
{
	struct simulation *s = calloc(1, sizeof *s);
	struct err err;
	int status = EXIT_USAGE, signals = -1;

	if (!s) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	s->port.master = s->port.far = -1;
	s->link = o->link;
	s->slew = o->slew;
	s->speed = o->speed;
	s->bench = build_bench(net, o);
	if (!s->bench || (o->script && load_script(s, o->script, net) != 0))
		goto out;
	talk_init(&s->talk, o->protocol, (uint8_t)o->unit, text_period_s, (uint64_t)o->seed,
	          now_s());
	signals = open_signals();
	if (signals < 0)
		goto out;
	if (join_line(s, &err) != 0) {
		complain("%s", err.text);
		goto out;
	}
	run(s, signals, is_listened_to(STDIN_FILENO));
	status = EXIT_DONE;
out:
	pty_port_close(&s->port);
	if (signals >= 0)
		close(signals);
	bench_free(s->bench);
	free(s->script);
	free(s);
	return status;
}

int cmd_simulate(int argc, char **argv)
{
	struct simulate_options options = { .slew = 20, .speed = 1, .unit = 1, .faults.most = 32 };
	struct loaded_unit *unit;
	int status = read_options(argc, argv, &options);

	if (status != OPTIONS_READ)
		return status;
	status = EXIT_USAGE;
	unit = calloc(1, sizeof *unit);
	if (!unit) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	if (unit_load(unit, options.profile) == 0) {
		status = simulate(unit->network, &options);
		unit_release(unit);
	}
	free(unit);
	return status;
}
