/*
 * cli/load_unit.h - a unit from its profile: tables, network, abort rule, plan
 *
 * Layer: cli.  What every command that takes a PROFILE begins with.
 * Ownership: the caller's storage, filled by unit_load(), emptied by unit_release().
 */
#ifndef MAINSTAIR_CLI_LOAD_UNIT_H
#define MAINSTAIR_CLI_LOAD_UNIT_H

#include "io/bench_ini.h"
#include "mainstair/base/buf.h"
#include "mainstair/core/envelope.h"
#include "mainstair/core/limiter.h"
#include "mainstair/core/network.h"
#include "mainstair/core/plan.h"
#include "mainstair/core/profile.h"
#include "mainstair/core/tables.h"

struct loaded_unit {
	struct profile profile;
	struct buf text; /* the profile's bytes, as they were judged: to embed in a record */
	struct tables tables;
	struct network *network; /* never NULL once loaded */
	struct plan *plan;       /* NULL until unit_plan() */
	struct abort_rule rule;
	struct meter_accuracy accuracy; /* meter_accuracy_default; the bench's meter replaces it */
	struct series_lamp lamp; /* of the bench; watts 0: none */
	bool meter_ahead;        /* of the lamp */
};

/** Load the profile at path with everything that follows from it.  0, or -1 after every complaint
 *  has gone to standard error as `mainstair: FILE:LINE: …`, with nothing to release. */
int unit_load(struct loaded_unit *ret, const char *path);

/** The same from the n bytes of a profile that came from elsewhere (a record); `name` stands in the
 *  complaints for the file. */
int unit_load_text(struct loaded_unit *ret, const char *name, const char *text, size_t n);

/** What the bench says of meter and lamp; once, after loading and before unit_plan(). */
void unit_on_bench(struct loaded_unit *u, const struct bench_setup *bench);

/** Put a number measured on the unit (network_measure()'s words) in the place of the profile's;
 *  before unit_plan().  0, or -1 after a complaint. */
int unit_measure(struct loaded_unit *u, const char *words);

/** The same after unit_plan(), while the unit is under power: abort rule, bands, looks and proofs
 *  of the plan follow, at the same stages.  0, or -1 with err and nothing changed. */
int unit_measure_now(struct loaded_unit *u, const char *words, struct err *err);

/** A network of the unit's own, as its profile gives it, whatever was measured since: the caller's
 *  to free().  NULL after a complaint. */
struct network *unit_bare_network(const struct loaded_unit *u);

/** Make the stage plan for a line of bench_line_volts (0: nameplate).  0, or -1 after a complaint
 *  (out of memory). */
int unit_plan(struct loaded_unit *u, double bench_line_volts);

/** Free what it holds; a zeroed one is fine. */
void unit_release(struct loaded_unit *u);

#endif
