/*
 * core/desk.h - the re-forming desk: every capacitor section of a unit, and how far it has come
 *
 * Layer: core; pure.  Made from the profile's capacitors and the logbook's entries, nothing else:
 * several sections at once, over minutes or days and several runs of the program.
 *
 * What the entries mean here (core/logbook.h has their fields):
 *
 * ENTRY_CAP_SET      a change of a section's setup; what is not told (NAN, "") stays as it was.
 *                    The word is a rule's name, or "own" for the limit in n4.
 * ENTRY_CAP_READING  n1 V across the section and n2 A through it; n3, when known, what one of the
 *                    last digit of the amps is worth, A (what the meter cannot resolve).
 * ENTRY_CAP_EVENT    by its word:
 *   "volts"          the supply was put on, or raised, to n1 (NAN: not said): the moment from
 *                    which the leakage falls;
 *   "off"            supply off; the section keeps its charge;
 *   "discharged"     through a resistor, and shorted; the supply is off as well;
 *   "out"            replaced by a new one: what follows is about the new one;
 *   "accepted"       the restorer takes it as it is; the note says why.  Holds until it fails;
 *   "form"           to n1 volts instead of rated;
 *   "metered"        the bench's meter is on this section, and no longer on another;
 *   "unmetered"      it is on none.
 *
 * After the supply was off, the leakage starts higher and falls anew: a run is judged from the last
 * time the volts were put on.  A clock that was set back costs the time between two readings, which
 * is then taken as nothing, and is counted.
 */
#ifndef MAINSTAIR_CORE_DESK_H
#define MAINSTAIR_CORE_DESK_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/core/entry_line.h"
#include "mainstair/core/logbook.h"
#include "mainstair/core/profile.h"
#include "mainstair/core/reform.h"

enum desk_state {
	DESK_UNTOUCHED,  /* nothing read yet */
	DESK_FORMING,    /* on its way, or too early to say */
	DESK_FORMED,     /* within its limit at full volts, and like new by the modern rule */
	DESK_OLDER_ONLY, /* within its limit, but above the modern cv-0.01: usable, not like new */
	DESK_ACCEPTED,   /* as it is, by the restorer's word */
	DESK_REPLACED,   /* by a new one */
	DESK_STUCK,      /* what remains does not reach the limit */
	DESK_FAILING,    /* stop */
	DESK_STATES      /* how many */
};

enum { DESK_READINGS_MAX = 600, DESK_WORDS_MAX = 200 };

struct desk_section {
	const struct profile_capacitor *capacitor; /* borrowed from the profile */
	struct reform_aim aim;
	double limits[REFORM_RULES]; /* by every rule, A; NAN: not covered */

	/* setup: told, or advised where nothing was told */
	double supply_volts, series_ohms, series_watts; /* watts 0: not told */
	bool supply_told, series_told;
	struct reform_series series; /* with the section SHORTED, at supply_volts */

	/* the run since the volts were last put on; thinned out evenly in the logarithm of time
	 * when it is long, never the newest, nor a jump up.  Seconds since the volts were put on,
	 * or since the first reading where that was not told. */
	struct reform_reading reading[DESK_READINGS_MAX];
	size_t n;
	size_t n_taken;        /* of this run, before thinning */
	size_t n_earlier;      /* readings of earlier runs */
	size_t clock_set_back; /* times the clock went back within this run */
	double first_utc_s;    /* of the first reading of this run; NAN: none */
	double last_utc_s;     /* of the newest; NAN: none */
	double earlier_volts, earlier_amps; /* last reading of the run before; NAN: none */

	bool on;               /* the supply is on, as far as is known */
	double charged_volts;  /* what the section was last known to hold, or, off again with
	                          nothing read, may hold; 0: discharged */
	bool must_discharge;   /* supply off, and still above reform_safe_volts */
	struct reform_discharge discharge; /* from the greatest of charged volts and the last
	                                      reading */
	bool replaced, accepted;
	const char *accepted_why; /* borrowed from the entries; NULL: not accepted */
	bool metered;

	/* filled by desk_judge() */
	bool judged;           /* with a fit or without */
	struct reform_judgement judgement;
	struct reform_step step;
	enum desk_state state;
	bool blocks;           /* no power while it is so */
	char words[DESK_WORDS_MAX]; /* what is so, for a person: "0.21 mA at 450 V, above 90 uA" */
};

/** Section `index` (0 … profile->n_capacitors - 1), not yet judged: state DESK_UNTOUCHED or
 *  DESK_FORMING until then.  Some 15 KiB. */
void desk_section_make(struct desk_section *ret, const struct profile *profile, int index,
                       const struct entry *entries, size_t n);

/** Where the runs of a section end, oldest first: how many entries there were before the next run
 *  began, or before the part was replaced; of the newest, n.  desk_section_make() of so many is the
 *  section with that run.  work: any section, overwritten.  Returns how many runs have readings;
 *  the newest `max` (> 0) of them are in ret. */
size_t desk_runs(struct desk_section *work, const struct profile *profile, int index,
                 const struct entry *entries, size_t n, size_t *ret, size_t max);

/** Judge it.  work: the fit is made and left in it (some tenths of a second).  NULL: no fit (a
 *  microsecond): a section that is stuck then counts as forming, everything else is the same, so
 *  `blocks` is.  Untouched, forming, stuck, failing block power; so does any section that is still
 *  charged or on the supply. */
void desk_judge(struct desk_section *s, struct reform_work *work);

/** The same with a judgement made before, of the same readings and aim: no fit again. */
void desk_take(struct desk_section *s, const struct reform_judgement *judgement);

/** "untouched", "forming", "formed", "usable", "accepted", "replaced", "stuck", "failing". */
const char *desk_state_word(enum desk_state state);

/** What a typed line means for this section:
 *
 *    250 3.5 mA   250V 80uA   250 0.08       a reading (bare amps are milliamps)
 *    supply 300   resistor 47k 5 W           the setup
 *    rule older   limit 0.5 mA   form 350 V  what it is held against
 *    on   on 300 V   off   discharged        the supply, and the charge
 *    replaced     accept REASON              that ends it
 *    meter        meter off                  whether the bench's meter is on it
 *    note TEXT
 *
 *  A reading above the surge volts or the supply's, more amps than supply and resistor can give,
 *  more than a watt or 10 mA in a part above its limit, and (once judged) volts far above the step
 *  that was advised are questioned.  `echo`: ENTRY_ECHO_MAX bytes. */
enum entry_line desk_understand(const struct desk_section *s, const char *line,
                                struct entry_draft *ret, char *echo);

/** Is a reading that came from a meter worth an entry?  Days of it must not flood the file: the
 *  first ones, then some forty in every e-fold of time; any rise by a tenth (and by a hundredth
 *  of the limit) and what comes behind it, any change of volts by two per cent, and whatever
 *  comes a quarter of an hour after the last. */
bool desk_keeps(const struct desk_section *s, double utc_s, double volts, double amps);

#endif
