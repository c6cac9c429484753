#include "report/plain.h"

#include <string.h>

#include "mainstair/base/text.h"
#include "report/escape.h"

enum { WIDTH = 80, FACT_WIDTH = 22, CELL_MOST = 40 };

static void fill(struct buf *out, char c, size_t n)
{
	while (n-- > 0)
		buf_addc(out, c);
}

/* Any text in lines, a mark and a word before it. */
static void paragraph(struct buf *out, const char *lead, enum doc_role role, const char *s)
{
	struct buf clean = BUF_INIT;
	size_t indent;

	buf_adds(out, lead);
	indent = text_characters(lead, strlen(lead));
	if (role != DOC_PLAIN) {
		buf_addf(&clean, "%s ", document_mark(role));
	}
	escape_plain(&clean, s, strlen(s));
	text_wrap(out, clean.data, indent, indent, WIDTH);
	out->failed |= clean.failed;
	buf_release(&clean);
}

static void cell_text(struct buf *out, const struct document *d, const struct doc_column *c,
                      const struct doc_cell *cell)
{
	const char *s = document_text(d, cell->text);

	if (cell->role != DOC_PLAIN && (cell->is_number || s[0]))
		buf_addf(out, "%s ", document_mark(cell->role));
	if (cell->is_number)
		document_show_number(out, c, cell->value);
	else
		escape_plain(out, s, strlen(s));
}

static void head_text(struct buf *out, const struct doc_column *c)
{
	buf_adds(out, c->title);
	if (c->style == DOC_DECIMALS && c->unit != UNIT_NONE)
		buf_addf(out, ", %s", unit_symbol(c->unit));
}

/* Bytes of s that make at most `most` characters, broken at a blank where there is one. */
static size_t piece(const char *s, size_t most)
{
	size_t n = 0, count = 0, blank = 0;

	while (s[n] && count < most) {
		if (s[n] == ' ')
			blank = n;
		n++;
		while (((unsigned char)s[n] & 0xc0) == 0x80)
			n++;
		count++;
	}
	return s[n] && s[n] != ' ' && blank > 0 ? blank : n;
}

/* One row; cells that are too wide go on below. */
static void write_row(struct buf *out, struct buf *cells, const struct doc_table *t,
                      const size_t *width)
{
	const char *rest[DOC_COLUMNS_MAX];
	bool more = true;

	for (int k = 0; k < t->n_columns; k++)
		rest[k] = cells[k].data;
	while (more) {
		size_t owed = 2; /* blanks that only count when something follows */

		more = false;
		for (int k = 0; k < t->n_columns; k++) {
			size_t n = piece(rest[k], width[k]), wide = text_characters(rest[k], n);
			bool right = t->column[k].style != DOC_TEXT;

			if (n > 0) {
				fill(out, ' ', owed + (right ? width[k] - wide : 0));
				buf_add(out, rest[k], n);
				owed = right ? 0 : width[k] - wide;
			} else {
				owed += width[k];
			}
			owed += 2;
			rest[k] += n;
			rest[k] += strspn(rest[k], " ");
			more |= rest[k][0] != '\0';
		}
		buf_addc(out, '\n');
	}
}

static void write_table(struct buf *out, const struct document *d, const struct doc_table *t)
{
	struct buf cells[DOC_COLUMNS_MAX];
	size_t width[DOC_COLUMNS_MAX] = {0};

	paragraph(out, "", DOC_PLAIN, document_text(d, t->caption));
	for (int k = 0; k < t->n_columns; k++)
		buf_init(&cells[k]);
	/* twice: to measure, then to write; the head is the row before the first */
	for (int pass = 0; pass < 2; pass++)
		for (size_t row = 0; row <= document_rows(t); row++) {
			for (int k = 0; k < t->n_columns; k++) {
				size_t wide;

				buf_clear(&cells[k]);
				if (row == 0)
					head_text(&cells[k], &t->column[k]);
				else
					cell_text(&cells[k], d, &t->column[k],
					          document_cell_at(d, t, row - 1, k));
				out->failed |= cells[k].failed;
				wide = text_characters(cells[k].data, cells[k].len);
				wide = wide < CELL_MOST ? wide : CELL_MOST;
				width[k] = wide > width[k] ? wide : width[k];
			}
			if (pass == 1 && !out->failed)
				write_row(out, cells, t, width);
		}
	for (int k = 0; k < t->n_columns; k++)
		buf_release(&cells[k]);
	if (document_rows(t) == 0)
		buf_adds(out, "  none\n");
}

static void heading(struct buf *out, const char *s, char under)
{
	size_t from = out->len;

	escape_plain(out, s, strlen(s));
	buf_addc(out, '\n');
	fill(out, under, text_characters(out->data + from, out->len - from) - 1);
	buf_addc(out, '\n');
}

static void write_fact(struct buf *out, const char *what, const char *s)
{
	struct buf lead = BUF_INIT;
	size_t wide;

	escape_plain(&lead, what, strlen(what));
	buf_adds(&lead, ": ");
	wide = text_characters(lead.data, lead.len);
	fill(&lead, ' ', wide < FACT_WIDTH ? FACT_WIDTH - wide : 0);
	paragraph(out, lead.data, DOC_PLAIN, s);
	out->failed |= lead.failed;
	buf_release(&lead);
}

void plain_write(struct buf *out, const struct document *d)
{
	heading(out, document_text(d, d->title), '=');
	paragraph(out, "", DOC_PLAIN, document_text(d, d->lead));
	for (size_t i = 0; i < d->n_blocks; i++) {
		const struct doc_block *b = &d->block[i];
		const char *s = document_text(d, b->text);
		bool listed = b->kind == DOC_ITEM || b->kind == DOC_FACT;

		if (i == 0 || !listed || d->block[i - 1].kind != b->kind)
			buf_addc(out, '\n');
		switch (b->kind) {
		case DOC_SECTION:
			heading(out, s, b->level == 2 ? '=' : '-');
			break;
		case DOC_PARA:
			paragraph(out, "", b->role, s);
			break;
		case DOC_ITEM:
			paragraph(out, "- ", b->role, s);
			break;
		case DOC_FACT:
			write_fact(out, document_text(d, b->name), s);
			break;
		case DOC_TABLE:
			write_table(out, d, &d->table[b->index]);
			break;
		case DOC_FIGURE:
			paragraph(out, "[plot] ", DOC_PLAIN, d->figure[b->index]->title);
			paragraph(out, "       ", DOC_PLAIN, d->figure[b->index]->desc);
			break;
		}
	}
	out->failed |= d->failed;
}
