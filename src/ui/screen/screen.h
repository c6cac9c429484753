/*
 * ui/screen/screen.h - a view drawn as a whole screen
 *
 * Layer: ui; pure.  One file per screen.  A screen that is too small for everything keeps the
 * instruction, the verdict and the abort, and says how much is needed.
 */
#ifndef MAINSTAIR_UI_SCREEN_H
#define MAINSTAIR_UI_SCREEN_H

#include "ui/canvas.h"
#include "ui/view.h"

enum {
	SCREEN_ROWS_FULL = 24, SCREEN_COLS_FULL = 80, /* holds all of the dashboard */
	SCREEN_ROWS_LEAST = 12, SCREEN_COLS_LEAST = 40
};

/** Draw v->screen over the whole canvas.  Returns how many rows lie below the end of the
 *  screen (a page that can be scrolled), 0 when all is shown. */
int screen_draw(const struct view *v, struct canvas *c);

/* The single screens; each draws on a cleared canvas and returns as screen_draw() does. */
int screen_cautions(const struct view *v, struct canvas *c);
int screen_dashboard(const struct view *v, struct canvas *c);
int screen_stage(const struct view *v, struct canvas *c);
int screen_rails(const struct view *v, struct canvas *c);
int screen_record(const struct view *v, struct canvas *c);
int screen_help(const struct view *v, struct canvas *c);
int screen_alarm(const struct view *v, struct canvas *c);

#endif
