#include "demo_run.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const double stage_volts[] = {15, 30, 50, 70, 90, 105, 117};
enum { STAGES = sizeof stage_volts / sizeof *stage_volts };

static struct band band_at(double volts)
{
	double share = volts / 117, w = 28 * pow(share, 1.9);
	double slack = 0.05 + 0.12 * exp(-pow((share - 0.7) / 0.12, 2));
	struct band b = {.volts = volts, .expected = w, .low = w * (1 - slack) - 0.2,
		.high = w * (1 + slack) + 0.2};
	if (b.low < 0)
		b.low = 0;
	b.abort_watts = b.high + fmax(0.5, 0.15 * 0.24 * volts);
	b.at.line_volts = volts;
	b.at.rail_volts[0] = share < 0.4 ? 2 : 320 * share - 20;
	b.at.rail_volts[1] = b.at.rail_volts[0] * 0.75;
	b.at.rail_volts[2] = fmin(b.at.rail_volts[1] * 0.8, 108);
	b.at.rail_amps[0] = share < 0.4 ? 0.0002 : 0.042 * share;
	b.at.rail_amps[1] = b.at.rail_amps[0] * 0.5;
	b.at.rail_amps[2] = b.at.rail_amps[0] * 0.2;
	b.at.regulator_lit[2] = share > 0.7;
	b.at.winding_volts[0] = 6.3 * share;
	b.at.winding_volts[1] = 250 * share;
	b.at.converged = true;
	return b;
}

static void make_stage(struct stage *s, int i)
{
	static const char *const why[STAGES] = {
		"low enough that a dead short is survivable, and shows",
		"heaters glow barely; nothing behind the rectifier is awake",
		"below emission: heaters, lamps, core and copper alone",
		"the rectifier V3 begins to conduct: rails come up",
		"the regulator V4 strikes",
		"everything is awake, below full volts",
		"rated heater volts",
	};
	s->volts = stage_volts[i];
	s->hold_s = 60;
	s->longest_s = i == 3 ? 300 : 0;
	snprintf(s->why, sizeof s->why, "%s", why[i]);
	s->band = band_at(s->volts);
	snprintf(s->looks[s->n_looks++], sizeof *s->looks, "%s", i < 2 ?
		"no smoke, no smell, no hum?" : "pilot lamps I1 and I2 lit?");
	if (i >= 4)
		snprintf(s->looks[s->n_looks++], sizeof *s->looks, "V4 glows violet?");
	if (i == 0)
		snprintf(s->proved[s->n_proved++], sizeof *s->proved,
		         "no short across the mains or a winding");
	if (i == 2)
		snprintf(s->proved[s->n_proved++], sizeof *s->proved,
		         "every heater and lamp draws its current");
	if (i == 5)
		snprintf(s->proved[s->n_proved++], sizeof *s->proved,
		         "rail main carries its load, no short on it");
	if (i < 2)
		snprintf(s->not_proved[s->n_not_proved++], sizeof *s->not_proved,
		         "heaters and lamps");
	if (i < 5)
		snprintf(s->not_proved[s->n_not_proved++], sizeof *s->not_proved,
			"rail main: hidden until V3 is warm");
	if (i < 5)
		snprintf(s->not_proved[s->n_not_proved++], sizeof *s->not_proved,
			"rails screen and steady, behind it");
	snprintf(s->not_proved[s->n_not_proved++], sizeof *s->not_proved,
		"leaks under 20 kohm and lost capacitance: not seen in watts");
}

struct demo_run *demo_run_new(void)
{
	struct demo_run *d = calloc(1, sizeof *d);
	if (!d)
		abort();
	struct network *net = &d->net;
	static const char *const rails[] = {"main", "screen", "steady"};
	net->line_volts = 117;
	net->line_hz = 60;
	for (int i = 0; i < 3; i++)
		snprintf(net->rails[net->n_rails++].name, sizeof net->rails[i].name, "%s",
		         rails[i]);
	net->rails[2].regulator = REGULATOR_GAS;
	net->windings[0] = (struct net_winding){.name = "heater", .rated_volts = 6.3};
	net->windings[1] =
	        (struct net_winding){.name = "plate", .feeds_rail = true, .rated_volts = 250};
	net->n_windings = 2;

