/*
 * core/unit/network_estimate.c - the parts of a network that a profile may leave to rules
 *
 * Every rule says where it comes from; every estimate is noted and carries its tolerance into
 * the band.
 */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "mainstair/core/emission.h"
#include "mainstair/core/load.h"
#include "network_build.h"

/* Rail loads of a profile vary from unit to unit with tubes, bias and line. */
static const double draw_rated_tol = 0.15;
/* Transistor stages take their current from a fifth of their volts on (common practice, no
 * source). */
static const double constant_knee = 0.2;
/* Old carbon resistors and chokes. */
static const double ohms_rated_tol = 0.10;
static const double ohms_estimated_tol = 0.40;
/* Published drops of one type differ by a fifth (5Y3: 50 and 60 V at 125 mA). */
static const double drop_rated_tol = 0.20;
static const double drop_estimated_tol = 0.40;
/* The smallest electrolytic that was commonly fitted. */
static const double least_farad = 8e-6;

double rail_rated_amps(const struct network *net, int r)
{
	double amps = 0.0;

	for (int d = 0; d < net->rails[r].n_draws; d++)
		amps += net->rails[r].draws[d].amps;
	for (int q = 0; q < net->n_rails; q++)
		if (net->rails[q].source == RAIL_FROM_RAIL && net->rails[q].parent == r)
			amps += rail_rated_amps(net, q);
	return amps;
}

/* Volts at which the rail's loads are stated; 0 when it has none. */
static double rail_rated_volts(const struct network *net, int r)
{
	for (int d = 0; d < net->rails[r].n_draws; d++)
		return net->rails[r].draws[d].volts;
	for (int q = 0; q < net->n_rails; q++)
		if (net->rails[q].source == RAIL_FROM_RAIL && net->rails[q].parent == r) {
			const double below = rail_rated_volts(net, q);

			if (below > 0.0)
				return below + rail_rated_amps(net, q) * net->rails[q].series_ohms;
		}
	return 0.0;
}

static void copy_heaters(const struct build *b, const int *tubes, int n, int *ret, int *ret_n)
{
	*ret_n = 0;
	for (int i = 0; i < n; i++)
		if (b->tube_heater[tubes[i]] >= 0)
			ret[(*ret_n)++] = b->tube_heater[tubes[i]];
}

static void copy_draws(struct build *b, int r)
{
	const struct profile_rail *from = &b->profile->rails[r];
	struct net_rail *rail = &b->net->rails[r];

	rail->n_draws = from->n_draws;
	for (int d = 0; d < from->n_draws; d++) {
		struct net_draw *draw = &rail->draws[d];

		draw->kind = from->draws[d].kind;
		b->draw[r][d] = known_from(&from->draws[d].amps, draw_rated_tol, 0.0, 0.0);
		draw->amps = b->draw[r][d].value;
		draw->volts = from->draws[d].volts.value;
		draw->emission = emission_reserve;
		draw->knee = constant_knee;
		copy_heaters(b, from->draws[d].by, from->draws[d].n_by, draw->by, &draw->n_by);
	}
}

/* What a tube takes of its type's typical current in a set of which nothing is told. */
struct usual {
	double share, least, most;
};

/* Output tubes run at about the plate watts of the typical-operation column: the makers wanted the
 * sound they had paid for.  Up to 30 per cent over it, and in instruments down to half of it, for
 * long life (common practice, no source).  A triode that amplifies through a resistor takes a fifth
 * (12AT7) to all (12AX7) of it: printed plate volts and plate resistors of the factory drawings of
 * amplifiers 5F1, 5F4 and AB763 (1957-67).  Mixers and pentodes take most of it at radio
 * frequencies, a fifth through a plate resistor (common practice, no source). */
static struct usual usual_current(const struct tube_type *type)
{
	const bool triode = type->kind == TUBE_TRIODE || type->kind == TUBE_TWIN_TRIODE;
	const double typical = isnan(type->typical_amps) ? 0.0 : type->typical_amps;

	if (triode && typical < 0.03)
		return (struct usual){ 0.5, 0.1, 1.0 };
	if (type->kind == TUBE_TWIN_TRIODE && typical >= 0.06)
		return (struct usual){ 0.0, 0.0, 0.0 }; /* a regulator's: it passes on what others
		                                           take */
	if (typical >= 0.02)
		return (struct usual){ 1.0, 0.5, 1.3 };
	return (struct usual){ 0.8, 0.2, 1.1 };
}

