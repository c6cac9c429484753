/*
 * The edge to the terminal: one that is slow, stopped, gone, resized, or of an uncommon kind, under
 * the real program with a meter that goes on reading.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "lib/pty_pair.h"
#include "lib/vtdrive.h"
#include "own_record.h"

/* How long a screen may take, with sanitizers and on a busy machine. */
enum { SOON = 20000, ROWS = 40, COLS = 120 };

static char program[512], profile[512], meter[128];
static struct pty_pair line;
static struct vt v;

static void set_up(void)
{
	make_own_record();
	snprintf(program, sizeof program, "%s", getenv("MAINSTAIR_PROGRAM"));
	snprintf(profile, sizeof profile, "%s/bench-oscillator.ini", getenv("MAINSTAIR_PROFILES"));
	cr_assert(pty_pair_open(&line) == 0);
	snprintf(meter, sizeof meter, "text:%s", line.slave);
}

static void clean_up(void)
{
	pty_pair_close(&line);
	remove_own_folder();
}

TestSuite(terminal, .timeout = 250, .init = set_up, .fini = clean_up);

static void wait_ms(long ms)
{
	nanosleep(&(struct timespec){ms / 1000, ms % 1000 * 1000000}, NULL);
}

static void say(double volts, double watts)
{
	char text[64];
	int n = snprintf(text, sizeof text, "%.1f,%.3f,%.2f\r\n", volts,
		volts > 0 ? watts / volts : 0, watts);
	cr_assert(write(line.master, text, (size_t)n) == n);
}

/* A reading that the screen shows. */
static void see(double volts, double watts)
{
	char token[32];
	snprintf(token, sizeof token, "%.1f V %.2f W", volts, watts);
	say(volts, watts);
	cr_assert(vt_wait(&v, token, SOON), "%s", token);
}

/* The same, said until it is seen: what comes in while the program stops is thrown away, and the
 * line after it passed over. */
static void see_in_the_end(double volts, double watts)
{
	char token[32];
	bool seen = false;
	snprintf(token, sizeof token, "%.1f V %.2f W", volts, watts);
	for (int ms = 0; !seen && ms < SOON; ms += 250) {
		say(volts, watts);
		seen = vt_wait(&v, token, 250);
	}
	cr_assert(seen, "%s", token);
}

static void begin(char *const argv[], const char *term)
{
	const char *env[] = {term, "LC_ALL=C.UTF-8", data_home, config_home, "PS1=shell> ", "ENV", NULL};
	vt_start(&v, ROWS, COLS, argv, env);
}

static void acknowledge_cautions(void)
{
	cr_assert(vt_wait(&v, "BEFORE YOU PLUG IN", SOON));
	vt_type(&v, "a");
	cr_assert(vt_wait(&v, "20 V", SOON));
	say(0, 0); /* the first line is passed over */
	wait_ms(50);
}

/* The dashboard on the meter. */
static void start(const char *term)
{
	char *argv[] = {program, "run", "--override", "a test", "--record", record_file, profile,
		"--meter", meter, NULL};
	begin(argv, term);
	acknowledge_cautions();
}

static void quit(void)
{
	vt_type(&v, "q");
	cr_assert(vt_wait(&v, "End the run?", SOON));
	vt_type(&v, "y");
	int status = vt_end(&v, SOON);
	cr_assert(WIFEXITED(status) && WEXITSTATUS(status) == 0, "%x", status);
	cr_assert(!v.alternate, "the terminal was not given back");
	vt_free(&v);
}

/* ---- slow ---- */

/* Ten readings a second while the terminal takes nothing.  The kernel would keep 12 KB of pictures;
 * what comes then is one, and another for each answer that was given up. */
static void stream(int n)
{
	for (int i = 0; i < n; i++) {
		say(20, 1.01 + 0.01 * (i % 15));
		wait_ms(100);
	}
}

static long until_shown(const char *token)
{
	long before = v.taken;
	cr_assert(vt_wait(&v, token, SOON), "%s", token);
	return v.taken - before;
}

Test(terminal, old_pictures_do_not_queue_up_before_the_newest)
{
	start("TERM=xterm-256color");
	see(20, 1.10);
	stream(30);
	see(20, 1.19);
	stream(30);
	say(20, 1.17);
	wait_ms(100);
	long bytes = until_shown("20.0 V 1.17 W");
	cr_assert(bytes < 6000, "%ld bytes before the newest reading", bytes);
	quit();
	cr_assert(recorded(EVENT_READING, NULL) >= 62);
}