	d->plan.n_stages = STAGES;
	for (int i = 0; i < STAGES; i++)
		make_stage(&d->plan.stages[i], i);
	session_init(&d->session, net, &d->plan, NULL, &meter_accuracy_default, 0);

	for (int i = 0; i < 64; i++) {
		struct band b = band_at(i / 63.0 * 120);
		d->curve[i] =
		        (struct curve_point){b.volts, b.low, b.expected, b.high, b.abort_watts};
	}
	d->around = (struct surroundings){
		.title = "Demonstration bench oscillator",
		.chassis = CHASSIS_TWO_WIRE,
		.source = "typed",
		.typed_only = true,
		.contexts = IN_LIVE | IN_DASHBOARD | IN_ENTRY,
		.curve = d->curve,
		.n_curve = 64,
		.prompt = &d->prompt,
		.variac_volts = NAN,
		.record = "oscillator-2026-03-01.tsv",
	};
	demo_run_event(d, 0, EVENT_START, "mainstair 0.1.0");
	return d;
}

void demo_run_free(struct demo_run *d)
{
	free(d);
}

static void show(struct session *s, const struct event *ev)
{
	const size_t at = (s->shown_first + s->n_shown) % SESSION_EVENTS_SHOWN;
	s->shown[at] = *ev;
	s->shown_number[at] = s->n_events;
	if (s->n_shown < SESSION_EVENTS_SHOWN)
		s->n_shown++;
	else
		s->shown_first = (s->shown_first + 1) % SESSION_EVENTS_SHOWN;
	s->n_events++;
	s->now_s = ev->seconds;
}

void demo_run_event(struct demo_run *d, double seconds, enum event_kind kind, const char *note)
{
	struct event ev = {.seconds = seconds,
	                   .kind = kind,
	                   .stage = -1,
	                   .volts = NAN,
	                   .watts = NAN,
	                   .amps = NAN,
	                   .power_factor = NAN};
	snprintf(ev.note, sizeof ev.note, "%s", note);
	show(&d->session, &ev);
}

void demo_run_reading(struct demo_run *d, double seconds, double volts, double watts,
                      enum verdict verdict)
{
	struct session *s = &d->session;
	struct event ev = {.seconds = seconds, .kind = EVENT_READING, .stage = -1, .volts = volts,
		.watts = watts, .amps = volts > 0 ? watts / volts / 0.95 : 0, .power_factor = 0.95,
		.verdict = verdict, .note = "typed"};
	for (int i = 0; i < STAGES; i++)
		if (fabs(stage_volts[i] - volts) < 3)
			ev.stage = i;
	show(s, &ev);
	s->last = ev;
	s->have_reading = true;
	s->band = band_at(volts);
	s->settled = verdict != VERDICT_SETTLING;
	s->stage = ev.stage;
	if (ev.stage >= 0) {
		struct session_stage *at = &s->stages[ev.stage];
		at->visited = at->have_reading = true;
		at->reading = ev;
		at->settled = s->settled;
		at->low = s->band.low;
		at->high = s->band.high;
		at->passed = verdict == VERDICT_IN_BAND;
	}
	s->points[s->n_points++] = (struct session_point){.seconds = seconds, .volts = volts,
		.watts = watts, .verdict = verdict, .low = (float)s->band.low,
		.high = (float)s->band.high, .abort_watts = (float)s->band.abort_watts,
		.settled = true};
}

void demo_run_walk(struct demo_run *d, int stage)
{
	struct session *s = &d->session;
	demo_run_event(d, 4, EVENT_CAUTIONS, "");
	s->phase = PHASE_STAGES;
	for (int i = 0; i <= stage; i++) {
		double expected = band_at(stage_volts[i]).expected;
		demo_run_reading(d, 20 + 80 * i, stage_volts[i], expected * 1.1 + 0.4,
		                 VERDICT_SETTLING);
		demo_run_reading(d, 80 + 80 * i, stage_volts[i], expected * 1.01, VERDICT_IN_BAND);
		s->stages[i].looks_answered = i < stage ? ~0u : 0;
	}
	s->instruction = DO_STEP_UP;
	s->instruction_volts = stage_volts[stage + 1 < STAGES ? stage + 1 : stage];
	s->now_s += 3;
}
