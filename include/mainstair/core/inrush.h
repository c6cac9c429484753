/*
 * core/inrush.h - the abort line while heaters have not caught up with a step of the variac
 *
 * Layer: core; pure.  A cold heater has a seventh of its hot resistance, a cold lamp a twelfth:
 * after a step up they draw more than settled, for seconds.  Judged by settled watts alone a
 * healthy unit would be aborted on its first stage.  Until it has settled the abort line is
 * therefore that of the same unit at the same volts with its heaters still as cold as they were
 * before the step: the most that warming up can explain.
 */
#ifndef MAINSTAIR_CORE_INRUSH_H
#define MAINSTAIR_CORE_INRUSH_H

#include "mainstair/core/envelope.h"

/** Heaters as they are once settled at line_volts; 0: at room temperature. */
void inrush_heaters(const struct network *net, double line_volts, struct load_thermal *ret);

/** Raise band->abort_watts (a band of envelope_at()) to what heaters at `before` explain: the
 *  watts of that instant, as far above them as the band's high edge is above expected, plus the
 *  band's own distance from high edge to abort line; never lowered, and never above the fuse. */
void inrush_allow(const struct network *net, const struct load_thermal *before,
                  struct band *band);

#endif