Test(terminal, the_abort_prompt_waits_for_one_picture_at_most)
{
	start("TERM=xterm-256color");
	see(20, 1.10);
	stream(30);
	say(20, 60);
	wait_ms(200);
	long bytes = until_shown("PLUG OUT");
	cr_assert(bytes < 8000, "%ld bytes before the prompt", bytes);
	cr_assert(v.bells >= 1);
	kill(v.pid, SIGTERM);
	cr_assert(WEXITSTATUS(vt_end(&v, SOON)) == 128 + SIGTERM);
	vt_free(&v);
	cr_assert(recorded(EVENT_ABORT_RAISED, NULL) == 1);
}

/* The same, while a slow terminal takes what it can. */
static long slow_stream(const char *until)
{
	const long before = v.taken;

	for (int i = 0; i < 400 && !vt_has(&v, until); i++) {
		if (i % 5 == 0)
			say(20, 1.01 + 0.01 * (i / 5 % 15));
		(void)vt_pump(&v, 20);
	}
	cr_assert(vt_has(&v, until), "%s", until);
	return v.taken - before;
}

Test(terminal, a_slow_line_carries_first_what_one_acts_on)
{
	start("TERM=xterm-256color");
	see(20, 1.10);
	v.slow = true;
	vt_type(&v, "\x0c"); /* Ctrl-L: all of it, by which it is seen to be slow */
	for (int i = 0; i < 200; i++)
		(void)vt_pump(&v, 20);
	for (int i = 0; i < 3; i++) {
		vt_type(&v, "\"x");
		long bytes = slow_stream("> \"x");
		cr_assert(bytes < 2500, "%ld bytes before the echo", bytes);
		vt_type(&v, "\x15"); /* Ctrl-U */
		(void)slow_stream(" >  ");
	}
	vt_type(&v, "\t"); /* another page, in parts; in the end all of it is there */
	cr_assert(vt_wait_gone(&v, "watts over line volts", SOON));
	vt_type(&v, "\t\t\t");
	cr_assert(vt_wait(&v, "watts over line volts", SOON));
	cr_assert(vt_wait(&v, "105──117 V", SOON));
	cr_assert(vt_wait(&v, "105 V  20.5", SOON));
	say(20, 60);
	long bytes = until_shown("PLUG OUT");
	cr_assert(bytes < 4000, "%ld bytes before the prompt", bytes);
	v.slow = false;
	kill(v.pid, SIGTERM);
	cr_assert(WEXITSTATUS(vt_end(&v, SOON)) == 128 + SIGTERM);
	vt_free(&v);
}

Test(terminal, one_that_answers_nothing_is_not_waited_for)
{
	char *argv[] = {program, "run", "--override", "a test", "--record", record_file, profile,
		"--meter", meter, NULL};
	begin(argv, "TERM=xterm-256color");
	v.mute = true;
	acknowledge_cautions();
	for (int i = 0; i < 20; i++)
		see(20, 1.01 + 0.01 * i);
	quit();
}

/* It falls silent later: after a while it is drawn on again, and the alarm does not wait at all. */
Test(terminal, one_that_answers_no_more_is_given_up)
{
	start("TERM=xterm-256color");
	see(20, 1.10);
	v.mute = true;
	vt_type(&v, "\t"); /* a large picture that is not answered for */
	vt_type(&v, "\t");
	say(20, 60);
	cr_assert(vt_wait(&v, "PLUG OUT", SOON));
	say(0, 0);
	cr_assert(vt_wait(&v, "now 0.00 W at 0.0 V", SOON));
	vt_type(&v, "off\r");
	cr_assert(vt_wait_gone(&v, "PLUG OUT", SOON));
	quit();
}

/* An answer that comes in two parts is not typed: its last letter would be a `no`. */
Test(terminal, an_answer_in_two_parts_is_no_key)
{
	start("TERM=xterm-256color");
	see(20, 1.10);
	v.mute = true;
	say(20, 1.11);
	cr_assert(vt_wait(&v, "20.0 V 1.11 W", SOON));
	vt_type(&v, "\x1b");
	wait_ms(200);
	vt_type(&v, "[0");
	wait_ms(200);
	vt_type(&v, "n");
	v.mute = false;
	vt_type(&v, "7");
	cr_assert(vt_wait(&v, "> 7", SOON));
	cr_assert(!vt_has(&v, "[0") && !vt_has(&v, "0n"));
	vt_type(&v, "\x15");
	quit();
	cr_assert(recorded(EVENT_LOOK, NULL) == 0);
}

