#include "report/csv.h"

#include <string.h>

#include "report/escape.h"

static const char bom[] = "\xef\xbb\xbf";

static void cell(struct buf *out, const char *s)
{
	escape_csv(out, s, strlen(s));
}

static bool is_ascii(const struct buf *b)
{
	for (size_t i = 0; i < b->len; i++)
		if ((unsigned char)b->data[i] >= 0x80)
			return false;
	return true;
}

/* What was put together goes out, with a mark of its encoding where that matters. */
static void hand_over(struct buf *out, struct buf *body)
{
	if (!is_ascii(body))
		buf_adds(out, bom);
	buf_add(out, body->data, body->len);
	out->failed |= body->failed;
	buf_release(body);
}

static void value(struct buf *out, const struct document *d, const struct doc_column *column,
                  const struct doc_cell *c)
{
	if (c->is_number)
		document_plain_number(out, column, c->value);
	else
		cell(out, document_text(d, c->text));
}

const struct doc_table *csv_find(const struct document *d, const char *name)
{
	for (size_t i = 0; i < d->n_tables; i++)
		if (strcmp(d->table[i].name, name) == 0)
			return &d->table[i];
	return NULL;
}

void csv_write(struct buf *out, const struct document *d, const struct doc_table *t)
{
	struct buf body = BUF_INIT, title = BUF_INIT;

	for (int k = 0; k < t->n_columns; k++) {
		const struct doc_column *c = &t->column[k];

		buf_clear(&title);
		buf_adds(&title, c->title);
		if (c->style != DOC_TEXT && c->unit != UNIT_NONE)
			buf_addf(&title, " (%s)", unit_symbol(c->unit));
		buf_adds(&body, k > 0 ? "," : "");
		cell(&body, title.data);
	}
	buf_adds(&body, "\r\n");
	for (size_t row = 0; row < document_rows(t); row++) {
		for (int k = 0; k < t->n_columns; k++) {
			buf_adds(&body, k > 0 ? "," : "");
			value(&body, d, &t->column[k], document_cell_at(d, t, row, k));
		}
		buf_adds(&body, "\r\n");
	}
	body.failed |= title.failed || d->failed;
	buf_release(&title);
	hand_over(out, &body);
}

void csv_write_all(struct buf *out, const struct document *d)
{
	struct buf body = BUF_INIT;

	buf_adds(&body, "table,row,column,unit,value\r\n");
	for (size_t i = 0; i < d->n_tables; i++) {
		const struct doc_table *t = &d->table[i];

		for (size_t row = 0; row < document_rows(t); row++)
			for (int k = 0; k < t->n_columns; k++) {
				const struct doc_column *c = &t->column[k];

				buf_addf(&body, "%s,%zu,", t->name, row + 1);
				cell(&body, c->title);
				buf_addf(&body, ",%s,",
				         c->style != DOC_TEXT && c->unit != UNIT_NONE
				                 ? unit_symbol(c->unit)
				                 : "");
				value(&body, d, c, document_cell_at(d, t, row, k));
				buf_adds(&body, "\r\n");
			}
	}
	body.failed |= d->failed;
	hand_over(out, &body);
}
