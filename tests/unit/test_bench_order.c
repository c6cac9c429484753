/*
 * Orders to the virtual bench, as typed or from a script.
 */
#include <criterion/criterion.h>
#include <string.h>

#include "bench/order.h"

TestSuite(bench_order, .timeout = 20);

Test(bench_order, understood)
{
	static const struct {
		const char *line;
		enum order_kind kind;
		double value;
	} rows[] = {
		{ "50", ORDER_VARIAC, 50 }, { "50 V\n", ORDER_VARIAC, 50 },
		{ "0", ORDER_VARIAC, 0 },
		{ " 117.5V \r\n", ORDER_VARIAC, 117.5 }, { ".5", ORDER_VARIAC, 0.5 },
		{ "up", ORDER_UP, 5 }, { "down", ORDER_UP, -5 }, { "up 2", ORDER_UP, 2 },
		{ "DOWN 12.5 V", ORDER_UP, -12.5 }, { "mend", ORDER_MEND, 0 },
		{ "line noise 1 %", ORDER_LINE_NOISE, 0.01 },
		{ "line drop 50%", ORDER_LINE_DROP, 0.5 },
		{ "line slow 500 ms", ORDER_LINE_SLOW, 0.5 }, { "line slow 2", ORDER_LINE_SLOW, 2 },
		{ "line check", ORDER_LINE_CHECK, 0 }, { "line freeze", ORDER_LINE_FREEZE, 0 },
		{ "line mute", ORDER_LINE_MUTE, 0 }, { "line good", ORDER_LINE_GOOD, 0 },
		{ "line cut", ORDER_LINE_CUT, 0 }, { "Line Join", ORDER_LINE_JOIN, 0 },
		{ "slew 10", ORDER_SLEW, 10 }, { "speed 100", ORDER_SPEED, 100 },
		{ "status", ORDER_STATUS, 0 }, { "quit", ORDER_QUIT, 0 },
		{ "", ORDER_NOTHING, 0 }, { "  \n", ORDER_NOTHING, 0 }, { "# x", ORDER_NOTHING, 0 },
		{ "; 50", ORDER_NOTHING, 0 }, { "fault rail main short \n", ORDER_FAULT, 0 },
	};

	for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
		struct order o;
		struct err err = { 0 };
		cr_assert(order_parse(rows[k].line, &o, &err) == 0, "\"%s\": %s", rows[k].line,
		          err.text);
		cr_assert(o.kind == rows[k].kind && o.value == rows[k].value, "\"%s\"",
		          rows[k].line);
		cr_assert(strcmp(o.words, o.kind == ORDER_FAULT ? "rail main short" : "") == 0);
	}
}

Test(bench_order, refused)
{
	static const char *const rows[] = {
		"fifty", "301", "50 ohm", "50 60", "-5", "1e9", "nan", "up up", "up -5", "down 301",
		"fault", "fault  ", "mend it", "line", "line noise", "line noise 101 %",
		"line noise x", "line wrong", "line check 5", "line slow 61", "slew", "slew 0",
		"slew 1e6", "speed 0", "speed 101", "speed", "quit now", "status all", "noise 1 %",
		"50,5", "\033[2J", "lines good",
	};

	for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
		struct order o;
		struct err err = { 0 };
		cr_assert(order_parse(rows[k], &o, &err) == -1, "\"%s\"", rows[k]);
		cr_assert(err.text[0] && !strpbrk(err.text, "\n\033"), "\"%s\"", rows[k]);
	}
}

Test(bench_order, timed)
{
	struct order o;
	struct err err = { 0 };
	double s;

	cr_assert(order_parse_timed("12.5 fault open V1\n", &s, &o, &err) == 0);
	cr_assert(s == 12.5 && o.kind == ORDER_FAULT && strcmp(o.words, "open V1") == 0);
	cr_assert(order_parse_timed("0 50 V", &s, &o, &err) == 0 && s == 0 && o.value == 50);
	cr_assert(order_parse_timed("2min quit", &s, &o, &err) == 0 && s == 120);
	cr_assert(order_parse_timed("# 5 quit", &s, &o, &err) == 0 && o.kind == ORDER_NOTHING);
	cr_assert(order_parse_timed("50", &s, &o, &err) == -1 && strstr(err.text, "seconds"));
	cr_assert(order_parse_timed("quit", &s, &o, &err) == -1);
	cr_assert(order_parse_timed("-1 quit", &s, &o, &err) == -1);
	cr_assert(order_parse_timed("5 jump", &s, &o, &err) == -1);
}
