#include <math.h>
#include <stdio.h>
#include <string.h>

#include "io/profile_ini.h"

#include "mainstair/base/text.h"

enum { NEAREST_MAX = 4 };

/* "; the nearest are 6X4, 6X5GT", or nothing. */
static const char *list_nearest(char *dst, size_t size, const char *const *names, size_t n)
{
	size_t at = 0;

	dst[0] = '\0';
	for (size_t i = 0; i < n && at < size; i++)
		at += (size_t)snprintf(dst + at, size - at, "%s%s",
		                       i > 0   ? ", "
		                       : n > 1 ? "; the nearest are "
		                               : "; the nearest is ",
		                       names[i]);
	return dst;
}

static bool own_ratings(const struct profile_place *place)
{
	return place->volts.given && place->amps.given;
}

static void check_tube(const struct profile_place *place, const struct tables *tables,
                       struct complaints *c)
{
	const struct tube_type *type = place->type[0] ? tables_tube(tables, place->type) : NULL;
	const char *near[NEAREST_MAX];
	char hint[160];
	size_t n;

	if (type && own_ratings(place))
		complaints_add(c, place->line, "tubes", place->place,
		               "%s is in the tables: leave its own ratings out", place->type);
	if (type || own_ratings(place) || !place->type[0]) /* no type: its value was refused */
		return;
	n = tables_nearest_tubes(tables, place->type, near, NEAREST_MAX);
	complaints_add(c, place->line, "tubes", place->place,
	               "the tables know no `%s`%s; or give its heater's own ratings: 6.3 V 0.45 A",
	               place->type, list_nearest(hint, sizeof hint, near, n));
}

static void check_lamp(const struct profile_place *place, const struct tables *tables,
                       struct complaints *c)
{
	const struct lamp_type *type = place->type[0] ? tables_lamp(tables, place->type) : NULL;
	const char *near[NEAREST_MAX];
	/* numbers are short: of two digits another one is another lamp */
	const size_t most = strlen(place->type) < 4 ? 1 : 2;
	char hint[160];
	size_t n = 0;

	if (type || own_ratings(place) || !place->type[0])
		return;
	for (size_t edits = 1; edits <= most && n == 0; edits++)
		for (size_t i = 0; i < tables->n_lamps && n < NEAREST_MAX; i++)
			if (text_distance(place->type, tables->lamps[i].name) == edits)
				near[n++] = tables->lamps[i].name;
	complaints_add(c, place->line, "lamps", place->place,
	               "the tables know no lamp `%s`%s; or give what stands on its cap: 6.3 V 0.15 A",
	               place->type, list_nearest(hint, sizeof hint, near, n));
}

/* What a tube does in a rail, and whether its type can. */
enum role { ROLE_RECTIFIER, ROLE_GAS_REGULATOR, ROLE_PASS, ROLE_LOAD };

/* Diodes of any kind, and the few output tubes with a rectifier in the same envelope. */
static bool can_rectify(const struct tube_type *type)
{
	return type->kind == TUBE_DIODE_RECTIFIER || type->kind == TUBE_SIGNAL_DIODE ||
	       !isnan(type->drop_volts) || !isnan(type->max_dc_amps);
}

static const char *unfit(const struct tube_type *type, enum role role)
{
	switch (role) {
	case ROLE_RECTIFIER:
		return can_rectify(type) ? NULL : "is no rectifier";
	case ROLE_GAS_REGULATOR:
		return type->kind == TUBE_GAS_REGULATOR ? NULL : "is no gas regulator";
	case ROLE_PASS:
		if (type->kind == TUBE_GAS_REGULATOR)
			return "is a gas regulator, not a series pass tube";
		if (type->kind == TUBE_DIODE_RECTIFIER || type->kind == TUBE_SIGNAL_DIODE)
			return "is a diode, not a series pass tube";
		return NULL;
	case ROLE_LOAD:
		return type->heating == HEATING_NONE ? "has no heater that could gate the draw: "
		                                       "write it `resistive` or `constant`"
		                                     : NULL;
	}
	return NULL;
}

static void check_role(const struct profile *p, const struct tables *tables,
                       const struct profile_rail *rail, int tube, enum role role,
                       struct complaints *c)
{
	static const char *const keys[] = {[ROLE_RECTIFIER] = "rectifier",
	                                   [ROLE_GAS_REGULATOR] = "regulator",
	                                   [ROLE_PASS] = "regulator", [ROLE_LOAD] = "draw"};
	const struct profile_place *place = &p->tubes[tube];
	const struct tube_type *type = place->type[0] ? tables_tube(tables, place->type) : NULL;
	const char *what = type ? unfit(type, role) : NULL;
	char section[PROFILE_NAME_MAX + 8];

	/* of an unknown type a heater's ratings are known, and nothing of a gas discharge */
	if (!type && role == ROLE_GAS_REGULATOR && own_ratings(place))
		what = "has a heater's ratings, and a gas regulator has none: name its type";
	if (!what)
		return;
	(void)snprintf(section, sizeof section, "rail %s", rail->name);
	if (type)
		complaints_add(c, rail->line, section, keys[role], "%s (%s) %s", place->place,
		               type->name, what);
	else
		complaints_add(c, rail->line, section, keys[role], "%s %s", place->place, what);
}

int profile_check_types(const struct profile *profile, const struct tables *tables,
                        struct complaints *c)
{
	size_t before = complaints_count(c);

	for (int i = 0; i < profile->n_tubes; i++)
		check_tube(&profile->tubes[i], tables, c);
	for (int i = 0; i < profile->n_lamps; i++)
		check_lamp(&profile->lamps[i], tables, c);
	for (int i = 0; i < profile->n_rails; i++) {
		const struct profile_rail *rail = &profile->rails[i];
		enum role role = rail->regulator == REGULATOR_GAS ? ROLE_GAS_REGULATOR : ROLE_PASS;

		for (int k = 0; k < rail->n_rectifier_by; k++)
			check_role(profile, tables, rail, rail->rectifier_by[k], ROLE_RECTIFIER, c);
		for (int k = 0; k < rail->n_regulator_by; k++)
			check_role(profile, tables, rail, rail->regulator_by[k], role, c);
		for (int d = 0; d < rail->n_draws; d++)
			for (int k = 0; k < rail->draws[d].n_by; k++)
				check_role(profile, tables, rail, rail->draws[d].by[k], ROLE_LOAD,
				           c);
	}
	return complaints_count(c) == before ? 0 : -1;
}
