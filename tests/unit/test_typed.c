/* Lines typed at the dashboard, on a unit whose watts can be worked out in the head
 * (shunt_unit.h). */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shunt_unit.h"

TestSuite(typed, .timeout = 60);

static struct shunt_unit *begun(void)
{
	struct shunt_unit *u = shunt_unit_new(0);
	struct event start = an_event(0, EVENT_START), cautions = an_event(0, EVENT_CAUTIONS);

	(void)session_apply(&u->session, &start, NULL, 0);
	(void)session_apply(&u->session, &cautions, NULL, 0);
	return u;
}

Test(typed, lines_are_understood_questioned_or_refused)
{
	static const struct {
		const char *line;
		enum typed_kind kind;
		double volts, watts, amps;
		const char *echo; /* is in it */
	} rows[] = {
		{ "50 5.2", TYPED_READING, 50, 5.2, NAN, "50.0 V, 5.20 W" },
		{ "  50\t5.2  ", TYPED_READING, 50, 5.2, NAN, "50.0 V, 5.20 W" },
		{ "50 5.2 0.09", TYPED_READING, 50, 5.2, 0.09, "50.0 V, 5.20 W, 0.090 A" },
		{ "50V 5.2W", TYPED_READING, 50, 5.2, NAN, "50.0 V, 5.20 W" },
		{ "50 V 5.2 W 104 mA", TYPED_READING, 50, 5.2, 0.104, "0.104 A" },
		{ "5.2W 50V", TYPED_READING, 50, 5.2, NAN, "50.0 V, 5.20 W" },
		{ "50.25 5.125", TYPED_READING, 50.25, 5.125, NAN, "50.25 V, 5.125 W" },
		{ "0 0", TYPED_READING, 0, 0, NAN, "0.0 V, 0.00 W" },
		{ "50 0.005 kW", TYPED_READING, 50, 5, NAN, "5.00 W" },
		/* stages left out: one is the restorer's choice, three may be a slip */
		{ "50 5", TYPED_READING, 50, 5, NAN, "50.0 V, 5.00 W" },
		{ "117 28", TYPED_QUESTION, 117, 28, NAN, "leaves out 3 stages: the next is at 30 V" },
		/* terrible, and believed at once */
		{ "117 280", TYPED_READING, 117, 280, NAN, "280.00 W" },
		{ "50 52", TYPED_READING, 50, 52, NAN, "52.00 W" },
		{ "50 500", TYPED_READING, 50, 500, NAN, "500.00 W" },
		/* slips */
		{ "500 5.2", TYPED_QUESTION, 500, 5.2, NAN, "did you mean 50.0 V" },
		{ "200 5.2", TYPED_QUESTION, 200, 5.2, NAN, "unit is for 117 V" },
		{ "50 5200", TYPED_QUESTION, 50, 5200, NAN, "outlet" },
		{ "1.8 30", TYPED_QUESTION, 1.8, 30, NAN, "30.0 V, 1.80 W" },
		{ "50 5.2 90", TYPED_QUESTION, 50, 5.2, 90, "0.090 A" },
		{ "50 5.2 9", TYPED_QUESTION, 50, 5.2, 9, "450 VA" },
		{ "117 60 0.1", TYPED_QUESTION, 117, 60, 0.1, "volts times amps" },
		/* nonsense */
		{ "", TYPED_WRONG, NAN, NAN, NAN, "50 5.2" },
		{ "   ", TYPED_WRONG, NAN, NAN, NAN, "50 5.2" },
		{ "50", TYPED_WRONG, NAN, NAN, NAN, "watts are missing" },
		{ "5.2 W", TYPED_WRONG, NAN, NAN, NAN, "volts are missing" },
		{ "50 5,2", TYPED_WRONG, NAN, NAN, NAN, "5.2" },
		{ "50,5 5.2", TYPED_WRONG, NAN, NAN, NAN, "50.5" },
		{ "50 5.2 0.1 7", TYPED_WRONG, NAN, NAN, NAN, "too much" },
		{ "50 -5.2", TYPED_WRONG, NAN, NAN, NAN, "below zero" },
		{ "-50 5.2", TYPED_WRONG, NAN, NAN, NAN, "below zero" },
		{ "50 V 5 V", TYPED_WRONG, NAN, NAN, NAN, "volts twice" },
		{ "50 nan", TYPED_WRONG, NAN, NAN, NAN, "`nan`" },
		{ "50 V nan", TYPED_WRONG, NAN, NAN, NAN, "not a number" },
		{ "50 V inf W", TYPED_WRONG, NAN, NAN, NAN, "not a number" },
		{ "50 0x10", TYPED_WRONG, NAN, NAN, NAN, "number" },
		{ "50 5.2 ohm", TYPED_WRONG, NAN, NAN, NAN, "a reading is" },
		{ "50 V +/- 1% 5.2", TYPED_WRONG, NAN, NAN, NAN, "a reading is" },
		{ "quit", TYPED_WRONG, NAN, NAN, NAN, "not a number" },
		{ "rail main 210", TYPED_RAIL, 210, NAN, NAN, "rail main at 210.0 V" },
		{ "rail MAIN 210.5 V", TYPED_RAIL, 210.5, NAN, NAN, "rail main at 210.5 V" },
		{ "rail main", TYPED_WRONG, NAN, NAN, NAN, "missing" },
		{ "rail", TYPED_WRONG, NAN, NAN, NAN, "main" },
		{ "rail screen 210", TYPED_WRONG, NAN, NAN, NAN, "this unit has: main" },
		{ "rail main 5 A", TYPED_WRONG, NAN, NAN, NAN, "volts expected" },
		{ "rail main 21000", TYPED_QUESTION, 21000, NAN, NAN, "beyond anything" },
		{ "heater sec 3", TYPED_WRONG, NAN, NAN, NAN, "no heater" },
	};
	struct shunt_unit *u = begun();
	struct typed typed;

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		session_understand(&u->session, rows[i].line, &typed);
		cr_assert_eq(typed.kind, rows[i].kind, "`%s`: %d, %s", rows[i].line, typed.kind,
		             typed.echo);
		cr_assert(strstr(typed.echo, rows[i].echo), "`%s`: %s", rows[i].line, typed.echo);
		if (rows[i].kind == TYPED_WRONG)
			continue;
		cr_assert_float_eq(typed.event.volts, rows[i].volts, 1e-9, "`%s`", rows[i].line);
		cr_assert(isnan(rows[i].watts) ? isnan(typed.event.watts) :
		                                 fabs(typed.event.watts - rows[i].watts) < 1e-9);
		cr_assert(isnan(rows[i].amps) ? isnan(typed.event.amps) :
		                                fabs(typed.event.amps - rows[i].amps) < 1e-9);
		cr_assert_eq(typed.event.kind, strncmp(rows[i].line, "rail", 4) == 0 ?
		                                       EVENT_RAIL : EVENT_READING);
	}
	free(u);
}

static unsigned random_state;

static unsigned pick(unsigned n)
{
	random_state = random_state * 1664525u + 1013904223u;
	return (random_state >> 8) % n;
}

Test(typed, lines_of_any_bytes_are_bounded_and_clean)
{
	struct shunt_unit *u = begun();
	char line[2000];
	struct typed typed;

	for (random_state = 7; random_state < 5007;) {
		const unsigned seed = random_state;
		size_t n = pick(5) == 0 ? pick(1999) : pick(40);

		for (size_t i = 0; i < n; i++)
			line[i] = pick(2) ? (char)(1 + pick(255)) : "0123456789 .VWAmk-"[pick(18)];
		line[n] = '\0';
		session_understand(&u->session, line, &typed);
		cr_assert(strnlen(typed.echo, sizeof typed.echo) < sizeof typed.echo);
		for (const char *p = typed.echo; *p; p++)
			cr_assert((unsigned char)*p >= 0x20 && *p != 0x7f);
		cr_assert(typed.kind != TYPED_READING || typed.event.watts >= 0);
		random_state = seed + 1;
	}
	free(u);
}
