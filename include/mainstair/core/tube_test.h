/*
 * core/tube_test.h - what a tube tester, or a supply and a voltmeter, said of each tube
 *
 * Layer: core; pure.  One place a row, from the profile's complement.  A result is the restorer's
 * word; a regulator's volts are held against the table's besides.  Units: V.
 */
#ifndef MAINSTAIR_CORE_TUBE_TEST_H
#define MAINSTAIR_CORE_TUBE_TEST_H

#include <stdbool.h>

#include "mainstair/core/basis.h"
#include "mainstair/core/entry_line.h"
#include "mainstair/core/logbook.h"
#include "mainstair/core/profile.h"
#include "mainstair/core/tables.h"

/* What a tube does in this unit; it decides what a bad one would do to it. */
enum tube_duty {
	TUBE_DUTY_STAGE,     /* amplifies, mixes, detects, indicates */
	TUBE_DUTY_RECTIFIER, /* named by a rail as its rectifier */
	TUBE_DUTY_REGULATOR, /* a gas regulator, or named by a rail as one */
	TUBE_DUTY_PASS       /* of a series-pass regulator */
};

struct tube_place {
	const char *place, *type;    /* borrowed from the profile; type "" with own ratings */
	const struct tube_type *row; /* borrowed from the tables; NULL: not known */
	enum tube_duty duty;
	int rail;                    /* that it rectifies or regulates; -1: none */
	/* a gas regulator's, NAN for any other: strikes at strike_most or less, holds between low
	 * and high */
	double strike_most, hold, hold_low, hold_high;
	const char *source;          /* of these volts */
	enum basis basis;
};

struct tube_list {
	struct tube_place place[PROFILE_TUBES_MAX];
	int n;
};

enum tube_result { TUBE_NOT_TESTED, TUBE_GOOD, TUBE_WEAK, TUBE_BAD, TUBE_SHORTED };

struct tube_state {
	enum tube_result result;   /* the worse of the word and of what a regulator's volts say */
	double figure, of;         /* as the tester shows it; of: the figure of a new one; NAN */
	double strikes, holds;     /* V; NAN: not told */
	const struct entry *entry; /* the newest about it, or NULL; borrowed */
};

/** The places of a profile.  A type that the tables lack has no row and no volts. */
void tube_list_make(struct tube_list *list, const struct profile *profile,
                    const struct tables *tables);

/** What is known of each, one for each place.  A word that tube_word() does not write, and volts
 *  that cannot be, count as not tested. */
void tube_states(const struct tube_list *list, const struct entry *entries, size_t n,
                 struct tube_state ret[PROFILE_TUBES_MAX]);

/** Volts of a gas regulator (NAN: not told) against its row: good in range, weak where it strikes
 *  too late or holds beside the range, bad where it holds more than a quarter off.  Not tested when
 *  neither is told or the place has no volts. */
enum tube_result tube_judge_volts(const struct tube_place *place, double strikes, double holds);

/** Whether such a tube must stay out of power: shorted anywhere, bad where it rectifies or
 *  regulates.  The others only warn; for those not tested core/job.h has one block. */
bool tube_blocks(const struct tube_place *place, enum tube_result result);

/** What such a result means for this unit, one sentence; "" for good and not tested. */
const char *tube_finding(const struct tube_place *place, enum tube_result result);

/** How to test it: which tests, or with which volts through which resistor. */
void tube_how(const struct tube_place *place, char *ret, size_t size);

/** A new tube counts as good down to this share of the handbook's transconductance (66 per cent of
 *  the bogey value; a dealer's published article, second hand, of what makers passed as new). */
extern const double tube_good_share;

const char *tube_word(enum tube_result result); /* "not-tested", "good", "weak", "bad", "shorted" */

/** Understand a line typed at a place: `good`, `good 85 %`, `weak 1200 umho`, `1200 of 1600`, `bad
 *  open heater`, `short heater-cathode`, `strikes 118 holds 105`, `no strike`, `not tested`; what
 *  follows is the note.  A per cent is of 100, any other unit opens the note.  echo:
 *  ENTRY_ECHO_MAX bytes.  *ret is set up for all but ENTRY_LINE_WRONG. */
enum entry_line tube_understand(const struct tube_place *place, const char *line,
                                struct entry_draft *ret, char *echo);

#endif
