#include "mainstair/proto/readings_text.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "proto/csv_cells.h"

enum { NUMBER_MAX = 120 };

static const char rail_begin[] = "rail_", rail_end[] = "_volts";

static const struct {
	const char *name;
	enum unit unit;
} known[] = {
	[READINGS_VOLTS] = { "line_volts", UNIT_VOLT },
	[READINGS_WATTS] = { "watts", UNIT_WATT },
	[READINGS_AMPS] = { "amps", UNIT_AMPERE },
	[READINGS_SECONDS] = { "seconds", UNIT_SECOND },
	[READINGS_RAIL] = { "rail_NAME_volts", UNIT_VOLT },
};

static bool is_rail(const char *name)
{
	const size_t n = strlen(name), begin = sizeof rail_begin - 1, end = sizeof rail_end - 1;

	return n > begin + end && strncmp(name, rail_begin, begin) == 0 &&
	       strcmp(name + n - end, rail_end) == 0;
}

static enum readings_column column_of(const char *name)
{
	for (int k = READINGS_VOLTS; k <= READINGS_SECONDS; k++)
		if (strcmp(name, known[k].name) == 0)
			return (enum readings_column)k;
	return is_rail(name) ? READINGS_RAIL : READINGS_OTHER;
}

static void check_columns(const struct readings *r, struct complaints *c)
{
	static const int needed[] = { READINGS_VOLTS, READINGS_WATTS };
	int seen[READINGS_RAIL + 1] = { 0 };

	for (size_t k = 0; k < r->n_columns; k++) {
		seen[r->column[k]]++;
		for (size_t i = 0; i < k && r->column[k] != READINGS_OTHER; i++)
			if (strcmp(r->name[i], r->name[k]) == 0)
				complaints_add(c, r->head.line, NULL, r->name[k],
				               "a column twice: one of them needs another name");
	}
	for (size_t i = 0; i < sizeof needed / sizeof *needed; i++)
		if (seen[needed[i]] == 0)
			complaints_add(
			        c, r->head.line, NULL, NULL,
			        "no column %s: the first line names the columns, separated by "
			        "commas, line_volts and watts among them",
			        known[needed[i]].name);
}

static int parse_head(struct csv_cursor *at, struct readings *r, struct complaints *c)
{
	size_t offset[READINGS_COLUMNS_MAX];
	const size_t before = complaints_count(c);
	struct csv_cell cell;
	enum csv_end end;

	r->head = (struct readings_row){ .raw = at->at, .line = at->line };
	do {
		end = csv_next(at, &cell);
		if (end == CSV_BROKEN || r->n_columns == READINGS_COLUMNS_MAX) {
			complaints_add(c, r->head.line, NULL, NULL, end == CSV_BROKEN ?
			               "a quote without its other end, or text behind it" :
			               "more columns than are read");
			return -1;
		}
		offset[r->n_columns++] = r->names.len;
		csv_add_text(&r->names, &cell);
		buf_addc(&r->names, '\0');
	} while (end == CSV_COMMA);
	r->head.len = (size_t)(at->at - r->head.raw);
	csv_skip_line_end(at);
	if (r->names.failed) {
		complaints_add(c, 0, NULL, NULL, "out of memory");
		return -1;
	}
	for (size_t k = 0; k < r->n_columns; k++) {
		r->name[k] = r->names.data + offset[k];
		r->column[k] = column_of(r->name[k]);
	}
	check_columns(r, c);
	return complaints_count(c) == before ? 0 : -1;
}

/* The number in a cell; NAN after a complaint, and for an empty cell of a column that may have
 * them. */
static double parse_number(const struct readings *r, size_t k, const struct csv_cell *cell, int line,
                           struct complaints *c)
{
	const enum readings_column column = r->column[k];
	char text[NUMBER_MAX];
	struct quantity q;
	struct err err;

	if (cell->n == 0) {
		if (column == READINGS_VOLTS || column == READINGS_WATTS)
			complaints_add(c, line, NULL, r->name[k], "empty: a number is needed here");
		return NAN;
	}
	if (cell->n >= sizeof text || memchr(cell->at, '\0', cell->n)) {
		complaints_add(c, line, NULL, r->name[k], "not a number");
		return NAN;
	}
	memcpy(text, cell->at, cell->n);
	text[cell->n] = '\0';
	if (num_parse(text, known[column].unit, &q, &err) < 0) {
		complaints_add(c, line, NULL, r->name[k], "%s", err.text);
		return NAN;
	}
	if (q.tol >= 0.0) {
		complaints_add(c, line, NULL, r->name[k], "a reading has no tolerance of its own");
		return NAN;
	}
	return q.value;
}

