/*
 * tests/unit/shunt_unit.h - the simplest unit there is: 500 ohm across the line
 *
 * Its watts are V^2/500 exactly (27.4 W at 117 V) and nothing about it is uncertain, so its band is
 * the meter's accuracy alone and can be worked out in the head:
 *   30 V: 1.80 W +- 0.218, abort line 1.05 W above that;
 *   50 V: 5.00 W +- 0.25, abort line 1.755 W above;  70 V: 9.80 W +- 0.298, 2.457 W above.
 */
#ifndef TESTS_SHUNT_UNIT_H
#define TESTS_SHUNT_UNIT_H

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/session.h"

struct shunt_unit {
	struct network net;
	struct plan plan;
	struct abort_rule rule;
	struct meter_accuracy meter;
	struct session session;
};

static inline struct shunt_unit *shunt_unit_new(double watch_s)
{
	static const double volts[] = { 30, 50, 70, 117 };
	struct shunt_unit *u = calloc(1, sizeof *u);

	u->net.line_volts = 117;
	u->net.line_hz = 60;
	u->net.heater_conduction = 0.05;
	u->net.line_shunt_siemens = 1.0 / 500.0;
	u->net.n_rails = 1;
	strcpy(u->net.rails[0].name, "main");
	u->net.rails[0].dead = true;
	u->net.rails[0].load_factor = 1;
	u->meter = (struct meter_accuracy){ .reading_share = 0.01, .offset_watts = 0.2 };
	u->rule = (struct abort_rule){ .rated_amps = 0.234, .share = 0.15, .floor_watts = 0.5 };
	u->plan.n_stages = 4;
	for (int i = 0; i < 4; i++) {
		struct stage *st = &u->plan.stages[i];

		st->volts = volts[i];
		st->hold_s = 60;
		st->longest_s = i < 3 ? 900 : 0;
		envelope_at(&u->net, &u->rule, &u->meter, st->volts, NULL, &st->band, NULL);
	}
	u->plan.stages[1].n_looks = 2;
	strcpy(u->plan.stages[1].looks[0], "pilot lamp I1 lit?");
	strcpy(u->plan.stages[1].looks[1], "no smell: of anything?");
	session_init(&u->session, &u->net, &u->plan, &u->rule, &u->meter, watch_s);
	return u;
}

static inline struct event an_event(double seconds, enum event_kind kind)
{
	return (struct event){ .seconds = seconds, .kind = kind, .stage = -1, .volts = NAN,
		               .watts = NAN, .amps = NAN, .power_factor = NAN };
}

static inline struct event a_reading(double seconds, double volts, double watts)
{
	struct event ev = an_event(seconds, EVENT_READING);

	ev.volts = volts;
	ev.watts = watts;
	strcpy(ev.note, "typed");
	return ev;
}

/* Every field that a screen or a report could show, and all behind them; the first difference in
 * words, or NULL. */
static inline const char *session_differs(const struct session *a, const struct session *b)
{
#define SAME(field) \
	if (memcmp(&a->field, &b->field, sizeof a->field) != 0) \
		return #field
	SAME(phase);
	SAME(instruction);
	SAME(instruction_volts);
	SAME(instruction_s);
	SAME(now_s);
	SAME(stage);
	SAME(target);
	SAME(volts_since_s);
	SAME(have_reading);
	SAME(settled);
	SAME(blind);
	SAME(n_events);
	SAME(n_readings);
	SAME(n_impossible);
	SAME(n_points);
	SAME(points_first);
	SAME(n_shown);
	SAME(shown_first);
	SAME(cautions_read);
	SAME(abort_up);
	SAME(stop_up);
	SAME(ended);
	SAME(must_zero);
	SAME(watch_from_s);
	SAME(last.volts);
	SAME(last.watts);
	SAME(last.verdict);
	SAME(band.low);
	SAME(band.high);
	SAME(band.abort_watts);
	SAME(first_finding.seconds);
	SAME(first_finding.kind);
	SAME(abort_event.seconds);
	SAME(stop_event.seconds);
	for (int i = 0; i < PLAN_STAGES_MAX; i++) {
		SAME(stages[i].visited);
		SAME(stages[i].passed);
		SAME(stages[i].have_reading);
		SAME(stages[i].settled);
		SAME(stages[i].entered_s);
		SAME(stages[i].looks_answered);
		SAME(stages[i].reading.watts);
		SAME(stages[i].reading.verdict);
	}
	for (size_t i = 0; i < SESSION_READINGS_MAX; i++) {
		SAME(points[i].seconds);
		SAME(points[i].volts);
		SAME(points[i].watts);
		SAME(points[i].verdict);
	}
	for (size_t i = 0; i < SESSION_EVENTS_SHOWN; i++) {
		SAME(shown[i].seconds);
		SAME(shown[i].kind);
		SAME(shown[i].stage);
		SAME(shown[i].verdict);
		if (strcmp(a->shown[i].note, b->shown[i].note) != 0)
			return "shown[i].note";
	}
#undef SAME
	return NULL;
}

#endif