/* ---- stopped ---- */

Test(terminal, ctrl_s_stops_the_picture_and_nothing_else)
{
	start("TERM=xterm-256color");
	see(20, 1.10);
	vt_type(&v, "\x13");
	wait_ms(100);
	for (int i = 0; i < 20; i++) {
		say(20, 1.15);
		wait_ms(100);
		(void)vt_pump(&v, 0);
	}
	cr_assert(!vt_has(&v, "20.0 V 1.15 W"), "it was not stopped");
	say(20, 60);
	cr_assert(vt_wait(&v, "PLUG OUT", SOON), "an abort lifts it");
	cr_assert(v.bells >= 1);
	vt_type(&v, "\x13");
	wait_ms(100);
	say(20, 1.16);
	wait_ms(1200);
	kill(v.pid, SIGTERM); /* nobody lifts it now */
	int status = vt_end(&v, SOON);
	/* at the latest where it prints its last words, with all of it recorded */
	cr_assert((WIFEXITED(status) && WEXITSTATUS(status) == 128 + SIGTERM), "%x", status);
	vt_free(&v);
	cr_assert(recorded_watts(EVENT_READING, NULL, 1.15) == 20);
	cr_assert(recorded_watts(EVENT_READING, NULL, 1.16) == 1);
	cr_assert(recorded(EVENT_END, "signal") == 1);
}

static void start_in_shell(void)
{
	char *argv[] = {"sh", "-i", NULL}, command[2048];

	begin(argv, "TERM=xterm-256color");
	cr_assert(vt_wait(&v, "shell> ", SOON));
	snprintf(command, sizeof command, "clear; %s run --override 'a test' --record %s %s "
		"--meter %s\r", program, record_file, profile, meter);
	vt_type(&v, command);
	acknowledge_cautions();
}

/* In the shell, of a record whose last event is six seconds behind the first: it stands still. */
static void replay_stopped_as_well(void)
{
	char command[2048];

	snprintf(command, sizeof command, "clear; %s replay %s\r", program, record_file);
	vt_type(&v, command);
	cr_assert(vt_wait(&v, "REPLAY", SOON));
	vt_type(&v, "\x1a");
	cr_assert(vt_wait(&v, "Stopped", SOON));
	wait_ms(8000);
	vt_type(&v, "fg\r");
	cr_assert(vt_wait(&v, "REPLAY", SOON));
	for (int i = 0; i < 10; i++)
		(void)vt_pump(&v, 50);
	cr_assert(!vt_has(&v, "10/10"));
	cr_assert(vt_wait(&v, "10/10", SOON));
	vt_type(&v, "q");
	cr_assert(vt_wait_gone(&v, "REPLAY", SOON));
}

Test(terminal, ctrl_z_leaves_a_hole_that_is_told)
{
	start_in_shell();
	see(20, 1.10);
	vt_type(&v, "\x1a");
	cr_assert(vt_wait(&v, "Stopped", SOON));
	cr_assert(!v.alternate, "the terminal was not given back");
	vt_type(&v, "echo 'echo'ed\r"); /* the shell's own modes are back */
	cr_assert(vt_wait(&v, "echoed", SOON));
	for (int i = 0; i < 30; i++) { /* old when it goes on */
		say(20, 1.22);
		wait_ms(200);
	}
	vt_resize(&v, ROWS + 6, COLS + 20);
	vt_type(&v, "fg\r");
	cr_assert(vt_wait(&v, "no reading for", SOON), "it is blind");
	cr_assert(v.alternate);
	say(0, 0); /* may be taken for the rest of a line */
	wait_ms(50);
	see(20, 1.12);
	cr_assert(vt_wait(&v, "Demonstration bench oscillator", SOON));
	cr_assert(vt_has(&v, "STOP: smoke"), "drawn whole");
	vt_type(&v, "q");
	cr_assert(vt_wait(&v, "End the run?", SOON));
	vt_type(&v, "y");
	cr_assert(vt_wait(&v, "record: ", SOON));
	vt_type(&v, "echo status $?\r");
	cr_assert(vt_wait(&v, "status 0", SOON));
	cr_assert(!vt_has(&v, "0n"), "an answer was typed into the shell");
	replay_stopped_as_well();
	vt_type(&v, "exit\r");
	(void)vt_end(&v, SOON);
	vt_free(&v);
	cr_assert(recorded(EVENT_NOTE, "was stopped for") == 1);
	cr_assert(recorded(EVENT_BLIND, NULL) == 1);
	cr_assert(recorded_watts(EVENT_READING, NULL, 1.22) == 0, "what was old was believed");
	cr_assert(recorded_watts(EVENT_READING, NULL, 1.12) == 1);
}

