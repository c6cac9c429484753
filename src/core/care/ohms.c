/*
 * core/care/ohms.c - the readings before power, from the network
 *
 * A multimeter gives a few volts: cold cathodes do not conduct, gas regulators do not strike,
 * rectifiers block (leads poled as the rail).  What is left are copper, carbon, cold tungsten and
 * what the electrolytics leak once the meter has charged them.
 */
#include "mainstair/core/ohms.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/core/heater.h"
#include "mainstair/core/reform.h"

/* Old carbon resistors read high, by a third and more (common practice). */
static const double carbon_down = 0.20, carbon_up = 0.35;
/* Copper: 0.4 per cent a kelvin, a shop from 10 to 35 C, beside the number's own tolerance. */
static const double copper_room = 0.05, meter_share = 0.02;
/* A guess of ours is good to a factor of three for this purpose: as network_measure() takes it. */
static const double guess_factor = 3.0;
/* Leads, clips and pins. */
static const double leads_ohms = 0.3;
/* An outer half has longer turns (common practice). */
static const double half_least = 0.44, balance_most = 1.25;
/* Before they are re-formed electrolytics leak more than even the older rule allows. */
static const double unformed_factor = 4.0;

/* --- limits of standards ------------------------------------------------------------------ */

double ohms_bond_limit(double cord_metres)
{
	if (!(cord_metres > 0.0) || !isfinite(cord_metres))
		return (double)NAN;
	return fmin(1.0, 0.3 + 0.1 * floor(fmax(cord_metres - 5.0, 0.0) / 7.5 + 1e-9));
}

double ohms_insulation_limit(enum chassis chassis)
{
	switch (chassis) {
	case CHASSIS_EARTHED:
	case CHASSIS_LIVE:
		return 1e6;
	case CHASSIS_UNKNOWN:
	case CHASSIS_TWO_WIRE:
		break;
	}
	return 2e6;
}

/* --- making a list ------------------------------------------------------------------------ */

struct maker {
	struct ohms_list *list;
	const struct network *net;
	const struct profile *profile;
	struct ohms_check spare; /* for what does not fit; never shown */
};

static struct ohms_check *add(struct maker *m, enum ohms_kind kind, int index,
                              const char *format, ...) __attribute__((format(printf, 4, 5)));
static struct ohms_check *add(struct maker *m, enum ohms_kind kind, int index,
                              const char *format, ...)
{
	struct ohms_check *c = m->list->n < OHMS_CHECKS_MAX ? &m->list->check[m->list->n++] :
		&m->spare;
	va_list ap;

	*c = (struct ohms_check){ .kind = kind, .index = index, .how = "", .source = "",
		                  .expected = (double)NAN, .high = (double)INFINITY };
	va_start(ap, format);
	(void)vsnprintf(c->what, sizeof c->what, format, ap);
	va_end(ap);
	return c;
}

static void why(struct ohms_check *c, const char *format, ...)
	__attribute__((format(printf, 2, 3)));
static void why(struct ohms_check *c, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	(void)vsnprintf(c->why, sizeof c->why, format, ap);
	va_end(ap);
}

static void from(struct ohms_check *c, const char *source, enum basis basis)
{
	c->source = source;
	c->basis = basis;
}

static const struct param *param_of(const struct network *net, enum param_kind kind, int index)
{
	for (int k = 0; k < net->n_params; k++)
		if (net->params[k].kind == kind && net->params[k].index == index)
			return &net->params[k];
	return NULL;
}

/* The range around a number of the network, and where that number comes from.  p NULL: the network
 * holds it exact, which here counts as a guess. */
