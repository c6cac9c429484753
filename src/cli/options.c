#include "cli/options.h"

#include <assert.h>
#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/commands.h"
#include "cli/output.h"
#include "mainstair/base/text.h"

/* LABEL_MOST: a row whose name is longer begins its words on the next line. */
enum { ROWS_MAX = 16, WIDTH = 80, LABEL_MAX = 64, LABEL_MOST = 18 };

/* --- help ------------------------------------------------------------------------------------ */

static void paragraphs(struct buf *out, const char *text)
{
	while (*text) {
		const size_t n = strcspn(text, "\n"), whole = n + (text[n] == '\n');
		struct buf line = BUF_INIT;

		if (*text == ' ') {
			buf_add(out, text, whole);
		} else {
			buf_add(&line, text, n);
			text_wrap(out, line.data, 0, 0, WIDTH);
			out->failed |= line.failed;
		}
		buf_release(&line);
		text += whole;
	}
}

/* The letter of "o,output", or 0. */
static char letter_of(const struct option_row *row)
{
	return row->take && row->name[1] == ',' ? row->name[0] : '\0';
}

static const char *name_of(const struct option_row *row)
{
	return letter_of(row) ? row->name + 2 : row->name;
}

static void label(char dst[LABEL_MAX], const struct option_row *row)
{
	const char letter[] = { '-', letter_of(row), ',', ' ', '\0' };

	snprintf(dst, LABEL_MAX, "  %s%s%s%s%s", letter_of(row) ? letter : "",
	         row->take ? "--" : "", name_of(row), row->value ? " " : "",
	         row->value ? row->value : "");
}

static void bounds(char *least, char *most, size_t size, const struct option_number *number)
{
	enum { DIGITS = 9 };

	(void)num_print_unit(least, size, number->least, number->unit, DIGITS);
	most[0] = '\0';
	if (isfinite(number->most))
		(void)num_print_unit(most, size, number->most, number->unit, DIGITS);
}

/* What a row says, and the bounds of its number. */
static void add_row(struct buf *out, const struct option_row *row, size_t indent)
{
	char least[64], most[64] = "";
	struct buf what = BUF_INIT;

	buf_adds(&what, row->what);
	if (row->take == take_number)
		bounds(least, most, sizeof least, row->into);
	if (most[0])
		buf_addf(&what, "; %s to %s", least, most);
	text_wrap(out, what.data, indent, indent, WIDTH);
	out->failed |= what.failed;
	buf_release(&what);
}

static int print_help(const struct command_usage *usage)
{
	struct buf out = BUF_INIT;
	char name[LABEL_MAX];
	size_t widest = 0;
	int status;

	buf_addf(&out, "usage: mainstair %s\n\n", usage->synopsis);
	paragraphs(&out, usage->about);
	buf_addc(&out, '\n');
	for (size_t i = 0; i < usage->n_rows; i++) {
		label(name, &usage->rows[i]);
		if (strlen(name) > widest && strlen(name) <= LABEL_MOST)
			widest = strlen(name);
	}
	for (size_t i = 0; i < usage->n_rows; i++) {
		label(name, &usage->rows[i]);
		if (strlen(name) > LABEL_MOST) {
			buf_addf(&out, "%s\n", name);
			name[0] = '\0';
		}
		buf_addf(&out, "%-*s  ", (int)widest, name);
		add_row(&out, &usage->rows[i], widest + 2);
	}
	if (usage->n_rows > 0)
		buf_addc(&out, '\n');
	paragraphs(&out, usage->after);
	status = output_flush(&out);
	buf_release(&out);
	return status;
}

/* --- reading --------------------------------------------------------------------------------- */

/* What getopt_long() refused, '?' or ':'. */
static void complain_option(int refused, char **argv)
{
	/* A short option is known by its letter; a long one stands just before optind. */
	char letter[3] = { '-', (char)optopt, '\0' };
	const char *last = argv[optind - 1];
	const char *what = "unknown option";

	if (refused == ':')
		what = "a value is missing behind";
	else if (optopt && strncmp(last, "--", 2) == 0 && strchr(last, '='))
		what = "no value belongs to";
	else if (optopt)
		last = letter;
	complain("%s: %s %s; see mainstair %s --help", argv[0], what, last, argv[0]);
}

