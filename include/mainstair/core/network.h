/*
 * core/network.h - the unit as a circuit: every number filled in, and where it came from
 *
 * Layer: core; includes base/ and core/profile.h, core/tables.h.  Pure.
 * A profile may be silent about much; a network is silent about nothing.  network_build()
 * turns the one into the other: table ratings for tubes and lamps, estimates by rule for what
 * is missing, a winding for every heater.  Everything that computes watts (the settled
 * solver, the model in time, the virtual bench, the fault hypotheses) works on this struct.
 *
 * Plain data without pointers: copy it, change one number, solve again.  That is how
 * sensitivities, as-built scatter and faults are done.
 * Units: V rms (windings), V dc (rails), A, ohm, F, H, W, Hz.  Fault fields are conductances
 * (siemens) or factors, zero (or one) in a healthy unit.
 */
#ifndef MAINSTAIR_CORE_NETWORK_H
#define MAINSTAIR_CORE_NETWORK_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/err.h"
#include "mainstair/core/profile.h"
#include "mainstair/core/tables.h"

enum {
	NET_WINDINGS_MAX = PROFILE_WINDINGS_MAX + 4, /* some may be assumed */
	NET_HEATERS_MAX = PROFILE_TUBES_MAX + PROFILE_LAMPS_MAX,
	NET_RAILS_MAX = PROFILE_RAILS_MAX + 1,
	NET_DRAWS_MAX = PROFILE_DRAWS_MAX,
	NET_PARAMS_MAX = 256,
	NET_NOTES_MAX = 64,
	NET_UNUSED_MAX = 64,
	NET_UNUSED_TEXT_MAX = 192
};

/* A winding of the transformer.  Open-circuit rms volts = ratio * (rms emf at the primary). */
struct net_winding {
	char name[PROFILE_NAME_MAX];
	bool feeds_rail;
	bool centre_tapped;
	double rated_volts; /* one half of a centre-tapped winding */
	double ratio;       /* one half of a centre-tapped winding */
	double ohms;        /* end to end */
	double short_siemens; /* fault: across one half (or the whole); 0 healthy */
};

/* One heated thing: a tube's heater or a lamp, at its strapped rating. */
enum heater_kind { HEATER_INDIRECT, HEATER_FILAMENT, HEATER_LAMP };
struct net_heater {
	char place[PROFILE_NAME_MAX];
	char type[PROFILE_NAME_MAX];
	enum heater_kind kind;
	int winding; /* or -1: in the series string */
	double volts, amps; /* rated; in the string `amps` is what it draws at `volts` */
	bool open;   /* fault: burnt out or pulled */
};

struct net_draw {
	enum draw_kind kind;
	double amps, volts; /* amps at volts */
	double emission;    /* saturation current at rated heater volts / amps; see
	                       core/emission.h */
	double knee;        /* constant: below this share of its volts it starves, in proportion */
	int by[PROFILE_BY_MAX]; /* heater indices */
	int n_by;
};

struct net_rail {
	char name[PROFILE_NAME_MAX];
	enum rail_source source;
	int winding, parent;

	enum rectifier_kind rectifier;
	enum rectifier_form form;
	int rectifier_by[PROFILE_BY_MAX]; /* heater indices; none: no heater to wait for (cold
	                                     cathode) */
	int n_rectifier_by;
	double drop_volts, drop_amps; /* tube: one conduction path drops drop_volts at drop_amps, i
	                                 = drop_amps (v/drop_volts)^1.5; else: drop_volts is the
	                                 constant drop of one path (both legs of a bridge),
	                                 drop_amps 0 */
	double saturation_amps;       /* tube: one path at rated heater volts; else 0: no limit */
	double surge_ohms;            /* in series with every conduction path */

	bool choke_input;     /* fed by a rectifier through a choke ahead of the reservoir */
	double choke_henry;   /* also of a rail `through` a choke (only its ohms matter to watts) */
	double series_ohms;   /* choke's or filter resistor's ohms, between source and reservoir */
	double farad[2];      /* reservoir; [1] the second of a doubler; 0: none */
	double bleeder_ohms;  /* 0: none */

	enum regulator_kind regulator;
	double strike_volts, hold_volts, regulator_ohms; /* gas: i = (v - hold)/ohms once lit */
	double pass_volts;    /* series pass: the volts it holds */
	double pass_amps, pass_drop_volts; /* fully on: i = pass_amps (v/pass_drop_volts)^1.5 */
	double pass_saturation_amps; /* what the pass tubes' cathodes give at rated heater volts */
	int regulator_by[PROFILE_BY_MAX]; /* heater indices of the pass tubes */
	int n_regulator_by;

	struct net_draw draws[NET_DRAWS_MAX];
	int n_draws;

	double leak_siemens;  /* fault: from this rail to chassis, behind its rectifier or filter */
	double load_factor;   /* fault: all draws of this rail times this; 1 healthy */
	bool dead;            /* fault: rectifier or filter open */
	double plate_short_siemens; /* fault: across one rectifier conduction path; 0 healthy */
};

enum origin { ORIGIN_MEASURED, ORIGIN_RATED, ORIGIN_ESTIMATED };

/* A number of the network that is not known exactly.  One parameter may move several fields
 * together (all heaters share a common error of the table, say). */