static void around(struct ohms_check *c, double nominal, const struct param *p, double down,
                   double up)
{
	c->expected = nominal;
	if (!p || p->origin == ORIGIN_ESTIMATED) {
		c->low = nominal / guess_factor;
		c->high = nominal * guess_factor;
		from(c, "estimated: the profile is silent", BASIS_PRACTICE);
	} else if (p->origin == ORIGIN_MEASURED) {
		c->low = nominal * (1.0 - p->down - meter_share - copper_room);
		c->high = nominal * (1.0 + p->up + meter_share + copper_room);
		from(c, "the profile, measured on this unit", BASIS_READ);
	} else {
		c->low = nominal * (1.0 - fmax(p->down, down) - meter_share);
		c->high = nominal * (1.0 + fmax(p->up, up) + meter_share);
		from(c, "the profile, by its handbook", BASIS_READ);
	}
	c->low = nominal < 1.0 ? 0.0 : fmax(c->low, 0.0);
	c->high += leads_ohms;
}

/* --- plug, chassis, fuse ------------------------------------------------------------------ */

static void add_bond(struct maker *m)
{
	struct ohms_check *c;

	if (m->profile->chassis != CHASSIS_EARTHED)
		return;
	c = add(m, OHMS_BOND, -1, "earth pin of the plug to chassis");
	c->how = "lowest range, the leads' own ohms taken off; flex the cord meanwhile";
	c->high = ohms_bond_limit(5.0);
	c->blocks_high = true;
	why(c, "the earth must carry a fault until the fuse blows; a cord of 5 m is assumed");
	from(c, "DIN VDE 0701-0702, summarised (UK practice asks 0.1 ohm; a maker of test gear allows 1 "
	     "after service)", BASIS_SECOND_HAND);
}

static void add_insulation(struct maker *m)
{
	const bool live = m->profile->chassis == CHASSIS_LIVE;
	struct ohms_check *c = add(m, OHMS_INSULATION, -1, "both live pins, joined, to %s",
	                           live ? "exposed metal (screws, shafts)" : "chassis");

	c->how = "every switch closed; a multimeter finds gross faults only, a tester of 500 V the "
		"others";
	c->low = ohms_insulation_limit(m->profile->chassis);
	c->blocks_low = true;
	if (live) {
		why(c, "the chassis is on the line: what can be touched must not be; 1 to 5.2 Mohm "
		    "where it has a return path to the chassis, none where it has not");
		from(c, "cold check in makers' service manuals", BASIS_READ);
		return;
	}
	why(c, "%s", m->profile->chassis == CHASSIS_EARTHED ?
	    "an earthed chassis (class I): 1 Mohm; a maker of test gear asks 2 after service" :
	    "no earth would carry a fault away (class II, and unearthed parts): 2 Mohm");
	from(c, "DIN VDE 0701-0702:2008, in testers' manuals", BASIS_SECOND_HAND);
}

/* 5x20 time-lag fuses: 1 A 0.117 ohm, 2 A 0.044 ohm cold; between and below by their power law,
 * I^-1.41. */
static void add_fuse(struct maker *m)
{
	const struct given *amps = &m->profile->fuse_amps;
	struct ohms_check *c;

	if (!amps->given || !(amps->value > 0.0))
		return;
	c = add(m, OHMS_FUSE, -1, "the fuse, out of its holder");
	c->how = "and read what is stamped on it";
	c->expected = 0.117 * pow(amps->value, -1.41);
	c->high = 3.0 * c->expected + leads_ohms;
	why(c, "whole, and of the profile's %.3g A: a wrong fuse protects nothing", amps->value);
	from(c, "a fuse maker's data sheet, 1 A and 2 A, carried on; three times that allowed",
	     BASIS_READ);
}

static void add_primary(struct maker *m)
{
	struct ohms_check *c = add(m, OHMS_PRIMARY, -1, "across the plug's live pins, switch on");

	c->how = "set for its line voltage, everything unplugged from its outlets";
	around(c, m->net->primary_ohms, param_of(m->net, PARAM_PRIMARY_OHMS, -1), 0.10 + copper_room,
	       0.10 + copper_room);
	c->blocks_low = true;
	why(c, "cord, switch, fuse and primary in one reading; shorted turns do not show here");
	(void)snprintf(c->measured_as, sizeof c->measured_as, "primary");
}

/* Cold over hot ohms, as the model has it. */
static double cold_share(const struct network *net, enum heater_kind kind)
{
	const struct heater_law law = heater_law(kind, net->heater_conduction);

	return heater_resistance(&law, law.ambient);
}

