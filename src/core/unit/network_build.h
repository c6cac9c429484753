/*
 * core/unit/network_build.h - the steps of network_build()
 *
 * Private to core.
 */
#ifndef CORE_NETWORK_BUILD_H
#define CORE_NETWORK_BUILD_H

#include "mainstair/core/network.h"

/* A number and how well it is known, before it becomes a parameter. */
struct known {
	double value;
	double up, down; /* fractions */
	enum origin origin;
};

/* What the build knows of each parameter that a param row is made from. */
struct build {
	struct network *net;
	const struct profile *profile;
	const struct tables *tables;
	int tube_heater[PROFILE_TUBES_MAX]; /* heater index of a tube, or -1: none */
	const struct tube_type *tube_type[PROFILE_TUBES_MAX]; /* NULL: own ratings only */
	struct known primary_ohms, idle_watts, idle_amps, dropper;
	struct known winding_volts[NET_WINDINGS_MAX], winding_ohms[NET_WINDINGS_MAX];
	struct known surge[NET_RAILS_MAX], series[NET_RAILS_MAX], reservoir[NET_RAILS_MAX],
		bleeder[NET_RAILS_MAX], drop[NET_RAILS_MAX];
	struct known draw[NET_RAILS_MAX][NET_DRAWS_MAX];
	struct known rail_volts; /* at the reservoir of an assumed rail on a winding; else 0 */
	bool winding_open[NET_WINDINGS_MAX]; /* winding_volts are measured with nothing connected */
	bool draws_estimated;
};

/** A profile's quantity, or the estimate when it is silent.  A quantity with its own tolerance
 *  was measured; one without has the tolerance of a rating. */
struct known known_from(const struct given *given, double rated_tol, double estimate,
                        double estimate_tol);

/** Say something in net->notes (dropped when they are full: notes explain, nothing rests on
 *  them). */
void network_note(struct network *net, const char *format, ...)
	__attribute__((format(printf, 2, 3)));

/** Rails (and, when the profile has none, an assumed one): rectifiers, filters, loads. */
int build_rails(struct build *b, struct err *err);

/** Transformer: primary, core, winding ohms; after heaters and rails are known. */
void build_transformer(struct build *b);

/** Series string: its dropper, when the profile is silent. */
void build_string(struct build *b);

/** Turns ratios, by solving the unit at nameplate volts. */
void build_ratios(struct build *b);

/** The list of uncertain parameters. */
void build_params(struct build *b);

/** Of this many ohms, end to end, no heater winding is: its wire carries amperes. */
extern const double heater_winding_ohms;

/** network_measure() has words for parameter k. */
bool measure_has_words(const struct network *net, int k);

/** Nothing is on winding w: no heater, no rail. */
bool winding_is_idle(const struct network *net, int w);

/** Rated dc amps through rail r: its own loads and its children's. */
double rail_rated_amps(const struct network *net, int r);

#endif