/* The row of an option: getopt_long() gives its index from 1 on, or its letter. */
static const struct option_row *row_of(const struct command_usage *usage, int option)
{
	for (size_t i = 0; i < usage->n_rows; i++)
		if (option == (int)i + 1 || option == letter_of(&usage->rows[i]))
			return &usage->rows[i];
	return NULL;
}

int options_read(const struct command_usage *usage, int argc, char **argv, char ***operands)
{
	struct option options[ROWS_MAX + 2] = { { "help", no_argument, NULL, 'h' } };
	char letters[2 * ROWS_MAX + 4], name[LABEL_MAX];
	size_t n = 1, at = 0;
	int option;

	assert(usage->n_rows <= ROWS_MAX);
	if (usage->options_first)
		letters[at++] = '+';
	letters[at++] = ':';
	letters[at++] = 'h';
	for (size_t i = 0; i < usage->n_rows; i++) {
		const struct option_row *row = &usage->rows[i];

		if (!row->take)
			continue;
		options[n++] = (struct option){ name_of(row),
			row->value ? required_argument : no_argument, NULL, (int)i + 1 };
		if (letter_of(row))
			letters[at++] = letter_of(row);
		if (letter_of(row) && row->value)
			letters[at++] = ':';
	}
	letters[at] = '\0';
	opterr = 0;
	optind = 0;
	while ((option = getopt_long(argc, argv, letters, options, NULL)) != -1) {
		const struct option_row *row = row_of(usage, option);

		if (option == 'h')
			return print_help(usage);
		if (!row) {
			complain_option(option, argv);
			return EXIT_USAGE;
		}
		snprintf(name, sizeof name, "--%s", name_of(row));
		if (row->take(name, optarg, row->into) != 0)
			return EXIT_USAGE;
	}
	if (argc - optind < usage->least || argc - optind > usage->most) {
		complain("%s: %s; see mainstair %s --help", argv[0], usage->wanted, argv[0]);
		return EXIT_USAGE;
	}
	if (operands)
		*operands = argv + optind;
	return OPTIONS_READ;
}

/* --- takers ---------------------------------------------------------------------------------- */

int take_flag(const char *option, const char *text, void *into)
{
	(void)option;
	(void)text;
	*(bool *)into = true;
	return 0;
}

int take_word(const char *option, const char *text, void *into)
{
	(void)option;
	*(const char **)into = text;
	return 0;
}

int take_words(const char *option, const char *text, void *into)
{
	struct option_words *words = into;

	if (words->n == words->most) {
		complain("%s: %d at most", option, words->most);
		return -1;
	}
	words->list[words->n++] = text;
	return 0;
}

int take_format(const char *option, const char *text, void *into)
{
	enum output_format *ret = into;

	if (strcmp(text, "table") == 0)
		*ret = OUTPUT_TABLE;
	else if (strcmp(text, "csv") == 0)
		*ret = OUTPUT_CSV;
	else {
		complain("%s %s: it is table or csv", option, text);
		return -1;
	}
	return 0;
}

int take_number(const char *option, const char *text, void *into)
{
	const struct option_number *number = into;
	char least[64], most[64];
	struct quantity q;
	struct err err;

	if (num_parse(text, number->unit, &q, &err) != 0) {
		complain("%s: %s", option, err.text);
		return -1;
	}
	if (q.tol < 0 && (number->above ? q.value > number->least : q.value >= number->least) &&
	    q.value <= number->most && !(number->whole && floor(q.value) < q.value)) {
		*number->to = q.value;
		return 0;
	}
	bounds(least, most, sizeof least, number);
	complain("%s %.40s: %s%s%s%s%s is expected", option, text,
	         number->whole ? "a whole number " : "", number->above ? "above " : "from ", least,
	         most[0] ? " to " : "", most);
	return -1;
}