enum param_kind {
	PARAM_PRIMARY_OHMS, PARAM_CORE_WATTS, PARAM_IDLE_AMPS, PARAM_WINDING_VOLTS,
	PARAM_WINDING_OHMS, PARAM_HEATER_AMPS, PARAM_HEATERS_COMMON, PARAM_LAMPS_COMMON,
	PARAM_HEATER_LAW, PARAM_RECTIFIER_DROP, PARAM_RECTIFIER_EMISSION, PARAM_SURGE_OHMS,
	PARAM_RESERVOIR, PARAM_SERIES_OHMS, PARAM_BLEEDER, PARAM_DRAW_AMPS, PARAM_DRAWS_COMMON,
	PARAM_CATHODE_EMISSION, PARAM_REGULATOR_HOLD, PARAM_REGULATOR_STRIKE, PARAM_PASS_VOLTS,
	PARAM_DROPPER, PARAM_RAIL_VOLTS, PARAM_DRAW_KNEE
};
struct param {
	enum param_kind kind;
	int index, sub;      /* winding, heater or rail index; draw index; -1 where none */
	double up, down;     /* fractions: value may be (1 + up) or (1 - down) times nominal */
	enum origin origin;
	double nominal;      /* for display, in the kind's own unit */
	char name[80];       /* "primary ohms", "rail main draw 1 amps": for lists and messages */
	char measure[160];   /* how to measure it with a multimeter, "" if that cannot be done */
};

struct network {
	double line_volts, line_hz; /* nameplate */
	bool transformer;           /* a primary and a core lie between the line and the windings */

	double source_ohms;         /* ahead of everything (cord, series lamp); 0 usually */
	double primary_ohms;
	double emf_rated;           /* rms emf at which core_watts and mag_amps are stated */
	double core_watts;          /* P_fe = core_watts (E/emf_rated)^core_exponent */
	double core_exponent;
	double mag_amps;            /* rms magnetising current at emf_rated */
	double mag_share;           /* peak Im ~ (1-share) x + share x^9, x = E/emf_rated */

	struct net_winding windings[NET_WINDINGS_MAX];
	int n_windings;
	struct net_heater heaters[NET_HEATERS_MAX]; /* tubes first, then lamps, profile order */
	int n_heaters, n_tube_heaters;
	double dropper_ohms;        /* series string */
	double heater_conduction;   /* share of a heater's loss that is conduction; core/heater.h */
	struct net_rail rails[NET_RAILS_MAX];
	int n_rails;

	double line_shunt_siemens;  /* fault: across the mains, behind the fuse */
	double turn_siemens;        /* fault: shorted turn, conductance referred to the primary
	                               emf */
	double fuse_amps;           /* 0: not known */

	struct param params[NET_PARAMS_MAX];
	int n_params;

	char notes[NET_NOTES_MAX][160]; /* what was estimated or strapped, one sentence each */
	int n_notes;
};

/** Build the network of a checked profile.  Windings' turns ratios are found so that each
 *  gives its rated volts at line_volts under this very unit's load (or open_volts when those
 *  are given).  `net` is large (some 100 KiB): allocate it.  0, or -1 with ERR_INPUT (a type
 *  that the tables lack and that has no own ratings; a heater that fits no winding). */
int network_build(struct network *net, const struct profile *profile,
                  const struct tables *tables, struct err *err);

/** What the profile says and the network that was built from it has no use for, a line each with
 *  what to write instead; nothing that was written is dropped silently.  At most `max`
 *  (NET_UNUSED_MAX is enough for all but a test); how many. */
int network_unused(const struct network *net, const struct profile *profile,
                   const struct tables *tables, char ret[][NET_UNUSED_TEXT_MAX], int max);

/** Put a number measured on this very unit in place of the profile's or the estimate, with the
 *  tolerance of a bench multimeter (2 per cent) unless `+/-` gives another.  Words, unplugged:
 *  `primary 21.4 ohm`, `dropper 120 ohm`, `winding NAME 340 ohm` (end to end), `rail NAME filter
 *  2k1`, `… bleeder 98k`, `… surge 47 ohm`, `… reservoir 18 uF`; with every tube and lamp out:
 *  `idle 3.1 W`, `idle 0.1 A` (at nameplate volts), `winding NAME 0.84 V at 15 V` (of one half of a
 *  tapped one; the second: of the line); in the unit running at full line: `rail NAME 250 V`
 *  (assumed, or regulated), `rail NAME 45 mA` (its only load; of several `rail NAME V4 45 mA` by
 *  the first of its tubes, `… resistive`, `… constant`), `rail NAME strikes 160 V`.  Turns ratios
 *  stay, but for volts of windings.  0, or -1 with ERR_INPUT (what was not understood, and what
 *  would be) and *net untouched. */
int network_measure(struct network *net, const char *words, struct err *err);

enum { MEASURED_WORDS_MAX = 2 * PROFILE_NAME_MAX + 24, MEASURED_LINE_MAX = 128 };

/** What network_measure() would take for parameter k, with a reading `factor` times what a unit as
 *  the network has it would give: "winding plate 340 ohm".  False: a multimeter does not measure
 *  it. */
bool network_measure_line(const struct network *net, int k, double factor, char *dst, size_t size);

/** The same as one key of the profile that the network was built from: "[winding plate] ohms = 340
 *  ohm +/- 2%".  False: one key does not say it. */
bool network_measure_key(const struct network *net, const struct profile *profile, int k,
                         double factor, char *dst, size_t size);

/** Multiply parameter k's fields by `factor` (> 0) in place. */
void network_scale(struct network *net, int k, double factor);

/** The word of an origin, for lists and messages. */
const char *origin_word(enum origin origin); /* "measured", "rated", "estimated" */

#endif
