/*
 * core/judge/suspect_words.h - suspects in words, and the measurement that separates the first two
 *
 * Layer: core, private to suspects*.c.
 */
#ifndef MAINSTAIR_CORE_SUSPECT_WORDS_H
#define MAINSTAIR_CORE_SUSPECT_WORDS_H

#include "mainstair/core/suspects.h"

/** Fill ret->odd with the name of that reading. */
void suspect_odd(const struct network *net, const struct observation *o, struct suspicion *ret);

/** Can nothing but a look tell which of the two heaters is open?  Same rating, and the same is
 *  missed without either. */
bool suspect_heaters_alike(const struct network *net, int a, int b);

/** Fill ret->separate: what tells the first explanation from the second at line_volts, or, where
 *  the first goes by several names, its first two names. */
void suspect_separate(const struct network *net, double line_volts, struct suspicion *ret);

#endif
