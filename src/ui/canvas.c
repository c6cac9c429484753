/* ui/canvas.c - see canvas.h */
#include "ui/canvas.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ui/utf8.h"

static const struct {
	uint32_t unicode;
	char ascii;
} glyphs[GLYPHS] = {
	[GLYPH_GOOD] = {0x2713, '+'},     /* check mark */
	[GLYPH_OVER] = {0x25b2, '^'},     /* triangle up */
	[GLYPH_UNDER] = {0x25bc, 'v'},    /* triangle down */
	[GLYPH_ABORT] = {0x2716, 'X'},    /* heavy cross */
	[GLYPH_SETTLING] = {0x2026, '~'}, /* three dots */
	[GLYPH_UNKNOWN] = {'?', '?'},
	[GLYPH_POINTER] = {0x25bc, 'V'},
	[GLYPH_HERE] = {0x25b6, '>'},
	[GLYPH_DOT] = {0x00b7, '-'},
	[GLYPH_RULE] = {0x2500, '-'},
	[GLYPH_UPRIGHT] = {0x2502, '|'},
	[GLYPH_EDGE_LOW] = {0x251c, '['},
	[GLYPH_EDGE_HIGH] = {0x2524, ']'},
	[GLYPH_BLOCK] = {0x2588, '#'},
	[GLYPH_SHADE] = {0x2591, ':'},
	[GLYPH_POINT] = {0x25cf, 'o'},
	[GLYPH_CUT] = {0x2026, '~'},
};

/* How the few non-ASCII characters that our own texts use are spelled in ASCII. */
static const struct {
	uint32_t code;
	const char *ascii;
} spellings[] = {
	{0x00b0, "deg"}, {0x00b1, "+-"}, {0x00b5, "u"},  {0x00b7, "-"},  {0x03a9, "ohm"},
	{0x03bc, "u"},   {0x2013, "-"},  {0x2014, "-"},  {0x2018, "'"},  {0x2019, "'"},
	{0x201c, "\""},  {0x201d, "\""}, {0x2026, "..."}, {0x2126, "ohm"}, {0x2192, "->"},
	{0x2248, "~"},   {0x2264, "<="}, {0x2265, ">="}, {0x00d7, "x"},  {0x221a, "sqrt"},
};

/* What takes the place of a character that may not be shown as it is. */
static uint32_t mark_unshown(bool utf8)
{
	return utf8 ? 0xfffd : '?';
}

void canvas_init(struct canvas *c, bool utf8, bool marks)
{
	assert(utf8 || !marks);
	*c = (struct canvas){.utf8 = utf8, .marks = marks};
}

void canvas_release(struct canvas *c)
{
	if (!c)
		return;
	free(c->cells);
	*c = (struct canvas){0};
}

int canvas_resize(struct canvas *c, int rows, int cols)
{
	assert(rows > 0 && cols > 0);
	size_t n = (size_t)rows * (size_t)cols;
	if (n > c->room) {
		struct cell *cells = realloc(c->cells, n * sizeof *cells);
		if (!cells)
			return -1;
		c->cells = cells;
		c->room = n;
	}
	c->rows = rows;
	c->cols = cols;
	canvas_fill(c, 0, 0, rows, cols, ROLE_PLAIN);
	return 0;
}

void canvas_fill(struct canvas *c, int row, int col, int rows, int cols, enum role role)
{
	for (int r = row < 0 ? 0 : row; r < row + rows && r < c->rows; r++)
		for (int k = col < 0 ? 0 : col; k < col + cols && k < c->cols; k++)
			c->cells[r * c->cols + k] =
			        (struct cell){.code = ' ', .role = (uint8_t)role};
}

static void put_cell(struct canvas *c, int row, int col, enum role role, uint32_t code)
{
	if (row < 0 || row >= c->rows || col < 0 || col >= c->cols)
		return;
	c->cells[row * c->cols + col] = (struct cell){.code = code, .role = (uint8_t)role};
}

void canvas_put(struct canvas *c, int row, int col, enum role role, uint32_t code)
{
	if (utf8_columns(code) != 1 || (!c->utf8 && code > 0x7e))
		code = mark_unshown(c->utf8);
	put_cell(c, row, col, role, code);
}

uint32_t canvas_glyph_code(const struct canvas *c, enum glyph glyph)
{
	return c->marks ? glyphs[glyph].unicode : (uint32_t)glyphs[glyph].ascii;
}