/* Tubes whose plates no rail mentions: by what the table says they typically draw. */
static void estimate_draws(struct build *b, int r, double volts)
{
	struct network *net = b->net;
	struct net_rail *rail = &net->rails[r];
	struct net_draw *draw = &rail->draws[0];
	double amps = 0.0, least = 0.0, most = 0.0;

	draw->n_by = 0;
	for (int i = 0; i < b->profile->n_tubes; i++) {
		const struct tube_type *type = b->tube_type[i];

		if (!type || b->tube_heater[i] < 0 || type->kind == TUBE_DIODE_RECTIFIER ||
		    type->kind == TUBE_SIGNAL_DIODE || draw->n_by >= PROFILE_BY_MAX)
			continue;
		const struct usual usual = usual_current(type);
		/* a small tube without a listed current takes some 4 mA (common practice) */
		const double typical = isnan(type->typical_amps) ? 0.005 : type->typical_amps;

		if (!(usual.share > 0.0))
			continue;
		amps += typical * usual.share;
		least += typical * usual.least;
		most += typical * usual.most;
		draw->by[draw->n_by++] = b->tube_heater[i];
	}
	if (draw->n_by == 0)
		return;
	draw->kind = DRAW_SPACE_CHARGE;
	draw->amps = amps;
	draw->volts = volts;
	draw->emission = emission_reserve;
	rail->n_draws = 1;
	/* one maker's ways with all his tubes: their limits add up */
	b->draw[r][0] = (struct known){ amps, most / amps - 1.0, 1.0 - least / amps,
	                                ORIGIN_ESTIMATED };
	b->draws_estimated = true;
	network_note(net, "rail %s: its load is taken from the tubes' typical currents, %.0f mA at "
	             "%.0f V", rail->name, amps * 1e3, volts);
}

/* Drop and saturation of one conduction path of a tube rectifier. */
static int tube_rectifier(struct build *b, int r, struct err *err)
{
	const struct profile_rail *from = &b->profile->rails[r];
	struct net_rail *rail = &b->net->rails[r];
	const int n = from->n_rectifier_by;
	const struct tube_type *type = n > 0 ? b->tube_type[from->rectifier_by[0]] : NULL;
	const char *place = n > 0 ? b->profile->tubes[from->rectifier_by[0]].place : "?";
	double max_dc, drop_volts, drop_amps;

	copy_heaters(b, from->rectifier_by, n, rail->rectifier_by, &rail->n_rectifier_by);
	/* a rectifier given by own ratings, or one whose ratings no table has: sized like its
	 * makers did, to carry the load with half as much again */
	max_dc = type && type->max_dc_amps > 0.0 ? type->max_dc_amps :
		1.5 * rail_rated_amps(b->net, r) / (n > 0 ? n : 1);
	if (!(max_dc > 0.0))
		max_dc = 0.07;
	const int plates = type && type->plates > 0 ? type->plates :
		from->form == FORM_HALF_WAVE ? 1 : 2;
	if (type && type->drop_volts > 0.0) {
		drop_volts = type->drop_volts;
		drop_amps = type->drop_amps > 0.0 ? type->drop_amps : max_dc;
		b->drop[r] = (struct known){ drop_volts, drop_rated_tol, drop_rated_tol, ORIGIN_RATED };
	} else {
		/* close-spaced indirectly heated rectifiers drop some 20 V at their rated current,
		 * filament types 45 V: the median of the types in the table that have a figure */
		drop_volts = type && type->heating == HEATING_DIRECT ? 45.0 : 20.0;
		drop_amps = max_dc;
		b->drop[r] = (struct known){ drop_volts, drop_estimated_tol, drop_estimated_tol,
		                             ORIGIN_ESTIMATED };
		network_note(b->net, "%s: no drop in the table, taken as %.0f V at %.0f mA", place,
		             drop_volts, drop_amps * 1e3);
	}
	if (type && type->heating == HEATING_NONE) {
		/* cold cathode: a constant drop once it has struck */
		rail->drop_volts = drop_volts;
		rail->drop_amps = 0.0;
		return 0;
	}
	/* plates side by side in one path */
	double parallel = (double)(n * plates);
	switch (from->form) {
	case FORM_HALF_WAVE:
		break;
	case FORM_FULL_WAVE:
	case FORM_DOUBLER:
		parallel /= 2.0;
		break;
	case FORM_BRIDGE:
		parallel /= 4.0;
		break;
	}
	if (parallel < 0.99)
		return err_set(err, ERR_INPUT, "rail %s: %s has not enough plates for its form; name "
		               "all tubes of the rectifier, or another form", rail->name, place);
	rail->drop_volts = from->form == FORM_BRIDGE ? 2.0 * drop_volts : drop_volts;
	rail->drop_amps = drop_amps * parallel;
	rail->saturation_amps = emission_rectifier_reserve * max_dc / plates * parallel;
	return 0;
}

