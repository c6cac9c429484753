/*
 * The job of a unit in a pseudo-terminal, over several runs of the program: what was typed is on
 * its page again, and in the unit's file.
 */
#include <criterion/criterion.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/logbook_file.h"
#include "lib/vtdrive.h"
#include "own_folder.h"

/* How long a screen may take, with sanitizers and on a busy machine. */
enum { SOON = 10000, ROWS = 24, COLS = 80 };

static char unit_file[64];

static void set_up(void)
{
	make_own_folder();
	snprintf(unit_file, sizeof unit_file, "%s/no7.unit", folder);
}

TestSuite(pages, .timeout = 250, .init = set_up, .fini = remove_own_folder);

/* The job's page, its cautions acknowledged. */
static void start(struct vt *v, int rows, int cols)
{
	char program[512], profile[512];
	char *argv[] = {program, "run", "--unit", unit_file, profile, NULL};
	const char *env[] = {"TERM=xterm-256color", "LC_ALL=C.UTF-8", data_home, config_home, NULL};

	snprintf(program, sizeof program, "%s", getenv("MAINSTAIR_PROGRAM"));
	snprintf(profile, sizeof profile, "%s/bench-oscillator.ini", getenv("MAINSTAIR_PROFILES"));
	vt_start(v, rows, cols, argv, env);
	cr_assert(vt_wait(v, "BEFORE YOU PLUG IN", SOON));
	vt_type(v, "a");
	cr_assert(vt_wait(v, "so far", SOON));
}

static void leave(struct vt *v)
{
	vt_type(v, "q");
	cr_assert(vt_wait(v, "Leave the job?", SOON));
	vt_type(v, "y");
	int status = vt_end(v, SOON);
	cr_assert(WIFEXITED(status) && WEXITSTATUS(status) == 0);
	vt_free(v);
}

/* Entries of a kind whose subject, word or note holds the text. */
static int kept(enum entry_kind kind, const char *text)
{
	struct logbook *book;
	struct err err = {0};
	size_t n_entries;
	int n = 0;

	cr_assert(logbook_open(unit_file, NULL, LOGBOOK_TO_READ, &book, &err) == 0, "%s", err.text);
	const struct entry *e = logbook_entries(book, &n_entries);
	for (size_t i = 0; i < n_entries; i++)
		n += e[i].kind == kind && (strstr(e[i].subject, text) || strstr(e[i].word, text) ||
			strstr(e[i].note, text));
	cr_assert(logbook_faults(book)->garbled == 0 && logbook_faults(book)->torn_bytes == 0);
	logbook_close(book);
	return n;
}

Test(pages, results_are_kept_over_runs)
{
	struct vt v;

	start(&v, ROWS, COLS);
	cr_assert(vt_wait(&v, "blocks power", SOON));
	vt_type(&v, "\r"); /* the phase in hand is what is next: look */
	cr_assert(vt_wait(&v, "look at the mains cord", SOON));
	vt_type(&v, "ok\r");
	cr_assert(vt_wait(&v, "look at the plug", SOON));
	vt_type(&v, "finding earth pin cut off\r");
	cr_assert(vt_wait(&v, "earth pin cut off", SOON));
	cr_assert(kept(ENTRY_LOOK, "earth pin cut off") == 1); /* before anything else happens */
	vt_type(&v, "\t");
	cr_assert(vt_wait(&v, "test V1", SOON));
	vt_type(&v, "good\r");
	cr_assert(vt_wait(&v, "test V2", SOON));
	vt_type(&v, "\x1b");
	cr_assert(vt_wait(&v, "1 of 7", SOON));
	leave(&v);

	start(&v, ROWS, COLS);
	cr_assert(vt_wait(&v, "1 of 7", SOON));
	vt_type(&v, "look\r");
	cr_assert(vt_wait(&v, "earth pin cut off", SOON));
	vt_type(&v, "\x1b");
	cr_assert(vt_wait(&v, "so far", SOON));
	leave(&v);
	cr_assert(kept(ENTRY_CAUTIONS, "acknowledged") == 2);
	cr_assert(kept(ENTRY_PROFILE, "bench-oscillator.ini") == 1, "once, as it did not change");
}

