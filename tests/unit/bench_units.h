/*
 * tests/unit/bench_units.h - small units for tests of the virtual bench, built by hand
 *
 * Every number is invented; tube ratings as in the tube table.
 */
#ifndef TESTS_BENCH_UNITS_H
#define TESTS_BENCH_UNITS_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/emission.h"
#include "mainstair/core/network.h"

/* A network with nothing in it.  free() it. */
static inline struct network *unit_empty(double volts, double hz)
{
	struct network *net = calloc(1, sizeof *net);

	net->line_volts = volts;
	net->line_hz = hz;
	net->heater_conduction = 0.05;
	return net;
}

static inline void unit_transformer(struct network *net, double primary_ohms, double core_watts,
                                    double mag_amps)
{
	net->transformer = true;
	net->primary_ohms = primary_ohms;
	net->emf_rated = net->line_volts * 0.97;
	net->core_watts = core_watts;
	net->core_exponent = 1.9;
	net->mag_amps = mag_amps;
	net->mag_share = 0.3;
}

static inline int unit_winding(struct network *net, const char *name, double open_volts,
                               double ohms, bool tapped)
{
	struct net_winding *w = &net->windings[net->n_windings];

	snprintf(w->name, sizeof w->name, "%s", name);
	w->ratio = open_volts / net->line_volts;
	w->rated_volts = open_volts;
	w->ohms = ohms;
	w->centre_tapped = tapped;
	return net->n_windings++;
}

/* Tubes first, then lamps, as a network has them. */
static inline int unit_heater(struct network *net, const char *place, enum heater_kind kind,
                              int winding, double volts, double amps)
{
	struct net_heater *h = &net->heaters[net->n_heaters];

	snprintf(h->place, sizeof h->place, "%s", place);
	h->kind = kind;
	h->winding = winding;
	h->volts = volts;
	h->amps = amps;
	if (kind != HEATER_LAMP)
		net->n_tube_heaters++;
	return net->n_heaters++;
}

static inline struct net_rail *unit_rail(struct network *net, const char *name,
                                         enum rail_source source)
{
	struct net_rail *r = &net->rails[net->n_rails++];

	snprintf(r->name, sizeof r->name, "%s", name);
	r->source = source;
	r->winding = r->parent = -1;
	r->rectifier = RECTIFIER_SILICON;
	r->load_factor = 1;
	return r;
}

static inline struct net_draw *unit_draw(struct net_rail *r, enum draw_kind kind, double amps,
                                         double volts)
{
	struct net_draw *d = &r->draws[r->n_draws++];

	d->kind = kind;
	d->amps = amps;
	d->volts = volts;
	d->emission = emission_reserve;
	d->knee = 0.2;
	return d;
}

static inline void unit_by(int *by, int *n_by, int heater)
{
	by[(*n_by)++] = heater;
}

/* One path of a 6X4: 22 V at 70 mA. */
static inline void unit_6x4(struct net_rail *r, int heater)
{
	r->rectifier = RECTIFIER_TUBE;
	r->form = FORM_FULL_WAVE;
	r->drop_volts = 22;
	r->drop_amps = 0.07;
	r->saturation_amps = emission_rectifier_reserve * 0.07;
	unit_by(r->rectifier_by, &r->n_rectifier_by, heater);
}

