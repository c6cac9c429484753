/*
 * core/profile.h - what a profile says, after parsing and checking, before any estimation
 *
 * Layer: core; includes base/ only.  Plain data, no pointers to the outside: a profile may be
 * copied by assignment.  What the file left out stays absent (`given == false`): estimating is
 * the business of core/network.h, so that a number always knows where it came from.
 * Units: V rms for windings and line, V dc for rails, ohm, W, A, F, H, s.  Tolerances are
 * fractions (0.02 is 2 per cent); tol < 0 means that the profile gave none.
 */
#ifndef MAINSTAIR_CORE_PROFILE_H
#define MAINSTAIR_CORE_PROFILE_H

#include <stdbool.h>

#include "mainstair/base/num.h"

enum {
	PROFILE_NAME_MAX = 32,  /* bytes with the terminating 0: places, windings, rails */
	PROFILE_TEXT_MAX = 128, /* the instrument's name */
	PROFILE_TUBES_MAX = 96,
	PROFILE_LAMPS_MAX = 24,
	PROFILE_WINDINGS_MAX = 12,
	PROFILE_RAILS_MAX = 16,
	PROFILE_DRAWS_MAX = 12, /* per rail */
	PROFILE_BY_MAX = 24,    /* tubes named by one draw, one regulator or one rectifier */
	PROFILE_CAPS_MAX = 48,
	PROFILE_STAGES_MAX = 24,
	PROFILE_POINTS_MAX = 48,       /* of the calibration sheet */
	PROFILE_NULLS_MAX = 8,
	PROFILE_NULL_CONTROLS_MAX = 4, /* that one null is sought with */
	PROFILE_UNIT_MAX = 12          /* bytes of a unit as written, "kHz" */
};

/* A quantity that a profile may give or leave out. */
struct given {
	bool given;
	double value; /* base unit */
	double tol;   /* fraction, or < 0: none given */
};

enum supply { SUPPLY_TRANSFORMER, SUPPLY_SERIES_STRING };
enum chassis { CHASSIS_UNKNOWN, CHASSIS_EARTHED, CHASSIS_TWO_WIRE, CHASSIS_LIVE };
enum fuse_speed { FUSE_UNSPECIFIED, FUSE_FAST, FUSE_SLOW };

/* A place with something heated in it: a tube or a lamp. */
struct profile_place {
	char place[PROFILE_NAME_MAX]; /* "V1", as written */
	char type[PROFILE_NAME_MAX];  /* "12AX7"; "" when only own ratings are given */
	int winding;                  /* index into windings[], or -1: not said */
	struct given volts, amps;     /* own ratings; given only for a type the table lacks */
	int line;                     /* line number in the file, for messages */
};

struct profile_winding {
	char name[PROFILE_NAME_MAX];
	bool centre_tapped;      /* "250-0-250": volts and open_volts are then of ONE half */
	struct given volts;      /* rms as rated, under the unit's own load at line_volts */
	struct given open_volts; /* rms measured with nothing connected, at line_volts */
	struct given ohms;       /* end to end, both halves of a centre-tapped winding */
	int line;
};

enum rectifier_kind { RECTIFIER_TUBE, RECTIFIER_SILICON, RECTIFIER_SELENIUM };
enum rectifier_form { FORM_HALF_WAVE, FORM_FULL_WAVE, FORM_BRIDGE, FORM_DOUBLER };
enum rail_source { RAIL_FROM_WINDING, RAIL_FROM_LINE, RAIL_FROM_RAIL };
enum draw_kind {
	DRAW_SPACE_CHARGE, /* I = amps (v/volts)^1.5, gated by the heaters of `by` */
	DRAW_RESISTIVE,    /* I = amps v/volts */
	DRAW_CONSTANT      /* I = amps once the rail is up (transistor stages) */
};
enum regulator_kind { REGULATOR_NONE, REGULATOR_GAS, REGULATOR_SERIES_PASS };

struct profile_draw {
	enum draw_kind kind;
	struct given amps, volts;
	int by[PROFILE_BY_MAX]; /* indices into tubes[] */
	int n_by;
};

struct profile_rail {
	char name[PROFILE_NAME_MAX];
	enum rail_source source;
	int winding; /* RAIL_FROM_WINDING: index into windings[] */
	int parent;  /* RAIL_FROM_RAIL: index into rails[]; never a cycle */

	/* a rail fed by a rectifier */
	enum rectifier_kind rectifier;
	int rectifier_by[PROFILE_BY_MAX]; /* RECTIFIER_TUBE: indices into tubes[] */
	int n_rectifier_by;
	int selenium_plates; /* in series, a leg */
	enum rectifier_form form;
	struct given surge_ohms;

