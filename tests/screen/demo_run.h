/*
 * A power-up made by hand, for drawing: an invented oscillator whose bands and rails are plain
 * formulas, so that the screens do not change when the load model does.
 */
#ifndef TESTS_SCREEN_DEMO_RUN_H
#define TESTS_SCREEN_DEMO_RUN_H

#include "ui/view.h"

struct demo_run {
	struct network net;
	struct plan plan;
	struct session session;
	struct prompt prompt;
	struct curve_point curve[64];
	struct surroundings around;
};

/** A run before its cautions were acknowledged.  Given: demo_run_free(). */
struct demo_run *demo_run_new(void);
void demo_run_free(struct demo_run *d);

/** Put a reading in at `seconds` without judging it by the model. */
void demo_run_reading(struct demo_run *d, double seconds, double volts, double watts,
                      enum verdict verdict);

/** Any other event, as it would stand in the record. */
void demo_run_event(struct demo_run *d, double seconds, enum event_kind kind, const char *note);

/** Walk up to stage `stage` (0 …) with good readings; the last one is at that stage. */
void demo_run_walk(struct demo_run *d, int stage);

#endif
