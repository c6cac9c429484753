/* core/unit/network_unused.c - what a profile says and the load model has no use for */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "network_build.h"

struct list {
	char (*text)[NET_UNUSED_TEXT_MAX];
	int n, max;
};

static void add(struct list *l, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void add(struct list *l, const char *format, ...)
{
	va_list ap;

	if (l->n >= l->max)
		return;
	va_start(ap, format);
	(void)vsnprintf(l->text[l->n++], sizeof l->text[0], format, ap);
	va_end(ap);
}

static bool among(int wanted, const int *by, int n)
{
	for (int i = 0; i < n; i++)
		if (by[i] == wanted)
			return true;
	return false;
}

/* Some rail has the tube as its rectifier or its regulator. */
static bool in_a_rail(const struct profile *p, int tube)
{
	for (int r = 0; r < p->n_rails; r++)
		if (among(tube, p->rails[r].rectifier_by, p->rails[r].n_rectifier_by) ||
		    among(tube, p->rails[r].regulator_by, p->rails[r].n_regulator_by))
			return true;
	return false;
}

static void add_tubes(struct list *l, const struct network *net, const struct profile *p,
                      const struct tables *tables)
{
	/* an assumed rail has taken the first rectifier that is listed */
	bool assumed = p->n_rails == 0 && net->n_rails > 0;

	for (int i = 0; i < p->n_tubes; i++) {
		const struct profile_place *tube = &p->tubes[i];
		const struct tube_type *type = tube->type[0] ?
			tables_tube(tables, tube->type) : NULL;

		if (!type || in_a_rail(p, i))
			continue;
		if (type->kind == TUBE_GAS_REGULATOR)
			add(l, "%s (%s): what it takes; name it in its rail: `regulator = %s`",
			    tube->place, type->name, tube->place);
		else if (type->kind == TUBE_DIODE_RECTIFIER && !assumed)
			add(l, "%s (%s): but for its heater; name it in its rail: `rectifier = %s`",
			    tube->place, type->name, tube->place);
		if (type->kind == TUBE_DIODE_RECTIFIER)
			assumed = false;
	}
}

/* A transformer of its own in a series-string set is none to the load model. */
static void add_side_transformer(struct list *l, const struct profile *p)
{
	for (int w = 0; w < p->n_windings; w++)
		add(l, "[winding %s] and all that is on it: a series-string set's own transformer is "
		    "not worked out; its watts come on top of the band", p->windings[w].name);
	if (p->primary_ohms.given || p->idle_watts.given || p->idle_amps.given)
		add(l, "[transformer]: likewise");
}

static void add_windings(struct list *l, const struct network *net, const struct profile *p)
{
	for (int w = 0; w < p->n_windings; w++) {
		const struct profile_winding *given = &p->windings[w];

		if (winding_is_idle(net, w))
			add(l, "[winding %s]: nothing is on it; say what is: `V1 = TYPE on %s`, or "
			    "`winding = %s` in a [rail NAME]", given->name, given->name, given->name);
		else if (given->volts.given && given->open_volts.given)
			add(l, "[winding %s] volts, but to see which heaters fit it: open_volts, which "
			    "are measured, stand above them", given->name);
	}
}

static void add_rails(struct list *l, const struct profile *p)
{
	for (int r = 0; r < p->n_rails; r++)
		if (p->rails[r].source == RAIL_FROM_RAIL &&
		    p->rails[r].regulator == REGULATOR_SERIES_PASS &&
		    (p->rails[r].through_ohms.given || p->rails[r].choke_henry.given))
			add(l, "[rail %s] through: a series pass regulator stands right on the rail that "
			    "feeds it; give the resistor a rail of its own ahead of it",
			    p->rails[r].name);
}

/* How well own ratings are known is one figure for all lamps. */
static void add_lamps(struct list *l, const struct profile *p)
{
	for (int i = 0; i < p->n_lamps; i++)
		if (p->lamps[i].volts.tol >= 0.0 || p->lamps[i].amps.tol >= 0.0)
			add(l, "[lamps] %s: its tolerance; all lamps have that of the table",
			    p->lamps[i].place);
}

int network_unused(const struct network *net, const struct profile *p, const struct tables *tables,
                   char ret[][NET_UNUSED_TEXT_MAX], int max)
{
	struct list l = { .text = ret, .max = max };

	if (net->transformer) {
		add_windings(&l, net, p);
		if (p->dropper_ohms.given)
			add(&l, "[string] dropper: this set has a transformer; if it has none, write "
			    "`supply = series-string`");
	} else {
		add_side_transformer(&l, p);
	}
	add_rails(&l, p);
	add_tubes(&l, net, p, tables);
	add_lamps(&l, p);
	return l.n;
}
