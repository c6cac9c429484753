/*
 * app/feed_bench.h - the virtual bench as a feed: unit, variac and meter in this process
 *
 * Layer: app.
 */
#ifndef MAINSTAIR_APP_FEED_BENCH_H
#define MAINSTAIR_APP_FEED_BENCH_H

#include "app/feed.h"
#include "mainstair/core/network.h"

/** A bench around a copy of *net, its variac at zero, switched on at run time 0.  `faults`:
 *  n_faults texts in the words of core/fault.h.  0 with *ret given (feed_close() it), or -1 with
 *  err. */
int feed_bench_open(struct feed *ret, const struct network *net, const char *const *faults,
                    int n_faults, struct err *err);

#endif
