/* ui/widget/bignum.c - see bignum.h */
#include "ui/widget/bignum.h"

/* Five rows of three dots each, the top row first; narrow ones are one dot wide. */
static const struct {
	char c;
	int dots;
	unsigned char rows[BIGNUM_ROWS];
} font[] = {
	{'0', 3, {7, 5, 5, 5, 7}}, {'1', 3, {2, 6, 2, 2, 7}}, {'2', 3, {7, 1, 7, 4, 7}},
	{'3', 3, {7, 1, 7, 1, 7}}, {'4', 3, {5, 5, 7, 1, 1}}, {'5', 3, {7, 4, 7, 1, 7}},
	{'6', 3, {7, 4, 7, 5, 7}}, {'7', 3, {7, 1, 1, 1, 1}}, {'8', 3, {7, 5, 7, 5, 7}},
	{'9', 3, {7, 5, 7, 1, 7}}, {'.', 1, {0, 0, 0, 0, 1}}, {'-', 3, {0, 0, 7, 0, 0}},
	{'A', 3, {7, 5, 7, 5, 5}}, {'B', 3, {6, 5, 6, 5, 6}}, {'O', 3, {7, 5, 5, 5, 7}},
	{'P', 3, {7, 5, 7, 4, 4}}, {'R', 3, {6, 5, 6, 5, 5}}, {'S', 3, {7, 4, 7, 1, 7}},
	{'T', 3, {7, 2, 2, 2, 2}}, {' ', 1, {0}},
};
enum { BLANK = sizeof font / sizeof *font - 1 };

static int font_at(char c)
{
	for (int i = 0; i < BLANK; i++)
		if (font[i].c == c)
			return i;
	return BLANK;
}

int bignum_width(const char *text, int dot)
{
	int dots = 0;
	for (; *text; text++)
		dots += font[font_at(*text)].dots + (text[1] != '\0');
	return dots * dot;
}

int bignum_draw(struct canvas *c, int row, int col, int dot, enum role role, const char *text)
{
	int at = col;
	for (; *text; text++) {
		int f = font_at(*text);
		for (int r = 0; r < BIGNUM_ROWS; r++)
			for (int k = 0; k < font[f].dots * dot; k++)
				if (font[f].rows[r] >> (font[f].dots - 1 - k / dot) & 1)
					canvas_glyph(c, row + r, at + k, role, GLYPH_BLOCK);
		at += (font[f].dots + (text[1] != '\0')) * dot;
	}
	return at - col;
}
