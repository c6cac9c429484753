/*
 * The real program in a pseudo-terminal: what a restorer does with it, and what happens to it.
 * The record that each run leaves behind is read back.
 */
#include <criterion/criterion.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "lib/vtdrive.h"
#include "own_record.h"

/* How long a screen may take, with sanitizers and on a busy machine. */
enum { SOON = 10000, ROWS = 24, COLS = 80 };

TestSuite(dashboard, .timeout = 250, .init = make_own_record, .fini = remove_own_folder);

static void start_as(struct vt *v, int rows, int cols, const char *term, const char *locale,
                     const char *extra, char *const arguments[])
{
	char program[512], profile[512];
	char *argv[16] = {program};
	const char *env[] = {term, locale, data_home, config_home, extra ? extra : "NO_COLOR",
		"LINES=10", "COLUMNS=10", NULL};
	int n = 1;

	snprintf(program, sizeof program, "%s", getenv("MAINSTAIR_PROGRAM"));
	snprintf(profile, sizeof profile, "%s/bench-oscillator.ini", getenv("MAINSTAIR_PROFILES"));
	for (; arguments[n - 1]; n++)
		argv[n] = strcmp(arguments[n - 1], "PROFILE") == 0 ? profile : arguments[n - 1];
	vt_start(v, rows, cols, argv, env);
}

/* The dashboard with typed readings, its cautions acknowledged. */
static void start_typed(struct vt *v, int rows, int cols)
{
	char *arguments[] = {"run", "--override", "a test", "--record", record_file, "PROFILE", NULL};
	start_as(v, rows, cols, "TERM=xterm-256color", "LC_ALL=C.UTF-8", NULL, arguments);
	cr_assert(vt_wait(v, "BEFORE YOU PLUG IN", SOON));
	if (rows >= ROWS) {
		vt_type(v, "a");
		cr_assert(vt_wait(v, "Set the variac to 20 V", SOON));
	}
}

static int quit(struct vt *v)
{
	vt_type(v, "q");
	cr_assert(vt_wait(v, "End the run?", SOON));
	vt_type(v, "y");
	int status = vt_end(v, SOON);
	vt_free(v);
	return status;
}

Test(dashboard, typed_readings_are_judged_and_recorded)
{
	struct vt v;
	start_typed(&v, ROWS, COLS);
	cr_assert(v.alternate);
	vt_type(&v, "20 1.1\r");
	cr_assert(vt_wait(&v, "20.0 V, 1.10 W: in-band", SOON));
	vt_type(&v, "20 1.9\x7f\x7f\x7f" "1.2\r"); /* Backspace */
	cr_assert(vt_wait(&v, "20.0 V, 1.20 W", SOON));
	cr_assert(vt_wait(&v, "main ? V", SOON)); /* all cathodes are cold */
	vt_type(&v, "rail main 0.4\r");
	cr_assert(vt_wait(&v, "rail main at 0.4 V", SOON));
	cr_assert(vt_wait(&v, "main ? V (read 0.4)", SOON));
	vt_type(&v, "\"pilot lamp flickers\r");
	cr_assert(vt_wait(&v, "noted", SOON));
	vt_type(&v, "\x1b[A\x1b[A\r"); /* Up, Up: the rail line again */
	cr_assert(vt_wait(&v, "rail main at 0.4 V", SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_CAUTIONS, NULL) == 1);
	cr_assert(recorded(EVENT_READING, "typed") == 2);
	cr_assert(recorded(EVENT_RAIL, "rail main") == 2);
	cr_assert(recorded(EVENT_NOTE, "pilot lamp flickers") == 1);
	cr_assert(recorded(EVENT_END, NULL) == 1);
}

/* The entry line, the last but one, stays as it is. */
static int first_not_red(struct vt *v)
{
	int r = 0;

	while (r < ROWS && (r == ROWS - 2 || vt_filled(v, r, COLS / 2)))
		r++;
	return r;
}

