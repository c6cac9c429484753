#include "report/html.h"

#include <math.h>
#include <string.h>

#include "report/escape.h"
#include "report/style.h"
#include "report/svg.h"

/* Tables with more columns become cards on a phone; with many more, on a small screen. */
enum { NARROW_COLUMNS = 3, WIDE_COLUMNS = 8 };
/* Cells up to so many bytes are kept in one piece: a date, a figure with its unit. */
enum { SHORT_CELL = 18 };

static const char *const role_class[] = {
        [DOC_PLAIN] = "",        [DOC_GOOD] = "good", [DOC_CAUTION] = "caution",
        [DOC_DANGER] = "danger", [DOC_OPEN] = "open",
};

static void text(struct buf *out, const char *s)
{
	escape_html(out, s, strlen(s));
}

static void marked(struct buf *out, enum doc_role role, const char *s)
{
	if (role != DOC_PLAIN && s[0])
		buf_addf(out, "<span class=\"mark\" aria-hidden=\"true\">%s</span> ",
		         document_mark(role));
	text(out, s);
}

/* <tag class="role">, without a class for what is plain */
static void open_tag(struct buf *out, const char *tag, enum doc_role role)
{
	if (role == DOC_PLAIN)
		buf_addf(out, "<%s>", tag);
	else
		buf_addf(out, "<%s class=\"%s\">", tag, role_class[role]);
}

static void head_cell(struct buf *out, const struct doc_column *c)
{
	buf_addf(out, "<th scope=\"col\"%s>", c->style == DOC_TEXT ? "" : " class=\"n\"");
	text(out, c->title);
	if (c->style == DOC_DECIMALS && c->unit != UNIT_NONE)
		buf_addf(out, " (%s)", unit_symbol(c->unit));
	buf_adds(out, "</th>");
}

static void add_class(struct buf *out, bool is_so, const char *word)
{
	if (is_so)
		buf_addf(out, "%s%s", out->len > 0 ? " " : "", word);
}

static void write_cell(struct buf *out, const struct document *d, const struct doc_column *c,
                       const struct doc_cell *cell, bool heads)
{
	const char *s = document_text(d, cell->text);
	const bool none = cell->is_number ? isnan(cell->value) : !s[0];
	const bool short_cell = cell->is_number || strlen(s) <= SHORT_CELL;
	struct buf class = BUF_INIT;

	buf_addf(out, "<%s", heads ? "th scope=\"row\"" : "td");
	add_class(&class, c->style != DOC_TEXT, "n");
	add_class(&class, !heads && short_cell && !none, "s");
	add_class(&class, none, "none");
	add_class(&class, cell->role != DOC_PLAIN, role_class[cell->role]);
	if (class.len > 0)
		buf_addf(out, " class=\"%s\"", class.data);
	out->failed |= class.failed;
	buf_release(&class);
	if (!heads) {
		buf_adds(out, " data-label=\"");
		text(out, c->title);
		if (c->style == DOC_DECIMALS && c->unit != UNIT_NONE)
			buf_addf(out, " (%s)", unit_symbol(c->unit));
		buf_addc(out, '"');
	}
	buf_addc(out, '>');
	if (cell->is_number) {
		if (cell->role != DOC_PLAIN && !none)
			buf_addf(out, "<span class=\"mark\" aria-hidden=\"true\">%s</span> ",
			         document_mark(cell->role));
		document_show_number(out, c, cell->value);
	} else {
		/* one element, so that a card shows it as one piece */
		buf_adds(out, none ? "" : "<span>");
		marked(out, cell->role, s);
		buf_adds(out, none ? "" : "</span>");
	}
	buf_adds(out, heads ? "</th>" : "</td>");
}

static void write_table(struct buf *out, const struct document *d, const struct doc_table *t)
{
	buf_addf(out, "<table id=\"table-%s\"%s>\n<caption>", t->name,
	         t->n_columns > WIDE_COLUMNS     ? " class=\"wider\""
	         : t->n_columns > NARROW_COLUMNS ? " class=\"wide\""
	                                         : "");
	text(out, document_text(d, t->caption));
	buf_adds(out, "</caption>\n<thead><tr>");
	for (int k = 0; k < t->n_columns; k++)
		head_cell(out, &t->column[k]);
	buf_adds(out, "</tr></thead>\n<tbody>\n");
	for (size_t row = 0; row < document_rows(t); row++) {
		buf_adds(out, "<tr>");
		for (int k = 0; k < t->n_columns; k++)
			write_cell(out, d, &t->column[k], document_cell_at(d, t, row, k), k == 0);
		buf_adds(out, "</tr>\n");
	}
	if (document_rows(t) == 0)
		buf_addf(out, "<tr><td colspan=\"%d\">none</td></tr>\n", t->n_columns);
	buf_adds(out, "</tbody>\n</table>\n");
}