static void add_string(struct maker *m)
{
	const struct network *net = m->net;
	struct ohms_check *c;
	double low = 0.0, expected = 0.0, high = 0.0;

	for (int h = 0; h < net->n_heaters; h++) {
		const double hot = net->heaters[h].volts / net->heaters[h].amps;

		if (net->heaters[h].winding >= 0)
			continue;
		expected += hot * cold_share(net, net->heaters[h].kind);
		low += hot / (net->heaters[h].kind == HEATER_LAMP ? 16.0 : 10.0);
		high += hot / (net->heaters[h].kind == HEATER_LAMP ? 8.0 : 4.0);
	}
	if (expected <= 0.0)
		return;
	c = add(m, OHMS_STRING, -1, "across the plug's live pins, switch on");
	c->how = "both ways round: a silicon or selenium rectifier may pass one way while its "
		"reservoir charges";
	c->expected = expected + net->dropper_ohms;
	c->low = low + net->dropper_ohms * (1.0 - carbon_down);
	c->high = high + net->dropper_ohms * (1.0 + carbon_up) + leads_ohms;
	c->blocks_low = true;
	why(c, "all heaters in series, cold: a tenth to a quarter of their hot ohms; one burnt out "
	    "opens the whole string");
	from(c, "heaters rise 5 to 10 times from cold to hot (Gano and Sandy, IRE Trans. EC, March "
	     "1958); 3 to 5 on a bench", BASIS_READ);
}

static void add_dropper(struct maker *m)
{
	struct ohms_check *c;

	if (!(m->net->dropper_ohms > 0.0))
		return;
	c = add(m, OHMS_DROPPER, -1, "across the string's dropper");
	c->how = "one heater tube out, so that nothing lies in parallel";
	around(c, m->net->dropper_ohms, param_of(m->net, PARAM_DROPPER, -1), carbon_down, carbon_up);
	why(c, "a shorted section of it overruns every heater");
}

/* --- windings ----------------------------------------------------------------------------- */

static bool has_heaters(const struct network *net, int winding)
{
	for (int h = 0; h < net->n_heaters; h++)
		if (net->heaters[h].winding == winding)
			return true;
	return false;
}

static void add_halves(struct maker *m, int w, const struct ohms_check *whole)
{
	const double low = whole->low * half_least;
	const double high = whole->high * (1.0 - half_least) + leads_ohms;
	const double expected = 0.5 * whole->expected;

	for (int half = 0; half < 2; half++) {
		struct ohms_check *c = add(m, OHMS_HALF, w, "winding %s, centre tap to %s end",
		                           m->net->windings[w].name, half ? "the other" : "one");

		c->how = "rectifier tube out; silicon rectifiers lifted";
		c->low = low;
		c->expected = expected;
		c->high = high;
		why(c, "half of the whole; the outer half has longer turns and some more ohms");
		from(c, "half of the whole winding's range", BASIS_PRACTICE);
	}
	struct ohms_check *c = add(m, OHMS_BALANCE, w, "winding %s, greater half over smaller",
	                           m->net->windings[w].name);

	c->how = "from the two readings above";
	c->low = 1.0;
	c->expected = 1.08;
	c->high = balance_most;
	why(c, "halves that differ by more than a quarter: a partly shorted half, or a bad joint");
	from(c, "common practice", BASIS_PRACTICE);
}

static void add_winding(struct maker *m, int w)
{
	const struct net_winding *winding = &m->net->windings[w];
	struct ohms_check whole;
	struct ohms_check *c;

	if (!(winding->ohms > 0.0))
		return;
	c = add(m, OHMS_WINDING, w, "winding %s, end to end", winding->name);
	c->how = "rectifier tube out; silicon rectifiers lifted";
	around(c, winding->ohms, param_of(m->net, PARAM_WINDING_OHMS, w), 0.10 + copper_room,
	       0.10 + copper_room);
	why(c, "open windings and gross shorts; a few shorted turns show only in watts");
	(void)snprintf(c->measured_as, sizeof c->measured_as, "winding %s", winding->name);
	whole = *c;
	if (winding->centre_tapped)
		add_halves(m, w, &whole);
}