void canvas_glyph(struct canvas *c, int row, int col, enum role role, enum glyph glyph)
{
	put_cell(c, row, col, role, canvas_glyph_code(c, glyph));
}

/* One character of a text as the cells that stand for it: at most four characters. */
struct shown {
	uint32_t code[4];
	int n;    /* characters */
	int cols; /* cells */
};

static struct shown show(bool utf8, uint32_t code)
{
	if (!utf8 && code > 0x7e) {
		for (size_t i = 0; i < sizeof spellings / sizeof *spellings; i++) {
			if (spellings[i].code != code)
				continue;
			struct shown s = {.n = (int)strlen(spellings[i].ascii)};
			for (int k = 0; k < s.n; k++)
				s.code[k] = (uint32_t)spellings[i].ascii[k];
			s.cols = s.n;
			return s;
		}
		return (struct shown){.code = {'?'}, .n = 1, .cols = 1};
	}
	int cols = utf8_columns(code);
	if (cols < 1) /* control, direction override, combining mark: never sent on */
		return (struct shown){.code = {mark_unshown(utf8)}, .n = 1, .cols = 1};
	return (struct shown){.code = {code}, .n = 1, .cols = cols};
}

static int width_of(bool utf8, const char *text, const char *end)
{
	int cols = 0;
	while (text < end)
		cols += show(utf8, utf8_next(&text, end)).cols;
	return cols;
}

int canvas_width(const struct canvas *c, const char *text)
{
	return width_of(c->utf8, text, text + strlen(text));
}

int canvas_char_width(const struct canvas *c, uint32_t code)
{
	return show(c->utf8, code).cols;
}

/* canvas_text() on a text that ends at `end`. */
static int put_text(struct canvas *c, int row, int col, int cols, enum role role,
                    const char *text, const char *end)
{
	int used = 0;
	bool fits = width_of(c->utf8, text, end) <= cols;
	int limit = fits ? cols : cols - 1; /* the last cell says that it was cut */
	while (text < end) {
		struct shown s = show(c->utf8, utf8_next(&text, end));
		if (used + s.cols > limit)
			break;
		for (int i = 0; i < s.n; i++)
			put_cell(c, row, col + used + i, role, s.code[i]);
		if (s.cols > s.n)
			put_cell(c, row, col + used + 1, role, 0);
		used += s.cols;
	}
	if (!fits && cols > 0) {
		canvas_glyph(c, row, col + used, role, GLYPH_CUT);
		used++;
	}
	return used;
}

int canvas_text(struct canvas *c, int row, int col, int cols, enum role role, const char *text)
{
	return cols > 0 ? put_text(c, row, col, cols, role, text, text + strlen(text)) : 0;
}

int canvas_format(struct canvas *c, int row, int col, int cols, enum role role,
                  const char *format, ...)
{
	char text[1024];
	va_list ap;
	va_start(ap, format);
	vsnprintf(text, sizeof text, format, ap);
	va_end(ap);
	return canvas_text(c, row, col, cols, role, text);
}

int canvas_wrap(struct canvas *c, int row, int col, int rows, int cols, enum role role,
                const char *text)
{
	bool utf8 = !c || c->utf8;
	const char *end = text + strlen(text);
	int used = 0;
	if (cols < 1)
		return 0;
	while (text < end && used < rows) {
		while (text < end && *text == ' ')
			text++;
		/* As many words as fit; a word longer than a row is broken. */
		const char *fit = text, *p = text;
		int width = 0;
		while (p < end) {
			const char *before = p;
			uint32_t code = utf8_next(&p, end);
			if (code == ' ')
				fit = before;
			int w = show(utf8, code).cols;
			if (width + w > cols) {
				if (fit == text)
					fit = before > text ? before : p;
				break;
			}
			width += w;
			if (p == end)
				fit = end;
		}
		bool last = used == rows - 1;
		if (c)
			put_text(c, row + used, col, cols, role, text, last ? end : fit);
		text = fit;
		used++;
	}
	return used;
}

void canvas_rule(struct canvas *c, int row, const char *title)
{
	for (int k = 0; k < c->cols; k++)
		canvas_glyph(c, row, k, ROLE_DIM, GLYPH_RULE);
	if (title && title[0])
		canvas_format(c, row, 2, c->cols - 4, ROLE_DIM, " %s ", title);
}