static void write_figure(struct buf *out, const struct figure *f)
{
	buf_adds(out, "<figure>\n<figcaption>");
	text(out, f->title);
	buf_adds(out, "</figcaption>\n");
	svg_figure(out, f);
	svg_legend(out, f);
	buf_adds(out, "</figure>\n");
	out->failed |= f->failed;
}

/* The element that holds blocks of a kind; "" when each stands by itself. */
static const char *holder(enum doc_block_kind kind)
{
	switch (kind) {
	case DOC_ITEM:
		return "ul";
	case DOC_FACT:
		return "dl";
	case DOC_FIGURE:
		return "div";
	case DOC_SECTION:
	case DOC_PARA:
	case DOC_TABLE:
		break;
	}
	return "";
}

static void write_block(struct buf *out, const struct document *d, const struct doc_block *b)
{
	const char *s = document_text(d, b->text);

	switch (b->kind) {
	case DOC_SECTION:
		buf_addf(out, "<h%d id=\"%s\">", b->level, document_text(d, b->name));
		text(out, s);
		buf_addf(out, "</h%d>\n", b->level);
		break;
	case DOC_PARA:
		open_tag(out, "p", b->role);
		marked(out, b->role, s);
		buf_adds(out, "</p>\n");
		break;
	case DOC_ITEM:
		open_tag(out, "li", b->role);
		marked(out, b->role, s);
		buf_adds(out, "</li>\n");
		break;
	case DOC_FACT:
		buf_adds(out, "<dt>");
		text(out, document_text(d, b->name));
		buf_adds(out, "</dt><dd>");
		text(out, s);
		buf_adds(out, "</dd>\n");
		break;
	case DOC_TABLE:
		write_table(out, d, &d->table[b->index]);
		break;
	case DOC_FIGURE:
		write_figure(out, d->figure[b->index]);
		break;
	}
}

static void write_head(struct buf *out, const struct document *d)
{
	const char *title = document_text(d, d->title);

	buf_adds(out, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n"
	              "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n"
	              "<meta name=\"color-scheme\" content=\"light dark\"/>\n"
	              "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
	              "style-src 'unsafe-inline'\"/>\n<title>");
	text(out, title);
	buf_adds(out, "</title>\n<style>\n");
	for (int i = 0; report_style[i]; i++)
		buf_adds(out, report_style[i]);
	buf_adds(out, "</style>\n</head>\n<body>\n<header>\n<h1>");
	text(out, title);
	buf_adds(out, "</h1>\n<p class=\"lead\">");
	text(out, document_text(d, d->lead));
	buf_adds(out, "</p>\n</header>\n<nav aria-label=\"Sections\">\n<ul>\n");
	for (size_t i = 0; i < d->n_blocks; i++) {
		const struct doc_block *b = &d->block[i];

		if (b->kind != DOC_SECTION || b->level != 2)
			continue;
		buf_addf(out, "<li><a href=\"#%s\">", document_text(d, b->name));
		text(out, document_text(d, b->text));
		buf_adds(out, "</a></li>\n");
	}
	buf_adds(out, "</ul>\n</nav>\n<main>\n");
}

void html_write(struct buf *out, const struct document *d)
{
	const char *held = "";

	write_head(out, d);
	for (size_t i = 0; i < d->n_blocks; i++) {
		const struct doc_block *b = &d->block[i];
		const char *in = holder(b->kind);

		if (strcmp(in, held) != 0) {
			if (held[0])
				buf_addf(out, "</%s>\n", held);
			if (in[0])
				buf_addf(out,
				         b->kind == DOC_FIGURE ? "<%s class=\"figures\">\n"
				                               : "<%s>\n",
				         in);
		}
		held = in;
		write_block(out, d, b);
	}
	if (held[0])
		buf_addf(out, "</%s>\n", held);
	buf_adds(out, "</main>\n</body>\n</html>\n");
	out->failed |= d->failed;
}