Test(dashboard, an_abort_comes_with_the_keystroke_that_crosses_the_line)
{
	struct vt v;
	start_typed(&v, ROWS, COLS);
	vt_type(&v, "20 14");
	cr_assert(vt_wait(&v, "> 20 14", SOON));
	cr_assert(!vt_has(&v, "PLUG OUT"));
	vt_type(&v, "\r");
	cr_assert(vt_wait(&v, "PLUG OUT", SOON));
	cr_assert(v.bells >= 1);
	/* the words may arrive before the last cells of the same picture */
	for (int i = 0; first_not_red(&v) < ROWS && i < 100; i++)
		cr_assert(vt_pump(&v, 50) >= 0);
	cr_assert(first_not_red(&v) == ROWS, "row %d is not red", first_not_red(&v));
	/* Enter and Space left over from typing acknowledge nothing. */
	vt_type(&v, "\r\r   \r y a q\r");
	cr_assert(vt_wait(&v, "not understood: off", SOON));
	cr_assert(vt_has(&v, "PLUG OUT"));
	vt_type(&v, "\x15" "0 0\r"); /* Ctrl-U; is it off now? */
	cr_assert(vt_wait(&v, "now 0.00 W at 0.0 V", SOON));
	vt_type(&v, "off\r");
	cr_assert(vt_wait_gone(&v, "PLUG OUT", SOON));
	cr_assert(vt_wait(&v, "Variac to zero", SOON));
	vt_type(&v, "0 0\r");
	cr_assert(vt_wait(&v, "Find out why first", SOON));
	cr_assert(vt_has(&v, "20 V"));
	vt_type(&v, "stage 4\r");
	cr_assert(vt_wait(&v, "begins at the first stage", SOON), "never in the middle");
	vt_type(&v, "20 1.1\r");
	cr_assert(vt_wait(&v, "20.0 V, 1.10 W: in-band", SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_ABORT_RAISED, "over the abort line") == 1);
	cr_assert(recorded(EVENT_ABORT_ACKNOWLEDGED, NULL) == 1);
}

Test(dashboard, the_stop_key_works_from_anywhere)
{
	static const char *const places[] = {"", "50 5.", "?", "\t", "\t\t\t", "q", "500 5.2\r"};
	struct vt v;
	start_typed(&v, ROWS, COLS);
	for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
		vt_type(&v, places[i]);
		vt_type(&v, "!");
		cr_assert(vt_wait(&v, "smoke, smell, hum or arcing", SOON), "from `%s`", places[i]);
		vt_type(&v, "off\r");
		cr_assert(vt_wait_gone(&v, "smoke, smell, hum or arcing", SOON));
	}
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_STOP, NULL) == (int)(sizeof places / sizeof *places));
	cr_assert(recorded(EVENT_STOP_ACKNOWLEDGED, NULL) == recorded(EVENT_STOP, NULL));
}

Test(dashboard, the_stop_key_works_before_the_cautions_are_read)
{
	char *arguments[] = {"run", "--override", "a test", "--record", record_file, "PROFILE", NULL};
	struct vt v;
	start_as(&v, ROWS, COLS, "TERM=xterm-256color", "LC_ALL=C.UTF-8", NULL, arguments);
	cr_assert(vt_wait(&v, "BEFORE YOU PLUG IN", SOON));
	vt_type(&v, "!");
	cr_assert(vt_wait(&v, "smoke, smell, hum or arcing", SOON));
	vt_type(&v, "off\r");
	cr_assert(vt_wait(&v, "BEFORE YOU PLUG IN", SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_STOP, NULL) == 1 && recorded(EVENT_CAUTIONS, NULL) == 0);
}

