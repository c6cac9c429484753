#include "mainstair/core/tables.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

/*
 * The reader is strict: a column that it does not know, a cell that it cannot read and two rows
 * that claim one name are errors with a line number, because a table that is read half right
 * gives watts that are wrong without a sign of it.
 *
 * CSV as in RFC 4180, but a quoted cell ends on its line, and lines that begin with '#' and
 * blank lines are comments.
 */
enum { COLUMNS_MAX = 32, ROW_BYTES_MAX = 2048, SHOWN_MAX = 64 };

enum cell_kind {
	CELL_IGNORED, /* for people */
	CELL_NAME,    /* must be there */
	CELL_TEXT,
	CELL_WORD, /* one of words[], its index stored as an int */
	CELL_NUMBER,
	CELL_COUNT, /* a whole number, stored as an int; 0 where the cell is empty */
	CELL_CONFIDENCE
};

struct column {
	const char *name;
	enum cell_kind kind;
	size_t offset; /* in the row */
	size_t size;   /* CELL_NAME, CELL_TEXT: bytes with the closing 0 */
	double scale;  /* CELL_NUMBER: times this is the base unit */
	double least, most; /* as written, before scaling */
	const char *const *words;
	bool must; /* the file must have this column */
};

/* In the order of enum tube_kind. */
static const char *const tube_kind_words[] = {
	"diode-rectifier", "signal-diode", "triode", "twin-triode", "pentode", "beam-tetrode",
	"converter", "tuning-eye", "gas-regulator", "thyratron", "other", NULL
};
static const char *const heating_words[] = { "none", "indirect", "direct", NULL };
static const char *const lamp_kind_words[] = { "incandescent", "neon", "mains", NULL };
static const char *const confidence_words[] = {
	"from memory", "1 source", "2 sources", "1 source (amps only)", "1 source (volts only)",
	"1 source (currents only)", NULL
};

#define NUMBER(column, field, factor, low, high) \
	{ .name = column, .kind = CELL_NUMBER, .offset = offsetof(ROW, field), .scale = factor, \
	  .least = low, .most = high, .must = true }
#define COUNT(column, field, low, high) \
	{ .name = column, .kind = CELL_COUNT, .offset = offsetof(ROW, field), .scale = 1.0, \
	  .least = low, .most = high, .must = true }
#define WORD(column, field, list) \
	{ .name = column, .kind = CELL_WORD, .offset = offsetof(ROW, field), .words = list, \
	  .must = true }
#define STRING(column, sort, field) \
	{ .name = column, .kind = sort, .offset = offsetof(ROW, field), \
	  .size = sizeof(((ROW *)0)->field), .must = true }
#define CONFIDENCE(column, field) \
	{ .name = column, .kind = CELL_CONFIDENCE, .offset = offsetof(ROW, field), \
	  .words = confidence_words, .must = true }
#define IGNORED(column) { .name = column, .kind = CELL_IGNORED }

/* Limits: wide enough for everything that fits a socket on a bench, narrow enough for a slipped
 * column or a decimal point to show. */
#define ROW struct tube_type
static const struct column tube_columns[] = {
	STRING("type", CELL_NAME, name),
	STRING("aliases", CELL_TEXT, aliases),
	WORD("kind", kind, tube_kind_words),
	NUMBER("heater_volts", heater_volts, 1.0, 0.5, 150.0),
	NUMBER("heater_amps", heater_amps, 1.0, 0.01, 30.0),
	NUMBER("alt_volts", alt_volts, 1.0, 0.5, 150.0),
	NUMBER("alt_amps", alt_amps, 1.0, 0.01, 30.0),
	WORD("heating", heating, heating_words),
	NUMBER("max_dc_ma", max_dc_amps, 1e-3, 0.1, 1e4),
	COUNT("plates", plates, 1.0, 2.0),
	NUMBER("drop_v", drop_volts, 1.0, 1.0, 300.0),
	NUMBER("drop_at_ma_per_plate", drop_amps, 1e-3, 0.1, 1e4),
	NUMBER("strike_v", strike_volts, 1.0, 20.0, 2000.0),
	NUMBER("operating_v", hold_volts, 1.0, 20.0, 2000.0),
	NUMBER("min_ma", min_amps, 1e-3, 0.01, 1e3),
	NUMBER("max_ma", max_amps, 1e-3, 0.01, 1e3),
	NUMBER("typ_plate_screen_ma", typical_amps, 1e-3, 0.01, 1e4),
	IGNORED("source"),
	CONFIDENCE("confidence", from_memory),
	IGNORED("near_equivalents"),
	IGNORED("typ_source"),
	STRING("note", CELL_TEXT, note),
};
#undef ROW
#define ROW struct lamp_type
static const struct column lamp_columns[] = {
	STRING("lamp", CELL_NAME, name),
	WORD("kind", kind, lamp_kind_words),
	NUMBER("volts", volts, 1.0, 0.5, 300.0),
	NUMBER("amps", amps, 1.0, 1e-4, 20.0),
	IGNORED("base"),
	STRING("note", CELL_TEXT, note),
	IGNORED("life_h"),
	NUMBER("strike_v", strike_volts, 1.0, 20.0, 2000.0),
	NUMBER("maintain_v", hold_volts, 1.0, 20.0, 2000.0),
	IGNORED("source"),
	CONFIDENCE("confidence", from_memory),
};
#undef ROW

