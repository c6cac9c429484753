/*
 * cli/options.h - the options of a command: the table that they are read by is their help
 *
 * Layer: cli.
 */
#ifndef MAINSTAIR_CLI_OPTIONS_H
#define MAINSTAIR_CLI_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/num.h"

struct option_row {
	/* without dashes, or "o,output" where there is a letter for it; without take that of an
	 * operand, which the help alone tells */
	const char *name;
	const char *value; /* what the help calls that which stands behind it; NULL: nothing does */
	/** Take text (NULL where nothing stands behind).  0, or -1 after a complaint, in which the
	 *  option is called as it is here: `--name`. */
	int (*take)(const char *option, const char *text, void *into);
	void *into;        /* what it fills; as it is where the option is not given */
	const char *what;  /* for the help, which breaks its lines */
};

struct command_usage {
	const char *synopsis; /* behind `mainstair`: "judge [OPTION]... PROFILE READINGS" */
	/* Paragraphs, one a line and broken by the help, before the rows and behind them; a line
	 * that begins with a blank stays as it is. */
	const char *about, *after;
	const struct option_row *rows;
	size_t n_rows;
	int least, most;      /* operands */
	const char *wanted;   /* what is said where there are fewer or more: "A and B, please" */
	bool options_first;   /* what follows the first operand is none: it may begin with a - */
};

enum { OPTIONS_READ = -1 };

/** Read the options of a command; --help is one of every table.  OPTIONS_READ: go on, *operands
 *  (unless NULL) are the rest of argv, a NULL behind the last.  Else the command is over, and this
 *  is its exit status: the help was printed, or something complained of. */
int options_read(const struct command_usage *usage, int argc, char **argv, char ***operands);

/** Takers.  into: a bool, set. */
int take_flag(const char *option, const char *text, void *into);

/** into: a const char *, borrowed from argv. */
int take_word(const char *option, const char *text, void *into);

/** into: an enum output_format. */
int take_format(const char *option, const char *text, void *into);

/** An option that may be given again. */
struct option_words {
	const char *list[32]; /* borrowed from argv */
	int n, most;          /* most: 1..32 */
};

/** into: a struct option_words. */
int take_words(const char *option, const char *text, void *into);

/** A number within bounds and without a tolerance of its own. */
struct option_number {
	double *to;
	enum unit unit;
	double least, most; /* told in the help, unless most is INFINITY */
	bool above;         /* least itself is refused */
	bool whole;
};

/** into: a struct option_number. */
int take_number(const char *option, const char *text, void *into);

#endif
