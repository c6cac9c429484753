/*
 * ui/widget/bignum.h - a number or a word, five rows high, to be read at arm's length
 *
 * Layer: ui; pure.
 */
#ifndef MAINSTAIR_UI_BIGNUM_H
#define MAINSTAIR_UI_BIGNUM_H

#include "ui/canvas.h"

enum { BIGNUM_ROWS = 5 };

/** Cells across for `text` with pixels `dot` (>= 1) cells wide. */
int bignum_width(const char *text, int dot);

/** Draw digits, `.`, `-`, blanks and the letters A B O P R S T; others become blanks.
 *  Returns the cells across. */
int bignum_draw(struct canvas *c, int row, int col, int dot, enum role role, const char *text);

#endif