static int build_rail(struct build *b, int r, struct err *err)
{
	const struct profile_rail *from = &b->profile->rails[r];
	struct net_rail *rail = &b->net->rails[r];
	const struct given *ohms = from->through_ohms.given ? &from->through_ohms :
		&from->choke_ohms;

	rail->source = from->source;
	rail->winding = from->winding;
	rail->parent = from->parent;
	rail->rectifier = from->rectifier;
	rail->form = from->form;
	rail->load_factor = 1.0;
	rail->choke_input = from->source != RAIL_FROM_RAIL && from->choke_henry.given;
	rail->choke_henry = from->choke_henry.given ? from->choke_henry.value : 0.0;
	if (from->source == RAIL_FROM_RAIL && from->regulator == REGULATOR_SERIES_PASS) {
		b->series[r].value = 0.0;
	} else if (from->source == RAIL_FROM_RAIL || rail->choke_input) {
		/* a choke's copper, when not given: 200 ohm, a mid-size filter choke (common
		 * practice) */
		b->series[r] = known_from(ohms, ohms_rated_tol, 200.0, ohms_estimated_tol);
		if (!ohms->given)
			network_note(b->net, "rail %s: its choke's copper is taken as 200 ohm",
			             rail->name);
		if (b->series[r].value < 0.01)
			b->series[r].value = 0.01;
	}
	rail->series_ohms = b->series[r].value;
	b->bleeder[r] = known_from(&from->bleeder_ohms, ohms_rated_tol, 0.0, 0.0);
	rail->bleeder_ohms = b->bleeder[r].value;
	rail->regulator = from->regulator;
	if (from->regulator == REGULATOR_GAS) {
		const struct tube_type *type = b->tube_type[from->regulator_by[0]];

		if (!type || !(type->hold_volts > 0.0) || !(type->strike_volts > 0.0))
			return err_set(err, ERR_INPUT, "rail %s: %s is no gas regulator of the table",
			               rail->name, b->profile->tubes[from->regulator_by[0]].place);
		rail->strike_volts = type->strike_volts;
		rail->hold_volts = type->hold_volts;
		/* 80 to 300 ohm published (rises of 1 to 4 V over the working range) */
		rail->regulator_ohms = 150.0;
	} else if (from->regulator == REGULATOR_SERIES_PASS) {
		rail->pass_volts = from->regulator_volts.value;
		copy_heaters(b, from->regulator_by, from->n_regulator_by, rail->regulator_by,
		             &rail->n_regulator_by);
	}
	copy_draws(b, r);
	return 0;
}

/* What [capacitors] lists for a rail that names no reservoir of its own: all that are `on` it, side
 * by side.  Less than an electrolytic's worth filters nothing that mains frequency is. */
static const double least_listed_farad = 1e-6;

static struct given listed_reservoir(const struct profile *p, int r)
{
	struct given sum = { .tol = -1.0 };

	for (int c = 0; c < p->n_capacitors; c++) {
		const struct profile_capacitor *cap = &p->capacitors[c];

		if (cap->rail != r || !cap->farad.given || cap->farad.value < least_listed_farad)
			continue;
		if (!sum.given)
			sum.tol = cap->farad.tol;
		sum.given = true;
		sum.value += cap->farad.value;
	}
	return sum;
}

/* wet electrolytics were made to -20/+50 per cent and more */
static struct known known_reservoir(const struct given *given, double estimate)
{
	struct known k = known_from(given, 0.20, estimate, 0.5);

	if (k.origin == ORIGIN_RATED)
		k.up = 0.5;
	return k;
}