struct sheet {
	const char *what; /* "tube table": for messages */
	const struct column *columns;
	size_t n_columns;
	/* of this file */
	const struct column *order[COLUMNS_MAX];
	size_t n_order;
};

/* One line, cut into cells: the bytes of all of them in a row, each with a closing 0. */
struct cells {
	char bytes[ROW_BYTES_MAX];
	const char *at[COLUMNS_MAX];
	size_t n;
};

static int refuse(struct err *err, const struct sheet *sheet, int line, const char *column,
                  const char *cell, const char *what)
{
	char shown[SHOWN_MAX];

	(void)text_show(shown, sizeof shown, cell, strlen(cell));
	return err_set(err, ERR_INPUT, "%s, line %d: %s \"%s\": %s", sheet->what, line, column,
	               shown, what);
}

/* The same where there is no cell to show. */
static int broken(struct err *err, const struct sheet *sheet, int line, const char *what)
{
	return err_set(err, ERR_INPUT, "%s, line %d: %s", sheet->what, line, what);
}

static int cut_line(const char *s, size_t n, struct cells *ret, struct err *err,
                    const struct sheet *sheet, int line)
{
	size_t i = 0, out = 0;

	ret->n = 0;
	for (;;) {
		if (ret->n == COLUMNS_MAX || n >= sizeof ret->bytes - COLUMNS_MAX)
			return broken(err, sheet, line, "too long");
		ret->at[ret->n++] = ret->bytes + out;
		if (i < n && s[i] == '"') {
			for (i++;; i++) {
				if (i == n)
					return broken(err, sheet, line,
					              "a quote is not closed on its line");
				if (s[i] == '"' && (++i == n || s[i] != '"'))
					break;
				ret->bytes[out++] = s[i];
			}
			if (i < n && s[i] != ',')
				return broken(err, sheet, line, "text behind a closing quote");
		} else {
			for (; i < n && s[i] != ','; i++) {
				if (s[i] == '"')
					return broken(err, sheet, line,
					              "a quote inside a cell; quote the whole "
					              "cell and double it");
				ret->bytes[out++] = s[i];
			}
		}
		ret->bytes[out++] = '\0';
		if (i == n)
			return 0;
		i++;
	}
}

static int read_header(struct sheet *sheet, const struct cells *cells, struct err *err, int line)
{
	for (size_t i = 0; i < cells->n; i++) {
		const struct column *found = NULL;

		for (size_t k = 0; k < sheet->n_columns; k++)
			if (strcmp(sheet->columns[k].name, cells->at[i]) == 0)
				found = &sheet->columns[k];
		if (!found)
			return refuse(err, sheet, line, "column", cells->at[i], "unknown");
		for (size_t k = 0; k < i; k++)
			if (sheet->order[k] == found)
				return refuse(err, sheet, line, "column", cells->at[i], "twice");
		sheet->order[i] = found;
	}
	sheet->n_order = cells->n;
	for (size_t k = 0; k < sheet->n_columns; k++) {
		bool there = !sheet->columns[k].must;

		for (size_t i = 0; i < sheet->n_order; i++)
			there |= sheet->order[i] == &sheet->columns[k];
		if (!there)
			return refuse(err, sheet, line, "column", sheet->columns[k].name,
			              "missing");
	}
	return 0;
}

/* Index of the word, or -1. */
static int word_index(const char *const *words, const char *cell)
{
	for (int k = 0; words[k]; k++)
		if (strcmp(words[k], cell) == 0)
			return k;
	return -1;
}

