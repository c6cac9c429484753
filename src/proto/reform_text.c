#include "mainstair/proto/reform_text.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

enum { TERM_MAX = 64, CELL_MAX = 64, COLUMNS_MAX = 32 };

static bool is_blank(char c)
{
	return c == ' ' || c == '\t';
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

/* --- rating ------------------------------------------------------------------------------- */

static int check_range(const struct reform_part *part, struct err *err)
{
	if (!(part->farad >= 0.01e-6 * (1 - 1e-9)) || !(part->farad <= 1.0))
		return err_set(err, ERR_RANGE, "a capacitance lies from 0.01 uF to 1 F; write it with "
		               "its unit, as 20 uF 450 V");
	if (!(part->volts >= 1.0) || !(part->volts <= 2000.0))
		return err_set(err, ERR_RANGE, "rated volts lie from 1 to 2000 V; write them behind "
		               "the capacitance, as 20 uF 450 V");
	return 0;
}

/* Where the unit begins behind a bare number. */
static const char *behind_digits(const char *s)
{
	while (is_digit(*s) || *s == '.')
		s++;
	return s;
}

/* One section; `next` is the one behind it (NULL: it is the last), for the volts if it leaves
 * them out. */
static int parse_term(const char *term, const struct reform_part *next, struct reform_part *ret,
                      struct err *err)
{
	struct quantity farad, volts;
	const char *rest = num_scan(term, UNIT_FARAD, &farad, err);

	if (!rest)
		return -1;
	volts = (struct quantity){ .value = next ? next->volts : 0.0, .tol = -1.0 };
	if (*rest == '\0' && !next)
		return err_set(err, ERR_INPUT, "the rated volts are missing, as in 20 uF 450 V");
	if (*rest != '\0' && num_parse(rest, UNIT_VOLT, &volts, err) < 0)
		return -1;
	if (farad.tol >= 0.0 || volts.tol >= 0.0)
		return err_set(err, ERR_INPUT, "a rating has no tolerance here, as in 20 uF 450 V");
	*ret = (struct reform_part){ farad.value, volts.value };
	return check_range(ret, err);
}

static void trim(char *s)
{
	const size_t blanks = strspn(s, " \t");
	size_t n = strlen(s) - blanks;

	memmove(s, s + blanks, n + 1);
	while (n > 0 && is_blank(s[n - 1]))
		s[--n] = '\0';
}

int reform_rating_parse(const char *text, struct reform_part parts[REFORM_SECTIONS_MAX],
                        size_t *ret_n, struct err *err)
{
	char terms[REFORM_SECTIONS_MAX][2 * TERM_MAX];
	struct reform_part found[REFORM_SECTIONS_MAX];
	size_t n = 0;

	for (const char *at = text;; at++) {
		const size_t len = strcspn(at, "+");

		if (n == REFORM_SECTIONS_MAX)
			return err_set(err, ERR_RANGE, "more than %d sections", REFORM_SECTIONS_MAX);
		if (len >= TERM_MAX)
			return err_set(err, ERR_INPUT, "a rating is written as 20 uF 450 V");
		memcpy(terms[n], at, len);
		terms[n][len] = '\0';
		trim(terms[n++]);
		at += len;
		if (*at == '\0')
			break;
	}
	for (size_t i = n; i-- > 0;) {
		const bool last = i + 1 == n;

		/* a bare number takes unit and volts of the next */
		if (!last && *terms[i] && *behind_digits(terms[i]) == '\0')
			(void)snprintf(terms[i] + strlen(terms[i]), TERM_MAX, "%s",
			               behind_digits(terms[i + 1]));
		if (parse_term(terms[i], last ? NULL : &found[i + 1], &found[i], err) < 0)
			return -1;
	}
	memcpy(parts, found, n * sizeof *found);
	*ret_n = n;
	return 0;
}

/* --- readings ----------------------------------------------------------------------------- */

enum column { COLUMN_OTHER, COLUMN_SECONDS, COLUMN_VOLTS, COLUMN_MILLIAMPS, COLUMN_MICROAMPS,
	      COLUMN_SECTION, COLUMNS };

static const char *const column_names[COLUMNS] = {
	[COLUMN_SECONDS] = "seconds", [COLUMN_VOLTS] = "volts",
	[COLUMN_MILLIAMPS] = "milliamps", [COLUMN_MICROAMPS] = "microamps",
	[COLUMN_SECTION] = "section",
};

struct head {
	enum column column[COLUMNS_MAX];
	size_t n;
};

struct cells {
	char text[COLUMNS_MAX][CELL_MAX];
	size_t n;
};

struct parser {
	struct reform_list *list;
	size_t n_sections;
	struct complaints *complaints;
	struct head head;
	bool have_head;
	int *lines[REFORM_SECTIONS_MAX]; /* of each reading, for messages */
};

/* The line's cells.  -1 after a complaint. */
static int split(const char *line, size_t n, int number, struct cells *ret,
                 struct complaints *c)
{
	const char separator = memchr(line, ',', n) ? ',' : memchr(line, '\t', n) ? '\t' : ' ';
	size_t at = 0;

	ret->n = 0;
	while (at < n && separator == ' ' && is_blank(line[at]))
		at++;
	for (;;) {
		size_t end = at;

		while (end < n && line[end] != separator)
			end++;
		if (ret->n == COLUMNS_MAX || end - at >= CELL_MAX ||
		    memchr(line + at, '\0', end - at)) {
			complaints_add(c, number, NULL, NULL, "not a line of seconds, volts, milliamps");
			return -1;
		}
		memcpy(ret->text[ret->n], line + at, end - at);
		ret->text[ret->n][end - at] = '\0';
		trim(ret->text[ret->n++]);
		while (separator == ' ' && end + 1 < n && line[end + 1] == ' ')
			end++;
		if (end >= n || (separator == ' ' && end + 1 >= n))
			return 0;
		at = end + 1;
	}
}

static bool begins_number(const char *s)
{
	return is_digit(*s) || *s == '.' || *s == '-' || *s == '+';
}

static void read_head(struct parser *p, const struct cells *cells, int number)
{
	int seen[COLUMNS] = { 0 };

	p->head.n = cells->n;
	for (size_t k = 0; k < cells->n; k++) {
		p->head.column[k] = COLUMN_OTHER;
		for (int column = COLUMN_SECONDS; column < COLUMNS; column++)
			if (text_same(cells->text[k], column_names[column]))
				p->head.column[k] = (enum column)column;
		if (p->head.column[k] != COLUMN_OTHER && ++seen[p->head.column[k]] == 2)
			complaints_add(p->complaints, number, NULL, cells->text[k], "a column twice");
	}
	if (!seen[COLUMN_SECONDS] || !seen[COLUMN_VOLTS] ||
	    seen[COLUMN_MILLIAMPS] + seen[COLUMN_MICROAMPS] != 1)
		complaints_add(p->complaints, number, NULL, NULL, "the first line names the columns: "
		               "seconds, volts and milliamps (or microamps) must be there, once");
	if (p->n_sections > 1 && !seen[COLUMN_SECTION])
		complaints_add(p->complaints, number, NULL, NULL,
		               "a can of %zu sections needs a column section", p->n_sections);
}

static void default_head(struct parser *p, const struct cells *cells, int number)
{
	static const enum column columns[] = { COLUMN_SECONDS, COLUMN_VOLTS, COLUMN_MILLIAMPS };

	if (p->n_sections == 1) {
		p->head.n = sizeof columns / sizeof *columns;
		memcpy(p->head.column, columns, sizeof columns);
		return;
	}
	p->head = (struct head){ .n = cells->n };
	complaints_add(p->complaints, number, NULL, NULL, "a can of %zu sections needs a first line "
	               "that names the columns: seconds,volts,milliamps,section", p->n_sections);
}

/* The number in a cell, in its column's own unit (base units for those written); NAN after a
 * complaint. */
static double number_in(struct parser *p, const char *cell, enum column column, int number)
{
	const enum unit unit = column == COLUMN_SECONDS ? UNIT_SECOND :
		column == COLUMN_VOLTS ? UNIT_VOLT : UNIT_AMPERE;
	const double own = column == COLUMN_MILLIAMPS ? 1e-3 :
		column == COLUMN_MICROAMPS ? 1e-6 : 1.0;
	struct quantity q;
	struct err err;

	if (num_parse(cell, UNIT_NONE, &q, &err) == 0) {
		q.value *= own;
	} else if (num_parse(cell, unit, &q, &err) < 0) {
		complaints_add(p->complaints, number, NULL, column_names[column], "%s", err.text);
		return (double)NAN;
	}
	if (q.tol >= 0.0) {
		complaints_add(p->complaints, number, NULL, column_names[column],
		               "a reading has no tolerance of its own");
		return (double)NAN;
	}
	return q.value;
}

/* What one in the last written digit is worth; 0 where the writing does not tell. */
static double last_digit(const char *cell, double value)
{
	char digits[CELL_MAX];
	struct quantity q;
	struct err err;
	size_t n = 0;
	int behind = 0;
	bool point = false;

	for (; is_digit(cell[n]) || cell[n] == '.'; n++) {
		behind += point ? 1 : 0;
		point = point || cell[n] == '.';
	}
	if (n == 0 || cell[n] == 'e' || cell[n] == 'E')
		return 0.0;
	memcpy(digits, cell, n);
	digits[n] = '\0';
	if (num_parse(digits, UNIT_NONE, &q, &err) < 0 || !(q.value > 0.0))
		return 0.0;
	return value / q.value * pow(10.0, -behind);
}

/* The section's index; -1 after a complaint. */
static int section_in(struct parser *p, const char *cell, int number)
{
	const char c = cell[0];
	int section = -1;

	if (c != '\0' && cell[1] == '\0')
		section = is_digit(c) ? c - '1' : c >= 'a' && c <= 'z' ? c - 'a' :
			c >= 'A' && c <= 'Z' ? c - 'A' : -1;
	if (section >= 0 && (size_t)section < p->n_sections)
		return section;
	complaints_add(p->complaints, number, NULL, "section",
	               "`%s`: this can has the sections 1 (or A) to %zu", cell, p->n_sections);
	return -1;
}

static int keep(struct parser *p, size_t section, const struct reform_reading *reading, int line)
{
	struct reform_section *s = &p->list->section[section];

	if (s->n == s->cap) {
		const size_t cap = s->cap ? 2 * s->cap : 64;
		struct reform_reading *readings = realloc(s->readings, cap * sizeof *readings);
		int *lines = realloc(p->lines[section], cap * sizeof *lines);

		s->readings = readings ? readings : s->readings;
		p->lines[section] = lines ? lines : p->lines[section];
		if (!readings || !lines) {
			complaints_add(p->complaints, COMPLAINT_WHOLE_FILE, NULL, NULL,
			               "out of memory");
			return -1;
		}
		s->cap = cap;
	}
	p->lines[section][s->n] = line;
	s->readings[s->n++] = *reading;
	return 0;
}

static int read_row(struct parser *p, const struct cells *cells, int number)
{
	struct reform_reading reading = { (double)NAN, (double)NAN, (double)NAN };
	double digit = 0.0;
	int section = 0;

	if (cells->n != p->head.n) {
		complaints_add(p->complaints, number, NULL, NULL,
		               "%zu values where %zu are expected (a decimal comma? write a point)",
		               cells->n, p->head.n);
		return 0;
	}
	for (size_t k = 0; k < cells->n; k++) {
		const enum column column = p->head.column[k];

		switch (column) {
		case COLUMN_SECONDS:
			reading.seconds = number_in(p, cells->text[k], column, number);
			break;
		case COLUMN_VOLTS:
			reading.volts = number_in(p, cells->text[k], column, number);
			break;
		case COLUMN_MILLIAMPS:
		case COLUMN_MICROAMPS:
			reading.amps = number_in(p, cells->text[k], column, number);
			digit = last_digit(cells->text[k], reading.amps);
			break;
		case COLUMN_SECTION:
			section = section_in(p, cells->text[k], number);
			break;
		case COLUMN_OTHER:
		case COLUMNS:
			break;
		}
	}
	if (section < 0 || isnan(reading.seconds + reading.volts + reading.amps))
		return 0;
	if (digit > 0.0) {
		double *finest = &p->list->section[section].digit_amps;

		*finest = *finest > 0.0 ? fmin(*finest, digit) : digit;
	}
	return keep(p, (size_t)section, &reading, number);
}

static int read_line(struct parser *p, const char *line, size_t n, int number)
{
	struct cells cells;

	while (n > 0 && is_blank(*line)) {
		line++;
		n--;
	}
	while (n > 0 && (is_blank(line[n - 1]) || line[n - 1] == '\r'))
		n--;
	if (n == 0 || *line == '#')
		return 0;
	if (split(line, n, number, &cells, p->complaints) < 0)
		return 0;
	if (!p->have_head) {
		p->have_head = true;
		if (!begins_number(cells.text[0])) {
			read_head(p, &cells, number);
			return 0;
		}
		default_head(p, &cells, number);
	}
	return read_row(p, &cells, number);
}

static void check_sections(struct parser *p)
{
	size_t all = 0;

	for (size_t i = 0; i < p->n_sections; i++) {
		const struct reform_section *s = &p->list->section[i];
		struct err err;
		size_t bad;

		all += s->n;
		if (s->n > 0 && reform_check(s->readings, s->n, &bad, &err) < 0)
			complaints_add(p->complaints, p->lines[i][bad], NULL, NULL, "%s", err.text);
	}
	if (all == 0 && complaints_count(p->complaints) == 0)
		complaints_add(p->complaints, COMPLAINT_WHOLE_FILE, NULL, NULL,
		               "no readings: a line each, seconds, volts, milliamps");
}

int reform_list_parse(const char *text, size_t n, size_t n_sections, struct reform_list *ret,
                      struct complaints *c)
{
	static const char mark[] = "\xef\xbb\xbf";
	struct parser p = { .list = ret, .n_sections = n_sections, .complaints = c };
	const size_t before = complaints_count(c);
	const char *end = text + n;
	bool failed = false;
	int number = 1;

	memset(ret, 0, sizeof *ret);
	if (n >= sizeof mark - 1 && memcmp(text, mark, sizeof mark - 1) == 0)
		text += sizeof mark - 1;
	for (; text < end && !failed; number++) {
		const char *stop = memchr(text, '\n', (size_t)(end - text));

		stop = stop ? stop : end;
		failed = read_line(&p, text, (size_t)(stop - text), number) < 0;
		text = stop < end ? stop + 1 : end;
	}
	if (complaints_count(c) == before)
		check_sections(&p);
	for (size_t i = 0; i < REFORM_SECTIONS_MAX; i++)
		free(p.lines[i]);
	if (complaints_count(c) == before)
		return 0;
	reform_list_release(ret);
	return -1;
}

void reform_list_release(struct reform_list *list)
{
	for (size_t i = 0; i < REFORM_SECTIONS_MAX; i++)
		free(list->section[i].readings);
	memset(list, 0, sizeof *list);
}
