/*
 * tests/lib/fake_line.h - a meter at the end of a socket pair, and a clock that a test turns
 *
 * One line a process.  The device is a function that is called once every millisecond of fake
 * time with the far end of the line.
 */
#ifndef MAINSTAIR_TESTS_FAKE_LINE_H
#define MAINSTAIR_TESTS_FAKE_LINE_H

#include <stdint.h>

#include "io/meter.h"

typedef void fake_device(int fd, int64_t now_ms);

struct fake_line {
	fake_device *device; /* NULL: nobody there */
	bool plugged;        /* else opening fails */
	int fd;              /* the device's end, -1 when nobody has opened the port */
	int opened;          /* how often opening was tried */
	int64_t now_ms;
};

extern struct fake_line fake_line;

/** Plugged in, clock at 1000 ms. */
void fake_line_init(void);

/** For meter_open(). */
wire_opener fake_line_open;

/** Pull the plug: both ends are gone. */
void fake_line_unplug(void);

/** Let ms pass, one by one: device, then meter_step() when its descriptor or its time asks for
 *  it.  `take` (may be NULL) gets every reading. */
void fake_line_run(struct meter *m, int64_t ms, void (*take)(const struct reading *r));

#endif
