/*
 * bench/order.h - what can be said to a running virtual bench, as typed or from a script
 *
 * Layer: bench.  Pure.
 *
 *   50, 50 V            variac to 50 V (`slew` volts a second)
 *   up [5], down [5]    variac up or down from where it is going
 *   fault WORDS         core/fault.h; mend: all faults out
 *   line noise 1 %      of the bytes with a bit turned; line drop 1 %: lost
 *   line slow 0.5 s     answers late; line check: check sums wrong; line freeze: the same values
 *                       again and again; line mute: no answers; line good: all well again
 *   line cut, line join the adapter is pulled out, and put back
 *   slew 20, speed 10   volts a second; simulated seconds a second
 *   status              volts and watts now, rails, regulators
 *   quit
 */
#ifndef MAINSTAIR_BENCH_ORDER_H
#define MAINSTAIR_BENCH_ORDER_H

#include "mainstair/base/err.h"

enum order_kind {
	ORDER_VARIAC, ORDER_UP, ORDER_FAULT, ORDER_MEND,
	ORDER_LINE_NOISE, ORDER_LINE_DROP, ORDER_LINE_SLOW, ORDER_LINE_CHECK, ORDER_LINE_FREEZE,
	ORDER_LINE_MUTE, ORDER_LINE_GOOD, ORDER_LINE_CUT, ORDER_LINE_JOIN,
	ORDER_SLEW, ORDER_SPEED, ORDER_STATUS, ORDER_QUIT,
	ORDER_NOTHING /* an empty line, a comment (; or #) */
};

enum { ORDER_WORDS_MAX = 160 };

struct order {
	enum order_kind kind;
	double value; /* volts (ORDER_UP: negative is down), share, s, V/s, factor */
	char words[ORDER_WORDS_MAX]; /* ORDER_FAULT: the fault's */
};

/** Parse one line.  0, or -1 with ERR_INPUT or ERR_RANGE. */
int order_parse(const char *line, struct order *ret, struct err *err);

/** Parse `SECONDS ORDER`; a line with nothing in it gives ORDER_NOTHING and *ret_s 0. */
int order_parse_timed(const char *line, double *ret_s, struct order *ret, struct err *err);

/** The orders, a line each with their meaning, for --help. */
extern const char order_help[];

#endif
