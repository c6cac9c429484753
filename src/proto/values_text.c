#include "mainstair/proto/values_text.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/buf.h"
#include "mainstair/base/text.h"
#include "proto/csv_cells.h"

enum column { COLUMN_QUANTITY, COLUMN_VALUE, COLUMN_UNCERTAINTY, COLUMNS };

static const char *const column_names[COLUMNS] = {
        [COLUMN_QUANTITY] = "quantity",
        [COLUMN_VALUE] = "value",
        [COLUMN_UNCERTAINTY] = "uncertainty",
};

static const char broken[] = "a quote without its other end, or text behind it";

struct reading {
	struct csv_cursor at;
	struct values *values;
	struct complaints *c;
	size_t place[COLUMNS]; /* of each column; SIZE_MAX: not there */
	size_t n_columns;
	struct buf cell[COLUMNS]; /* of the row in hand */
};

/* ---- the first line ---- */

static int read_head(struct reading *r)
{
	const size_t before = complaints_count(r->c);
	const int line = r->at.line;
	struct buf name = BUF_INIT;
	struct csv_cell cell;
	enum csv_end end;

	do {
		end = csv_next(&r->at, &cell);
		if (end == CSV_BROKEN) {
			complaints_add(r->c, line, NULL, NULL, "%s", broken);
			break;
		}
		buf_clear(&name);
		csv_add_text(&name, &cell);
		for (int k = 0; k < COLUMNS && !name.failed && name.len > 0; k++) {
			if (!text_same(name.data, column_names[k]))
				continue;
			if (r->place[k] != SIZE_MAX)
				complaints_add(r->c, line, NULL, column_names[k], "a column twice");
			r->place[k] = r->n_columns;
		}
		r->n_columns++;
	} while (end == CSV_COMMA);
	for (int k = 0; k <= COLUMN_VALUE; k++)
		if (r->place[k] == SIZE_MAX && end != CSV_BROKEN)
			complaints_add(r->c, line, NULL, NULL,
			               "no column %s: the first line names "
			               "the columns, as quantity,value,uncertainty",
			               column_names[k]);
	csv_skip_line_end(&r->at);
	buf_release(&name);
	return complaints_count(r->c) == before ? 0 : -1;
}

/* ---- rows ---- */

static int read_value(const char *text, struct named_value *ret, struct err *err)
{
	struct quantity q;
	struct err other;

	if (num_parse(text, UNIT_NONE, &q, &other) < 0 && num_parse(text, UNIT_ANY, &q, err) < 0)
		return -1;
	if (q.tol >= 0)
		return err_set(err, ERR_INPUT, "its uncertainty goes into the column uncertainty");
	ret->value = q.value;
	ret->unit = q.unit;
	return 0;
}

static int read_uncertainty(const char *text, struct named_value *ret, struct err *err)
{
	const enum unit apart = ret->unit == UNIT_DBM ? UNIT_DECIBEL : ret->unit;
	struct quantity q;
	struct err other;

	if (text[strspn(text, " \t")] == '\0')
		return 0;
	if (strchr(text, '%') && ret->unit != UNIT_PERCENT &&
	    num_parse(text, UNIT_PERCENT, &q, &other) == 0)
		/* of a level: of its volts */
		ret->expanded = unit_is_level(ret->unit) ? 20 * log10(1 + q.value)
		                                         : q.value * fabs(ret->value);
	else if (num_parse(text, apart, &q, err) < 0)
		return -1;
	else
		ret->expanded = q.value;
	if (!(ret->expanded > 0) || !isfinite(ret->expanded))
		return err_set(err, ERR_RANGE,
		               "an uncertainty lies above zero: leave it empty when "
		               "it is not known");
	return 0;
}

static struct named_value *new_value(struct values *v)
{
	if (v->n == v->cap) {
		const size_t cap = v->cap ? 2 * v->cap : 32;
		struct named_value *list = realloc(v->list, cap * sizeof *list);

		if (!list)
			return NULL;
		v->list = list;
		v->cap = cap;
	}
	return &v->list[v->n++];
}

static bool has_nul(const struct buf *cell)
{
	return strlen(cell->data) + 1 != cell->len;
}