/* A bench oscillator: five tubes, a 6X4, a 0A2, two pilot lamps; 117 V 60 Hz, about 33 W. */
static inline struct network *unit_oscillator(void)
{
	struct network *net = unit_empty(117, 60);
	unit_transformer(net, 22, 3, 0.09);
	int heater = unit_winding(net, "heater", 6.75, 0.08, false);
	int plate = unit_winding(net, "plate", 270, 360, true);

	int v1 = unit_heater(net, "V1", HEATER_INDIRECT, heater, 6.3, 0.3);
	int v2 = unit_heater(net, "V2", HEATER_INDIRECT, heater, 6.3, 0.3);
	int v3 = unit_heater(net, "V3", HEATER_INDIRECT, heater, 6.3, 0.6);
	int v5 = unit_heater(net, "V5", HEATER_INDIRECT, heater, 6.3, 0.45);
	unit_heater(net, "I1", HEATER_LAMP, heater, 6.3, 0.15);
	unit_heater(net, "I2", HEATER_LAMP, heater, 6.3, 0.15);

	struct net_rail *main = unit_rail(net, "main", RAIL_FROM_WINDING);
	main->winding = plate;
	main->surge_ohms = 22;
	main->farad[0] = 20e-6;
	unit_6x4(main, v3);

	struct net_rail *screen = unit_rail(net, "screen", RAIL_FROM_RAIL);
	screen->parent = 0;
	screen->series_ohms = 2200;
	screen->farad[0] = 20e-6;
	screen->bleeder_ohms = 100e3;
	struct net_draw *d = unit_draw(screen, DRAW_SPACE_CHARGE, 0.013, 210);
	unit_by(d->by, &d->n_by, v1);
	unit_by(d->by, &d->n_by, v2);
	unit_draw(screen, DRAW_RESISTIVE, 0.005, 210);

	struct net_rail *steady = unit_rail(net, "steady", RAIL_FROM_RAIL);
	steady->parent = 1;
	steady->series_ohms = 6800;
	steady->regulator = REGULATOR_GAS;
	steady->strike_volts = 180;
	steady->hold_volts = 149;
	steady->regulator_ohms = 100;
	d = unit_draw(steady, DRAW_SPACE_CHARGE, 0.003, 150);
	unit_by(d->by, &d->n_by, v5);
	return net;
}

/* A five-tube table radio: string of 150 mA, 35W4 on the line; 117 V 60 Hz. */
static inline struct network *unit_string_radio(void)
{
	struct network *net = unit_empty(117, 60);
	static const double volts[] = { 12.6, 12.6, 12.6, 50, 35 };
	char place[8];

	for (int k = 0; k < 5; k++) {
		snprintf(place, sizeof place, "V%d", k + 1);
		unit_heater(net, place, HEATER_INDIRECT, -1, volts[k], 0.15);
	}
	struct net_rail *main = unit_rail(net, "main", RAIL_FROM_LINE);
	main->rectifier = RECTIFIER_TUBE;
	main->form = FORM_HALF_WAVE;
	main->drop_volts = 18;
	main->drop_amps = 0.2;
	main->saturation_amps = emission_rectifier_reserve * 0.1;
	unit_by(main->rectifier_by, &main->n_rectifier_by, 4);
	main->surge_ohms = 33;
	main->farad[0] = 50e-6;
	struct net_draw *d = unit_draw(main, DRAW_SPACE_CHARGE, 0.045, 120);
	unit_by(d->by, &d->n_by, 3);
	struct net_rail *screen = unit_rail(net, "screen", RAIL_FROM_RAIL);
	screen->parent = 0;
	screen->series_ohms = 1000;
	screen->farad[0] = 30e-6;
	d = unit_draw(screen, DRAW_SPACE_CHARGE, 0.012, 100);
	for (int k = 0; k < 3; k++)
		unit_by(d->by, &d->n_by, k);
	return net;
}

