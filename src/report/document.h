/*
 * report/document.h - what a report says, before it is HTML, text or CSV
 *
 * Layer: report; includes base/ only; pure.  The parts of the report (report/part_*.c) fill a
 * document; the writers (html.h, plain.h, csv.h) read it.  So every table is in every format, and
 * what comes from outside is escaped in one place a format, not where it is put in.
 * Texts are copied as they are: any bytes.  Formats are printf's; print numbers through base/num.h.
 * Out of memory is sticky as in base/buf.h: `failed`, and what is added from then on is lost.
 * Ownership: document_init/release for the caller's storage; figures and tables belong to it.
 */
#ifndef REPORT_DOCUMENT_H
#define REPORT_DOCUMENT_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/buf.h"
#include "mainstair/base/num.h"
#include "report/figure.h"

/* What a thing means; each has a mark beside its colour (document_mark()). */
enum doc_role { DOC_PLAIN, DOC_GOOD, DOC_CAUTION, DOC_DANGER, DOC_OPEN /* nobody looked */ };

enum doc_block_kind {
	DOC_SECTION, /* text: its title; name: its id; level 2 or 3 */
	DOC_PARA,
	DOC_ITEM, /* of a list; neighbours are one list */
	DOC_FACT, /* name: what; text: the fact.  Neighbours are one list */
	DOC_TABLE,
	DOC_FIGURE
};

struct doc_block {
	enum doc_block_kind kind;
	enum doc_role role;
	int level;
	size_t name, text; /* offsets into document.texts, of closed strings */
	int index;         /* into tables or figures */
};

enum { DOC_COLUMNS_MAX = 16, DOC_TITLE_MAX = 48, DOC_NAME_MAX = 32 };

/* How a number of a column is shown to people; in CSV it is always in the column's unit. */
enum doc_style {
	DOC_TEXT,     /* no number: words */
	DOC_DECIMALS, /* so many decimals, the unit stands in the head */
	DOC_PREFIX    /* so many digits with prefix and unit: "4.7 kohm" */
};

struct doc_column {
	char title[DOC_TITLE_MAX];
	enum unit unit; /* of numbers */
	enum doc_style style;
	int digits;
	const char *infinite; /* what INFINITY means here: "over range", "no limit" */
};

struct doc_cell {
	bool is_number;
	enum doc_role role;
	double value; /* NAN: not told */
	size_t text;  /* offset */
};

struct doc_table {
	char name[DOC_NAME_MAX]; /* a CSV file's name; unique in the document */
	size_t caption;
	struct doc_column column[DOC_COLUMNS_MAX];
	int n_columns;
	size_t first_cell, n_cells; /* row by row */
	bool data_only; /* for CSV: too long to be read, and drawn in a figure or told in short */
};

struct document {
	struct buf texts;
	struct doc_block *block;
	size_t n_blocks, block_room;
	struct doc_cell *cell;
	size_t n_cells, cell_room;
	struct doc_table *table;
	size_t n_tables, table_room;
	struct figure **figure;
	size_t n_figures, figure_room;
	size_t title, lead; /* offsets */
	bool failed;
};

/** An empty one, in the caller's storage. */
void document_init(struct document *d);
void document_release(struct document *d); /**< A zeroed one is fine. */

/** What it is called, and one line below that. */
void document_title(struct document *d, const char *title, const char *lead);

/** Begin a section: 2, or 3 within one.  id: letters, digits and `-`, unique. */
void document_section(struct document *d, int level, const char *id, const char *format, ...)
        __attribute__((format(printf, 4, 5)));
void document_para(struct document *d, enum doc_role role, const char *format, ...)
        __attribute__((format(printf, 3, 4)));
void document_item(struct document *d, enum doc_role role, const char *format, ...)
        __attribute__((format(printf, 3, 4)));
void document_fact(struct document *d, const char *what, const char *format, ...)
        __attribute__((format(printf, 3, 4)));

/** Begin a table.  name: small letters, digits and `-`; a second one of that name gets a number
 *  behind it.  Then its columns, then its cells, row by row. */
void document_table(struct document *d, const char *name, const char *caption);
/** The same for a table that only CSV has. */
void document_data_table(struct document *d, const char *name, const char *caption);
void document_column(struct document *d, const char *title);
void document_number_column(struct document *d, const char *title, enum unit unit,
                            enum doc_style style, int digits, const char *infinite);
void document_cell(struct document *d, enum doc_role role, const char *format, ...)
        __attribute__((format(printf, 3, 4)));
void document_number(struct document *d, enum doc_role role, double value);

/** An empty figure to fill, or NULL when out of memory. */
struct figure *document_figure(struct document *d);

/** A string of the document; borrowed, until the next addition. */
const char *document_text(const struct document *d, size_t offset);

/** Rows of a table, and a cell of it. */
size_t document_rows(const struct doc_table *t);
const struct doc_cell *document_cell_at(const struct document *d, const struct doc_table *t,
                                        size_t row, int column);

/** "✓", "▲", "✖", "○"; "" for plain. */
const char *document_mark(enum doc_role role);

/** Append a value with its unit in so many digits; "–" when not told, "over-range" when infinite,
 *  with an exponent ("1e22 V") from 1e15 on. */
void document_show_value(struct buf *out, double value, enum unit unit, int digits);

/** Append a number cell as people read it, without its unit for DOC_DECIMALS; "–" when not told,
 *  or infinite where the column has no word for it. */
void document_show_number(struct buf *out, const struct doc_column *column, double value);

/** Append it in the column's unit with a point and up to 12 digits, nothing when not told and the
 *  column's word when infinite. */
void document_plain_number(struct buf *out, const struct doc_column *column, double value);

#endif
