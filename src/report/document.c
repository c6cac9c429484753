#include "report/document.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/room.h"

enum { PLAIN_DIGITS = 12 };

/* From here on num_print_unit() writes an exponent: all of the digits would say nothing. */
static const double huge = 1e15;

void document_init(struct document *d)
{
	*d = (struct document){0};
	buf_init(&d->texts);
	buf_addc(&d->texts, '\0'); /* offset 0: the empty string */
	d->failed = d->texts.failed;
}

void document_release(struct document *d)
{
	for (size_t i = 0; i < d->n_figures; i++) {
		figure_release(d->figure[i]);
		free(d->figure[i]);
	}
	free(d->figure);
	free(d->table);
	free(d->cell);
	free(d->block);
	buf_release(&d->texts);
	*d = (struct document){0};
}

static size_t keep_string(struct document *d, const char *text)
{
	size_t at = d->texts.len;

	buf_add(&d->texts, text, strlen(text) + 1);
	d->failed |= d->texts.failed;
	return d->texts.failed ? 0 : at;
}

static size_t keep(struct document *d, const char *format, va_list ap)
{
	size_t at = d->texts.len;

	buf_addv(&d->texts, format, ap);
	buf_addc(&d->texts, '\0');
	d->failed |= d->texts.failed;
	return d->texts.failed ? 0 : at;
}

void document_title(struct document *d, const char *title, const char *lead)
{
	d->title = keep_string(d, title);
	d->lead = keep_string(d, lead);
}

static struct doc_block *add_block(struct document *d, enum doc_block_kind kind, enum doc_role role)
{
	struct doc_block *b;
	void *grown = room_for(d->block, &d->block_room, d->n_blocks, sizeof *d->block);

	if (!grown) {
		d->failed = true;
		return NULL;
	}
	d->block = grown;
	b = &d->block[d->n_blocks++];
	*b = (struct doc_block){.kind = kind, .role = role};
	return b;
}

/* A block of formatted text. */
static void add_text(struct document *d, enum doc_block_kind kind, enum doc_role role, int level,
                     const char *name, const char *format, va_list ap)
{
	struct doc_block *b = add_block(d, kind, role);

	if (!b)
		return;
	b->level = level;
	b->name = keep_string(d, name);
	b->text = keep(d, format, ap);
}

void document_section(struct document *d, int level, const char *id, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	add_text(d, DOC_SECTION, DOC_PLAIN, level, id, format, ap);
	va_end(ap);
}

void document_para(struct document *d, enum doc_role role, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	add_text(d, DOC_PARA, role, 0, "", format, ap);
	va_end(ap);
}

void document_item(struct document *d, enum doc_role role, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	add_text(d, DOC_ITEM, role, 0, "", format, ap);
	va_end(ap);
}

void document_fact(struct document *d, const char *what, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	add_text(d, DOC_FACT, DOC_PLAIN, 0, what, format, ap);
	va_end(ap);
}

/* A name that no earlier table has. */
static void name_table(const struct document *d, struct doc_table *t, const char *name)
{
	int copy = 1;
	bool taken = true;

	(void)snprintf(t->name, sizeof t->name, "%s", name);
	while (taken) {
		taken = false;
		for (size_t i = 0; i < d->n_tables; i++)
			taken |= strcmp(d->table[i].name, t->name) == 0;
		if (taken)
			(void)snprintf(t->name, sizeof t->name, "%.16s-%d", name, ++copy);
	}
}

static void add_table(struct document *d, const char *name, const char *caption, bool data_only)
{
	struct doc_table t = {.first_cell = d->n_cells, .data_only = data_only};
	struct doc_block *b;
	void *grown = room_for(d->table, &d->table_room, d->n_tables, sizeof *d->table);

	if (!grown) {
		d->failed = true;
		return;
	}
	d->table = grown;
	name_table(d, &t, name);
	t.caption = keep_string(d, caption);
	b = data_only ? NULL : add_block(d, DOC_TABLE, DOC_PLAIN);
	if (b)
		b->index = (int)d->n_tables;
	d->table[d->n_tables++] = t;
}

void document_table(struct document *d, const char *name, const char *caption)
{
	add_table(d, name, caption, false);
}

void document_data_table(struct document *d, const char *name, const char *caption)
{
	add_table(d, name, caption, true);
}

static struct doc_table *last_table(struct document *d)
{
	return d->failed || d->n_tables == 0 ? NULL : &d->table[d->n_tables - 1];
}

void document_number_column(struct document *d, const char *title, enum unit unit,
                            enum doc_style style, int digits, const char *infinite)
{
	struct doc_table *t = last_table(d);
	struct doc_column *c;

	if (!t || t->n_columns == DOC_COLUMNS_MAX)
		return;
	c = &t->column[t->n_columns++];
	*c = (struct doc_column){
	        .unit = unit, .style = style, .digits = digits, .infinite = infinite};
	(void)snprintf(c->title, sizeof c->title, "%s", title);
}