static int finish_source_rail(struct build *b, int r, struct err *err)
{
	const struct profile_rail *from = &b->profile->rails[r];
	struct net_rail *rail = &b->net->rails[r];

	b->surge[r] = known_from(&from->surge_ohms, ohms_rated_tol, 0.0, 0.0);
	rail->surge_ohms = b->surge[r].value;
	switch (from->rectifier) {
	case RECTIFIER_TUBE:
		if (tube_rectifier(b, r, err) < 0)
			return -1;
		break;
	case RECTIFIER_SILICON:
		rail->drop_volts = from->form == FORM_BRIDGE ? 1.6 : 0.8;
		b->drop[r] = (struct known){ rail->drop_volts, 0.25, 0.25, ORIGIN_RATED };
		break;
	case RECTIFIER_SELENIUM:
		/* about 1 V a plate at the rated current, rising with age; half of it and more is a
		 * threshold that stays at small currents (from memory: no published forward curve
		 * was found) */
		rail->drop_volts = from->selenium_plates * (from->form == FORM_BRIDGE ? 2.0 : 1.0);
		b->drop[r] = (struct known){ rail->drop_volts, 0.5, 0.5, ORIGIN_RATED };
		break;
	}
	const struct given reservoir = from->reservoir[0].given || from->form == FORM_DOUBLER ?
		from->reservoir[0] : listed_reservoir(b->profile, r);
	for (int k = 0; k < (from->form == FORM_DOUBLER ? 2 : 1); k++) {
		if (from->reservoir[k].given || (k == 0 && reservoir.given)) {
			rail->farad[k] = k == 0 ? reservoir.value : from->reservoir[k].value;
			continue;
		}
		/* makers chose omega R C of some 15 (ripple of a few per cent) */
		const double volts = rail_rated_volts(b->net, r), amps = rail_rated_amps(b->net, r);
		rail->farad[k] = volts > 0.0 && amps > 0.0 ?
			fmax(least_farad, 15.0 * amps / (volts * 6.2832 * b->net->line_hz)) : 20e-6;
		network_note(b->net, "rail %s: its reservoir is taken as %.0f uF", rail->name,
		             rail->farad[k] * 1e6);
	}
	b->reservoir[r] = known_reservoir(&reservoir, rail->farad[0]);
	return 0;
}

/* Volts at which the makers' typical-operation columns state what tubes take. */
static const double typical_volts = 250.0;
/* How far the reservoir stands over the plates: nothing where the output tube hangs on it (factory
 * drawings of amplifiers 5F1 and AB763), a tenth behind a choke, a third and more behind a field
 * coil (service manual of model 440 of The Gramophone Company, Australia: 1500 ohm). */
static const double filter_usual = 1.10, filter_most = 1.40;

/* The mean volts of a reservoir over the rms volts of the half winding that charges it. */
static const double reservoir_over_winding = 1.12;
/* A winding of so many volts is not for heaters. */
static const double plate_winding_volts = 45.0;

/* What a rail on a winding of its own stands at and takes, so that the tubes on it dissipate what
 * is typical: should that be more current than the rectifier is rated for, the maker chose more
 * volts and less current. */
static double assumed_volts(struct build *b, double max_dc_amps)
{
	struct net_draw *draw = &b->net->rails[0].draws[0];
	double volts = typical_volts;

	if (b->net->rails[0].n_draws > 0 && max_dc_amps > 0.0 && draw->amps > max_dc_amps) {
		volts *= draw->amps / max_dc_amps;
		draw->amps = b->draw[0][0].value = max_dc_amps;
	}
	return volts * filter_usual;
}

/* The same where the winding's volts are told: less than usual and the tubes take less by their own
 * law; more, and the maker let them take less. */
static void fit_draw(struct build *b, double rail_volts, double max_dc_amps)
{
	struct net_draw *draw = &b->net->rails[0].draws[0];
	const double usual_volts = typical_volts * filter_usual;

	if (b->net->rails[0].n_draws == 0)
		return;
	draw->volts = usual_volts;
	if (rail_volts > usual_volts) {
		draw->volts = rail_volts;
		draw->amps *= usual_volts / rail_volts;
	}
	if (max_dc_amps > 0.0 && draw->amps > max_dc_amps)
		draw->amps = max_dc_amps;
	b->draw[0][0].value = draw->amps;
}

bool winding_is_idle(const struct network *net, int w)
{
	for (int h = 0; h < net->n_heaters; h++)
		if (net->heaters[h].winding == w)
			return false;
	for (int r = 0; r < net->n_rails; r++)
		if (net->rails[r].source == RAIL_FROM_WINDING && net->rails[r].winding == w)
			return false;
	return true;
}

/* The winding that a profile without rails can only mean for the plates: nothing is on it, and by
 * its volts or its ohms it is none for heaters.  Of several a tapped one, else that of most volts.
 * -1: none is told of. */
static int given_plate_winding(const struct build *b)
{
	int best = -1;

	for (int w = 0; w < b->profile->n_windings; w++) {
		const struct net_winding *n = &b->net->windings[w];
		const struct net_winding *than = best >= 0 ? &b->net->windings[best] : NULL;

		if (!winding_is_idle(b->net, w) ||
		    (n->rated_volts > 0.0 ? n->rated_volts < plate_winding_volts :
		     b->profile->windings[w].ohms.value < heater_winding_ohms))
			continue;
		if (!than || (n->centre_tapped && !than->centre_tapped) ||
		    (n->centre_tapped == than->centre_tapped && n->rated_volts > than->rated_volts))
			best = w;
	}
	return best;
}

