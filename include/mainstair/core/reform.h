/*
 * core/reform.h - re-forming an electrolytic capacitor: limits, supply, steps, verdict
 *
 * Layer: core; pure; includes base/ only.  One section of a can is one part: a dual can is two
 * parts, each judged on its own readings.
 * Units: F, V dc, A, ohm, W, J, s.  Readings are of one section lifted out of circuit, as volts
 * across it and amps through it.  What is not known is NAN, and NAN never counts as good.
 */
#ifndef MAINSTAIR_CORE_REFORM_H
#define MAINSTAIR_CORE_REFORM_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/err.h"
#include "mainstair/core/basis.h"
#include "mainstair/core/reform_fit.h"

struct reform_part {
	double farad, volts; /* rated */
};

/* --- leakage limits ----------------------------------------------------------------------- */

enum reform_rule {
	REFORM_OLDER,    /* k C + 0.3 mA, k by voltage class, 10 mA at most */
	REFORM_CV_1,     /* 0.01 C V or 3 uA, the greater */
	REFORM_CV_3,     /* 0.03 C V + 3 uA */
	REFORM_CV_02,    /* 0.002 C V + 3 uA */
	REFORM_UK_1968,  /* 0.08 C V + 100 uA up to 100 V, 0.05 C V + 250 uA above */
	REFORM_ROOT_CV,  /* 3 sqrt(C V) uA */
	REFORM_POWER_CV, /* 0.3 (C V)^0.7 + 4 uA */
	REFORM_RULES     /* how many; as a rule: the owner's own limit */
};

struct reform_rule_info {
	const char *name;    /* the word of files and options */
	const char *title;   /* for people: "the old rule" */
	const char *formula; /* C in uF, V in volts, both as rated */
	int minutes;         /* after the voltage is applied, when the rule reads */
	const char *source;
	enum basis basis;
};

extern const struct reform_rule_info reform_rules[REFORM_RULES];

/** What the rule allows, A; NAN for a part that the rule does not cover (the older one ends at
 *  500 V) or whose ratings are not finite and above nought.  Not for REFORM_RULES. */
double reform_limit_amps(enum reform_rule rule, const struct reform_part *part);

/** The rule of that name, letter case ignored; -1 if there is none. */
int reform_rule_from_word(const char *word);

/* --- supply and series resistor ----------------------------------------------------------- */

/** The most a part stands for seconds, V: 1.15 times rated up to 315 V, 1.10 above (IEC 60384-4,
 *  from memory; data sheets of one maker agree, those of another allow 1.10 from 160 V on).
 *  Re-forming never goes above rated: this is where it has already gone wrong. */
double reform_surge_volts(const struct reform_part *part);

struct reform_series {
	double short_amps, short_watts; /* through and in the resistor with the part SHORTED */
	double drop_volts;              /* across it when the part leaks as much as allowed */
	bool overloaded;                /* short_watts above its rating (if that is known) */
};

/** A resistor of `ohms` between a supply of `volts` and a part that may leak limit_amps;
 *  rated_watts 0: not known.  All NAN for volts or ohms not above nought. */
struct reform_series reform_series_at(double volts, double ohms, double rated_watts,
                                      double limit_amps);

/** The resistor advised for a supply of `volts`: of the E12 series, the least that keeps a
 *  shorted part within 5 mA (what builders of re-forming supplies settled on, second hand), and
 *  in *ret_watts the ready-made rating that carries the short twice over.  NAN as above. */
double reform_series_advised(double volts, double *ret_watts);

/** The resistor through which a supply of `volts` still leaves `wanted` across a part that leaks
 *  `amps`: of the E12 series the greatest, its rating as above.  NAN when none does. */
double reform_series_reaching(double volts, double wanted, double amps, double *ret_watts);

/* --- discharge ---------------------------------------------------------------------------- */

/** Where a charge no longer counts as dangerous to touch, V (IEC 61010-1, second hand). */
extern const double reform_safe_volts;

/** Stored energy at `volts`, J. */
double reform_joules(double farad, double volts);

/** Seconds for a charge to fall from one voltage to another through a resistor, R C ln(from/to);
 *  0 if it is there already; NAN for values that are not finite and above nought. */
double reform_discharge_s(double ohms, double farad, double from_volts, double to_volts);

struct reform_discharge {
	double ohms;        /* of the E12 series: safe_volts within 5 s, at most 0.1 A at first */
	double seconds;     /* to reform_safe_volts */
	double peak_watts;  /* at first */
	double watts;       /* ready-made rating that carries the mean power over those seconds */
	double joules;
	bool shock_hazard;  /* at least 100 V and 10 J (US laboratory safety rules for
	                       capacitors) */
};

/** How to discharge a part that is at `volts`.  Already safe: seconds, peak_watts and watts 0,
 *  ohms NAN. */
struct reform_discharge reform_discharge_of(double farad, double volts);

/* --- readings and verdict ----------------------------------------------------------------- */

/** Check a list before it is judged: finite, volts and amps not below nought, seconds rising.
 *  0, or -1 with ERR_INPUT and in *ret_bad the index of the reading that is wrong. */
int reform_check(const struct reform_reading *readings, size_t n, size_t *ret_bad,
                 struct err *err);