	/* a rail fed from another one: `through` is a resistor or a choke; absent with a
	 * series-pass regulator that sits directly on its parent */
	struct given through_ohms;

	struct given choke_henry, choke_ohms; /* choke input, or the choke of `through` */
	struct given reservoir[2];            /* farad; [1] only for a doubler */
	struct given bleeder_ohms;
	enum regulator_kind regulator;
	int regulator_by[PROFILE_BY_MAX]; /* gas: exactly one tube; series pass: its tubes */
	int n_regulator_by;
	struct given regulator_volts; /* series pass: the volts it holds */
	struct profile_draw draws[PROFILE_DRAWS_MAX];
	int n_draws;
	int line;
};

struct profile_capacitor {
	char place[PROFILE_NAME_MAX];
	struct given farad, volts; /* volts: rated */
	int rail;                  /* index into rails[], or -1 */
	int line;
};

/* How far something may be off: the sum of its terms, either way.  All 0: exact, which is no
 * tolerance; `given` tells whether there is one. */
struct profile_tolerance {
	bool given;
	double reading;    /* fraction of the reading */
	double full_scale; /* fraction of the range */
	double digits;     /* steps of the resolution */
	double absolute;   /* in the point's own unit */
	double decibel;    /* a ratio, for a point that is not in dB itself: then the only term */
};

/* One point of the calibration sheet. */
struct profile_point {
	char name[PROFILE_NAME_MAX];     /* "P1", as written */
	char function[PROFILE_NAME_MAX]; /* "dial", "dc volts"; "": not said */
	enum unit unit;
	char written[PROFILE_UNIT_MAX];  /* the unit as written, "kHz": what is typed and shown */
	double scale;                    /* base units in one of it: 1000 */
	double applied;                  /* what is known to be there, base unit */
	double full_scale;               /* NAN: not said; > 0, but for dB */
	double resolution;               /* smallest step of the indication, > 0; NAN: not said */
	struct profile_tolerance tolerance; /* always given in a profile without faults */
	struct profile_tolerance reference; /* how well what is applied is known */
	char control[PROFILE_NAME_MAX];  /* to turn; "": none said */
	int line;
};

/* When a reading near a limit counts as within it (the decision rule of ILAC-G8:09/2019). */
enum guard_band {
	GUARD_BAND_U,           /* the expanded uncertainty is kept from the limit */
	GUARD_BAND_FOUR_TO_ONE, /* only where the test uncertainty ratio is below 4 */
	GUARD_BAND_NONE         /* simple acceptance: the uncertainty is not looked at */
};

/* A null that is sought by turning its controls in turn. */
struct profile_null {
	char name[PROFILE_NAME_MAX];
	char control[PROFILE_NULL_CONTROLS_MAX][PROFILE_NAME_MAX];
	int n_controls; /* at least 2 */
	enum unit unit; /* of the indication; UNIT_NONE: as the meter shows it */
	char written[PROFILE_UNIT_MAX];
	double scale;
	double below;   /* good enough when it reads no more, base unit; NAN: not said */
	int line;
};

struct profile {
	char name[PROFILE_TEXT_MAX];
	struct given line_volts, line_hz; /* line_hz default 60 when line_volts < 160, else 50 */
	enum supply supply;
	enum chassis chassis;
	struct given nameplate_watts;
	struct given fuse_amps;
	enum fuse_speed fuse_speed;

	struct profile_place tubes[PROFILE_TUBES_MAX];
	int n_tubes;
	struct profile_place lamps[PROFILE_LAMPS_MAX];
	int n_lamps;

	struct given primary_ohms, idle_watts, idle_amps;
	struct profile_winding windings[PROFILE_WINDINGS_MAX];
	int n_windings;
	struct profile_rail rails[PROFILE_RAILS_MAX];
	int n_rails;
	struct given dropper_ohms; /* [string] */
	struct profile_capacitor capacitors[PROFILE_CAPS_MAX];
	int n_capacitors;

	double stage_volts[PROFILE_STAGES_MAX]; /* strictly rising; none: planned */
	int n_stages;
	struct given hold_s;
	struct given abort_excess_share; /* [limits] abort_excess as fraction of rated current */
	struct given abort_excess_watts; /* … or in watts at full line; never both */

	struct profile_point points[PROFILE_POINTS_MAX]; /* in the order they are gone through */
	int n_points;
	struct given warm_up_s; /* [calibration] warm_up: at full line, before the sheet is begun */
	enum guard_band guard_band;
	struct profile_null nulls[PROFILE_NULLS_MAX];
	int n_nulls;
};

#endif
