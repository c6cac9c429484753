/*
 * ui/screen/frame.h - what the pages have in common: the instruction above, the entry line below
 *
 * Layer: ui; pure.
 */
#ifndef MAINSTAIR_UI_FRAME_H
#define MAINSTAIR_UI_FRAME_H

#include "ui/canvas.h"
#include "ui/view.h"

/** Rows (at least 1) that a text of the frame (the instruction, how to follow it) needs to be shown
 *  whole. */
int frame_needs(const struct canvas *c, const char *text);

/** Title, the instruction in at most `rows` rows and, in at most `how_rows`, how to follow it; of
 *  one that is cut short the last row says so, and where the rest stands.  Returns the next free
 *  row: all that were given are taken. */
int frame_top(const struct view *v, struct canvas *c, int rows, int how_rows);

/** Verdict, watts and volts in one row: the number on pages that do not show it large. */
void frame_number(const struct view *v, struct canvas *c, int row);

/** Verdict as mark and word; returns the cells used. */
int frame_verdict(struct canvas *c, int row, int col, int cols, enum verdict verdict);

/** Of a reading that was judged while the unit settles: by which band, behind the verdict, as many
 *  words as there is room for.  Returns the cells used. */
int frame_moment(const struct view *v, struct canvas *c, int row, int col, int cols);

/** The entry line with the echo behind it, or the question that waits.  What is too long for its
 *  row takes rows above it, but on the screen of an alarm. */
void frame_entry(const struct view *v, struct canvas *c, int row);
/** The same from its parts, in at most `rows` rows; prompt NULL: nothing can be typed. */
void frame_line(const char *question, const struct prompt *prompt, enum role echo_role,
                const char *echo, struct canvas *c, int row, int rows);

/** Entry line and keys in the last two rows. */
void frame_bottom(const struct view *v, struct canvas *c);

#endif