/* The winding's own few milliohms lie across all its heaters. */
static void add_heaters(struct maker *m, int w)
{
	const struct network *net = m->net;
	struct ohms_check *c;
	double siemens = net->windings[w].ohms > 0.0 ? 1.0 / net->windings[w].ohms : 0.0;

	for (int h = 0; h < net->n_heaters; h++)
		if (net->heaters[h].winding == w)
			siemens += net->heaters[h].amps / net->heaters[h].volts /
				cold_share(net, net->heaters[h].kind);
	c = add(m, OHMS_HEATERS, w, "winding %s, tubes in", net->windings[w].name);
	c->how = "lowest range, the leads' own ohms taken off";
	c->expected = siemens > 0.0 ? 1.0 / siemens : (double)NAN;
	c->high = fmax(1.0, 3.0 * c->expected);
	why(c, "a closed heater circuit; a burnt-out heater does not show beside the winding: test "
	    "it at the tube's pins, out of its socket");
	from(c, "TM 11-6625-353-35, para 7: heater pairs below 1 ohm", BASIS_READ);
}

/* --- rails -------------------------------------------------------------------------------- */

/* Conductances between rails and from rails to chassis, seen by an ohmmeter. */
struct grid {
	double siemens[NET_RAILS_MAX][NET_RAILS_MAX];
	int n;
};

static void link_rails(struct grid *g, int a, int b, double siemens)
{
	g->siemens[a][a] += siemens;
	g->siemens[b][b] += siemens;
	g->siemens[a][b] -= siemens;
	g->siemens[b][a] -= siemens;
}

/* What the electrolytics of a rail may leak before they are re-formed, as a conductance: by their
 * rating where the profile lists them, else by the reservoir at 450 V. */
static double leak_siemens(const struct maker *m, int r)
{
	const struct net_rail *rail = &m->net->rails[r];
	double siemens = 0.0;

	for (int i = 0; i < m->profile->n_capacitors; i++) {
		const struct profile_capacitor *p = &m->profile->capacitors[i];
		struct reform_part part = { p->farad.value, fmin(p->volts.value, 500.0) };

		if (p->rail == r && p->farad.given && p->volts.given && part.farad > 0.0)
			siemens += unformed_factor *
				reform_limit_amps(REFORM_OLDER, &part) / part.volts;
	}
	if (siemens <= 0.0 && rail->farad[0] > 0.0) {
		const struct reform_part part = { rail->farad[0] + rail->farad[1], 450.0 };

		siemens = unformed_factor * reform_limit_amps(REFORM_OLDER, &part) / part.volts;
	}
	return siemens;
}

/* carbon: factor on every resistor; leaks: electrolytics and solid-state loads too. */
static void fill_grid(struct grid *g, const struct maker *m, double carbon, bool leaks)
{
	memset(g, 0, sizeof *g);
	g->n = m->net->n_rails;
	for (int r = 0; r < g->n; r++) {
		const struct net_rail *rail = &m->net->rails[r];

		if (rail->bleeder_ohms > 0.0)
			g->siemens[r][r] += 1.0 / (rail->bleeder_ohms * carbon);
		for (int d = 0; d < rail->n_draws; d++) {
			const struct net_draw *draw = &rail->draws[d];

			if (draw->kind == DRAW_RESISTIVE)
				g->siemens[r][r] += draw->amps / draw->volts / carbon;
			else if (draw->kind == DRAW_CONSTANT && leaks)
				/* transistor stages at a few volts: anything up to this */
				g->siemens[r][r] += guess_factor * draw->amps / draw->volts;
		}
		if (leaks)
			g->siemens[r][r] += leak_siemens(m, r);
		/* cold pass tubes are open */
		if (rail->source == RAIL_FROM_RAIL && rail->regulator != REGULATOR_SERIES_PASS &&
		    rail->series_ohms > 0.0)
			link_rails(g, r, rail->parent, 1.0 / (rail->series_ohms * carbon));
	}
}