/* Of the electrolytics that are on no rail the first that stands the rail's volts is its reservoir:
 * so they are marked and listed.  Where others differ it is a guess. */
static struct known unplaced_reservoir(struct build *b, double volts, double estimate)
{
	const struct profile *p = b->profile;
	const struct profile_capacitor *first = NULL;
	bool differ = false;

	for (int c = 0; c < p->n_capacitors; c++) {
		const struct profile_capacitor *cap = &p->capacitors[c];

		if (cap->rail >= 0 || cap->farad.value < least_listed_farad ||
		    (cap->volts.given && cap->volts.value < 0.8 * volts))
			continue;
		if (!first)
			first = cap;
		differ = differ || fabs(cap->farad.value / first->farad.value - 1.0) > 0.01;
	}
	if (!first)
		return (struct known){ estimate, 0.5, 0.5, ORIGIN_ESTIMATED };
	network_note(b->net, "rail %s: %s is taken as its reservoir", b->net->rails[0].name,
	             first->place);
	return differ ? (struct known){ first->farad.value, 0.5, 0.5, ORIGIN_ESTIMATED } :
		known_reservoir(&first->farad, 0.0);
}

/* The rectifier of an assumed rail: the first that the profile lists, all its plates used. */
static void assume_rectifier(struct build *b, const struct tube_type *type, int heater)
{
	struct net_rail *rail = &b->net->rails[0];

	if (type && heater >= 0) {
		const int plates = type->plates > 0 ? type->plates : 1;
		const double max_dc = type->max_dc_amps > 0.0 ? type->max_dc_amps :
			1.5 * rail_rated_amps(b->net, 0);

		rail->rectifier = RECTIFIER_TUBE;
		rail->rectifier_by[0] = heater;
		rail->n_rectifier_by = 1;
		rail->drop_volts = type->drop_volts > 0.0 ? type->drop_volts : 25.0;
		rail->drop_amps = type->drop_amps > 0.0 ? type->drop_amps : max_dc;
		rail->saturation_amps = emission_rectifier_reserve / plates * max_dc;
	} else {
		rail->rectifier = RECTIFIER_SILICON;
		rail->drop_volts = rail->form == FORM_BRIDGE ? 1.6 : 0.8;
	}
	b->drop[0] = (struct known){ rail->drop_volts, drop_estimated_tol, drop_estimated_tol,
	                             ORIGIN_ESTIMATED };
}

/* The winding of an assumed rail: the profile's own, or one that gives what such sets commonly had.
 * The rail's volts, or -1: no room. */
static double assume_plate_winding(struct build *b, double max_dc, bool tapped, struct err *err)
{
	struct network *net = b->net;
	struct net_rail *rail = &net->rails[0];
	const int given = given_plate_winding(b);
	const int w = given >= 0 ? given : net->n_windings;
	struct net_winding *n = &net->windings[w];

	if (w >= NET_WINDINGS_MAX)
		return err_set(err, ERR_INPUT, "no room to assume a plate winding: describe the "
		               "unit's rails");
	rail->source = RAIL_FROM_WINDING;
	rail->winding = w;
	n->feeds_rail = true;
	if (given < 0) {
		(void)snprintf(n->name, sizeof n->name, "plate");
		for (int i = 0; i < b->profile->n_windings; i++)
			if (text_same(net->windings[i].name, n->name))
				(void)snprintf(n->name, sizeof n->name, "assumed");
		net->n_windings++;
	}
	if (given >= 0 && n->rated_volts > 0.0) {
		const double volts = reservoir_over_winding * n->rated_volts;

		network_note(net, "winding %s: taken to feed the assumed rail", n->name);
		rail->form = n->centre_tapped ? FORM_FULL_WAVE : tapped ? FORM_HALF_WAVE : FORM_BRIDGE;
		fit_draw(b, volts, max_dc);
		return volts;
	}
	const double volts = assumed_volts(b, max_dc);

	if (given >= 0)
		network_note(net, "winding %s: taken to feed the assumed rail, with a centre tap, and "
		             "its volts from that", n->name);
	n->centre_tapped = true;
	n->rated_volts = volts / reservoir_over_winding; /* until build_ratios() finds it */
	if (rail->n_draws > 0)
		rail->draws[0].volts = volts;
	b->rail_volts = (struct known){ volts, filter_most / filter_usual - 1.0,
	                                1.0 - 1.0 / filter_usual, ORIGIN_ESTIMATED };
	return volts;
}

