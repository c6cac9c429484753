/*
 * core/care/look.c - the check list of a unit, and what the entries say of it
 *
 * One row a check in the order of the hand: cord to fuse, mains side, chassis, parts, tubes.  What
 * depends on the unit (fuse, line volts, chassis, tubes) is written into the row.
 */
#include "mainstair/core/look.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"

static const char practice[] = "common practice";

struct maker {
	struct look_list *list;
	const struct profile *profile;
};

/* must and blocks are the rule; the few that only warn say so where they are made. */
static struct look_check *add(struct maker *m, const char *key, const char *what, const char *look,
                              const char *why)
{
	struct look_check *c = &m->list->check[m->list->n++];

	*c = (struct look_check){.kind = LOOK_PLAIN,
	                         .index = -1,
	                         .block = "",
	                         .why = why,
	                         .source = practice,
	                         .basis = BASIS_PRACTICE,
	                         .must = true,
	                         .blocks = true};
	(void)snprintf(c->key, sizeof c->key, "%s", key);
	(void)snprintf(c->what, sizeof c->what, "%s", what);
	(void)snprintf(c->look, sizeof c->look, "%s", look);
	return c;
}

static void from(struct look_check *c, const char *source, enum basis basis)
{
	c->source = source;
	c->basis = basis;
}

static void put(char *dst, size_t size, const char *format, ...)
        __attribute__((format(printf, 3, 4)));
static void put(char *dst, size_t size, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	(void)vsnprintf(dst, size, format, ap);
	va_end(ap);
}

/* --- mains side --------------------------------------------------------------------------- */

static void add_cord(struct maker *m)
{
	add(m, "cord", "the mains cord",
	    "whole length: cracks, gum, bare strands, tape; at the strain relief and where it "
	    "enters; bend it",
	    "old rubber falls off the copper where it is bent, first of all inside the case");
	add(m, "plug", "the plug",
	    m->profile->chassis == CHASSIS_EARTHED ? "pins tight, no strand beside its screw, the "
	                                             "earth wire longest and on its pin"
	                                           : "pins tight, no strand beside its screw; no "
	                                             "third pin joined to a chassis that was made "
	                                             "without",
	    "a loose strand is a short at the outlet; an earth that lets go leaves the chassis "
	    "live");
}

static void add_fuse(struct maker *m)
{
	const struct profile *p = m->profile;
	static const char *const speeds[] = {
	        [FUSE_UNSPECIFIED] = "",
	        [FUSE_FAST] = " fast",
	        [FUSE_SLOW] = " slow",
	};
	struct look_check *c;
	char amps[32], text[LOOK_WHAT_MAX];

	if (!p->fuse_amps.given) {
		c = add(m, "fuse", "the fuse",
		        "whether there is one, and what is stamped on it: the profile names none",
		        "without a fuse in the unit only the bench's own stands between a short "
		        "and fire: use the smallest that carries the unit");
		c->kind = LOOK_FUSE;
		c->blocks = false;
		return;
	}
	(void)num_print_unit(amps, sizeof amps, p->fuse_amps.value, UNIT_AMPERE, 3);
	put(text, sizeof text, "fuse %s%s", amps, speeds[p->fuse_speed]);
	c = add(m, text, "",
	        "its cap, not its holder: rating and speed; no wire, foil or slug in its place",
	        "a larger fuse protects nothing, a faster one blows on the transformer's inrush; "
	        "by UL a fuse must open at 1.35 times its mark, by IEC it must hold at 1.5");
	c->kind = LOOK_FUSE;
	put(c->what, sizeof c->what, "the %s", text);
	from(c, "a fuse maker's data (IEC 60127-2 sheet 3; UL/CSA 248-14)", BASIS_READ);
}