/* Nobody walks away from a section under volts without being told so. */
Test(pages, leaving_names_what_is_charged)
{
	struct vt v;

	start(&v, ROWS, COLS);
	vt_type(&v, "capacitors\r");
	cr_assert(vt_wait(&v, "leakage", SOON));
	vt_type(&v, "on 88\r");
	cr_assert(vt_wait(&v, "on at 88 V", SOON));
	vt_type(&v, "88 0.4\r");
	cr_assert(vt_wait(&v, "88 V, 400 uA", SOON));
	vt_type(&v, "\x1b");
	cr_assert(vt_wait(&v, "so far", SOON));
	cr_assert(vt_wait(&v, "Under volts or charged: C1A on the supply at 88 V", SOON));
	vt_type(&v, "q");
	cr_assert(vt_wait(&v, "CHARGED: C1A on the supply at 88 V", SOON));
	vt_type(&v, "n");
	cr_assert(vt_wait(&v, "so far", SOON));
	vt_type(&v, "capacitors\roff\rdischarged\r");
	cr_assert(vt_wait(&v, "discharged; leave it shorted", SOON));
	vt_type(&v, "\x1b");
	cr_assert(vt_wait(&v, "so far", SOON));
	leave(&v);
}

Test(pages, a_slip_is_asked_about)
{
	struct vt v;

	start(&v, ROWS, COLS);
	vt_type(&v, "ohms\r");
	cr_assert(vt_wait(&v, "between", SOON));
	vt_type(&v, "\x1b[B\x1b[B" "17k\r");
	cr_assert(vt_wait(&v, "y / n", SOON));
	cr_assert(vt_wait(&v, "y keeps `17k`", SOON));
	cr_assert(kept(ENTRY_OHMS, "") == 0);
	vt_type(&v, "n");
	cr_assert(vt_wait(&v, "> 17k", SOON));
	vt_type(&v, "\x7f\x7f\x7f" "17.1\r");
	cr_assert(vt_wait(&v, "17.1 ohm, pass", SOON));
	cr_assert(kept(ENTRY_OHMS, "") == 1);
	cr_assert(kept(ENTRY_DROPPED, "17k") == 1, "what was typed is not lost");
	vt_type(&v, "about right\r");
	cr_assert(vt_wait(&v, "> about right", SOON)); /* back on the line, to be mended */
	vt_type(&v, "\x1b");
	vt_type(&v, "\x1b");
	cr_assert(vt_wait(&v, "so far", SOON));
	leave(&v);
}

Test(pages, power_is_blocked_until_overridden)
{
	static const char *const keys[] = {"look-not-done", "tubes-not-tested", "ohms-not-read",
		"capacitors-not-formed"};
	char line[128];
	struct vt v;

	start(&v, ROWS, COLS);
	vt_type(&v, "power\r");
	cr_assert(vt_wait(&v, "power is blocked by 4 things", SOON));
	vt_type(&v, "override tubes-not-tested\r");
	cr_assert(vt_wait(&v, "a reason, please", SOON));
	vt_type(&v, "\x15");
	for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
		snprintf(line, sizeof line, "override %s done on another bench\r", keys[i]);
		vt_type(&v, line);
		snprintf(line, sizeof line, "overridden, recorded: %s", keys[i]);
		cr_assert(vt_wait(&v, line, SOON));
	}
	cr_assert(kept(ENTRY_OVERRIDE, "another bench") == 4);
	vt_type(&v, "power\r");
	cr_assert(vt_wait(&v, "Set the variac to 20 V", SOON)); /* the cautions are not asked again */
	vt_type(&v, "20 1.1\r");
	cr_assert(vt_wait(&v, "in-band", SOON));
	vt_type(&v, "q");
	cr_assert(vt_wait(&v, "End the run?", SOON));
	vt_type(&v, "y");
	cr_assert(vt_wait(&v, "so far", SOON)); /* back on the job's page */
	cr_assert(vt_wait(&v, "up to 20 V", SOON));
	cr_assert(kept(ENTRY_POWER, "left") == 1);
	leave(&v);
}

Test(pages, the_stop_key_acts_on_every_page)
{
	struct vt v;

	start(&v, ROWS, COLS);
	vt_type(&v, "tubes\r");
	cr_assert(vt_wait(&v, "test V1", SOON));
	vt_type(&v, "goo!");
	cr_assert(vt_wait(&v, "PLUG OUT", SOON));
	cr_assert(vt_wait(&v, "re-forming to zero", SOON));
	cr_assert(kept(ENTRY_STOP, "stop key") == 1);
	vt_type(&v, "\r  q");
	cr_assert(!vt_wait(&v, "test V1", 300), "nothing but the word acknowledges it");
	vt_type(&v, "\x15off\r");
	cr_assert(vt_wait(&v, "test V1", SOON));
	cr_assert(kept(ENTRY_STOP, "off") == 1);
	vt_type(&v, "\x1b");
	cr_assert(vt_wait(&v, "so far", SOON));
	leave(&v);
}

