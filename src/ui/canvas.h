/*
 * ui/canvas.h - a picture made of character cells, drawn on without any terminal
 *
 * Layer: ui; no curses, no file.  Screens draw on a canvas; term_curses.c shows it,
 * term_dump.c turns it into text.  Everything is clipped: drawing outside is no error.
 *
 * Text is UTF-8 from anywhere.  Control characters, direction overrides and broken UTF-8 are
 * shown as one mark each, never passed on.  On a canvas of plain ASCII what has no ASCII form
 * is spelled (an ohm sign becomes "ohm") or shown as `?`.
 */
#ifndef MAINSTAIR_UI_CANVAS_H
#define MAINSTAIR_UI_CANVAS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ui/theme.h"

struct cell {
	uint32_t code; /* Unicode; 0: the right half of the wide character before it */
	uint8_t role;  /* enum role */
};

struct canvas {
	int rows, cols;
	bool utf8;          /* text may be more than ASCII */
	bool marks;         /* and so may marks, blocks and braille: not on the Linux console, whose
	                       font lacks them */
	struct cell *cells; /* rows * cols, row by row; owned */
	size_t room;
};

/* Marks that have a Unicode and an ASCII form. */
enum glyph {
	GLYPH_GOOD, GLYPH_OVER, GLYPH_UNDER, GLYPH_ABORT, GLYPH_SETTLING, GLYPH_UNKNOWN,
	GLYPH_POINTER,  /* the gauge's hand, pointing down */
	GLYPH_HERE,     /* this row is meant */
	GLYPH_DOT,      /* between two facts */
	GLYPH_RULE, GLYPH_UPRIGHT,
	GLYPH_EDGE_LOW, GLYPH_EDGE_HIGH, /* ends of the band on the gauge */
	GLYPH_BLOCK,    /* a full cell */
	GLYPH_SHADE,    /* a lightly filled cell */
	GLYPH_POINT,    /* a reading on a plot */
	GLYPH_CUT,      /* text was cut here */
	GLYPHS
};

/** An empty canvas in the caller's storage; release takes it even half built.  `marks` without
 *  `utf8` is not allowed. */
void canvas_init(struct canvas *c, bool utf8, bool marks);
void canvas_release(struct canvas *c);

/** Give it a size (>= 1 each) and clear it to blanks of ROLE_PLAIN.  0, or -1 when memory is
 *  short (the canvas keeps its old size). */
int canvas_resize(struct canvas *c, int rows, int cols);

/** Fill a rectangle with blanks of `role`. */
void canvas_fill(struct canvas *c, int row, int col, int rows, int cols, enum role role);

/** Put one character.  Characters that take no cell or two are shown as a mark;
 *  what a canvas without marks cannot show is the caller's to avoid (canvas_glyph() does). */
void canvas_put(struct canvas *c, int row, int col, enum role role, uint32_t code);
void canvas_glyph(struct canvas *c, int row, int col, enum role role, enum glyph glyph);
uint32_t canvas_glyph_code(const struct canvas *c, enum glyph glyph);

/** Write text in at most `cols` cells; text that does not fit is cut and its last cell shows
 *  GLYPH_CUT.  Returns the cells used. */
int canvas_text(struct canvas *c, int row, int col, int cols, enum role role, const char *text);
int canvas_format(struct canvas *c, int row, int col, int cols, enum role role,
                  const char *format, ...) __attribute__((format(printf, 6, 7)));

/** Write text broken at blanks into at most `rows` rows of `cols` cells; the last one is cut
 *  as canvas_text() does.  Returns the rows used.  With `c` NULL nothing is drawn: measures. */
int canvas_wrap(struct canvas *c, int row, int col, int rows, int cols, enum role role,
                const char *text);

/** A horizontal rule over the whole width with a title in it (NULL: none). */
void canvas_rule(struct canvas *c, int row, const char *title);

/** Cells that `text`, or one character, takes on `c` as canvas_text() shows it. */
int canvas_width(const struct canvas *c, const char *text);
int canvas_char_width(const struct canvas *c, uint32_t code);

#endif