static void add_line(struct maker *m)
{
	const struct profile *p = m->profile;
	struct look_check *c;
	char volts[32], key[LOOK_WHAT_MAX];

	(void)num_print_unit(volts, sizeof volts, p->line_volts.value, UNIT_VOLT, 3);
	put(key, sizeof key, "line volts %s", volts);
	c = add(m, key, "", "",
	        "set for less, every heater and rail is overrun and the core saturates; the "
	        "expected watts would belong to another setting");
	c->kind = LOOK_LINE;
	put(c->what, sizeof c->what, "the line setting: %s", volts);
	put(c->look, sizeof c->look,
	    "selector, links or transformer taps as they are wired, against the nameplate and %s",
	    volts);
	c->may_lack = true; /* made for one voltage, as most radios are */
	c = add(m, "switch", "the power switch and its wiring",
	        "it snaps, its lugs are not charred, it opens the live side (both sides on a live "
	        "chassis)",
	        "a stuck switch is no switch; one in the chassis lead leaves the chassis live "
	        "through the heaters when it is off");
	c->may_lack = true;
	c = add(m, "line capacitors", "capacitors on the line side",
	        "across the line and from line to chassis: paper or wax ones, split, leaking, or "
	        "added later",
	        "a leaking one makes the chassis live, a shorted one is a short across the line: "
	        "replace old paper by safety types (X across the line, Y to chassis)");
	c->may_lack = true;
}

static void add_chassis(struct maker *m)
{
	static const struct {
		const char *key, *what, *look;
	} kinds[] = {
	        [CHASSIS_UNKNOWN] = {"chassis unknown", "the chassis: which kind",
	                             "earthed, two-wire or live: trace the cord; write `chassis = "
	                             "...` into the profile"},
	        [CHASSIS_EARTHED] = {"chassis earthed", "the chassis: earthed",
	                             "the cord's earth wire on bare metal under a tight screw of "
	                             "its own, not under a transformer's"},
	        [CHASSIS_TWO_WIRE] = {"chassis two-wire", "the chassis: two-wire",
	                              "whether anything but a capacitor joins line and chassis"},
	        [CHASSIS_LIVE] = {"chassis live", "the chassis: LIVE",
	                          "knobs on all shafts, grub screws covered, back and bottom in "
	                          "place of what shields it; nothing bare to be touched"},
	};
	const struct profile *p = m->profile;
	struct look_check *c =
	        add(m, kinds[p->chassis].key, kinds[p->chassis].what, kinds[p->chassis].look,
	            "the earth must carry a fault until the fuse blows");

	if (p->chassis == CHASSIS_EARTHED)
		return;
	c->why = "a two-wire set may have a hot chassis, even with a polarised plug: treat it so, "
	         "and never earth it unless behind an isolation transformer";
	from(c, "manual of a bench ac supply", BASIS_READ);
	c = add(m, "isolation", "the isolation transformer",
	        "line, isolation transformer, variac, this unit alone; no scope ground, no earthed "
	        "meter clipped on",
	        "a variac isolates nothing, and an earth leak breaker does not see faults behind "
	        "an isolation transformer");
	from(c, "notes of a physics teachers' list and a variac page", BASIS_SECOND_HAND);
	/* with a transformer of its own a two-wire chassis is live by a fault only */
	c->blocks = c->must = p->chassis != CHASSIS_TWO_WIRE || p->supply == SUPPLY_SERIES_STRING;
}

static bool has_selenium(const struct profile *p)
{
	for (int r = 0; r < p->n_rails; r++)
		if (p->rails[r].source != RAIL_FROM_RAIL &&
		    p->rails[r].rectifier == RECTIFIER_SELENIUM)
			return true;
	return false;
}

/* --- parts -------------------------------------------------------------------------------- */

static void add_parts(struct maker *m)
{
	const struct profile *p = m->profile;
	struct look_check *c;

	if (p->supply == SUPPLY_TRANSFORMER)
		add(m, "power transformer", "the power transformer",
		    "tar or wax run out, paper browned, leads brittle, a burnt smell",
		    "it was overloaded once: what did it may still be there, and the winding may "
		    "have shorted turns");
	else if (p->dropper_ohms.given)
		add(m, "dropper", "the dropper",
		    "a resistor, a ballast in a tube's shell, or a third wire in the cord: whole, "
		    "clear of wiring",
		    "a resistance cord is part of the circuit: shortened or replaced by a plain "
		    "cord every heater is overrun; its insulation may be asbestos");
	if (has_selenium(p)) {
		c = add(m, "selenium", "the selenium rectifier",
		        "burnt spots, flaked paint, a smell of rotten eggs or garlic",
		        "it fails by shorting, and its fumes are poisonous: out of the room if it "
		        "goes");
		c->must = false;
	}
	c = add(m, "electrolytics", "electrolytics",
	        "bulged or split cans, crust at the vent, dried brine on the chassis below",
	        "it has boiled or leaked: re-forming will not bring it back");
	c->may_lack = true;
	c = add(m, "burnt parts", "burnt, bulging or cracked parts",
	        "resistors discoloured or split, wax run from paper capacitors, charred sockets "
	        "and wiring",
	        "what burnt them may still be there: find it before power does");
	c->may_lack = true;
	add(m, "wiring", "the wiring's insulation",
	    "touch it: rubber that crumbles, cloth that is singed, bare crossings",
	    "it shorts where it is moved, also while you measure");
	c = add(m, "debris", "debris",
	        "nests, filings, solder drops, loose screws, corrosion; shake it gently, look "
	        "again",
	        "metal shorts, nests burn, urine eats copper");
	c->may_lack = true;
	c = add(m, "earlier repairs", "earlier repairs",
	        "parts that are not the maker's, cut wires, added parts, rectifiers changed to "
	        "silicon",
	        "the unit may no longer be what its profile says: correct the profile, or the "
	        "expected watts are those of another unit");
	c->must = c->blocks = false;
	c->may_lack = true;
}