/* A receiver with choke input and a directly heated 5Y3 on its own winding; 230 V 50 Hz. */
static inline struct network *unit_choke_receiver(void)
{
	struct network *net = unit_empty(230, 50);
	unit_transformer(net, 30, 6, 0.08);
	int heater = unit_winding(net, "heater", 6.8, 0.05, false);
	int filament = unit_winding(net, "filament", 5.3, 0.08, false);
	int plate = unit_winding(net, "plate", 370, 250, true);

	int v1 = unit_heater(net, "V1", HEATER_INDIRECT, heater, 6.3, 0.3);
	int v2 = unit_heater(net, "V2", HEATER_INDIRECT, heater, 6.3, 0.9);
	int v3 = unit_heater(net, "V3", HEATER_FILAMENT, filament, 5, 2);

	struct net_rail *main = unit_rail(net, "main", RAIL_FROM_WINDING);
	main->winding = plate;
	main->rectifier = RECTIFIER_TUBE;
	main->form = FORM_FULL_WAVE;
	main->drop_volts = 50;
	main->drop_amps = 0.125;
	main->saturation_amps = emission_rectifier_reserve * 0.125;
	unit_by(main->rectifier_by, &main->n_rectifier_by, v3);
	main->choke_input = true;
	main->choke_henry = 10;
	main->series_ohms = 200;
	main->farad[0] = 40e-6;
	main->bleeder_ohms = 25e3;
	struct net_draw *d = unit_draw(main, DRAW_SPACE_CHARGE, 0.06, 250);
	unit_by(d->by, &d->n_by, v1);
	unit_by(d->by, &d->n_by, v2);
	return net;
}

/* A regulated supply with a series pass tube behind a selenium bridge; 117 V 60 Hz. */
static inline struct network *unit_pass_supply(void)
{
	struct network *net = unit_empty(117, 60);
	unit_transformer(net, 8, 5, 0.15);
	int heater = unit_winding(net, "heater", 6.7, 0.04, false);
	int plate = unit_winding(net, "plate", 330, 120, false);
	int v1 = unit_heater(net, "V1", HEATER_INDIRECT, heater, 6.3, 2.5);
	int v2 = unit_heater(net, "V2", HEATER_INDIRECT, heater, 6.3, 0.3);

	struct net_rail *raw = unit_rail(net, "raw", RAIL_FROM_WINDING);
	raw->winding = plate;
	raw->rectifier = RECTIFIER_SELENIUM;
	raw->form = FORM_BRIDGE;
	raw->drop_volts = 30;
	raw->surge_ohms = 10;
	raw->farad[0] = 40e-6;
	struct net_rail *out = unit_rail(net, "out", RAIL_FROM_RAIL);
	out->parent = 0;
	out->regulator = REGULATOR_SERIES_PASS;
	out->pass_volts = 250;
	out->pass_amps = 0.1;
	out->pass_saturation_amps = 0.8;
	out->pass_drop_volts = 60;
	unit_by(out->regulator_by, &out->n_regulator_by, v1);
	out->farad[0] = 10e-6;
	struct net_draw *d = unit_draw(out, DRAW_SPACE_CHARGE, 0.05, 250);
	unit_by(d->by, &d->n_by, v2);
	unit_draw(out, DRAW_RESISTIVE, 0.03, 250);
	return net;
}

/* Transistor gear: silicon bridge on a winding, no heaters; 230 V 50 Hz. */
static inline struct network *unit_transistor(void)
{
	struct network *net = unit_empty(230, 50);
	unit_transformer(net, 60, 3, 0.04);
	int low = unit_winding(net, "low", 22, 0.8, false);
	struct net_rail *r = unit_rail(net, "low", RAIL_FROM_WINDING);
	r->winding = low;
	r->form = FORM_BRIDGE;
	r->drop_volts = 1.6;
	r->farad[0] = 2200e-6;
	unit_draw(r, DRAW_CONSTANT, 0.6, 26);
	unit_draw(r, DRAW_RESISTIVE, 0.1, 26);
	return net;
}

/* A silicon doubler straight on a winding. */
static inline struct network *unit_doubler(void)
{
	struct network *net = unit_empty(117, 60);
	unit_transformer(net, 5, 4, 0.2);
	int plate = unit_winding(net, "plate", 135, 20, false);
	struct net_rail *r = unit_rail(net, "main", RAIL_FROM_WINDING);
	r->winding = plate;
	r->form = FORM_DOUBLER;
	r->drop_volts = 0.8;
	r->surge_ohms = 5;
	r->farad[0] = r->farad[1] = 150e-6;
	unit_draw(r, DRAW_RESISTIVE, 0.15, 350);
	return net;
}

#endif