/* The row's cells are in r->cell. */
static int keep_row(struct reading *r, int line)
{
	const struct buf *name = &r->cell[COLUMN_QUANTITY];
	struct named_value *value;
	struct err err;

	for (int k = 0; k < COLUMNS; k++)
		buf_addc(&r->cell[k], '\0');
	if (r->cell[0].failed || r->cell[1].failed || r->cell[2].failed ||
	    r->values->n == VALUES_MAX || (value = new_value(r->values)) == NULL) {
		complaints_add(r->c, line, NULL, NULL,
		               r->values->n == VALUES_MAX ? "more than 10000 values"
		                                          : "out of memory");
		return -1;
	}
	*value = (struct named_value){.value = NAN, .expanded = NAN, .line = line};
	if (name->data[0] == '\0' || name->len > VALUES_NAME_MAX)
		complaints_add(r->c, line, NULL, "quantity", "a name of 1 to %d bytes is needed",
		               VALUES_NAME_MAX - 1);
	else if (!text_is_clean(name->data, name->len - 1))
		complaints_add(r->c, line, NULL, "quantity", "a control character in the name");
	else
		memcpy(value->name, name->data, name->len);
	for (size_t i = 0; i + 1 < r->values->n && value->name[0]; i++)
		if (text_same(r->values->list[i].name, value->name)) {
			complaints_add(r->c, line, NULL, value->name,
			               "is there already, on line %d", r->values->list[i].line);
			break;
		}
	if (has_nul(&r->cell[COLUMN_VALUE]) || has_nul(&r->cell[COLUMN_UNCERTAINTY]))
		complaints_add(r->c, line, NULL, NULL, "a NUL byte: this is not a text file");
	else if (read_value(r->cell[COLUMN_VALUE].data, value, &err) < 0)
		complaints_add(r->c, line, NULL, "value", "%s", err.text);
	else if (read_uncertainty(r->cell[COLUMN_UNCERTAINTY].data, value, &err) < 0)
		complaints_add(r->c, line, NULL, "uncertainty", "%s", err.text);
	return 0;
}

static int read_row(struct reading *r)
{
	const int line = r->at.line;
	struct csv_cell cell;
	enum csv_end end;
	size_t k = 0;

	for (int i = 0; i < COLUMNS; i++)
		buf_clear(&r->cell[i]);
	do {
		end = csv_next(&r->at, &cell);
		if (end == CSV_BROKEN) {
			complaints_add(r->c, line, NULL, NULL, "%s", broken);
			csv_skip_line(&r->at);
			return 0;
		}
		for (int i = 0; i < COLUMNS; i++)
			if (r->place[i] == k)
				csv_add_text(&r->cell[i], &cell);
		k++;
	} while (end == CSV_COMMA);
	csv_skip_line_end(&r->at);
	if (k != r->n_columns) {
		complaints_add(r->c, line, NULL, NULL,
		               "%zu cells where the first line names %zu "
		               "columns",
		               k, r->n_columns);
		return 0;
	}
	return keep_row(r, line);
}

int values_parse(const char *text, size_t n, struct values *ret, struct complaints *c)
{
	const size_t before = complaints_count(c);
	struct reading r = {.values = ret,
	                    .c = c,
	                    .place = {SIZE_MAX, SIZE_MAX, SIZE_MAX},
	                    .cell = {BUF_INIT, BUF_INIT, BUF_INIT}};
	bool more;

	*ret = (struct values){0};
	more = csv_begin(&r.at, text, n);
	if (!more)
		complaints_add(c, 0, NULL, NULL,
		               "empty: a first line that names the columns is "
		               "needed, as quantity,value,uncertainty");
	else
		more = read_head(&r) == 0;
	while (more && r.at.at < r.at.end)
		if (!csv_skip_blank_line(&r.at) && read_row(&r) < 0)
			break;
	if (more && ret->n == 0 && complaints_count(c) == before)
		complaints_add(c, 0, NULL, NULL, "no values below the first line");
	for (int k = 0; k < COLUMNS; k++)
		buf_release(&r.cell[k]);
	if (complaints_count(c) == before)
		return 0;
	values_release(ret);
	return -1;
}

void values_release(struct values *v)
{
	free(v->list);
	*v = (struct values){0};
}