static int read_number(const struct column *column, const char *cell, double *ret, struct err *err,
                       const struct sheet *sheet, int line)
{
	struct quantity q;
	struct err why;

	*ret = NAN;
	if (!*cell)
		return 0;
	if (num_parse(cell, UNIT_NONE, &q, &why) != 0)
		return refuse(err, sheet, line, column->name, cell, "not a number");
	if (!(q.value >= column->least && q.value <= column->most))
		return refuse(err, sheet, line, column->name, cell, "cannot be: out of range");
	*ret = q.value * column->scale;
	return 0;
}

/* CELL_WORD stores an int where the rows have enums. */
static_assert(sizeof(enum tube_kind) == sizeof(int) && sizeof(enum tube_heating) == sizeof(int) &&
              sizeof(enum lamp_kind) == sizeof(int), "enums are ints here");

static int read_row(const struct sheet *sheet, const struct cells *cells, void *row,
                    struct err *err, int line)
{
	if (cells->n != sheet->n_order)
		return err_set(err, ERR_INPUT, "%s, line %d: %zu cells where the header has %zu",
		               sheet->what, line, cells->n, sheet->n_order);
	for (size_t i = 0; i < cells->n; i++) {
		const struct column *column = sheet->order[i];
		const char *cell = cells->at[i];
		char *field = (char *)row + column->offset;
		size_t n = strlen(cell);
		int index;

		switch (column->kind) {
		case CELL_IGNORED:
			break;
		case CELL_NAME:
		case CELL_TEXT:
			if (column->kind == CELL_NAME && n == 0)
				return refuse(err, sheet, line, column->name, cell, "empty");
			if (n >= column->size)
				return refuse(err, sheet, line, column->name, cell, "too long");
			if (!text_is_clean(cell, n))
				return refuse(err, sheet, line, column->name, cell,
				              "control characters or broken UTF-8");
			memcpy(field, cell, n + 1);
			break;
		case CELL_WORD:
			index = word_index(column->words, cell);
			if (index < 0)
				return refuse(err, sheet, line, column->name, cell, "unknown word");
			memcpy(field, &index, sizeof index);
			break;
		case CELL_NUMBER: {
			double value;

			if (read_number(column, cell, &value, err, sheet, line) != 0)
				return -1;
			memcpy(field, &value, sizeof value);
			break;
		}
		case CELL_COUNT: {
			double value;

			if (read_number(column, cell, &value, err, sheet, line) != 0)
				return -1;
			index = isnan(value) ? 0 : (int)value;
			if (!isnan(value) && fabs(value - index) > 0.0)
				return refuse(err, sheet, line, column->name, cell, "not whole");
			memcpy(field, &index, sizeof index);
			break;
		}
		case CELL_CONFIDENCE: {
			bool from_memory;

			index = word_index(column->words, cell);
			if (index < 0)
				return refuse(err, sheet, line, column->name, cell, "unknown word");
			from_memory = index == 0;
			memcpy(field, &from_memory, sizeof from_memory);
			break;
		}
		}
	}
	return 0;
}

static bool both_or_none(double a, double b)
{
	return isnan(a) == isnan(b);
}

/* What one cell cannot tell. */
static int check_tube(const struct sheet *sheet, const struct tube_type *tube, struct err *err,
                      int line)
{
	double watts = tube->heater_volts * tube->heater_amps;

	if (!both_or_none(tube->heater_volts, tube->heater_amps) ||
	    !both_or_none(tube->alt_volts, tube->alt_amps) ||
	    !both_or_none(tube->drop_volts, tube->drop_amps))
		return refuse(err, sheet, line, "type", tube->name,
		              "volts without amps or amps without volts");
	if ((tube->heating == HEATING_NONE) != isnan(tube->heater_volts))
		return refuse(err, sheet, line, "type", tube->name,
		              "heating is \"none\" exactly where there are no heater volts");
	/* The same wire twice over: in series or in parallel it takes the same watts. */
	if (!isnan(tube->alt_volts) &&
	    !(fabs(tube->alt_volts * tube->alt_amps - watts) <= 0.05 * watts))
		return refuse(err, sheet, line, "type", tube->name,
		              "its two strappings take different watts");
	if (tube->kind == TUBE_DIODE_RECTIFIER && (tube->plates == 0 || isnan(tube->max_dc_amps)))
		return refuse(err, sheet, line, "type", tube->name,
		              "a rectifier needs plates and max_dc_ma");
	if (tube->hold_volts >= tube->strike_volts)
		return refuse(err, sheet, line, "type", tube->name,
		              "strike_v must be above operating_v");
	if (tube->min_amps >= tube->max_amps)
		return refuse(err, sheet, line, "type", tube->name, "min_ma must be below max_ma");
	return 0;
}

