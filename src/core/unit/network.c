#include "mainstair/core/network.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "network_build.h"

const char *origin_word(enum origin origin)
{
	switch (origin) {
	case ORIGIN_MEASURED:
		return "measured";
	case ORIGIN_RATED:
		return "rated";
	case ORIGIN_ESTIMATED:
		return "estimated";
	}
	return "?";
}

struct known known_from(const struct given *given, double rated_tol, double estimate,
                        double estimate_tol)
{
	struct known k = { .value = estimate, .up = estimate_tol, .down = estimate_tol,
	                   .origin = ORIGIN_ESTIMATED };

	if (given->given) {
		k.value = given->value;
		k.origin = given->tol >= 0.0 ? ORIGIN_MEASURED : ORIGIN_RATED;
		k.up = k.down = given->tol >= 0.0 ? given->tol : rated_tol;
	}
	return k;
}

void network_note(struct network *net, const char *format, ...)
{
	va_list ap;

	if (net->n_notes >= NET_NOTES_MAX)
		return;
	va_start(ap, format);
	(void)vsnprintf(net->notes[net->n_notes++], sizeof net->notes[0], format, ap);
	va_end(ap);
}

/* How far a heater's rated volts may lie from its winding's: 6.3 V tubes run on 6 V windings
 * and the other way round, 5 V ones do not run on 6.3 V. */
static const double winding_fit = 0.12;

static bool fits(double heater_volts, double winding_volts)
{
	return fabs(heater_volts - winding_volts) <= winding_fit * winding_volts;
}

const double heater_winding_ohms = 15.0;

/* Rated volts of the first tube or lamp that the profile puts on a winding by name; NAN: none. */
static double volts_named(const struct build *b, int w)
{
	const struct profile *p = b->profile;

	for (int i = 0; i < p->n_tubes; i++) {
		const struct tube_type *type = tables_tube(b->tables, p->tubes[i].type);

		if (p->tubes[i].winding == w && (type || p->tubes[i].volts.given))
			return p->tubes[i].volts.given ? p->tubes[i].volts.value : type->heater_volts;
	}
	for (int i = 0; i < p->n_lamps; i++) {
		const struct lamp_type *type = tables_lamp(b->tables, p->lamps[i].type);

		if (p->lamps[i].winding == w && (type || p->lamps[i].volts.given))
			return p->lamps[i].volts.given ? p->lamps[i].volts.value : type->volts;
	}
	return (double)NAN;
}

/* What a winding's nominal heater volts are while it is being fitted: where it is not said, what
 * the first heater on it wants; NAN: nothing is on it yet. */
static double fitting_volts(const struct build *b, int w)
{
	const struct profile_winding *pw;

	if (w >= b->profile->n_windings)
		return b->net->windings[w].rated_volts;
	pw = &b->profile->windings[w];
	if (pw->volts.given)
		return pw->volts.value;
	/* open volts stand some 5 to 8 per cent above the rated ones */
	if (pw->open_volts.given)
		return pw->open_volts.value / 1.065;
	for (int h = 0; h < b->net->n_heaters; h++)
		if (b->net->heaters[h].winding == w)
			return b->net->heaters[h].volts;
	return volts_named(b, w);
}

static bool feeds_rail(const struct profile *p, int w)
{
	for (int r = 0; r < p->n_rails; r++)
		if (p->rails[r].source == RAIL_FROM_WINDING && p->rails[r].winding == w)
			return true;
	return false;
}

/* The only winding of which neither volts nor what is on it are told, and not one for plates. */
static bool may_be_for_heaters(const struct build *b, int w)
{
	const struct profile *p = b->profile;
	int n = 0;
	bool one = false;

	for (int i = 0; i < p->n_windings; i++) {
		if (!isnan(fitting_volts(b, i)) || feeds_rail(p, i) ||
		    p->windings[i].ohms.value >= heater_winding_ohms)
			continue;
		n++;
		one = one || i == w;
	}
	return one && n == 1;
}

static int assume_winding(struct build *b, double volts, const char *place, struct err *err)
{
	struct network *net = b->net;
	struct net_winding *w;

	for (int i = b->profile->n_windings; i < net->n_windings; i++)
		if (fits(volts, net->windings[i].rated_volts))
			return i;
	if (net->n_windings >= NET_WINDINGS_MAX)
		return err_set(err, ERR_INPUT, "%s: no winding gives %.3g V and there is no room to "
		               "assume one more; say `on WINDING`", place, volts);
	w = &net->windings[net->n_windings];
	(void)snprintf(w->name, sizeof w->name, "heater%s%.3g", net->n_windings ? "-" : "", volts);
	w->rated_volts = volts;
	network_note(net, "a %.3g V winding is assumed for the heaters that fit no other", volts);
	return net->n_windings++;
}

