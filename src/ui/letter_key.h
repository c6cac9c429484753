/*
 * ui/letter_key.h - a letter that is a key, or the beginning of a line?
 *
 * Layer: ui; pure.  While the line is empty some letters are keys (y, n, s, z, v, q).  Lines of
 * words begin with letters too, and nothing that was typed may be lost.  So such a letter goes to
 * the line first, for all to see, and waits: it acts once nothing has followed it for
 * LETTER_KEY_WAIT_S, or with Enter, or when the next key cannot go on with a word.  Letters behind
 * it make it a line.  Backspace and Escape take it back.
 */
#ifndef MAINSTAIR_UI_LETTER_KEY_H
#define MAINSTAIR_UI_LETTER_KEY_H

#include <stdbool.h>

#include "ui/keymap.h"
#include "ui/widget/prompt.h"

/* Longer than typists pause inside a word, short enough for one who waits for an answer (common
 * practice, no source). */
#define LETTER_KEY_WAIT_S 0.6

/* Zeroed: none waits. */
struct letter_key {
	uint32_t code;  /* the letter; 0: none */
	double until_s; /* it acts then, on the caller's clock */
};

enum letter_key_turn {
	LETTER_KEY_TEXT, /* it begins a line: the stroke goes on with that */
	LETTER_KEY_ACTS, /* it is a key: take it off the line, obey it, then take the stroke */
	LETTER_KEY_ENTER /* the same, and the stroke (Enter) is used up by it */
};

/** Does this stroke, which makes `request` in these contexts (IN_… bits), have to wait on the line
 *  *p, empty or with one that gives way to a new line?  Then it is put there. */
bool letter_key_begins(struct letter_key *k, unsigned contexts, enum request request,
                       struct stroke stroke, struct prompt *p, double now_s);

/** What a stroke makes of the letter that waits. */
enum letter_key_turn letter_key_follow(const struct letter_key *k, struct stroke stroke);

/** Take the letter off the line; it no longer waits.  Returns its stroke. */
struct stroke letter_key_take(struct letter_key *k, struct prompt *p);

#endif