/* A profile without rails: one is assumed behind its rectifier tube, on the winding for the plates,
 * or on the line. */
static int assume_rail(struct build *b, struct err *err)
{
	struct network *net = b->net;
	struct net_rail *rail = &net->rails[0];
	const struct tube_type *type = NULL;
	double max_dc = 0.0, volts = 0.95 * net->line_volts; /* series-string sets: about the
	                                                        line's */
	bool any = false;
	int at = -1;

	for (int i = 0; i < b->profile->n_tubes; i++) {
		const struct tube_type *t = b->tube_type[i];

		if (t && t->kind == TUBE_DIODE_RECTIFIER && t->max_dc_amps > 0.0)
			max_dc += t->max_dc_amps;
		if (t && t->kind == TUBE_DIODE_RECTIFIER && at < 0) {
			type = t;
			at = i;
		} else if (t && b->tube_heater[i] >= 0 && t->kind != TUBE_SIGNAL_DIODE) {
			any = true;
		}
	}
	if (!any)
		return 0;
	const int heater = at >= 0 ? b->tube_heater[at] : -1;

	(void)snprintf(rail->name, sizeof rail->name, "assumed");
	rail->load_factor = 1.0;
	rail->form = net->transformer ? FORM_FULL_WAVE : FORM_HALF_WAVE;
	estimate_draws(b, 0, net->transformer ? typical_volts : volts);
	if (net->transformer) {
		volts = assume_plate_winding(b, max_dc, heater >= 0, err);
		if (volts < 0.0)
			return -1;
	} else {
		rail->source = RAIL_FROM_LINE;
		rail->surge_ohms = 22.0;
	}
	net->n_rails = 1;
	assume_rectifier(b, type, heater);
	const double amps = rail_rated_amps(net, 0);

	b->reservoir[0] = unplaced_reservoir(b, volts, fmax(least_farad, 15.0 * amps /
	                                     (volts * 6.2832 * net->line_hz)));
	rail->farad[0] = b->reservoir[0].value;
	network_note(net, "no rail is described: one of %.0f V and %.0f mA is assumed", volts,
	             amps * 1e3);
	return 0;
}

/* What the cathodes of a rail's pass tubes are made for, whatever the rail takes of it: the types'
 * typical currents, as far as the table has them. */
static double pass_cathode_amps(const struct build *b, int r)
{
	const struct profile_rail *from = &b->profile->rails[r];
	double amps = 0.0;

	for (int i = 0; i < from->n_regulator_by; i++) {
		const struct tube_type *type = b->tube_type[from->regulator_by[i]];

		if (type && !isnan(type->typical_amps))
			amps += type->typical_amps;
	}
	return amps;
}

int build_rails(struct build *b, struct err *err)
{
	struct network *net = b->net;
	const struct profile *p = b->profile;
	bool any_draw = false;

	if (p->n_rails == 0)
		return assume_rail(b, err);
	net->n_rails = p->n_rails;
	for (int r = 0; r < p->n_rails; r++)
		(void)snprintf(net->rails[r].name, sizeof net->rails[r].name, "%s", p->rails[r].name);
	for (int r = 0; r < p->n_rails; r++) {
		if (build_rail(b, r, err) < 0)
			return -1;
		any_draw = any_draw || p->rails[r].n_draws > 0;
	}
	if (!any_draw) {
		/* on the last rail of the chain, at the volts of common sets */
		int last = 0;

		for (int r = 0; r < p->n_rails; r++)
			if (p->rails[r].source == RAIL_FROM_RAIL && p->rails[r].parent == last)
				last = r;
		estimate_draws(b, last, net->transformer ? typical_volts : 0.95 * net->line_volts);
	}
	for (int r = 0; r < p->n_rails; r++)
		if (p->rails[r].source != RAIL_FROM_RAIL && finish_source_rail(b, r, err) < 0)
			return -1;
	for (int r = 0; r < p->n_rails; r++) {
		struct net_rail *rail = &net->rails[r];

		if (rail->source == RAIL_FROM_RAIL)
			rail->farad[0] = p->rails[r].reservoir[0].given ?
				p->rails[r].reservoir[0].value : listed_reservoir(p, r).value;
		if (rail->regulator != REGULATOR_SERIES_PASS)
			continue;
		/* pass tubes fully on drop about an eighth of the rail's volts at its current, or
		 * they could not regulate it (common practice, no source; for 120 mA at 225 V that
		 * is 28 V, a 6080 drops 22 V by its published zero-bias curve: 40 V, 150 mA a
		 * section) */
		const double amps = rail_rated_amps(net, r) +
			(rail->bleeder_ohms > 0.0 ? rail->pass_volts / rail->bleeder_ohms : 0.0);
		rail->pass_amps = amps > 1e-4 ? amps : 1e-4;
		rail->pass_drop_volts = 0.125 * rail->pass_volts;
		rail->pass_saturation_amps =
			emission_reserve * fmax(rail->pass_amps, pass_cathode_amps(b, r));
	}
	return 0;
}

