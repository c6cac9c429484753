/* Any bytes as the texts of a report: no writer lets them out of their place.  The input is cut at
 * its newlines; the pieces become title, paragraphs, cells and names. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "report/csv.h"
#include "report/escape.h"
#include "report/html.h"
#include "report/plain.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition)                                                                            \
	do {                                                                                       \
		if (!(condition))                                                                  \
			abort();                                                                   \
	} while (0)

/* Lines of clean text; nothing that a terminal or a parser would obey. */
static void must_be_clean(const struct buf *b)
{
	const char *at = b->data, *end = b->data + b->len;

	MUST(!b->failed);
	while (at < end) {
		const char *line = memchr(at, '\n', (size_t)(end - at));
		size_t n = (size_t)((line ? line : end) - at);

		MUST(text_is_clean(at, n));
		at += n + 1;
	}
}

static void check_html(const char *s, size_t n)
{
	struct buf out = BUF_INIT;

	escape_html(&out, s, n);
	must_be_clean(&out);
	MUST(!strpbrk(out.data, "<>\"'\n"));
	for (const char *and = strchr(out.data, '&'); and; and = strchr(and+1, '&'))
		MUST(strncmp(and, "&lt;", 4) == 0 || strncmp(and, "&gt;", 4) == 0 ||
		     strncmp(and, "&amp;", 5) == 0 || strncmp(and, "&quot;", 6) == 0 ||
		     strncmp(and, "&#39;", 5) == 0);
	buf_release(&out);
}

/* One field, read as RFC 4180 does, and none that a spreadsheet would calculate. */
static const char *skip_field(const char *at)
{
	if (*at != '"') {
		MUST(!*at || !strchr("=+@-", *at));
		for (; *at && *at != ',' && *at != '\r'; at++)
			MUST(*at != '"' && *at != '\n');
		return at;
	}
	at++;
	MUST(!*at || !strchr("=+@-", *at));
	while (*at != '"' || at[1] == '"') {
		MUST(*at && *at != '\r' && *at != '\n');
		at += *at == '"' ? 2 : 1;
	}
	return at + 1;
}

static void check_csv(const struct buf *csv, int columns)
{
	const char *at = csv->data;

	MUST(!csv->failed);
	if (strncmp(at, "\xef\xbb\xbf", 3) == 0)
		at += 3;
	while (*at) {
		for (int k = 0; k < columns; k++) {
			at = skip_field(at);
			MUST(k + 1 == columns || *at++ == ',');
		}
		MUST(at[0] == '\r' && at[1] == '\n');
		at += 2;
	}
}

/* The pieces of the input, each as a string of its own. */
static void fill(struct document *d, char *text)
{
	char *next = text, *piece;
	int n = 0;

	document_title(d, text, text);
	while ((piece = strsep(&next, "\n")) != NULL) {
		switch (n++ % 8) {
		case 0:
			document_section(d, 2, "id", "%s", piece);
			break;
		case 1:
			document_para(d, DOC_DANGER, "%s", piece);
			break;
		case 2:
			document_item(d, DOC_OPEN, "%s", piece);
			break;
		case 3:
			document_fact(d, piece, "%s", piece);
			break;
		case 4:
			document_table(d, "table", piece);
			document_column(d, "a");
			document_number_column(d, "b", UNIT_OHM, DOC_PREFIX, 3, "none");
			document_column(d, "c");
			break;
		case 6:
			document_number(d, DOC_GOOD,
			                fabs(strtod(piece, NULL))); /* a sign is for text */
			break;
		default:
			document_cell(d, DOC_CAUTION, "%s", piece);
			break;
		}
	}
}

/* A page may hold `<` only where this program put a tag: there are as many as of `>`. */
static void check_page(const struct buf *page)
{
	long open = 0;

	must_be_clean(page);
	for (size_t i = 0; i < page->len; i++) {
		open += (page->data[i] == '<') - (page->data[i] == '>');
		MUST(open == 0 || open == 1);
	}
	MUST(open == 0 && !strstr(page->data, "<script"));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct document d;
	struct buf out = BUF_INIT, text = BUF_INIT;

	check_html((const char *)data, size);
	escape_csv(&out, (const char *)data, size);
	must_be_clean(&out);
	buf_addc(&out, ',');
	MUST(*skip_field(out.data) == ',');
	buf_add(&text, data, size);
	document_init(&d);
	if (text.len > 0)
		fill(&d, text.data);
	MUST(!d.failed);
	buf_clear(&out);
	html_write(&out, &d);
	check_page(&out);
	buf_clear(&out);
	plain_write(&out, &d);
	must_be_clean(&out);
	for (size_t i = 0; i < d.n_tables; i++) {
		buf_clear(&out);
		csv_write(&out, &d, &d.table[i]);
		check_csv(&out, 3);
	}
	buf_clear(&out);
	csv_write_all(&out, &d);
	check_csv(&out, 5);
	document_release(&d);
	buf_release(&out);
	buf_release(&text);
	return 0;
}