/* Stopped by what cannot be caught: the screen may be anybody's by then. */
Test(terminal, after_sigstop_it_is_drawn_whole)
{
	start("TERM=xterm-256color");
	see(20, 1.10);
	kill(v.pid, SIGSTOP);
	wait_ms(1500);
	while (vt_pump(&v, 100) > 0)
		;
	vterm_screen_reset(v.screen, 1);
	cr_assert(!vt_has(&v, "STOP: smoke"));
	kill(v.pid, SIGCONT);
	cr_assert(vt_wait(&v, "STOP: smoke", SOON));
	cr_assert(vt_wait(&v, "20.0 V 1.10 W", SOON));
	quit();
	cr_assert(recorded(EVENT_NOTE, "was stopped for") == 1);
}

/* Where no shell could let it go on, Ctrl-Z does nothing for long. */
Test(terminal, ctrl_z_without_a_shell_goes_on)
{
	start("TERM=xterm-256color");
	see(20, 1.10);
	vt_type(&v, "\x1a");
	wait_ms(500);
	see_in_the_end(20, 1.11);
	cr_assert(v.alternate);
	quit();
}

/* ---- sizes, and the end ---- */

Test(terminal, a_storm_of_sizes_ends_in_the_last_one)
{
	start("TERM=xterm-256color");
	see(20, 1.10);
	for (int i = 0; i < 300; i++) {
		vt_resize(&v, 5 + i % 40, 10 + i % 150);
		if (i % 10 == 0)
			(void)vt_pump(&v, 0);
	}
	vt_resize(&v, ROWS, COLS);
	see(20, 1.12);
	cr_assert(vt_wait(&v, "STOP: smoke", SOON));
	say(20, 60);
	cr_assert(vt_wait(&v, "PLUG OUT", SOON));
	kill(v.pid, SIGTERM);
	cr_assert(WEXITSTATUS(vt_end(&v, SOON)) == 128 + SIGTERM);
	vt_free(&v);
}

/* nohup: no signal comes, the terminal is not there all the same. */
Test(terminal, a_lost_terminal_ends_it_without_a_signal)
{
	char command[2048];
	char *argv[] = {"sh", "-c", command, NULL};

	snprintf(command, sizeof command, "trap '' HUP; exec %s run --override 'a test' --record %s "
		"%s --meter %s", program, record_file, profile, meter);
	begin(argv, "TERM=xterm-256color");
	acknowledge_cautions();
	see(20, 1.10);
	say(20, 1.11);
	wait_ms(50);
	vt_hang_up(&v);
	int status = vt_end(&v, SOON);
	cr_assert(WIFEXITED(status) && WEXITSTATUS(status) == 128 + SIGHUP, "%x", status);
	vt_free(&v);
	cr_assert(recorded_watts(EVENT_READING, NULL, 1.11) == 1);
	cr_assert(recorded(EVENT_END, "signal") == 1);
}

Test(terminal, kinds_of_terminals)
{
	static const char *const names[] = {"TERM=xterm-256color", "TERM=screen-256color",
		"TERM=tmux", "TERM=tmux-256color", "TERM=vt102", "TERM=vt220", "TERM=linux",
		"TERM=rxvt"};
	for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
		start(names[i]);
		see(20, 1.10);
		say(20, 60);
		cr_assert(vt_wait(&v, "PLUG OUT", SOON), "%s", names[i]);
		say(0, 0);
		cr_assert(vt_wait(&v, "now 0.00 W at 0.0 V", SOON), "%s", names[i]);
		cr_assert(vt_filled(&v, 5, 3), "%s", names[i]);
		vt_type(&v, "off\r");
		cr_assert(vt_wait_gone(&v, "PLUG OUT", SOON), "%s", names[i]);
		quit();
		cr_assert(unlink(record_file) == 0);
	}
}
