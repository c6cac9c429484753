/*
 * The dashboard on a meter: the real program in one pseudo-terminal, a meter behind another.  The
 * meter is this test, sending lines, or `mainstair simulate` in its three protocols.
 */
#include <criterion/criterion.h>
#include <fcntl.h>
#include <ftw.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/record_file.h"
#include "lib/pty_pair.h"
#include "lib/vtdrive.h"

/* How long a screen may take, with sanitizers and on a busy machine. */
enum { SOON = 20000 };

static char folder[] = "/tmp/mainstair-meter-XXXXXX";
static char record_file[64], data_home[80], config_home[80], program[512], profile[512];
static struct pty_pair line;
static struct vt v;

static void set_up(void)
{
	cr_assert(mkdtemp(folder) != NULL);
	snprintf(record_file, sizeof record_file, "%s/run.record", folder);
	snprintf(data_home, sizeof data_home, "XDG_DATA_HOME=%s", folder);
	snprintf(config_home, sizeof config_home, "XDG_CONFIG_HOME=%s", folder);
	snprintf(program, sizeof program, "%s", getenv("MAINSTAIR_PROGRAM"));
	snprintf(profile, sizeof profile, "%s/bench-oscillator.ini", getenv("MAINSTAIR_PROFILES"));
	cr_assert(pty_pair_open(&line) == 0);
}

static int remove_one(const char *path, const struct stat *st, int kind, struct FTW *walk)
{
	(void)st;
	(void)kind;
	(void)walk;
	return remove(path);
}