/* dc watts that a source rail takes from its winding, roughly: for sizing only. */
static double rail_watts(const struct network *net, int r)
{
	double volts = rail_rated_volts(net, r);
	double amps = rail_rated_amps(net, r);

	if (volts <= 0.0 && net->rails[r].source == RAIL_FROM_WINDING)
		volts = 1.2 * net->windings[net->rails[r].winding].rated_volts;
	if (net->rails[r].bleeder_ohms > 0.0)
		amps += volts / net->rails[r].bleeder_ohms;
	return volts * amps;
}

void build_transformer(struct build *b)
{
	struct network *net = b->net;
	const struct profile *p = b->profile;
	double watts = 0.0;

	for (int h = 0; h < net->n_heaters; h++)
		watts += net->heaters[h].volts * net->heaters[h].amps;
	for (int r = 0; r < net->n_rails; r++)
		if (net->rails[r].source == RAIL_FROM_WINDING)
			watts += rail_watts(net, r) * 1.15; /* and the rectifier's share */
	if (watts < 3.0)
		watts = 3.0;
	/* Rules of small-transformer design (common practice, no source; the published idle
	 * figures in the trade's handbooks scatter by half either way): copper takes a tenth of
	 * the volts at 30 W, less in larger cores, shared evenly by primary and secondaries; the
	 * core loses some 3 W at 30 W, with about the 0.7th power of the size; the magnetising
	 * current is a third of the load's at 30 W. */
	const double regulation = 0.10 * pow(30.0 / watts, 0.3);
	const double volts = net->line_volts;

	b->primary_ohms = known_from(&p->primary_ohms, ohms_rated_tol,
	                             0.5 * regulation * volts * volts / watts, ohms_estimated_tol);
	net->primary_ohms = b->primary_ohms.value;
	if (!p->primary_ohms.given)
		network_note(net, "primary: %.3g ohm, by the size of the load", net->primary_ohms);
	b->idle_watts = known_from(&p->idle_watts, 0.20, 3.0 * pow(watts / 30.0, 0.7), 0.5);
	if (!p->idle_watts.given)
		network_note(net, "idle watts: %.3g W, by the size of the load", b->idle_watts.value);
	const double idle_least = b->idle_watts.value / volts;
	b->idle_amps = known_from(&p->idle_amps, 0.20, 0.35 * watts / volts * pow(30.0 / watts, 0.2),
	                          0.5);
	if (!p->idle_amps.given)
		network_note(net, "idle amps: %.3g A, by the size of the load", b->idle_amps.value);
	if (b->idle_amps.value < 1.05 * idle_least)
		b->idle_amps.value = 1.05 * idle_least;
	/* of the idle watts, the idle current's copper loss is not the core's */
	const double copper = net->primary_ohms * b->idle_amps.value * b->idle_amps.value;
	net->core_watts = b->idle_watts.value > 2.0 * copper ? b->idle_watts.value - copper :
		0.5 * b->idle_watts.value;
	/* hysteresis ~B^1.6 with a third to a half of eddy loss ~B^2 (Steinmetz; Hubert, Electric
	 * Machines, ex. 2.12): 1.7 to 1.8 below the knee, 1.9 with the knee's fields */
	net->core_exponent = 1.9;
	const double in_phase = b->idle_watts.value / volts;
	net->mag_amps = sqrt(b->idle_amps.value * b->idle_amps.value - in_phase * in_phase);
	net->mag_share = 0.3;
	const double real_drop = net->primary_ohms * in_phase;
	const double quad_drop = net->primary_ohms * net->mag_amps;
	const double real = volts - real_drop;
	net->emf_rated = sqrt(real * real + quad_drop * quad_drop);

	for (int w = 0; w < net->n_windings; w++) {
		struct net_winding *n = &net->windings[w];
		const struct given none = { 0 };
		const struct given *given = w < p->n_windings ? &p->windings[w].ohms : &none;
		double estimate = 0.0, amps = 0.0;

		for (int h = 0; h < net->n_heaters; h++)
			if (net->heaters[h].winding == w)
				amps += net->heaters[h].amps;
		if (amps > 0.0)
			estimate = 0.5 * regulation * n->rated_volts / amps;
		for (int r = 0; r < net->n_rails; r++) {
			if (net->rails[r].source != RAIL_FROM_WINDING || net->rails[r].winding != w)
				continue;
			/* the pulses' rms is some 1.6 times the dc, which is what the makers
			 * sized the wire for; a tapped winding has two halves */
			const double dc = rail_rated_amps(net, r);
			if (n->rated_volts <= 0.0) {
				n->rated_volts = rail_rated_volts(net, r) > 0.0 ?
					rail_rated_volts(net, r) / 1.2 : 250.0;
				b->winding_volts[w] = (struct known){ n->rated_volts, 0.10, 0.10,
				                                      ORIGIN_ESTIMATED };
				network_note(net, "winding %s: volts not given, taken as %.0f V",
				             n->name, n->rated_volts);
			}
			if (dc > 0.0)
				estimate = 0.5 * regulation * n->rated_volts / (1.6 * dc) *
					(n->centre_tapped ? 2.0 : 1.0);
		}
		if (estimate <= 0.0) /* nothing on it */
			estimate = 0.01 * n->rated_volts;
		b->winding_ohms[w] = known_from(given, ohms_rated_tol, estimate, ohms_estimated_tol);
		n->ohms = b->winding_ohms[w].value;
		if (!given->given)
			network_note(net, "winding %s: %.3g ohm, by its load", n->name, n->ohms);
	}
}