/** The first reading of the last stretch at constant volts: the part's own do not jump by more
 *  than 3 per cent between neighbours, nor stand 10 per cent apart in all; or, with series_ohms
 *  known (else 0), the supply's stand within 1.5 per cent, so that a part that comes up behind
 *  its resistor as it recovers is one stretch.  n > 0. */
size_t reform_stretch(const struct reform_reading *readings, size_t n, double series_ohms);

enum reform_verdict {
	REFORM_EARLY,     /* not enough readings to say */
	REFORM_FORMED,    /* at full volts, leakage within the limit */
	REFORM_IMPROVING, /* on its way */
	REFORM_STUCK,     /* what remains does not reach the limit */
	REFORM_FAILING    /* stop now */
};

enum reform_reason {
	REFORM_NO_REASON,
	REFORM_RISING,    /* failing: leakage rises at constant volts, beyond scatter and room */
	REFORM_JUMPED,    /* failing: a third more from one reading to the last */
	REFORM_OVER_SURGE /* failing: volts above what the part stands */
};

/* What the judge is to hold a part against. */
struct reform_aim {
	struct reform_part part;
	double form_volts;  /* to which it is formed; usually as rated */
	enum reform_rule rule; /* whose limit it is; REFORM_RULES: the owner's own */
	double limit_amps;
	double series_ohms; /* 0: not known */
	double floor_amps;  /* half of the meter's last digit, or less */
	/* When the volts of the last stretch were put on, in the readings' time; NAN: not known.
	 * Not told: a list's own nought counts for its first stretch. */
	bool applied_told;
	double applied_s;
};

enum { REFORM_READINGS_LEAST = 3 }; /* in a stretch, for a fit */

struct reform_judgement {
	enum reform_verdict verdict;
	enum reform_reason reason;
	size_t stretch;         /* index of its first reading */
	double held_s;          /* at these volts so far */
	double rise;            /* failing: last leakage over what it had come down to, less 1 */
	size_t sparks;          /* readings of the stretch half as much again as both neighbours */
	bool at_form_volts;
	bool fitted;            /* the fit in the workspace stands; else what follows is NAN */
	struct reform_reach reach; /* of the limit, at these volts, from the last reading on */
	struct reform_range plateau; /* left after REFORM_HORIZON times the time at these volts */
};

/** Judge a list that reform_check() has passed; n may be 0.  The fit is left in *work for
 *  reform_fit_reach() and reform_fit_at().  work NULL: no fit, which takes next to no time; what
 *  only a fit can tell (stuck, improving) is then REFORM_EARLY.  Deterministic. */
struct reform_judgement reform_judge(const struct reform_aim *aim,
                                     const struct reform_reading *readings, size_t n,
                                     struct reform_work *work);

/** "formed", "improving", …: as it is printed. */
const char *reform_verdict_word(enum reform_verdict verdict);
const char *reform_reason_text(enum reform_reason reason); /* "" for none */

/* --- the next step ------------------------------------------------------------------------ */

enum reform_order { REFORM_STOP, REFORM_LOWER, REFORM_HOLD, REFORM_RAISE, REFORM_DONE };

struct reform_step {
	enum reform_order order;
	double volts;     /* REFORM_RAISE, REFORM_LOWER: to which */
	double below_amps; /* REFORM_HOLD: until the leakage is below this */
	double hold_s;    /* REFORM_HOLD: and at least so much longer */
	char why[160];
};

/** What to do next, given the list and its judgement.  most_volts: the supply's ceiling (0: no
 *  matter); most_amps: where raising must stop (0: 10 mA).  Steps are a quarter of rated, half
 *  of that while the leakage is above half of what allows a step; a step is allowed once the
 *  leakage has fallen to a tenth of most_amps and to the older rule's limit, after five minutes
 *  (sources in reform_supply.c).  Never above rated, nor above form_volts. */
struct reform_step reform_next_step(const struct reform_aim *aim,
                                    const struct reform_reading *readings, size_t n,
                                    const struct reform_judgement *judgement, double most_volts,
                                    double most_amps);

/** A step that goes further up than a supply of supply_volts reaches through series_ohms is made
 *  one that can be done: up to where it reaches with the part at its limit, from there on held
 *  until the leakage leaves enough, with the lower resistor that would do named in why.  97 per
 *  cent of a step's volts count as there.  last: the newest reading.  Nothing happens to other
 *  steps, without a limit, and where last shows that supply or resistor are not those. */
void reform_step_within(struct reform_step *step, const struct reform_aim *aim,
                        const struct reform_reading *last, double supply_volts,
                        double series_ohms);

/* --- in words ----------------------------------------------------------------------------- */

enum { REFORM_WORDS_MAX = 120 };

/** "95 s", "25 min", "3.1 h", "2.4 d". */
void reform_say_time(char out[REFORM_WORDS_MAX], double seconds);

/** "25 min (12 min to 1.4 h)", "3 h (40 min at least; never: 30 %)", "not in sight". */
void reform_say_reach(char out[REFORM_WORDS_MAX], const struct reform_reach *reach);

/** "hold until below 1 mA, at least 3 min more", "raise to 225 V", "STOP: volts off, discharge";
 *  the step's why stands beside it. */
void reform_say_step(char out[REFORM_WORDS_MAX], const struct reform_step *step);

/* Cautions that stand beside the steps, one line each. */
enum { REFORM_CAUTIONS = 6 };
extern const char *const reform_cautions[REFORM_CAUTIONS];

#endif
