/*
 * ui/widget/prompt.h - the line that readings and notes are typed on, with its history
 *
 * Layer: ui; pure.  Nothing typed is lost: a line that is dropped or interrupted goes into the
 * history.  Bytes are UTF-8; the cursor always stands between characters.
 */
#ifndef MAINSTAIR_UI_PROMPT_H
#define MAINSTAIR_UI_PROMPT_H

#include <stdbool.h>
#include <stdint.h>

#include "ui/canvas.h"
#include "ui/keymap.h"

enum { PROMPT_BYTES_MAX = 400, PROMPT_LINES_MAX = 32 };

struct prompt {
	char text[PROMPT_BYTES_MAX];
	int length, cursor; /* bytes */
	char lines[PROMPT_LINES_MAX][PROMPT_BYTES_MAX]; /* ring; newest before lines_next */
	int lines_next, n_lines;
	int back;           /* how many lines back the history stands; 0: the line being typed */
	char kept[PROMPT_BYTES_MAX]; /* the line being typed, while the history is shown */
	bool offered;       /* put back for editing, and not yet touched */
};

/** Put a character at the cursor; in a line that was put back and not touched since it begins a new
 *  one (the other goes into the history).  false when the line is full (nothing changed). */
bool prompt_insert(struct prompt *p, uint32_t code);

/** Do one of REQUEST_ERASE … REQUEST_NEWER, REQUEST_CLEAR.  Others: nothing. */
void prompt_request(struct prompt *p, enum request request);

/** Take the line: copied to ret (room for PROMPT_BYTES_MAX), put into the history, cleared. */
void prompt_take(struct prompt *p, char *ret);

/** Put a line back for editing, the cursor behind it: Left, End, Backspace take it up. */
void prompt_set(struct prompt *p, const char *text);

/** Draw "> text" in one row of `cols` cells, scrolled so that the cursor shows. */
void prompt_draw(const struct prompt *p, struct canvas *c, int row, int col, int cols);

#endif