/* Put a heater on a winding (or in the string) at the strapping that fits. */
static int place_heater(struct build *b, struct net_heater *h, int on, double alt_volts,
                        double alt_amps, struct err *err)
{
	const struct profile *p = b->profile;

	h->winding = on;
	if (on < 0 && p->supply == SUPPLY_SERIES_STRING)
		return 0;
	/* its own winding by name; else a pure heater winding, else any that fits; the strapping
	 * of the table first, else the other one */
	for (int rails_too = 0; on < 0 && rails_too < 2; rails_too++)
		for (int strap = 0; on < 0 && strap < 2; strap++)
			for (int w = 0; on < 0 && w < p->n_windings; w++) {
				const double volts = fitting_volts(b, w);

				if (!rails_too && feeds_rail(p, w))
					continue;
				if (isnan(volts) ? strap == 0 && may_be_for_heaters(b, w) :
				    fits(strap ? alt_volts : h->volts, volts))
					on = w;
			}
	if (on < 0) {
		on = assume_winding(b, isnan(alt_volts) || fabs(h->volts - 12.6) > 1e-9 ?
		                    h->volts : alt_volts, h->place, err);
		if (on < 0)
			return -1;
	}
	h->winding = on;
	const double volts = fitting_volts(b, on);
	if (!isnan(volts) && !fits(h->volts, volts)) {
		if (!isnan(alt_volts) && fabs(alt_volts - volts) < fabs(h->volts - volts)) {
			network_note(b->net, "%s (%s) is taken as strapped for %.3g V", h->place,
			             h->type, alt_volts);
			h->volts = alt_volts;
			h->amps = alt_amps;
		}
		if (!fits(h->volts, volts)) {
			const char *name = on < p->n_windings ? p->windings[on].name : "";

			if (h->volts < 0.6 * volts || h->volts > 1.7 * volts)
				return err_set(err, ERR_INPUT, "%s: a %.3g V heater on winding %s of "
				               "%.3g V does not fit; put it on another winding", h->place,
				               h->volts, name, volts);
			network_note(b->net, "%s: rated %.3g V, on a winding of %.3g V", h->place,
			             h->volts, volts);
		}
	}
	return 0;
}

static int build_heaters(struct build *b, struct err *err)
{
	struct network *net = b->net;
	const struct profile *p = b->profile;

	for (int i = 0; i < p->n_tubes; i++) {
		const struct profile_place *tube = &p->tubes[i];
		const struct tube_type *type = tube->type[0] ?
			tables_tube(b->tables, tube->type) : NULL;
		double alt_volts = (double)NAN, alt_amps = (double)NAN;
		struct net_heater *h = &net->heaters[net->n_heaters];

		b->tube_type[i] = type;
		b->tube_heater[i] = -1;
		if (!type && !tube->volts.given)
			return err_set(err, ERR_INPUT, "%s: tube type %s is not in the table; give its "
			               "own ratings, as `6.3 V 0.3 A`", tube->place, tube->type);
		if (type && type->heating == HEATING_NONE && !tube->volts.given)
			continue;
		*h = (struct net_heater){ .kind = HEATER_INDIRECT };
		(void)snprintf(h->place, sizeof h->place, "%s", tube->place);
		(void)snprintf(h->type, sizeof h->type, "%s", tube->type);
		if (type && type->heating == HEATING_DIRECT)
			h->kind = HEATER_FILAMENT;
		if (tube->volts.given) {
			h->volts = tube->volts.value;
			h->amps = tube->amps.value;
		} else {
			h->volts = type->heater_volts;
			h->amps = type->heater_amps;
			alt_volts = type->alt_volts;
			alt_amps = type->alt_amps;
		}
		if (!(h->volts > 0.0) || !(h->amps > 0.0))
			return err_set(err, ERR_INPUT, "%s: the table has no heater rating for %s; give "
			               "its own ratings, as `6.3 V 0.3 A`", tube->place, tube->type);
		if (place_heater(b, h, tube->winding, alt_volts, alt_amps, err) < 0)
			return -1;
		b->tube_heater[i] = net->n_heaters++;
	}
	net->n_tube_heaters = net->n_heaters;
	for (int i = 0; i < p->n_lamps; i++) {
		const struct profile_place *lamp = &p->lamps[i];
		const struct lamp_type *type = lamp->type[0] ?
			tables_lamp(b->tables, lamp->type) : NULL;
		struct net_heater *h = &net->heaters[net->n_heaters];

		if (!type && !lamp->volts.given)
			return err_set(err, ERR_INPUT, "%s: lamp type %s is not in the table; give its "
			               "own ratings, as `6.3 V 0.15 A`", lamp->place, lamp->type);
		if (type && type->kind == LAMP_NEON) {
			network_note(net, "%s: a neon lamp's few milliwatts are left out", lamp->place);
			continue;
		}
		*h = (struct net_heater){ .kind = HEATER_LAMP };
		(void)snprintf(h->place, sizeof h->place, "%s", lamp->place);
		(void)snprintf(h->type, sizeof h->type, "%s", lamp->type);
		h->volts = lamp->volts.given ? lamp->volts.value : type->volts;
		h->amps = lamp->amps.given ? lamp->amps.value : type ? type->amps : 0.0;
		if (!(h->volts > 0.0) || !(h->amps > 0.0))
			return err_set(err, ERR_INPUT, "%s: no rating for lamp %s; give its own, as "
			               "`6.3 V 0.15 A`", lamp->place, lamp->type);
		if (place_heater(b, h, lamp->winding, (double)NAN, (double)NAN, err) < 0)
			return -1;
		net->n_heaters++;
	}
	return 0;
}