static struct readings_row *new_row(struct readings *r)
{
	if (r->n_rows == r->cap_rows) {
		const size_t cap = r->cap_rows ? 2 * r->cap_rows : 256;
		struct readings_row *more = realloc(r->rows, cap * sizeof *more);

		if (!more)
			return NULL;
		r->rows = more;
		r->cap_rows = cap;
	}
	return &r->rows[r->n_rows++];
}

static int parse_row(struct csv_cursor *at, struct readings *r, struct complaints *c)
{
	struct readings_row *row = new_row(r);
	enum csv_end end;
	size_t k = 0;

	if (!row) {
		complaints_add(c, 0, NULL, NULL, "out of memory");
		return -1;
	}
	*row = (struct readings_row){ .raw = at->at, .line = at->line, .volts = NAN, .watts = NAN,
		                      .amps = NAN, .seconds = NAN };
	do {
		struct csv_cell cell;
		double value;

		end = csv_next(at, &cell);
		if (end == CSV_BROKEN) {
			complaints_add(c, row->line, NULL, k < r->n_columns ? r->name[k] : NULL,
			               "a quote without its other end, or text behind it");
			csv_skip_line(at);
			return 0;
		}
		if (k >= r->n_columns || r->column[k] == READINGS_OTHER) {
			k++;
			continue;
		}
		value = parse_number(r, k, &cell, row->line, c);
		switch (r->column[k++]) {
		case READINGS_VOLTS:
			row->volts = value;
			break;
		case READINGS_WATTS:
			row->watts = value;
			break;
		case READINGS_AMPS:
			row->amps = value;
			break;
		case READINGS_SECONDS:
			row->seconds = value;
			break;
		case READINGS_RAIL:
		case READINGS_OTHER:
			break;
		}
	} while (end == CSV_COMMA);
	row->len = (size_t)(at->at - row->raw);
	if (k != r->n_columns)
		complaints_add(c, row->line, NULL, NULL, "%zu cells where the first line names %zu "
		               "columns", k, r->n_columns);
	csv_skip_line_end(at);
	return 0;
}

int readings_parse(const char *text, size_t n, struct readings *ret, struct complaints *c)
{
	struct csv_cursor at;
	const size_t before = complaints_count(c);

	memset(ret, 0, sizeof *ret);
	buf_init(&ret->names);
	if (!csv_begin(&at, text, n)) {
		complaints_add(c, 0, NULL, NULL,
		               "empty: a first line that names the columns is needed, as "
		               "line_volts,watts");
		goto fail;
	}
	if (parse_head(&at, ret, c) < 0)
		goto fail;
	while (at.at < at.end)
		if (!csv_skip_blank_line(&at) && parse_row(&at, ret, c) < 0)
			goto fail;
	if (ret->n_rows == 0 && complaints_count(c) == before)
		complaints_add(c, 0, NULL, NULL, "no readings below the first line");
	if (complaints_count(c) == before)
		return 0;
fail:
	readings_release(ret);
	return -1;
}

double readings_number(const struct readings *r, const struct readings_row *row, size_t k)
{
	struct csv_cursor at = { row->raw, row->raw + row->len, row->line };
	struct csv_cell cell;
	struct complaints none;
	double value;

	for (size_t i = 0; i < k; i++)
		(void)csv_next(&at, &cell);
	(void)csv_next(&at, &cell);
	complaints_init(&none, "");
	value = parse_number(r, k, &cell, row->line, &none);
	complaints_release(&none);
	return value;
}

void readings_release(struct readings *r)
{
	buf_release(&r->names);
	free(r->rows);
	memset(r, 0, sizeof *r);
}

void readings_rail_name(const struct readings *r, size_t k, char *out, size_t size)
{
	const size_t n = strlen(r->name[k]) - (sizeof rail_begin - 1) - (sizeof rail_end - 1);

	(void)snprintf(out, size, "%.*s", (int)n, r->name[k] + sizeof rail_begin - 1);
}
