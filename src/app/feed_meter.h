/*
 * app/feed_meter.h - a power meter on a serial line as a feed
 *
 * Layer: app.
 */
#ifndef MAINSTAIR_APP_FEED_METER_H
#define MAINSTAIR_APP_FEED_METER_H

#include "app/feed.h"
#include "io/meter.h"

/** Open the meter; its port need not be there yet.  Run time 0 is now.  0 with *ret given
 *  (feed_close() it), or -1 with err. */
int feed_meter_open(struct feed *ret, const struct meter_config *config, struct err *err);

#endif
