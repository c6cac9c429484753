/*
 * ui/theme.h - roles of what is drawn, and how a role looks
 *
 * Layer: ui.  Drawing code names roles, never colours.  The colours follow IEC 60073 (coding
 * of indicators): red is danger, act now; yellow is abnormal, caution; green is normal; blue is
 * a mandatory action; grey and white carry no meaning of safety.  Colour is never alone: a
 * word or a mark beside it says the same, and without colours bold and reverse stand in.
 */
#ifndef MAINSTAIR_UI_THEME_H
#define MAINSTAIR_UI_THEME_H

#include <stdbool.h>

#include "mainstair/core/judge.h"

enum role {
	ROLE_PLAIN,   /* text and numbers */
	ROLE_STRONG,  /* text that the eye should find */
	ROLE_DIM,     /* labels, units, frames, what is known anyway */
	ROLE_TITLE,   /* the title bar */
	ROLE_MUST,    /* the instruction: a mandatory action */
	ROLE_GOOD,
	ROLE_CAUTION,
	ROLE_DANGER,
	ROLE_ALARM,   /* the whole screen of an abort or a stop */
	ROLE_BAND,    /* the shaded band of a plot */
	ROLE_KEY,     /* a key's name */
	ROLE_INPUT,   /* what is being typed */
	ROLE_CURSOR,  /* the cell that the next character goes to */
	ROLES         /* how many */
};

enum theme_mode { THEME_COLOUR, THEME_MONO };

enum colour { COLOUR_DEFAULT, COLOUR_RED, COLOUR_GREEN, COLOUR_YELLOW, COLOUR_BLUE, COLOUR_WHITE };

struct look {
	enum colour ink, ground;
	bool bold, dim, reverse, underline;
};

/** How `role` looks; MONO looks use no colour at all. */
struct look theme_look(enum theme_mode mode, enum role role);

/** The role that a verdict is drawn in. */
enum role theme_verdict_role(enum verdict v);

#endif