void document_column(struct document *d, const char *title)
{
	document_number_column(d, title, UNIT_NONE, DOC_TEXT, 0, "");
}

static struct doc_cell *add_cell(struct document *d)
{
	struct doc_table *t = last_table(d);
	void *grown;

	if (!t)
		return NULL;
	grown = room_for(d->cell, &d->cell_room, d->n_cells, sizeof *d->cell);
	if (!grown) {
		d->failed = true;
		return NULL;
	}
	d->cell = grown;
	t->n_cells++;
	d->cell[d->n_cells] = (struct doc_cell){.value = NAN};
	return &d->cell[d->n_cells++];
}

void document_cell(struct document *d, enum doc_role role, const char *format, ...)
{
	struct doc_cell *c = add_cell(d);
	va_list ap;

	if (!c)
		return;
	c->role = role;
	va_start(ap, format);
	c->text = keep(d, format, ap);
	va_end(ap);
}

void document_number(struct document *d, enum doc_role role, double value)
{
	struct doc_cell *c = add_cell(d);

	if (!c)
		return;
	c->is_number = true;
	c->role = role;
	c->value = value;
}

struct figure *document_figure(struct document *d)
{
	struct doc_block *b;
	struct figure *f;
	void *grown = room_for(d->figure, &d->figure_room, d->n_figures, sizeof *d->figure);

	if (!grown) {
		d->failed = true;
		return NULL;
	}
	d->figure = grown;
	f = malloc(sizeof *f);
	b = f ? add_block(d, DOC_FIGURE, DOC_PLAIN) : NULL;
	if (!b) {
		free(f);
		d->failed = true;
		return NULL;
	}
	b->index = (int)d->n_figures;
	figure_init(f);
	d->figure[d->n_figures++] = f;
	return f;
}

const char *document_text(const struct document *d, size_t offset)
{
	return offset < d->texts.len ? d->texts.data + offset : "";
}

size_t document_rows(const struct doc_table *t)
{
	size_t columns = (size_t)t->n_columns;

	return columns == 0 ? 0 : (t->n_cells + columns - 1) / columns;
}

const struct doc_cell *document_cell_at(const struct document *d, const struct doc_table *t,
                                        size_t row, int column)
{
	static const struct doc_cell none = {.value = NAN};
	size_t at = row * (size_t)t->n_columns + (size_t)column;

	return at < t->n_cells ? &d->cell[t->first_cell + at] : &none;
}

const char *document_mark(enum doc_role role)
{
	static const char *const marks[] = {
	        [DOC_PLAIN] = "",   [DOC_GOOD] = "✓", [DOC_CAUTION] = "▲",
	        [DOC_DANGER] = "✖", [DOC_OPEN] = "○",
	};

	return marks[role];
}

void document_show_value(struct buf *out, double value, enum unit unit, int digits)
{
	char text[64];

	if (isnan(value)) {
		buf_adds(out, "–");
	} else if (isinf(value)) {
		buf_adds(out, "over-range");
	} else {
		(void)num_print_unit(text, sizeof text, value, unit, digits);
		buf_adds(out, text);
	}
}

void document_show_number(struct buf *out, const struct doc_column *column, double value)
{
	char digits[64];

	if (isnan(value) || (isinf(value) && !column->infinite[0])) {
		buf_adds(out, "–");
	} else if (isinf(value)) {
		buf_adds(out, column->infinite);
	} else if (column->style == DOC_PREFIX) {
		document_show_value(out, value, column->unit, column->digits);
	} else if (fabs(value) >= huge) {
		document_show_value(out, value, UNIT_NONE, 3);
	} else {
		if (column->unit == UNIT_PERCENT)
			value *= 100;
		(void)num_print(digits, sizeof digits, value, column->digits);
		buf_adds(out, digits);
	}
}

void document_plain_number(struct buf *out, const struct doc_column *column, double value)
{
	char digits[400];
	int decimals;
	size_t n;

	if (isnan(value))
		return;
	if (isinf(value)) {
		buf_adds(out, column->infinite);
		return;
	}
	if (column->unit == UNIT_PERCENT)
		value *= 100;
	if (fabs(value) >= huge) {
		document_show_value(out, value, UNIT_NONE, PLAIN_DIGITS);
		return;
	}
	decimals = fabs(value) > 0 ? PLAIN_DIGITS - 1 - (int)floor(log10(fabs(value))) : 0;
	if (column->style == DOC_DECIMALS && decimals > column->digits)
		decimals = column->digits;
	decimals = decimals < 0 ? 0 : decimals > 17 ? 17 : decimals;
	n = num_print(digits, sizeof digits, value, decimals);
	if (memchr(digits, '.', n)) {
		while (digits[n - 1] == '0')
			n--;
		n -= digits[n - 1] == '.';
	}
	buf_add(out, digits, n);
}