static void clean_up(void)
{
	pty_pair_close(&line);
	nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

TestSuite(run_meter, .timeout = 180, .init = set_up, .fini = clean_up);

static void start(const char *meter, const char *second_meter)
{
	char *argv[16] = { program, "run", "--override", "a test", "--record", record_file, profile,
		"--meter",
		(char *)meter, second_meter ? "--meter" : NULL, (char *)second_meter, NULL };
	const char *env[] = { "TERM=xterm-256color", "LC_ALL=C.UTF-8", data_home, config_home,
		NULL };

	vt_start(&v, 40, 120, argv, env);
	cr_assert(vt_wait(&v, "BEFORE YOU PLUG IN", SOON));
	vt_type(&v, "a");
	cr_assert(vt_wait(&v, "20 V", SOON));
}

static void quit(void)
{
	vt_type(&v, "q");
	cr_assert(vt_wait(&v, "End the run?", SOON));
	vt_type(&v, "y");
	cr_assert(vt_end(&v, SOON) == 0);
	vt_free(&v);
}

static void say(const char *text)
{
	cr_assert(write(line.master, text, strlen(text)) == (ssize_t)strlen(text));
}

/* Say it again and again, as a meter does, until the screen has `expect`. */
static bool say_until(const char *text, const char *expect)
{
	for (int i = 0; i < SOON / 100; i++) {
		say(text);
		if (vt_wait(&v, expect, 100))
			return true;
	}
	return false;
}

/* Events of a kind in the record whose note holds `text`. */
static int recorded(enum event_kind kind, const char *text)
{
	struct record *rec;
	struct event ev;
	struct err err;
	int n = 0;

	cr_assert(record_open(record_file, &rec, &err) == 0, "%s", err.text);
	for (size_t i = 0; i < record_n_events(rec); i++) {
		cr_assert(record_event(rec, i, &ev, &err) == 0);
		n += ev.kind == kind && strstr(ev.note, text) != NULL;
	}
	record_close(rec);
	return n;
}

static char text_spec[200];

static void start_text(void)
{
	snprintf(text_spec, sizeof text_spec, "text:%s", line.link);
	start(text_spec, NULL);
	say("cut\r\n"); /* the first line after opening is passed over */
}

Test(run_meter, readings_flow_in_beside_typed_ones)
{
	start_text();
	cr_assert(say_until("20.0,0.052,1.03\r\n", "20.0 V 1.03 W"));
	/* the stage follows the volts */
	cr_assert(say_until("35.0,0.075,2.61\r\n", "35.0 V 2.61 W"));
	vt_type(&v, "35 2.62\r");
	cr_assert(vt_wait(&v, "35.0 V 2.62 W", SOON));
	quit();
	cr_assert(recorded(EVENT_METER, "text: ") == 1);
	cr_assert(recorded(EVENT_STAGE, "recognised") >= 2);
	cr_assert(recorded(EVENT_READING, "text lines") >= 2);
	cr_assert(recorded(EVENT_READING, "typed") == 1);
}

Test(run_meter, silence_is_blind)
{
	start_text();
	cr_assert(say_until("20.0,0.052,1.03\r\n", "20.0 V 1.03 W"));
	cr_assert(vt_wait(&v, "BLIND", SOON) || vt_has(&v, "blind"));
	cr_assert(vt_wait(&v, "zero", SOON));
	cr_assert(say_until("20.0,0.052,1.04\r\n", "20.0 V 1.04 W"));
	quit();
	cr_assert(recorded(EVENT_BLIND, "no reading") == 1);
}

Test(run_meter, unplugged_and_back_under_another_number)
{
	struct pty_pair other;

	start_text();
	cr_assert(say_until("20.0,0.052,1.03\r\n", "20.0 V 1.03 W"));
	pty_pair_unplug(&line);
	cr_assert(vt_wait(&v, "port lost", SOON));
	cr_assert(pty_pair_open(&other) == 0);
	cr_assert(pty_pair_relink(&line, &other) == 0);
	line.master = other.master;
	cr_assert(say_until("20.0,0.052,1.05\r\n", "20.0 V 1.05 W"));
	line.master = -1;
	quit();
	pty_pair_close(&other);
	cr_assert(recorded(EVENT_METER, "lost: ") >= 1);
	cr_assert(recorded(EVENT_METER, "opened: ") == 1);
	cr_assert(recorded(EVENT_METER, "reading") >= 2);
}

Test(run_meter, impossible_values_are_recorded_raw)
{
	start_text();
	cr_assert(say_until("20.0,0.052,1.03\r\n", "20.0 V 1.03 W"));
	say("900,0.052,1.03\r\n20.0,0.052,-7\r\n20.0,0.052,nan\r\n");
	say("OL,0.052,1.03\r\n20.0,0.01,55\r\n");
	cr_assert(say_until("20.0,0.052,1.04\r\n", "20.0 V 1.04 W"));
	quit();
	cr_assert(recorded(EVENT_IMPOSSIBLE, "raw: 900,0.052,1.03") == 1);
	cr_assert(recorded(EVENT_IMPOSSIBLE, "raw: 20.0,0.052,-7") == 1);
	cr_assert(recorded(EVENT_IMPOSSIBLE, "watts told as not a number") == 1);
	cr_assert(recorded(EVENT_IMPOSSIBLE, "volts over the meter's range") == 1);
	cr_assert(recorded(EVENT_IMPOSSIBLE, "more than volts times amps") == 1);
	cr_assert(recorded(EVENT_ABORT_RAISED, "") == 0);
}

/* The meter still reads volts: it gainsays the word once. */
static void off_twice(void)
{
	vt_type(&v, "off\r");
	cr_assert(vt_wait(&v, "the meter still reads 20.0 V", SOON));
	cr_assert(vt_has(&v, "PLUG OUT"));
	vt_type(&v, "off\r");
	cr_assert(vt_wait_gone(&v, "PLUG OUT", SOON));
}

Test(run_meter, an_abort_comes_at_once)
{
	start_text();
	cr_assert(say_until("20.0,0.052,1.03\r\n", "20.0 V 1.03 W"));
	say("20.0,3.1,60.0\r\n");
	cr_assert(vt_wait(&v, "PLUG OUT", SOON));
	say("20.0,1.1,21.0\r\n"); /* the watts go on being shown */
	cr_assert(vt_wait(&v, "21.0", SOON));
	off_twice();
	quit();
	cr_assert(recorded(EVENT_ABORT_RAISED, "") == 1);
}

static void write_bench(char path[128], const char *text)
{
	int fd;

	snprintf(path, 128, "%s/two.ini", folder);
	fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
	cr_assert(fd >= 0 && write(fd, text, strlen(text)) == (ssize_t)strlen(text));
	close(fd);
}

Test(run_meter, volts_and_amps_give_va_and_no_watts)
{
	char bench[128];

	write_bench(bench, "[meter]\nprotocol = text\nfields = volts, amps\n");
	snprintf(text_spec, sizeof text_spec, "text:%s", line.link);
	start(bench, text_spec);
	say("cut\r\n");
	cr_assert(say_until("20.0,0.0525\r\n", "20.0 V"));
	/* a short shows in amps alone: the fuse is crossed */
	say("20.0,2.5\r\n");
	cr_assert(vt_wait(&v, "PLUG OUT", SOON));
	off_twice();
	quit();
	cr_assert(recorded(EVENT_READING, "1.1 VA, watts not told") >= 1);
	cr_assert(recorded(EVENT_IMPOSSIBLE, "") == 0);
}

Test(run_meter, no_amps_and_no_power_factor_is_fine)
{
	char bench[128];

	write_bench(bench, "[meter]\nprotocol = text\nfields = volts, watts\n"
	            "resolution = 1 W\naccuracy = 1 % + 1 counts\n");
	snprintf(text_spec, sizeof text_spec, "text:%s", line.link);
	start(bench, text_spec);
	say("cut\r\n");
	cr_assert(say_until("20.0,1\r\n", "20.0 V 1.00 W"));
	quit();
	cr_assert(recorded(EVENT_READING, "text lines") >= 1);
}

/* ---- the virtual bench behind its own pseudo-terminal ---- */

static pid_t simulate(const char *protocol, const char *link, int *ret_orders)
{
	int orders[2];
	pid_t child;

	cr_assert(pipe(orders) == 0);
	child = fork();
	if (child == 0) {
		int null = open("/dev/null", O_WRONLY);

		prctl(PR_SET_PDEATHSIG, SIGKILL);
		dup2(orders[0], STDIN_FILENO);
		dup2(null, STDOUT_FILENO);
		close(orders[0]);
		close(orders[1]);
		execl(program, program, "simulate", profile, "--protocol", protocol, "--link", link,
		      "--variac", "20", (char *)NULL);
		_exit(127);
	}
	close(orders[0]);
	*ret_orders = orders[1];
	for (int i = 0; i < 400 && access(link, F_OK) != 0; i++)
		usleep(50000);
	return child;
}

static void order(int fd, const char *text)
{
	cr_assert(write(fd, text, strlen(text)) == (ssize_t)strlen(text));
}

static void walk(const char *protocol)
{
	char link[128], spec[160];
	int orders;
	pid_t bench;

	snprintf(link, sizeof link, "%s/bench", folder);
	snprintf(spec, sizeof spec, "%s:%s", protocol, link);
	bench = simulate(protocol, link, &orders);
	start(spec, NULL);
	cr_assert(vt_wait(&v, "reading 20.0 V", SOON) || vt_wait(&v, "20.0 V", SOON));
	order(orders, "35\n");
	cr_assert(vt_wait(&v, "35.0 V", SOON));
	/* a bad line costs readings and makes none up, where a check sum protects them */
	if (strcmp(protocol, "modbus") == 0) {
		order(orders, "line noise 2 %\n");
		cr_assert(vt_wait(&v, "CRC errors", SOON) || vt_wait(&v, "garbled", SOON));
	}
	order(orders, "line cut\n");
	cr_assert(vt_wait(&v, "port lost", SOON));
	order(orders, "line good\nline join\n");
	cr_assert(vt_wait_gone(&v, "port lost", SOON));
	order(orders, "20\n");
	cr_assert(vt_wait(&v, "20.0 V", SOON));
	quit();
	order(orders, "quit\n");
	close(orders);
	cr_assert(waitpid(bench, NULL, 0) == bench);
	cr_assert(recorded(EVENT_METER, protocol) >= 1);
	cr_assert(recorded(EVENT_METER, "lost: ") >= 1);
	cr_assert(recorded(EVENT_METER, "opened: ") == 1);
	cr_assert(recorded(EVENT_READING, "") >= 3);
}

Test(run_meter, virtual_bench_modbus)
{
	walk("modbus");
}

Test(run_meter, virtual_bench_scpi)
{
	walk("scpi");
}

Test(run_meter, virtual_bench_text)
{
	walk("text");
}
