/* ui/theme.c - see theme.h */
#include "ui/theme.h"

#include <assert.h>

static const struct look colour_looks[ROLES] = {
	[ROLE_PLAIN] = {0},
	[ROLE_STRONG] = {.bold = true},
	[ROLE_DIM] = {.dim = true},
	[ROLE_TITLE] = {.reverse = true},
	[ROLE_MUST] = {.ink = COLOUR_WHITE, .ground = COLOUR_BLUE, .bold = true},
	[ROLE_GOOD] = {.ink = COLOUR_GREEN, .bold = true},
	[ROLE_CAUTION] = {.ink = COLOUR_YELLOW, .bold = true},
	[ROLE_DANGER] = {.ink = COLOUR_RED, .bold = true},
	[ROLE_ALARM] = {.ink = COLOUR_RED, .reverse = true, .bold = true},
	[ROLE_BAND] = {.dim = true},
	[ROLE_KEY] = {.bold = true},
	[ROLE_INPUT] = {.bold = true},
	[ROLE_CURSOR] = {.reverse = true},
};

static const struct look mono_looks[ROLES] = {
	[ROLE_PLAIN] = {0},
	[ROLE_STRONG] = {.bold = true},
	[ROLE_DIM] = {0},
	[ROLE_TITLE] = {.reverse = true},
	[ROLE_MUST] = {.bold = true, .underline = true},
	[ROLE_GOOD] = {0},
	[ROLE_CAUTION] = {.bold = true},
	[ROLE_DANGER] = {.bold = true, .reverse = true},
	[ROLE_ALARM] = {.bold = true, .reverse = true},
	[ROLE_BAND] = {0},
	[ROLE_KEY] = {.bold = true},
	[ROLE_INPUT] = {.bold = true},
	[ROLE_CURSOR] = {.reverse = true},
};

struct look theme_look(enum theme_mode mode, enum role role)
{
	assert(role < ROLES);
	return mode == THEME_COLOUR ? colour_looks[role] : mono_looks[role];
}

enum role theme_verdict_role(enum verdict v)
{
	switch (v) {
	case VERDICT_IN_BAND:
		return ROLE_GOOD;
	case VERDICT_UNKNOWN:
	case VERDICT_SETTLING:
	case VERDICT_UNDER:
	case VERDICT_OVER:
		return ROLE_CAUTION;
	case VERDICT_ABORT:
		return ROLE_DANGER;
	}
	return ROLE_DANGER; /* a verdict that is none: never drawn as good */
}