/* Ohms between two rails (b < 0: to chassis).  INFINITY without a path.  Gauss, with what is too
 * small for any ohmmeter to every rail, so that an island is one of INFINITY and not an error. */
static double grid_ohms(const struct grid *g, int a, int b)
{
	const double nothing = 1e-13;
	double row[NET_RAILS_MAX][NET_RAILS_MAX + 1];
	double volts[NET_RAILS_MAX];

	for (int i = 0; i < g->n; i++) {
		memcpy(row[i], g->siemens[i], sizeof g->siemens[i]);
		row[i][i] += nothing;
		row[i][g->n] = i == a ? 1.0 : i == b ? -1.0 : 0.0;
	}
	/* diagonally dominant: no pivoting is needed */
	for (int i = 0; i < g->n; i++)
		for (int k = i + 1; k < g->n; k++) {
			const double factor = row[k][i] / row[i][i];

			for (int j = i; j <= g->n; j++)
				row[k][j] -= factor * row[i][j];
		}
	for (int i = g->n - 1; i >= 0; i--) {
		volts[i] = row[i][g->n];
		for (int k = i + 1; k < g->n; k++)
			volts[i] -= row[i][k] * volts[k];
		volts[i] /= row[i][i];
	}
	volts[a] -= b >= 0 ? volts[b] : 0.0;
	return volts[a] > 1e10 ? (double)INFINITY : volts[a];
}

static void add_filter(struct maker *m, const struct grid *plain, int r)
{
	const struct net_rail *rail = &m->net->rails[r];
	struct ohms_check *c;

	if (!(rail->series_ohms > 0.0) ||
	    (rail->source == RAIL_FROM_RAIL && rail->regulator == REGULATOR_SERIES_PASS))
		return;
	c = add(m, OHMS_FILTER, r, "rail %s, across its %s", rail->name,
	        rail->choke_henry > 0.0 ? "choke" : "filter resistor");
	c->how = "capacitors discharged; wait until the reading stands";
	around(c, rail->series_ohms, param_of(m->net, PARAM_SERIES_OHMS, r),
	       rail->choke_henry > 0.0 ? 0.10 + copper_room : carbon_down,
	       rail->choke_henry > 0.0 ? 0.10 + copper_room : carbon_up);
	/* bleeders make a way round; mostly it is long */
	if (rail->source == RAIL_FROM_RAIL) {
		const double seen = grid_ohms(plain, r, rail->parent);

		c->low *= seen / rail->series_ohms;
		c->expected = seen;
	}
	why(c, "an open filter leaves its rail dead, a low one its capacitors unprotected");
	/* seen past what lies in parallel, it is not the filter's own number */
	if (c->expected > 0.98 * rail->series_ohms)
		(void)snprintf(c->measured_as, sizeof c->measured_as, "rail %s filter", rail->name);
}

static void add_rail(struct maker *m, const struct grid *plain, const struct grid *leaky,
                     const struct grid *aged, int r)
{
	const bool live = m->profile->chassis == CHASSIS_LIVE;
	struct ohms_check *c = add(m, OHMS_RAIL, r, "rail %s to %s", m->net->rails[r].name,
	                           live ? "B- (the chassis)" : "chassis");
	const double expected = grid_ohms(plain, r, -1);

	c->how = "capacitors discharged first; leads poled as the capacitors; read once it climbs no "
		"more";
	c->low = grid_ohms(leaky, r, -1);
	c->high = grid_ohms(aged, r, -1);
	c->blocks_low = true;
	if (isinf(expected)) {
		why(c, "no resistor goes to chassis: what is read is the electrolytics' leakage, four "
		    "times what the older rule allows taken as the most before re-forming");
	} else {
		c->expected = expected;
		why(c, "bleeders and dividers, old ones up to a third high, in parallel with leakage of "
		    "four times what the older rule allows");
	}
	from(c, "TM 11-6625-353-35, para 7: plate and filter points must not read zero; a meter the "
	     "wrong way round reads falsely low", BASIS_READ);
}