/* Ended by a signal: what stood on the line is in the file, as not believed. */
Test(pages, a_signal_keeps_the_line)
{
	struct vt v;

	start(&v, ROWS, COLS);
	vt_type(&v, "tubes\r");
	cr_assert(vt_wait(&v, "test V1", SOON));
	vt_type(&v, "weak 61");
	cr_assert(vt_wait(&v, "> weak 61", SOON));
	kill(v.pid, SIGTERM);
	int status = vt_end(&v, SOON);
	cr_assert(WIFEXITED(status) && WEXITSTATUS(status) == 128 + SIGTERM);
	vt_free(&v);
	cr_assert(kept(ENTRY_DROPPED, "weak 61") == 1 && kept(ENTRY_DROPPED, "tubes") == 1);
}

/* A full disk: what is typed comes back to the line, nothing is called recorded that is not, and
 * the list on the screen outlives the refusal. */
Test(pages, a_full_disk_is_told)
{
	struct rlimit size = {1, RLIM_INFINITY};
	struct stat is;
	struct vt v;

	start(&v, ROWS, COLS);
	vt_type(&v, "tubes\r");
	cr_assert(vt_wait(&v, "test V1", SOON));
	for (int i = 0; i < 62; i++)
		vt_type(&v, "\"one of many\r");
	vt_type(&v, "good\r");
	cr_assert(vt_wait(&v, "test V2", SOON));
	/* not a byte more for this file, but pictures are made in memory like one */
	cr_assert(stat(unit_file, &is) == 0);
	size.rlim_cur = (rlim_t)is.st_size;
	cr_assert(prlimit(v.pid, RLIMIT_FSIZE, &size, NULL) == 0);
	for (int i = 0; i < 3; i++) {
		vt_type(&v, "\x15weak 55 %\r");
		cr_assert(vt_wait(&v, "not recorded: try again", SOON));
	}
	cr_assert(vt_wait(&v, "File too large", SOON));
	cr_assert(vt_has(&v, "> weak 55 %"));
	vt_type(&v, "!");
	cr_assert(vt_wait(&v, "not recorded", SOON));
	vt_type(&v, "off\r");
	cr_assert(vt_wait(&v, "acknowledged, but not recorded", SOON));
	size.rlim_cur = RLIM_INFINITY;
	cr_assert(prlimit(v.pid, RLIMIT_FSIZE, &size, NULL) == 0);
	vt_type(&v, "weak 55 %\r");
	cr_assert(vt_wait(&v, "test V3", SOON));
	cr_assert(kept(ENTRY_TUBE, "weak") == 1 && kept(ENTRY_STOP, "") == 0);
	vt_type(&v, "\x1b");
	cr_assert(vt_wait(&v, "so far", SOON));
	leave(&v);
}

/* Killed at any moment: what was shown as kept is in the file. */
Test(pages, killed_it_has_lost_nothing)
{
	struct vt v;

	start(&v, ROWS, COLS);
	vt_type(&v, "tubes\r");
	cr_assert(vt_wait(&v, "test V1", SOON));
	vt_type(&v, "weak 55 %\r");
	cr_assert(vt_wait(&v, "test V2", SOON));
	kill(v.pid, SIGKILL);
	vt_end(&v, SOON);
	vt_free(&v);
	cr_assert(kept(ENTRY_TUBE, "weak") == 1);
}

/* Every page at sizes from the least to a large one: nothing runs over, nothing crashes. */
Test(pages, any_size)
{
	static const int sizes[][2] = {{12, 40}, {16, 60}, {24, 80}, {50, 160}, {3, 20}};
	struct vt v;

	for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
		char program[512], profile[512];
		char *argv[] = {program, "run", "--unit", unit_file, profile, NULL};
		const char *env[] = {"TERM=xterm-256color", "LC_ALL=C.UTF-8", data_home, config_home,
			NULL};
		snprintf(program, sizeof program, "%s", getenv("MAINSTAIR_PROGRAM"));
		snprintf(profile, sizeof profile, "%s/oscilloscope.ini", getenv("MAINSTAIR_PROFILES"));
		vt_start(&v, sizes[i][0], sizes[i][1], argv, env);
		cr_assert(vt_wait(&v, "STOP", SOON));
		for (int page = 0; page < 60; page++)
			vt_type(&v, "\x1b[6~"); /* to the end of the cautions */
		vt_type(&v, "a");
		for (int page = 0; page < 10; page++)
			vt_type(&v, "\t\x1b[B\x1b[6~");
		vt_type(&v, "q");
		vt_type(&v, "q");
		cr_assert(vt_wait(&v, "Leave", SOON), "%dx%d", sizes[i][1], sizes[i][0]);
		vt_type(&v, "y");
		int status = vt_end(&v, SOON);
		cr_assert(WIFEXITED(status) && WEXITSTATUS(status) == 0);
		vt_free(&v);
	}
}
