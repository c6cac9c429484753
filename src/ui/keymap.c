/* ui/keymap.c - see keymap.h */
#include "ui/keymap.h"

#define CHAR(c) {STROKE_CHAR, (c)}
#define CONTROL(c) {STROKE_CONTROL, (c)}
#define KEY(kind) {STROKE_##kind, 0}

/* First match wins, and hints are shown in this order: what matters most stands first. */
const struct key_row keymap[] = {
	{CHAR('!'), IN_LIVE, REQUEST_STOP, "!", "STOP: smoke smell hum",
	 "smoke, smell, hum, arcing: stop, whatever the watts say; works on every screen and "
	 "while typing"},

	{CHAR('a'), IN_CAUTIONS, REQUEST_ACKNOWLEDGE, "a", "I have read them",
	 "acknowledge the cautions, once they have been shown to the end"},

	{KEY(PAGE_DOWN), IN_SCROLL, REQUEST_SCROLL_DOWN, "PgDn", "more",
	 "more of a page that is longer than the screen"},
	{KEY(PAGE_UP), IN_SCROLL, REQUEST_SCROLL_UP, "PgUp", NULL, NULL},

	{CHAR('y'), IN_QUESTION, REQUEST_YES, "y", "keep it",
	 "keep the line that is asked about, as it was typed"},
	{CHAR('n'), IN_QUESTION, REQUEST_NO, "n", "type again",
	 "do not keep the line that is asked about; it comes back, to be mended"},
	{KEY(ESCAPE), IN_QUESTION, REQUEST_NO, "Esc", NULL, NULL},
	{CHAR('y'), IN_QUIT, REQUEST_YES, "y", "end the run", "end the run"},
	{CHAR('n'), IN_QUIT, REQUEST_NO, "n", "go on", "go on with the run"},
	{KEY(ESCAPE), IN_QUIT, REQUEST_NO, "Esc", NULL, NULL},
	{CHAR('y'), IN_LOOK, REQUEST_YES, "y", "as it should be",
	 "it looks, sounds and smells as the look-prompt says"},
	{CHAR('n'), IN_LOOK, REQUEST_NO, "n", "not so",
	 "it does not; smoke, smell or red plates: the stop"},

	/* One too many must not begin a line. */
	{CHAR('y'), IN_DASHBOARD, REQUEST_YES, "y", NULL, NULL},
	{CHAR('n'), IN_DASHBOARD, REQUEST_NO, "n", NULL, NULL},

	{CHAR('+'), IN_VARIAC, REQUEST_VARIAC_UP, "+ -", "1 V",
	 "virtual variac: one volt up or down"},
	{CHAR('='), IN_VARIAC, REQUEST_VARIAC_UP, "=", NULL, NULL},
	{CHAR('-'), IN_VARIAC, REQUEST_VARIAC_DOWN, "-", NULL, NULL},
	{KEY(PAGE_UP), IN_VARIAC, REQUEST_VARIAC_UP_FAR, "PgUp PgDn", NULL,
	 "virtual variac: ten volts up or down"},
	{KEY(PAGE_DOWN), IN_VARIAC, REQUEST_VARIAC_DOWN_FAR, "PgDn", NULL, NULL},
	{CHAR('s'), IN_VARIAC, REQUEST_VARIAC_FOLLOW, "s", "stage",
	 "virtual variac: to the volts that the instruction names"},
	{CHAR('z'), IN_VARIAC, REQUEST_VARIAC_ZERO, "z", "zero", "virtual variac: to zero"},
	{CHAR('v'), IN_VARIAC, REQUEST_PROBE, "v", NULL,
	 "read all rails with the virtual voltmeter"},

	{CHAR(' '), IN_REPLAY, REQUEST_PAUSE, "Space", "pause/go",
	 "pause the replay or let it go on"},
	{KEY(RIGHT), IN_REPLAY, REQUEST_NEXT_EVENT, "Right", "next", "step to the next event"},
	{KEY(LEFT), IN_REPLAY, REQUEST_PREVIOUS_EVENT, "Left", "back", "step back one event"},
	{CHAR('+'), IN_REPLAY, REQUEST_FASTER, "+", "faster", "twice as fast"},
	{CHAR('='), IN_REPLAY, REQUEST_FASTER, "=", NULL, NULL},
	{CHAR('-'), IN_REPLAY, REQUEST_SLOWER, "-", "slower", "half as fast"},
	{CHAR(']'), IN_REPLAY, REQUEST_NEXT_STAGE, "]", "stage",
	 "jump to where the next stage begins"},
	{KEY(PAGE_DOWN), IN_REPLAY, REQUEST_NEXT_STAGE, "PgDn", NULL, NULL},
	{CHAR('['), IN_REPLAY, REQUEST_PREVIOUS_STAGE, "[", NULL,
	 "jump to where this stage, or the one before it, begins"},
	{KEY(PAGE_UP), IN_REPLAY, REQUEST_PREVIOUS_STAGE, "PgUp", NULL, NULL},
	{CHAR('f'), IN_REPLAY, REQUEST_FIRST_FINDING, "f", "finding",
	 "jump to the first finding: over, under, abort or stop"},
	{KEY(HOME), IN_REPLAY, REQUEST_FIRST_EVENT, "Home", NULL, "jump to the first event"},
	{KEY(END), IN_REPLAY, REQUEST_LAST_EVENT, "End", NULL, "jump to the last event"},

	{KEY(UP), IN_SHEET, REQUEST_ROW_UP, "Up Down", "row", "the row above or below"},
	{KEY(DOWN), IN_SHEET, REQUEST_ROW_DOWN, "Down", NULL, NULL},
	{KEY(PAGE_UP), IN_SHEET, REQUEST_ROW_UP_FAR, "PgUp PgDn", NULL, "ten rows up or down"},
	{KEY(PAGE_DOWN), IN_SHEET, REQUEST_ROW_DOWN_FAR, "PgDn", NULL, NULL},
	{KEY(ESCAPE), IN_PHASE, REQUEST_BACK, "Esc", "the job", "back to the phases of the job"},
	{KEY(TAB), IN_SHEET, REQUEST_NEXT_PAGE, "Tab", "next page", "the next page of the job"},
	{CONTROL('P'), IN_SHEET, REQUEST_OLDER, "Ctrl-P", NULL,
	 "an earlier line, to use again; while typing, Up"},

	{KEY(ENTER), IN_SHEET, REQUEST_ENTER, "Enter", NULL,
	 "on the page of the job: open the phase in hand"},
	{KEY(ENTER), IN_ENTRY, REQUEST_ENTER, "Enter", NULL, "take the typed line"},
	{KEY(UP), IN_ENTRY, REQUEST_OLDER, "Up", NULL, "an earlier line, to use again"},
	{KEY(DOWN), IN_ENTRY, REQUEST_NEWER, "Down", NULL, "a later line"},
	{KEY(BACKSPACE), IN_LINE, REQUEST_ERASE, "Backspace", NULL, "take back a character"},
	{KEY(DELETE), IN_LINE, REQUEST_DELETE, "Del", NULL,
	 "take away the character under the cursor"},
	{KEY(LEFT), IN_LINE, REQUEST_LEFT, "Left", NULL, "move in the line"},
	{KEY(RIGHT), IN_LINE, REQUEST_RIGHT, "Right", NULL, NULL},
	{KEY(HOME), IN_LINE, REQUEST_LINE_START, "Home", NULL,
	 "to the start or the end of the line"},
	{KEY(END), IN_LINE, REQUEST_LINE_END, "End", NULL, NULL},
	{CONTROL('A'), IN_LINE, REQUEST_LINE_START, "Ctrl-A", NULL, NULL},
	{CONTROL('E'), IN_LINE, REQUEST_LINE_END, "Ctrl-E", NULL, NULL},
	{KEY(ESCAPE), IN_LINE, REQUEST_CLEAR, "Esc", "drop the line",
	 "drop the line; Up brings it back"},
	{CONTROL('U'), IN_LINE, REQUEST_CLEAR, "Ctrl-U", NULL, NULL},

	{KEY(DOWN), IN_HELP | IN_CAUTIONS, REQUEST_SCROLL_DOWN, "Down", NULL, NULL},
	{KEY(UP), IN_HELP | IN_CAUTIONS, REQUEST_SCROLL_UP, "Up", NULL, NULL},
	{KEY(ESCAPE), IN_HELP, REQUEST_BACK, "Esc", "back", "leave the help"},
	{CHAR('?'), IN_HELP, REQUEST_BACK, "?", NULL, NULL},
	{CHAR('q'), IN_HELP, REQUEST_BACK, "q", NULL, NULL},
	{KEY(TAB), IN_DASHBOARD | IN_PAGES | IN_REPLAY, REQUEST_NEXT_PAGE, "Tab", "pages",
	 "the next page: dashboard, stage, rails, record"},
	{CHAR('?'), IN_DASHBOARD | IN_REPLAY | IN_CAUTIONS | IN_SHEET, REQUEST_HELP, "?", "help",
	 "this help"},
	{CHAR('q'), IN_DASHBOARD | IN_REPLAY | IN_CAUTIONS | IN_SHEET, REQUEST_QUIT, "q", "quit",
	 "end; a live run asks first, and its record stays"},
	{CONTROL('L'), IN_EVERYWHERE, REQUEST_REDRAW, "Ctrl-L", NULL, "draw the screen anew"},
};

const size_t keymap_rows = sizeof keymap / sizeof *keymap;

enum request keymap_request(unsigned contexts, struct stroke stroke)
{
	for (size_t i = 0; i < keymap_rows; i++)
		if ((keymap[i].where & (contexts | IN_EVERYWHERE)) &&
		    keymap[i].stroke.kind == stroke.kind && keymap[i].stroke.code == stroke.code)
			return keymap[i].request;
	return REQUEST_NONE;
}