/* --- tubes and lamps ---------------------------------------------------------------------- */

/* FNV-1a, so that another complement is another check. */
static uint32_t hash_text(uint32_t hash, const char *text)
{
	do
		hash = (hash ^ (unsigned char)*text) * 16777619u;
	while (*text++);
	return hash;
}

static void list_places(char *dst, size_t size, const struct profile_place *places, int n)
{
	size_t used = strlen(dst);

	for (int i = 0; i < n; i++) {
		char one[2 * PROFILE_NAME_MAX + 4];
		const int len =
		        snprintf(one, sizeof one, "%s%s%s%s", i ? ", " : "", places[i].place,
		                 places[i].type[0] ? " " : "", places[i].type);

		if (used + (size_t)len + sizeof " ..." > size) {
			put(dst + used, size - used, " ...");
			return;
		}
		memcpy(dst + used, one, (size_t)len + 1);
		used += (size_t)len;
	}
}

static void add_tubes(struct maker *m)
{
	const struct profile *p = m->profile;
	static const char why[] = "another type may short a winding or rob the other heaters; a "
	                          "place left empty lets its rail rise";
	struct look_check *c;
	uint32_t hash = 2166136261u;
	char key[LOOK_WHAT_MAX];

	if (p->n_tubes == 0)
		return;
	for (int i = 0; i < p->n_tubes; i++)
		hash = hash_text(hash_text(hash, p->tubes[i].place), p->tubes[i].type);
	put(key, sizeof key, "complement of %d, %08x", p->n_tubes, (unsigned)hash);
	c = add(m, key, "",
	        "every place filled, with its type, seated, glass whole, getter silvery: ", why);
	put(c->what, sizeof c->what, "all %d tube%s", p->n_tubes, p->n_tubes == 1 ? "" : "s");
	list_places(c->look, sizeof c->look, p->tubes, p->n_tubes);
	c->kind = LOOK_COMPLEMENT;
	c->block = "all tubes";
	for (int i = 0; i < p->n_tubes; i++) {
		const struct profile_place *tube = &p->tubes[i];

		c = add(m, "", "", "", why);
		c->kind = LOOK_TUBE;
		c->index = i;
		put(c->key, sizeof c->key, "tube %s%s%s", tube->place, tube->type[0] ? " " : "",
		    tube->type);
		put(c->what, sizeof c->what, "%s%s%s", tube->place, tube->type[0] ? " " : "",
		    tube->type);
		put(c->look, sizeof c->look, "%s sits there, whole; milk-white inside: air got in",
		    tube->type[0] ? tube->type : "its tube");
	}
}

static void add_lamps(struct maker *m)
{
	const struct profile *p = m->profile;
	struct look_check *c;
	bool in_string = false;

	if (p->n_lamps == 0)
		return;
	for (int i = 0; i < p->n_lamps; i++)
		in_string |= p->supply == SUPPLY_SERIES_STRING && p->lamps[i].winding < 0;
	c = add(m, "lamps ", "the lamps", "in place, of the type, whole: ",
	        in_string ? "a lamp in the heater string carries its current, and its rectifier's: "
	                    "a wrong one changes every heater's volts"
	                  : "one that stays dark takes its watts from what is expected");
	list_places(c->key, sizeof c->key - 8, p->lamps, p->n_lamps);
	list_places(c->look, sizeof c->look, p->lamps, p->n_lamps);
	c->block = "lamps";
	c->must = c->blocks = in_string;
}