static void name_windings(struct build *b)
{
	struct network *net = b->net;
	const struct profile *p = b->profile;

	net->n_windings = p->n_windings;
	for (int w = 0; w < p->n_windings; w++) {
		struct net_winding *n = &net->windings[w];

		(void)snprintf(n->name, sizeof n->name, "%s", p->windings[w].name);
		n->centre_tapped = p->windings[w].centre_tapped;
		n->feeds_rail = feeds_rail(p, w);
	}
}

/* Heater volts of windings whose profile is silent: what most of the heaters on it want. */
static void rate_heater_windings(struct build *b)
{
	struct network *net = b->net;
	const struct profile *p = b->profile;

	for (int w = 0; w < net->n_windings; w++) {
		struct net_winding *n = &net->windings[w];

		if (w < p->n_windings) {
			const struct profile_winding *pw = &p->windings[w];

			if (pw->volts.given)
				n->rated_volts = pw->volts.value;
			else if (pw->open_volts.given)
				n->rated_volts = pw->open_volts.value;
			b->winding_open[w] = pw->open_volts.given;
			/* a maker's turns are right to a turn in a hundred; what a winding is
			 * rated for, he rounds (common practice, no source) */
			b->winding_volts[w] = pw->open_volts.given ?
				known_from(&pw->open_volts, 0.01, 0.0, 0.0) :
				known_from(&pw->volts, 0.015, 0.0, 0.05);
		} else {
			b->winding_volts[w] = (struct known){ n->rated_volts, 0.05, 0.05,
			                                      ORIGIN_ESTIMATED };
		}
		if (n->rated_volts > 0.0)
			continue;
		double amps = 0.0;
		for (int h = 0; h < net->n_heaters; h++)
			if (net->heaters[h].winding == w && net->heaters[h].amps > amps) {
				amps = net->heaters[h].amps;
				n->rated_volts = net->heaters[h].volts;
			}
		if (n->rated_volts > 0.0)
			network_note(net, "winding %s: volts not given, taken as its heaters' %.3g V",
			             n->name, n->rated_volts);
	}
}

/* Volts that nobody told follow from what is on the winding: from nothing, nothing follows. */
static int check_volts(const struct build *b, struct err *err)
{
	for (int w = 0; w < b->profile->n_windings; w++) {
		const struct profile_winding *pw = &b->profile->windings[w];

		if (pw->volts.given || pw->open_volts.given || b->net->windings[w].rated_volts > 0.0)
			continue;
		if (winding_is_idle(b->net, w))
			return err_set(err, ERR_INPUT, "winding %s: its volts are not told and nothing "
			               "is on it that they could follow from: say what is (`V1 = TYPE "
			               "on %s`, `winding = %s` in a [rail NAME]), or measure them with "
			               "every tube out and the line low: open_volts = volts read * "
			               "line_volts / line read", pw->name, pw->name, pw->name);
	}
	return 0;
}

int network_build(struct network *net, const struct profile *profile, const struct tables *tables,
                  struct err *err)
{
	struct build b;

	memset(net, 0, sizeof *net);
	memset(&b, 0, sizeof b);
	b.net = net;
	b.profile = profile;
	b.tables = tables;
	net->line_volts = profile->line_volts.value;
	net->line_hz = profile->line_hz.value;
	net->transformer = profile->supply == SUPPLY_TRANSFORMER;
	net->fuse_amps = profile->fuse_amps.given ? profile->fuse_amps.value : 0.0;
	/* A few per cent of a heater's loss goes down its legs (Carla, Am. J. Phys. 81 (2013): a
	 * sum of a T^4 and a linear term; the share is estimated, and varied in the band). */
	net->heater_conduction = 0.06;

	name_windings(&b);
	if (build_heaters(&b, err) < 0)
		return -1;
	rate_heater_windings(&b);
	if (build_rails(&b, err) < 0)
		return -1;
	if (net->transformer && check_volts(&b, err) < 0)
		return -1;
	if (net->transformer) {
		build_transformer(&b);
		build_ratios(&b);
	} else {
		build_string(&b);
	}
	build_params(&b);
	return 0;
}
