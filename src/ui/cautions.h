/*
 * ui/cautions.h - what kills, and what mainstair does not do about it
 *
 * Layer: ui; const data.  Shown first and acknowledged once a run.
 */
#ifndef MAINSTAIR_UI_CAUTIONS_H
#define MAINSTAIR_UI_CAUTIONS_H

#include <stddef.h>

extern const char *const cautions[];
extern const size_t n_cautions;

/* For a set whose chassis is or may be live: stands before the others. */
extern const char caution_live_chassis[];
/* And more so when the bench file says that there is no isolation. */
extern const char caution_not_isolated[];

#endif