static int check_lamp(const struct sheet *sheet, const struct lamp_type *lamp, struct err *err,
                      int line)
{
	if (isnan(lamp->amps))
		return refuse(err, sheet, line, "lamp", lamp->name, "no amps");
	if ((lamp->kind == LAMP_NEON) != isnan(lamp->volts))
		return refuse(err, sheet, line, "lamp", lamp->name,
		              "volts are left out exactly where the lamp is neon");
	if (lamp->hold_volts >= lamp->strike_volts)
		return refuse(err, sheet, line, "lamp", lamp->name,
		              "strike_v must be above maintain_v");
	return 0;
}

static char lower(char c)
{
	return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

/* A name inside a row: the row's own or one of its aliases, not ended by a 0. */
struct claim {
	const char *name;
	size_t n;
	const char *row;
};

static int claim_order(const void *left, const void *right)
{
	const struct claim *a = left, *b = right;

	for (size_t i = 0; i < a->n && i < b->n; i++)
		if (lower(a->name[i]) != lower(b->name[i]))
			return lower(a->name[i]) < lower(b->name[i]) ? -1 : 1;
	return a->n < b->n ? -1 : a->n > b->n;
}

/* The next name of a ';'-separated list at *list, which moves on; false at its end. */
static bool next_name(const char **list, struct claim *ret)
{
	while (**list == ';')
		(*list)++;
	if (!**list)
		return false;
	ret->name = *list;
	ret->n = strcspn(*list, ";");
	*list += ret->n;
	return true;
}

/* No name may lead to two rows. */
static int check_claims(struct claim *claims, size_t n, const struct sheet *sheet, struct err *err)
{
	char name[TYPE_NAME_MAX];

	qsort(claims, n, sizeof *claims, claim_order);
	for (size_t i = 1; i < n; i++) {
		if (claim_order(&claims[i - 1], &claims[i]) != 0)
			continue;
		(void)text_show(name, sizeof name, claims[i].name, claims[i].n);
		return err_set(err, ERR_INPUT, "%s: the name %s stands for both %s and %s",
		               sheet->what, name, claims[i - 1].row, claims[i].row);
	}
	return 0;
}

static int check_tube_names(const struct tables *t, const struct sheet *sheet, struct err *err)
{
	struct claim *claims;
	size_t n = 0;
	int status;

	/* An alias takes two bytes at least, its ';' counted. */
	claims = calloc(t->n_tubes ? t->n_tubes : 1,
	                (1 + sizeof t->tubes[0].aliases / 2) * sizeof *claims);
	if (!claims)
		return err_set(err, ERR_NOMEM, "out of memory reading the %s", sheet->what);
	for (size_t i = 0; i < t->n_tubes; i++) {
		const struct tube_type *tube = &t->tubes[i];
		const char *list = tube->aliases;

		claims[n++] = (struct claim){ tube->name, strlen(tube->name), tube->name };
		while (next_name(&list, &claims[n]))
			claims[n++].row = tube->name;
	}
	status = check_claims(claims, n, sheet, err);
	free(claims);
	return status;
}

static int check_lamp_names(const struct tables *t, const struct sheet *sheet, struct err *err)
{
	struct claim *claims = calloc(t->n_lamps ? t->n_lamps : 1, sizeof *claims);
	int status;

	if (!claims)
		return err_set(err, ERR_NOMEM, "out of memory reading the %s", sheet->what);
	for (size_t i = 0; i < t->n_lamps; i++)
		claims[i] = (struct claim){ t->lamps[i].name, strlen(t->lamps[i].name),
			                    t->lamps[i].name };
	status = check_claims(claims, t->n_lamps, sheet, err);
	free(claims);
	return status;
}

/* Room for one more row of `size` bytes behind n of them; the new row is zeroed. */
static void *one_more(void **rows, size_t n, size_t size)
{
	/* Capacity is not kept: it is the power of two at or above n, 64 at least. */
	if (n == 0 || (n >= 64 && (n & (n - 1)) == 0)) {
		void *more = realloc(*rows, (n < 64 ? 64 : 2 * n) * size);

		if (!more)
			return NULL;
		*rows = more;
	}
	return memset((char *)*rows + n * size, 0, size);
}

static int add_tube(struct tables *t, const struct sheet *sheet, const struct cells *cells,
                    struct err *err, int line)
{
	void *rows = t->tubes;
	struct tube_type *row = one_more(&rows, t->n_tubes, sizeof *row);

	t->tubes = rows;
	if (!row)
		return err_set(err, ERR_NOMEM, "out of memory reading the %s", sheet->what);
	if (read_row(sheet, cells, row, err, line) != 0 || check_tube(sheet, row, err, line) != 0)
		return -1;
	t->n_tubes++;
	return 0;
}

static int add_lamp(struct tables *t, const struct sheet *sheet, const struct cells *cells,
                    struct err *err, int line)
{
	void *rows = t->lamps;
	struct lamp_type *row = one_more(&rows, t->n_lamps, sizeof *row);

	t->lamps = rows;
	if (!row)
		return err_set(err, ERR_NOMEM, "out of memory reading the %s", sheet->what);
	if (read_row(sheet, cells, row, err, line) != 0 || check_lamp(sheet, row, err, line) != 0)
		return -1;
	t->n_lamps++;
	return 0;
}

typedef int add_row(struct tables *t, const struct sheet *sheet, const struct cells *cells,
                    struct err *err, int line);

static int parse(struct tables *t, struct sheet *sheet, add_row *add, const char *text, size_t n,
                 struct err *err)
{
	struct cells cells;
	int line = 0;

	for (size_t at = 0; at < n;) {
		const char *end = memchr(text + at, '\n', n - at);
		size_t length = end ? (size_t)(end - (text + at)) : n - at;
		const char *start = text + at;

		at += length + 1;
		line++;
		if (length > 0 && start[length - 1] == '\r')
			length--;
		if (length == 0 || start[0] == '#')
			continue;
		if (memchr(start, '\0', length))
			return broken(err, sheet, line, "not text");
		if (cut_line(start, length, &cells, err, sheet, line) != 0)
			return -1;
		if (sheet->n_order == 0) {
			if (read_header(sheet, &cells, err, line) != 0)
				return -1;
		} else if (add(t, sheet, &cells, err, line) != 0) {
			return -1;
		}
	}
	if (sheet->n_order == 0)
		return err_set(err, ERR_INPUT, "%s: empty; a header line names its columns",
		               sheet->what);
	return 0;
}

int tables_parse_tubes(struct tables *t, const char *text, size_t n, struct err *err)
{
	struct sheet sheet = { .what = "tube table", .columns = tube_columns,
		               .n_columns = sizeof tube_columns / sizeof tube_columns[0] };

	if (parse(t, &sheet, add_tube, text, n, err) != 0)
		return -1;
	return check_tube_names(t, &sheet, err);
}

int tables_parse_lamps(struct tables *t, const char *text, size_t n, struct err *err)
{
	struct sheet sheet = { .what = "lamp table", .columns = lamp_columns,
		               .n_columns = sizeof lamp_columns / sizeof lamp_columns[0] };

	if (parse(t, &sheet, add_lamp, text, n, err) != 0)
		return -1;
	return check_lamp_names(t, &sheet, err);
}

void tables_release(struct tables *t)
{
	free(t->tubes);
	free(t->lamps);
	*t = (struct tables){ 0 };
}

const struct tube_type *tables_tube(const struct tables *t, const char *name)
{
	const struct claim wanted = { .name = name, .n = strlen(name) };

	for (size_t i = 0; i < t->n_tubes; i++) {
		const char *list = t->tubes[i].aliases;
		struct claim alias;

		if (text_same(t->tubes[i].name, name))
			return &t->tubes[i];
		while (next_name(&list, &alias))
			if (claim_order(&alias, &wanted) == 0)
				return &t->tubes[i];
	}
	return NULL;
}

const struct lamp_type *tables_lamp(const struct tables *t, const char *name)
{
	for (size_t i = 0; i < t->n_lamps; i++)
		if (text_same(t->lamps[i].name, name))
			return &t->lamps[i];
	return NULL;
}

/* Edits from `name` to the nearest name of the row. */
static size_t row_distance(const struct tube_type *tube, const char *name)
{
	size_t least = text_distance(tube->name, name);
	const char *list = tube->aliases;
	struct claim alias;

	while (next_name(&list, &alias)) {
		char word[sizeof tube->aliases];
		size_t d;

		memcpy(word, alias.name, alias.n);
		word[alias.n] = '\0';
		d = text_distance(word, name);
		if (d < least)
			least = d;
	}
	return least;
}

size_t tables_nearest_tubes(const struct tables *t, const char *name, const char **ret, size_t max)
{
	size_t most = strlen(name) / 3, n = 0;

	for (size_t edits = 0; edits <= 2 && edits <= most; edits++)
		for (size_t i = 0; i < t->n_tubes && n < max; i++)
			if (row_distance(&t->tubes[i], name) == edits)
				ret[n++] = t->tubes[i].name;
	return n;
}
