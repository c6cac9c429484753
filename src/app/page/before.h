/*
 * app/page/before.h - what the pages before power have in common
 *
 * Layer: app; private to app/page/.
 */
#ifndef APP_PAGE_BEFORE_H
#define APP_PAGE_BEFORE_H

#include "app/page.h"
#include "mainstair/core/basis.h"
#include "mainstair/core/entry_line.h"

/** The caution beside every step with the plug out, and what this unit's chassis asks for. */
void before_caution(const struct bench_desk *desk, struct sheet *ret);

/** A detail that names a source and how well it is known; nothing for an empty one. */
void before_source(struct sheet *s, const char *source, enum basis basis);

/** Bring *in_hand onto a row that is there; 0 in an empty list. */
void before_hand(const struct sheet *s, int *in_hand);

/** What a page answers for how a line of core/care was understood. */
enum page_answer before_answer(enum entry_line line);

#endif
