#include <fcntl.h>
#include <locale.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "commands.h"
#include "output.h"

static const struct command {
	const char *name;
	int (*run)(int argc, char **argv);
	const char *synopsis, *what;
} commands[] = {
	{ "run", cmd_run, "PROFILE [--unit UNIT] [--meter SPEC] [--record FILE] [--bench]",
	  "the whole job of a unit, its staged power-up on the dashboard" },
	{ "job", cmd_job, "[UNIT [PAGE]] [--format table|csv]",
	  "how far the job has come, what is next, what blocks power" },
	{ "enter", cmd_enter, "UNIT PAGE ROW LINE",
	  "keep a result in a unit's file, without a terminal" },
	{ "replay", cmd_replay, "RECORD [--profile PROFILE]", "the dashboard on a saved power-up" },
	{ "envelope", cmd_envelope, "PROFILE [--volts LIST] [--format table|csv]",
	  "expected watts, their band and the abort line" },
	{ "judge", cmd_judge, "PROFILE READINGS [--format table|csv]",
	  "verdicts on a list of readings; - reads standard input" },
	{ "reform", cmd_reform, "RATING READINGS [--rule NAME] [--target AMPS] [--format table|csv]",
	  "leakage of a capacitor being re-formed: limits, time to them, verdict" },
	{ "compare", cmd_compare, "A B [--matters SHARE] [--format table|csv]",
	  "a unit beside a known-good one: agree, differ, or cannot tell" },
	{ "report", cmd_report, "UNIT [-o FILE] [--format html|text|csv]",
	  "all of it as one page to read, print or send; or as text or tables" },
	{ "check", cmd_check, "PROFILE...", "what a profile leaves open, and what to measure next" },
	{ "simulate", cmd_simulate, "PROFILE [--fault F] [--link PATH]",
	  "a virtual unit, variac and meter behind a pseudo-terminal" },
	{ "ports", cmd_ports, "[--probe [--meter SPEC]]", "serial ports, and what answers on them" },
	{ "tubes", cmd_tubes, "[PATTERN]", "the tube and lamp tables" },
};

static void add_help(struct buf *to)
{
	buf_adds(to,
	         "mainstair brings tube-era mains gear back to life: it computes what this very "
	         "unit\nshould draw at each line voltage, walks you up in stages, and judges every "
	         "reading.\n\nUsage: mainstair COMMAND …   (mainstair COMMAND --help says more)\n\n");
	for (size_t i = 0; i < sizeof commands / sizeof *commands; i++)
		buf_addf(to, "  %-9s %s\n            %s\n", commands[i].name, commands[i].synopsis,
		         commands[i].what);
	buf_adds(to,
	         "\n  --help     this page\n  --version  the program's version\n\n"
	         "Exit status: 0 done (all in band), 1 something over or under, 3 an abort, 2 bad "
	         "usage\nor input.\n\n"
	         "Mains and rail voltages kill. mainstair watches and advises; it switches nothing "
	         "and\nprotects nobody: the plug within reach does. Local electrical codes and a "
	         "licensed\nperson's word stand above anything it prints.\n");
}

/* Whoever started us may have closed one of the three standard descriptors: the next file opened,
 * a unit's file perhaps, would take its number and then what is printed.  What stands in for it
 * goes the wrong way, so that using it is still an error. */
static void occupy_standard_descriptors(void)
{
	for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
		if (fcntl(fd, F_GETFD) < 0)
			(void)open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY);
}

/* Asked for, it is what the command prints; else it tells what could have been asked. */
static int help(bool asked)
{
	struct buf page = BUF_INIT;
	int status = EXIT_USAGE;

	add_help(&page);
	if (asked)
		status = output_flush(&page);
	else
		(void)fputs(page.data, stderr);
	buf_release(&page);
	return status;
}

int main(int argc, char **argv)
{
	occupy_standard_descriptors();
	/* Characters follow the user's locale; numbers never do. */
	(void)setlocale(LC_CTYPE, "");
	/* A reader that went away (`| head`) ends a print; it is told by the failing write. */
	(void)signal(SIGPIPE, SIG_IGN);
	/* So is a limit on the size of files, whoever writes. */
	(void)signal(SIGXFSZ, SIG_IGN);
	if (argc < 2)
		return help(false);
	if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0 ||
	    strcmp(argv[1], "help") == 0)
		return help(true);
	if (strcmp(argv[1], "--version") == 0)
		return output_text("mainstair " MAINSTAIR_VERSION "\n");
	for (size_t i = 0; i < sizeof commands / sizeof *commands; i++)
		if (strcmp(argv[1], commands[i].name) == 0)
			return commands[i].run(argc - 1, argv + 1);
	complain("no command %.80s; mainstair --help lists them", argv[1]);
	return EXIT_USAGE;
}