Test(dashboard, a_slip_is_asked_about_before_it_is_believed)
{
	struct vt v;
	start_typed(&v, ROWS, COLS);
	vt_type(&v, "200 1.1\r");
	cr_assert(vt_wait(&v, "y / n", SOON));
	vt_type(&v, "\r ");
	vt_type(&v, "n");
	cr_assert(vt_wait(&v, "> 200 1.1", SOON)); /* back to edit */
	vt_type(&v, "\x15" "300 1.1\r");
	cr_assert(vt_wait(&v, "y / n", SOON));
	vt_type(&v, "20 1.1\r"); /* or simply typed anew */
	cr_assert(vt_wait(&v, "20.0 V, 1.10 W", SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_QUESTIONED, "200 1.1") == 1);
	cr_assert(recorded(EVENT_READING, NULL) == 1);
}

/* No key is dead, and nothing that is typed goes away unsaid. */
Test(dashboard, what_cannot_be_done_is_said)
{
	struct vt v;
	start_typed(&v, ROWS, COLS);
	vt_type(&v, "stage 9\r");
	cr_assert(vt_wait(&v, "stage 1 to 7, as in: stage 3", SOON));
	cr_assert(vt_has(&v, "> stage 9"));
	vt_type(&v, "\x15off\r");
	cr_assert(vt_wait(&v, "there is no abort or stop to acknowledge", SOON));
	vt_type(&v, "n");
	cr_assert(vt_wait(&v, "nothing is asked now", SOON));
	vt_type(&v, "20 1.1\r");
	cr_assert(vt_wait(&v, "20.0 V, 1.10 W", SOON));
	vt_type(&v, "yes\r");
	cr_assert(vt_wait(&v, "nothing is asked now", SOON));
	vt_type(&v, "q");
	cr_assert(vt_wait(&v, "End the run?", SOON));
	vt_type(&v, "hums a little");
	cr_assert(vt_wait(&v, "> hums a little", SOON));
	cr_assert(!vt_has(&v, "End the run?"));
	vt_type(&v, "\x15");
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_LOOK, NULL) == 0 && recorded(EVENT_READING, NULL) == 1);
}