void ohms_list_make(struct ohms_list *list, const struct network *net,
                    const struct profile *profile)
{
	struct maker m = { .list = list, .net = net, .profile = profile };
	struct grid plain, leaky, aged;

	list->n = 0;
	add_bond(&m);
	add_insulation(&m);
	add_fuse(&m);
	if (net->transformer)
		add_primary(&m);
	else
		add_string(&m);
	add_dropper(&m);
	for (int w = 0; net->transformer && w < net->n_windings; w++) {
		if (net->windings[w].feeds_rail || !has_heaters(net, w))
			add_winding(&m, w);
		if (has_heaters(net, w))
			add_heaters(&m, w);
	}
	fill_grid(&plain, &m, 1.0, false);
	fill_grid(&leaky, &m, 1.0 - carbon_down, true);
	fill_grid(&aged, &m, 1.0 + carbon_up, false);
	for (int r = 0; r < net->n_rails; r++)
		add_filter(&m, &plain, r);
	for (int r = 0; r < net->n_rails; r++)
		add_rail(&m, &plain, &leaky, &aged, r);
}

/* --- judging ------------------------------------------------------------------------------ */

enum ohms_verdict ohms_judge(const struct ohms_check *check, double reading)
{
	if (isnan(reading) || reading < 0.0)
		return OHMS_UNKNOWN;
	if (reading < check->low)
		return OHMS_LOW;
	return reading > check->high ? OHMS_HIGH : OHMS_PASS;
}

bool ohms_blocks(const struct ohms_check *check, enum ohms_verdict verdict)
{
	switch (verdict) {
	case OHMS_UNKNOWN:
		return check->blocks_low || check->blocks_high;
	case OHMS_LOW:
		return check->blocks_low;
	case OHMS_HIGH:
		return check->blocks_high;
	case OHMS_PASS:
		break;
	}
	return false;
}

const char *ohms_verdict_word(enum ohms_verdict verdict)
{
	static const char *const words[] = {
		[OHMS_UNKNOWN] = "unknown", [OHMS_PASS] = "pass", [OHMS_LOW] = "low",
		[OHMS_HIGH] = "high",
	};

	return words[verdict];
}

const char *ohms_finding(const struct ohms_check *check, enum ohms_verdict verdict)
{
	static const struct {
		const char *low, *high;
	} findings[] = {
		[OHMS_BOND] = { "", "the earth is broken or corroded: cord, pin, chassis joint" },
		[OHMS_INSULATION] = { "the line leaks to what can be touched: line filter capacitor, cord, "
		                      "transformer, switch", "" },
		[OHMS_FUSE] = { "", "blown, or of a far smaller rating" },
		[OHMS_PRIMARY] = { "a short across the line: cord, line capacitor, shorted primary, or "
		                   "set for another line voltage",
		                   "open: fuse, switch, cord or the primary itself; or set for another "
		                   "line voltage" },
		[OHMS_STRING] = { "a short across the line or past some heaters: line capacitor, heater "
		                  "to cathode, rectifier",
		                  "open: a burnt-out heater, the dropper, fuse, switch or cord" },
		[OHMS_DROPPER] = { "shorted or replaced by another value", "open or aged" },
		[OHMS_WINDING] = { "shorted turns, or a way round it through what is still connected",
		                   "open, a bad joint, or not the winding that was meant" },
		[OHMS_HALF] = { "shorted turns in this half", "a bad joint or an open half" },
		[OHMS_BALANCE] = { "a reading taken wrongly: the greater goes over the smaller",
		                   "one half is partly shorted, or the other has a bad joint" },
		[OHMS_HEATERS] = { "", "the heater winding or its wiring is open" },
		[OHMS_FILTER] = { "shorted, or a way round it through a leaking capacitor",
		                  "open or aged" },
		[OHMS_RAIL] = { "a leaking or shorted capacitor, a shorted load, or the leads the wrong "
		                "way round: lift the capacitors and find which",
		                "a bleeder or divider is open or aged: the charge will stay on the "
		                "capacitors" },
	};

	if (verdict == OHMS_LOW)
		return findings[check->kind].low;
	return verdict == OHMS_HIGH ? findings[check->kind].high : "";
}