void look_list_make(struct look_list *list, const struct profile *profile)
{
	struct maker m = {.list = list, .profile = profile};

	list->n = 0;
	add_cord(&m);
	add_fuse(&m);
	add_line(&m);
	add_chassis(&m);
	add_parts(&m);
	add_tubes(&m);
	add_lamps(&m);
}

const char *look_chassis_warning(const struct profile *profile)
{
	switch (profile->chassis) {
	case CHASSIS_EARTHED:
		return "";
	case CHASSIS_TWO_WIRE:
		if (profile->supply == SUPPLY_TRANSFORMER)
			return "two-wire: may be hot: isolation transformer, nothing earthed on it";
		break;
	case CHASSIS_UNKNOWN:
		return "chassis unknown, so LIVE: isolation transformer, nothing earthed on it";
	case CHASSIS_LIVE:
		break;
	}
	return "LIVE CHASSIS: isolation transformer, and never a scope ground on it";
}

/* --- what the entries say ----------------------------------------------------------------- */

const char *look_word(enum look_result result)
{
	static const char *const words[] = {
	        [LOOK_NOT_LOOKED] = "not-looked",
	        [LOOK_OK] = "ok",
	        [LOOK_FINDING] = "finding",
	        [LOOK_MENDED] = "mended",
	};

	return words[result];
}

static enum look_result result_of(const struct entry *entry)
{
	for (int r = LOOK_OK; r <= LOOK_MENDED; r++)
		if (strcmp(entry->word, look_word((enum look_result)r)) == 0)
			return (enum look_result)r;
	return LOOK_NOT_LOOKED;
}

/* Places without an entry of their own are what the complement's says, when that is good; a finding
 * of a place is one of the complement; all places looked at are the complement looked at. */
static void settle_complement(const struct look_list *list, struct look_state *states, int whole)
{
	const enum look_result own = states[whole].result;
	bool all = true, finding = own == LOOK_FINDING;

	for (int i = 0; i < list->n; i++) {
		if (list->check[i].kind != LOOK_TUBE)
			continue;
		if (!states[i].entry && (own == LOOK_OK || own == LOOK_MENDED)) {
			states[i].result = own;
			states[i].by_complement = true;
		}
		all &= states[i].result != LOOK_NOT_LOOKED;
		finding |= states[i].result == LOOK_FINDING;
	}
	if (finding)
		states[whole].result = LOOK_FINDING;
	else if (!all)
		states[whole].result = LOOK_NOT_LOOKED;
	else if (own == LOOK_NOT_LOOKED)
		states[whole].result = LOOK_OK;
}

void look_states(const struct look_list *list, const struct entry *entries, size_t n,
                 struct look_state ret[LOOK_CHECKS_MAX])
{
	memset(ret, 0, (size_t)list->n * sizeof *ret);
	for (size_t e = 0; e < n; e++) {
		if (entries[e].kind != ENTRY_LOOK)
			continue;
		for (int i = 0; i < list->n; i++)
			if (strcmp(list->check[i].key, entries[e].subject) == 0) {
				ret[i].entry = &entries[e];
				ret[i].result = result_of(&entries[e]);
			}
	}
	for (int i = 0; i < list->n; i++)
		if (list->check[i].kind == LOOK_COMPLEMENT)
			settle_complement(list, ret, i);
}

int look_of(const struct look_list *list)
{
	int of = 0;

	for (int i = 0; i < list->n; i++)
		of += list->check[i].kind != LOOK_TUBE;
	return of;
}

int look_done(const struct look_list *list, const struct look_state *states)
{
	int done = 0;

	for (int i = 0; i < list->n; i++)
		done += list->check[i].kind != LOOK_TUBE && states[i].result != LOOK_NOT_LOOKED;
	return done;
}

bool look_blocks(const struct look_check *check, enum look_result result)
{
	switch (result) {
	case LOOK_NOT_LOOKED:
		return check->must && check->kind != LOOK_TUBE;
	case LOOK_FINDING:
		return check->blocks;
	case LOOK_OK:
	case LOOK_MENDED:
		break;
	}
	return false;
}