Test(dashboard, resizing_draws_anew_down_to_nothing)
{
	struct vt v;
	start_typed(&v, ROWS, COLS);
	vt_resize(&v, 50, 160);
	cr_assert(vt_wait(&v, "expected at", SOON));
	vt_resize(&v, 12, 40);
	cr_assert(vt_wait(&v, "80x24 shows all of it; this is 40x12", SOON));
	cr_assert(vt_wait(&v, "Set the variac", SOON));
	vt_resize(&v, 6, 30);
	cr_assert(vt_wait(&v, "needs 40x12", SOON));
	vt_type(&v, "20 14\r");
	cr_assert(vt_wait(&v, "ABORT", SOON));
	vt_resize(&v, 1, 3);
	for (int i = 0; i < 20; i++)
		(void)vt_pump(&v, 20);
	vt_resize(&v, ROWS, COLS);
	cr_assert(vt_wait(&v, "PLUG OUT", SOON));
	vt_type(&v, "off\r"); /* which the meter gainsays once: it still reads volts */
	cr_assert(vt_wait(&v, "off", SOON));
	vt_type(&v, "off\r");
	cr_assert(vt_wait_gone(&v, "PLUG OUT", SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
}

/* Anything at all on the keyboard: no crash, no hang, the record whole. */
Test(dashboard, garbage_is_survived)
{
	unsigned state = 12345;
	struct vt v;
	start_typed(&v, ROWS, COLS);
	for (int round = 0; round < 40; round++) {
		char bytes[65];
		for (int i = 0; i < 64; i++) {
			state = state * 1103515245u + 12345u;
			bytes[i] = (char)(state >> 16 & 0xff);
			/* not what ends it or stops it from the keyboard */
			if (bytes[i] == 0 || bytes[i] == 3 || bytes[i] == 26 || bytes[i] == 28 ||
					bytes[i] == 'y' || bytes[i] == 17 || bytes[i] == 19)
				bytes[i] = '7';
		}
		bytes[64] = '\0';
		vt_type(&v, bytes);
		while (vt_pump(&v, 5) > 0)
			;
	}
	vt_type(&v, "\x1b[<35;10;20M\x1b[1;5A\x1bOP\x1b[200~50 5.2\x1b[201~");
	while (vt_pump(&v, 100) > 0)
		;
	kill(v.pid, SIGTERM);
	cr_assert(WEXITSTATUS(vt_end(&v, SOON)) == 128 + SIGTERM);
	vt_free(&v);
	cr_assert(recorded(EVENT_END, "signal") == 1);
}

static void end_by(int signal_number)
{
	struct vt v;
	start_typed(&v, ROWS, COLS);
	vt_type(&v, "20 1.1\r");
	cr_assert(vt_wait(&v, "20.0 V, 1.10 W", SOON));
	vt_type(&v, "50 5.2"); /* begun, never entered */
	cr_assert(vt_wait(&v, "> 50 5.2", SOON));
	if (signal_number == SIGINT)
		vt_type(&v, "\x03");
	else if (signal_number == SIGHUP)
		vt_hang_up(&v);
	else
		kill(v.pid, signal_number);
	int status = vt_end(&v, SOON);
	cr_assert(WIFEXITED(status) && WEXITSTATUS(status) == 128 + signal_number, "%x", status);
	if (signal_number != SIGHUP) {
		cr_assert(!v.alternate, "the terminal was not given back");
		cr_assert(vt_has(&v, "record: "));
	}
	vt_free(&v);
	cr_assert(recorded(EVENT_READING, NULL) == 1 && recorded(EVENT_END, "signal") == 1);
	cr_assert(recorded(EVENT_QUESTIONED, "50 5.2") == 1);
}

Test(dashboard, ctrl_c_ends_it_and_keeps_the_record)
{
	end_by(SIGINT);
}

Test(dashboard, sigterm_ends_it_and_keeps_the_record)
{
	end_by(SIGTERM);
}

Test(dashboard, a_lost_terminal_ends_it_and_keeps_the_record)
{
	end_by(SIGHUP);
}

Test(dashboard, killed_outright_the_record_still_replays)
{
	char *arguments[] = {"replay", record_file, NULL};
	struct vt v;
	start_typed(&v, ROWS, COLS);
	vt_type(&v, "20 1.1\r");
	cr_assert(vt_wait(&v, "20.0 V, 1.10 W", SOON));
	/* Shown as recorded is on the disk: no mark before the newest event. */
	cr_assert(vt_wait(&v, "4 recorded in", SOON));
	kill(v.pid, SIGKILL);
	cr_assert(WIFSIGNALED(vt_end(&v, SOON)));
	vt_free(&v);
	cr_assert(recorded(EVENT_READING, NULL) == 1 && recorded(EVENT_END, NULL) == 0);

	start_as(&v, ROWS, COLS, "TERM=xterm-256color", "LC_ALL=C.UTF-8", NULL, arguments);
	cr_assert(vt_wait(&v, "REPLAY", SOON));
	vt_type(&v, "\x1bOF"); /* End */
	cr_assert(vt_wait(&v, "4/4", SOON));
	cr_assert(vt_wait(&v, "20.0 V", SOON));
	vt_type(&v, "\x1bOD\x1bOD\x1bOD"); /* Left: back to the first */
	cr_assert(vt_wait(&v, "1/4", SOON));
	vt_type(&v, "\x1bOC"); /* Right */
	cr_assert(vt_wait(&v, "2/4", SOON));
	vt_type(&v, "q");
	cr_assert(WEXITSTATUS(vt_end(&v, SOON)) == 0);
	cr_assert(!v.alternate);
	vt_free(&v);
}

/* The virtual bench: keys move the variac, the meter follows, the stage is recognised. */
Test(dashboard, the_virtual_bench_follows_its_keys)
{
	char *arguments[] = {"run", "--bench", "--speed", "8", "--record", record_file, "PROFILE",
		NULL};
	struct vt v;
	start_as(&v, ROWS, COLS, "TERM=xterm-256color", "LC_ALL=C.UTF-8", NULL, arguments);
	cr_assert(vt_wait(&v, "nothing is", SOON), "a demonstration says so");
	vt_type(&v, "a");
	cr_assert(vt_wait(&v, "Set the variac to 20 V", SOON));
	cr_assert(vt_wait(&v, "VIRTUAL BENCH", SOON));
	vt_type(&v, "s");
	cr_assert(vt_wait(&v, "Hold, settling", 4 * SOON));
	cr_assert(vt_wait(&v, "Look:", 8 * SOON));
	/* words that begin with a key's letter are words, whatever waits for an answer */
	vt_type(&v, "noise from V3\r");
	cr_assert(vt_wait(&v, "> noise from V3", SOON));
	vt_type(&v, "\x15" "stage 1\r");
	cr_assert(vt_wait(&v, "next: stage 1", SOON));
	vt_type(&v, "quiet now\r");
	cr_assert(vt_wait(&v, "> quiet now", SOON));
	cr_assert(!vt_has(&v, "End the run?"));
	vt_type(&v, "y"); /* the line was not understood and gives way */
	cr_assert(vt_wait(&v, "recorded, yes: ", SOON));
	vt_type(&v, "yyyyy");
	cr_assert(vt_wait(&v, "Step up: set the variac to 35 V", SOON));
	vt_type(&v, "v");
	cr_assert(vt_wait(&v, "rails read", SOON));
	vt_type(&v, "z");
	cr_assert(vt_wait(&v, "variac at 0.0 V", 4 * SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_STAGE, "recognised") >= 1);
	cr_assert(recorded(EVENT_LOOK, "yes: ") >= 1 && recorded(EVENT_LOOK, "no: ") == 0);
	cr_assert(recorded(EVENT_READING, "virtual bench") > 100);
	cr_assert(recorded(EVENT_RAIL, "rail main") == 1);
}

static void start_shorted(struct vt *v)
{
	char *arguments[] = {"run", "--bench", "--speed", "50", "--fault", "rail main short",
		"--record", record_file, "PROFILE", NULL};
	start_as(v, ROWS, COLS, "TERM=xterm-256color", "LC_ALL=C.UTF-8", NULL, arguments);
	cr_assert(vt_wait(v, "nothing is", SOON));
	vt_type(v, "a");
	cr_assert(vt_wait(v, "Set the variac to 20 V", SOON));
	vt_type(v, "stage 4\r");
	cr_assert(vt_wait(v, "next: stage 4", SOON));
	vt_type(v, "s");
	cr_assert(vt_wait(v, "Look: no smell", 18 * SOON), "the watts are in band");
}

/* A dead short behind the tube rectifier, which the watts at 70 V do not show. */
Test(dashboard, a_voltmeter_that_reads_nothing_holds_the_power_up)
{
	struct vt v;
	start_shorted(&v);
	vt_type(&v, "v");
	cr_assert(vt_wait(&v, "Hold here: rail main reads 0 V", SOON));
	cr_assert(vt_wait(&v, "from rail main to chassis", SOON), "and what fits");
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_RAIL, "rail main") == 1);
}