void build_string(struct build *b)
{
	struct network *net = b->net;
	double volts = 0.0, amps = 0.0;

	for (int h = 0; h < net->n_heaters; h++)
		if (net->heaters[h].winding < 0) {
			volts += net->heaters[h].volts;
			if (net->heaters[h].kind != HEATER_LAMP || amps <= 0.0)
				amps = net->heaters[h].amps;
		}
	double estimate = 0.0;
	/* what the string leaves of the line's volts must drop somewhere; a few per cent may be
	 * the heaters' own tolerance */
	if (amps > 0.0 && volts < 0.93 * net->line_volts)
		estimate = (net->line_volts - volts) / amps;
	b->dropper = known_from(&b->profile->dropper_ohms, ohms_rated_tol, estimate, 0.10);
	net->dropper_ohms = b->dropper.value;
	if (!b->profile->dropper_ohms.given && estimate > 0.0)
		network_note(net, "string: a dropper of %.0f ohm is assumed for the %.0f V that the "
		             "heaters leave over", estimate, net->line_volts - volts);
}

static bool feeds_assumed_rail(const struct build *b, int w)
{
	return b->rail_volts.value > 0.0 && b->net->rails[0].winding == w;
}

void build_ratios(struct build *b)
{
	struct network *net = b->net;
	struct load_start start = { 0 };
	struct load_result at;

	for (int w = 0; w < net->n_windings; w++) {
		struct net_winding *n = &net->windings[w];

		if (b->winding_open[w]) {
			n->ratio = b->profile->windings[w].open_volts.value / net->emf_rated;
			continue;
		}
		n->ratio = 1.06 * n->rated_volts / net->line_volts;
	}
	/* Rated volts are those under this unit's own load at the nameplate's line volts: each
	 * round corrects every ratio by what it missed; the windings hardly disturb each other. */
	for (int round = 0; round < 12; round++) {
		double worst = 0.0;

		load_settled(net, net->line_volts, &start, &at);
		for (int w = 0; w < net->n_windings; w++) {
			struct net_winding *n = &net->windings[w];

			if (b->winding_open[w] || !(at.winding_volts[w] > 0.0))
				continue;
			/* of an assumed winding it is the rail that is known */
			const double miss = feeds_assumed_rail(b, w) && at.rail_volts[0] > 0.0 ?
				b->rail_volts.value / at.rail_volts[0] :
				n->rated_volts / at.winding_volts[w];
			n->ratio *= miss;
			if (fabs(miss - 1.0) > worst)
				worst = fabs(miss - 1.0);
		}
		if (worst < 1e-7)
			break;
	}
	for (int w = 0; w < net->n_windings; w++)
		if (b->winding_open[w] || feeds_assumed_rail(b, w))
			net->windings[w].rated_volts = at.winding_volts[w];
}
