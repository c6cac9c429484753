/*
 * ui/keymap.h - keys become named requests; one table makes the look-up, the hints and the help
 *
 * Layer: ui; pure.  A key is listed once, in keymap.c, with where it acts and what it does, so
 * that the bottom line and the help screen cannot drift from what the keys really do.
 */
#ifndef MAINSTAIR_UI_KEYMAP_H
#define MAINSTAIR_UI_KEYMAP_H

#include <stddef.h>
#include <stdint.h>

enum stroke_kind {
	STROKE_NONE, STROKE_CHAR, STROKE_ENTER, STROKE_ESCAPE, STROKE_TAB,
	STROKE_BACKSPACE, STROKE_DELETE, STROKE_LEFT, STROKE_RIGHT, STROKE_UP, STROKE_DOWN,
	STROKE_HOME, STROKE_END, STROKE_PAGE_UP, STROKE_PAGE_DOWN,
	STROKE_CONTROL /* with a letter: code is 'A'..'Z' */
};

/* One key as it came from the terminal. */
struct stroke {
	enum stroke_kind kind;
	uint32_t code; /* STROKE_CHAR: the character; STROKE_CONTROL: the letter */
};

enum request {
	REQUEST_NONE,
	REQUEST_STOP, REQUEST_ACKNOWLEDGE, REQUEST_HELP, REQUEST_BACK, REQUEST_NEXT_PAGE,
	REQUEST_SCROLL_UP, REQUEST_SCROLL_DOWN, REQUEST_QUIT, REQUEST_REDRAW,
	REQUEST_YES, REQUEST_NO,
	REQUEST_ENTER, REQUEST_CLEAR, REQUEST_ERASE, REQUEST_DELETE, REQUEST_LEFT, REQUEST_RIGHT,
	REQUEST_LINE_START, REQUEST_LINE_END, REQUEST_OLDER, REQUEST_NEWER,
	REQUEST_VARIAC_UP, REQUEST_VARIAC_DOWN, REQUEST_VARIAC_UP_FAR, REQUEST_VARIAC_DOWN_FAR,
	REQUEST_VARIAC_ZERO, REQUEST_VARIAC_FOLLOW, REQUEST_PROBE,
	REQUEST_PAUSE, REQUEST_FASTER, REQUEST_SLOWER, REQUEST_NEXT_EVENT, REQUEST_PREVIOUS_EVENT,
	REQUEST_NEXT_STAGE, REQUEST_PREVIOUS_STAGE, REQUEST_FIRST_FINDING, REQUEST_FIRST_EVENT,
	REQUEST_LAST_EVENT,
	REQUEST_ROW_UP, REQUEST_ROW_DOWN, REQUEST_ROW_UP_FAR, REQUEST_ROW_DOWN_FAR
};

/* Where keys act; the dashboard is in several at once. */
enum {
	IN_LIVE = 1 << 0,      /* any screen of a live run */
	IN_CAUTIONS = 1 << 1,
	IN_DASHBOARD = 1 << 2, /* its pages, and nothing is being typed */
	IN_LINE = 1 << 3,      /* something is being typed */
	IN_ENTRY = 1 << 4,     /* something may be typed */
	IN_QUESTION = 1 << 5,  /* a line is questioned */
	IN_LOOK = 1 << 6,      /* a look-prompt waits for its answer, nothing is being typed */
	IN_QUIT = 1 << 7,      /* "end the run?" */
	IN_HELP = 1 << 8,
	IN_VARIAC = 1 << 9,    /* the bench has a variac that keys move, nothing is being typed */
	IN_REPLAY = 1 << 10,
	IN_SCROLL = 1 << 11,   /* the page is longer than the screen */
	IN_ALARM = 1 << 12,    /* the abort or stop screen */
	IN_SHEET = 1 << 13,    /* a page of the job, and nothing is being typed */
	IN_PAGES = 1 << 14,    /* a line is being typed on a page that Tab leaves */
	IN_PHASE = 1 << 15,    /* beside IN_SHEET: of a phase, so Escape leads back to the job */
	IN_EVERYWHERE = 1 << 16
};

struct key_row {
	struct stroke stroke;
	unsigned where;     /* IN_… where it acts */
	enum request request;
	const char *key;    /* as written on screen: "!", "PgUp" */
	const char *hint;   /* for the bottom line, a word or two; NULL: not shown there */
	const char *help;   /* one sentence for the help screen; NULL: same as the row above */
};

extern const struct key_row keymap[];
extern const size_t keymap_rows;

/** The request that a key makes in these contexts (IN_… bits); REQUEST_NONE: it makes none. */
enum request keymap_request(unsigned contexts, struct stroke stroke);

#endif