/* Smoke ends it: the stop, in the same keystroke. */
Test(dashboard, not_so_to_smoke_is_the_stop)
{
	struct vt v;
	start_shorted(&v);
	cr_assert(vt_has(&v, "n: STOP"));
	vt_type(&v, "n");
	cr_assert(vt_wait(&v, "PLUG OUT", SOON));
	vt_type(&v, "off\r"); /* which the meter gainsays once: it still reads volts */
	cr_assert(vt_wait(&v, "off", SOON));
	vt_type(&v, "off\r");
	cr_assert(vt_wait_gone(&v, "PLUG OUT", SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_LOOK, "no: no smell") == 1);
	cr_assert(recorded(EVENT_STOP, "no smell") == 1);
}

/* The cautions count as read only when their end has been on the screen. */
Test(dashboard, a_small_screen_scrolls_the_cautions_first)
{
	struct vt v;
	start_typed(&v, 12, 40);
	vt_type(&v, "a");
	(void)vt_pump(&v, 200);
	cr_assert(vt_has(&v, "BEFORE YOU PLUG IN"));
	for (int i = 0; i < 20 && !vt_has(&v, "press a when"); i++) {
		vt_type(&v, "\x1b[6~"); /* Page Down */
		(void)vt_pump(&v, 300);
	}
	cr_assert(vt_wait(&v, "press a when", SOON));
	vt_type(&v, "a");
	cr_assert(vt_wait(&v, "Set the variac to 20 V", SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
}

Test(dashboard, without_unicode_and_without_colour)
{
	char *arguments[] = {"run", "--override", "a test", "--record", record_file, "PROFILE", NULL};
	char line[4096];
	struct vt v;
	start_as(&v, ROWS, COLS, "TERM=xterm-256color", "LC_ALL=C", "NO_COLOR=1", arguments);
	cr_assert(vt_wait(&v, "BEFORE YOU PLUG IN", SOON));
	vt_type(&v, "a");
	cr_assert(vt_wait(&v, "Set the variac to 20 V", SOON));
	vt_type(&v, "20 1.1\r");
	cr_assert(vt_wait(&v, "20.0 V, 1.10 W", SOON));
	for (int r = 0; r < ROWS; r++) {
		vt_row(&v, r, line, sizeof line);
		for (char *p = line; *p; p++)
			cr_assert((unsigned char)*p < 0x80, "row %d: %s", r, line);
	}
	cr_assert(!vt_coloured(&v));
	vt_type(&v, "20 14\r");
	cr_assert(vt_wait(&v, "PLUG OUT", SOON));
	cr_assert(vt_filled(&v, 5, 3)); /* reverse, without any colour */
	vt_type(&v, "off\r"); /* which the meter gainsays once: it still reads volts */
	cr_assert(vt_wait(&v, "off", SOON));
	vt_type(&v, "off\r");
	cr_assert(vt_wait_gone(&v, "PLUG OUT", SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
}

Test(dashboard, other_terminals)
{
	static const char *const names[] = {"TERM=vt100", "TERM=linux", "TERM=screen",
	                                    "TERM=xterm"};
	for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
		char *arguments[] = {"run", "--override", "a test", "--record", record_file,
			"PROFILE", NULL};
		struct vt v;
		start_as(&v, ROWS, COLS, names[i], "LC_ALL=C.UTF-8", NULL, arguments);
		cr_assert(vt_wait(&v, "BEFORE YOU PLUG IN", SOON), "%s", names[i]);
		vt_type(&v, "a");
		cr_assert(vt_wait(&v, "Set the variac to 20 V", SOON), "%s", names[i]);
		cr_assert(WEXITSTATUS(quit(&v)) == 0);
		cr_assert(unlink(record_file) == 0);
	}
}

Test(dashboard, a_terminal_that_cannot_be_drawn_on_is_refused_in_one_line)
{
	static const char *const names[] = {"TERM=dumb", "TERM=", "TERM=no-such-terminal", "TERM"};
	static const char *const advice[] = {"use another", "as in TERM=vt100", "may do",
		"as in TERM=vt100"};
	for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
		char *arguments[] = {"run", "--override", "a test", "--record", record_file,
			"PROFILE", NULL};
		struct stat st;
		struct vt v;
		start_as(&v, ROWS, COLS, names[i], "LC_ALL=C.UTF-8", NULL, arguments);
		cr_assert(WEXITSTATUS(vt_end(&v, SOON)) == 2, "%s", names[i]);
		cr_assert(vt_has(&v, "mainstair: TERM"), "%s", names[i]);
		cr_assert(vt_has(&v, advice[i]), "%s", names[i]);
		cr_assert(!v.alternate);
		cr_assert(stat(record_file, &st) != 0, "no record is begun");
		vt_free(&v);
	}
}

Test(dashboard, a_number_measured_on_the_unit_narrows_the_band_at_once)
{
	struct vt v;
	start_typed(&v, ROWS, COLS);
	vt_type(&v, "20 1.1\r");
	cr_assert(vt_wait(&v, "20.0 V, 1.10 W: in-band", SOON));
	vt_type(&v, "\t\t"); /* the page of rails */
	cr_assert(vt_wait(&v, "measure next", SOON));
	cr_assert(vt_wait(&v, "% at full line", SOON));
	vt_type(&v, "measured primary 210 ohm\r"); /* a slip, or a fault: not the new normal */
	cr_assert(vt_wait(&v, "far from the", SOON));
	cr_assert(vt_has(&v, "> measured primary 210 ohm"));
	vt_type(&v, "\x15" "measured idle 3.1 W\r"); /* Ctrl-U */
	cr_assert(vt_wait(&v, "% narrower", SOON));
	cr_assert(vt_wait(&v, "kept in the unit's file", SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_MEASURED, NULL) == 1);
	cr_assert(recorded(EVENT_MEASURED, "idle 3.1 W") == 1);

	char *again[] = {"replay", record_file, NULL};
	start_as(&v, ROWS, COLS, "TERM=xterm-256color", "LC_ALL=C.UTF-8", NULL, again);
	cr_assert(vt_wait(&v, "count here from its start", SOON));
	vt_type(&v, "q");
	cr_assert(vt_end(&v, SOON) == 0);
	vt_free(&v);

	/* and counts at the next power-up, which says so in its record */
	cr_assert(unlink(record_file) == 0);
	start_typed(&v, ROWS, COLS);
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
	cr_assert(recorded(EVENT_MEASURED, "idle 3.1 W") == 1);
}

static void write_bench(const char *text)
{
	char path[96];
	snprintf(path, sizeof path, "%s/mainstair", folder);
	cr_assert(mkdir(path, 0700) == 0);
	snprintf(path, sizeof path, "%s/mainstair/bench.ini", folder);
	FILE *f = fopen(path, "w");
	cr_assert_not_null(f);
	fputs(text, f);
	cr_assert(fclose(f) == 0);
}

Test(dashboard, a_series_lamp_has_the_variac_higher_than_the_unit)
{
	char *arguments[] = {"run", "--override", "a test", "--record", record_file, "PROFILE", NULL};
	struct vt v;

	write_bench("[line]\nvolts = 120 V\nisolation = no\nseries_lamp = 60 W 120 V\n");
	start_as(&v, ROWS, COLS, "TERM=xterm-256color", "LC_ALL=C.UTF-8", NULL, arguments);
	cr_assert(vt_wait(&v, "BEFORE YOU PLUG IN", SOON));
	cr_assert(!vt_has(&v, "isolation = no"), "this one's chassis is not live");
	vt_type(&v, "a");
	cr_assert(vt_wait(&v, "until the unit has 20 V", SOON));
	cr_assert(vt_wait(&v, "leaves the unit 20 V", SOON));
	vt_type(&v, "20 1.1\r");
	cr_assert(vt_wait(&v, "20.0 V, 1.10 W: in-band", SOON));
	vt_type(&v, "\t");
	cr_assert(vt_wait(&v, "the meter is behind it", SOON));
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
}

Test(dashboard, a_live_chassis_without_isolation_is_told_in_red)
{
	char live[512];
	char *arguments[] = {"run", "--override", "a test", "--record", record_file, live, NULL};
	struct vt v;

	snprintf(live, sizeof live, "%s/table-radio.ini", getenv("MAINSTAIR_PROFILES"));
	write_bench("[line]\nisolation = no\n");
	start_as(&v, ROWS, COLS, "TERM=xterm-256color", "LC_ALL=C.UTF-8", NULL, arguments);
	cr_assert(vt_wait(&v, "isolation = no", SOON));
	vt_type(&v, "a");
	cr_assert(WEXITSTATUS(quit(&v)) == 0);
}
