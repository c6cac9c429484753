/*
 * core/ohms.h - ohms before volts: what a multimeter should read on this unit, unplugged
 *
 * Layer: core; pure.  From the profile and its network: the readings that matter before the plug
 * goes in, the range in which each should lie, why it matters and where its limit comes from.
 * Units: ohm; a balance is a ratio.  A meter that shows over-range (OL) reads INFINITY.
 */
#ifndef MAINSTAIR_CORE_OHMS_H
#define MAINSTAIR_CORE_OHMS_H

#include <stdbool.h>

#include "mainstair/core/basis.h"
#include "mainstair/core/network.h"

enum ohms_kind {
	OHMS_BOND,       /* earth pin to chassis */
	OHMS_INSULATION, /* live pins, joined, to chassis or exposed metal */
	OHMS_FUSE,
	OHMS_PRIMARY,    /* across the plug, a transformer set */
	OHMS_STRING,     /* across the plug, a series-string set */
	OHMS_DROPPER,
	OHMS_WINDING,    /* end to end */
	OHMS_HALF,       /* from the centre tap to either end */
	OHMS_BALANCE,    /* greater half over smaller half */
	OHMS_HEATERS,    /* across a heater winding, tubes in */
	OHMS_FILTER,     /* the resistor or choke between two rails */
	OHMS_RAIL        /* rail to chassis, capacitors charged by the meter */
};

enum {
	OHMS_CHECKS_MAX = 96,
	OHMS_WHAT_MAX = 96,
	OHMS_WHY_MAX = 200
};

struct ohms_check {
	enum ohms_kind kind;
	int index;                /* winding or rail; -1: neither */
	char what[OHMS_WHAT_MAX]; /* between which points: "rail screen to chassis" */
	const char *how;          /* with which care; one sentence */
	double low, expected, high; /* low >= 0; expected NAN: no figure; high INFINITY: none */
	char why[OHMS_WHY_MAX];   /* what it tells, and how the range came about */
	const char *source;       /* of the limit or the rule behind it */
	enum basis basis;
	bool blocks_low, blocks_high; /* no power while it reads below / above */
	char measured_as[2 * PROFILE_NAME_MAX]; /* with the reading behind it, what
	                                           network_measure() understands; "": not a number
	                                           of the model */
};

struct ohms_list {
	struct ohms_check check[OHMS_CHECKS_MAX];
	int n;
};

/** The readings for a unit, in the order in which they are best taken.  net: built from profile.
 *  The list is large (some 60 KiB): allocate it.  Rails without a resistor to chassis read what
 *  their electrolytics leak; those on the profile's list count by their rating. */
void ohms_list_make(struct ohms_list *list, const struct network *net,
                    const struct profile *profile);

enum ohms_verdict {
	OHMS_UNKNOWN, /* no reading, or none that can be: never a pass */
	OHMS_PASS,
	OHMS_LOW,
	OHMS_HIGH
};

/** Judge a reading (INFINITY: over-range).  NAN or below nought: unknown. */
enum ohms_verdict ohms_judge(const struct ohms_check *check, double reading);

/** Whether that verdict must keep the plug out; an unknown one on a check that can block does. */
bool ohms_blocks(const struct ohms_check *check, enum ohms_verdict verdict);

const char *ohms_verdict_word(enum ohms_verdict verdict); /* "unknown", "pass", "low", "high" */

/** What a reading below or above the range points to, one sentence; "" for a pass. */
const char *ohms_finding(const struct ohms_check *check, enum ohms_verdict verdict);

/** Most ohms from earth pin to chassis: 0.3 with a cord of up to 5 m, 0.1 more for each further
 *  7.5 m, 1.0 at most (DIN VDE 0701-0702, second hand).  NAN for a length that is none. */
double ohms_bond_limit(double cord_metres);

/** Least ohms from the joined live pins to the chassis (live chassis: to exposed metal). */
double ohms_insulation_limit(enum chassis chassis);

#endif
