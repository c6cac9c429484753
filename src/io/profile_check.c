#include <string.h>

#include "io/profile_grammar.h"

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

/* A key of winding or rail number `index`, or NULL. */
static const struct ini_entry *key_of(const struct profile_reader *r, const char *kind, int index,
                                      const char *key)
{
	return ini_find(r->doc, profile_section(r, kind, index), key);
}

static int section_line(const struct profile_reader *r, const char *kind)
{
	int section = ini_find_section(r->doc, kind, "");

	return section < 0 ? 0 : r->doc->sections[section].line;
}

/* Line and name of a key in a section without a name, for a complaint about it. */
static int key_line(const struct profile_reader *r, const char *kind, const char *key)
{
	const struct ini_entry *e = ini_find(r->doc, ini_find_section(r->doc, kind, ""), key);

	return e ? e->line : section_line(r, kind);
}

static bool has_section(const struct profile_reader *r, const char *kind)
{
	return ini_find_section(r->doc, kind, "") >= 0;
}

/* ---- the instrument as a whole ---- */

static void check_instrument(const struct profile_reader *r)
{
	static const char *const needed[] = {"name", "line_volts"};
	int section = ini_find_section(r->doc, "instrument", "");
	struct profile *p = r->p;

	if (section < 0 && r->doc->section_lost)
		return;
	if (section < 0) {
		complaints_add(
		        r->c, COMPLAINT_WHOLE_FILE, NULL, NULL,
		        "there is no [instrument] section: its name and line_volts are needed");
		return;
	}
	for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
		if (!ini_find(r->doc, section, needed[i]))
			complaints_add(r->c, r->doc->sections[section].line, "instrument",
			               needed[i], "is missing");
	if (!p->line_hz.given && p->line_volts.given)
		p->line_hz.value = p->line_volts.value < 160 ? 60 : 50;
	if (p->n_tubes == 0 && p->n_lamps == 0 && p->n_rails == 0 && !r->doc->section_lost)
		complaints_add(r->c, COMPLAINT_WHOLE_FILE, NULL, NULL,
		               "nothing in it draws power: list the [tubes], or a [rail NAME]");
}

static void check_transformer(const struct profile_reader *r)
{
	const struct profile *p = r->p;
	char watts[32];

	if (p->idle_watts.given && p->idle_amps.given && p->line_volts.given &&
	    p->idle_watts.value > p->idle_amps.value * p->line_volts.value) {
		(void)num_print_unit(watts, sizeof watts, p->idle_amps.value * p->line_volts.value,
		                     UNIT_WATT, 3);
		complaints_add(r->c, key_line(r, "transformer", "idle_watts"), "transformer",
		               "idle_watts",
		               "more than idle_amps can carry: line_volts times idle_amps is %s",
		               watts);
	}
}

static bool winding_used(const struct profile *p, int winding)
{
	for (int i = 0; i < p->n_tubes; i++)
		if (p->tubes[i].winding == winding)
			return true;
	for (int i = 0; i < p->n_lamps; i++)
		if (p->lamps[i].winding == winding)
			return true;
	for (int i = 0; i < p->n_rails; i++)
		if (p->rails[i].source == RAIL_FROM_WINDING && p->rails[i].winding == winding)
			return true;
	return false;
}

static void check_supply(const struct profile_reader *r)
{
	const struct profile *p = r->p;
	int in_string = 0;

	if (p->supply == SUPPLY_TRANSFORMER) {
		/* with the supply written out the string is surplus; without, it was forgotten */
		if (has_section(r, "string") &&
		    !ini_find(r->doc, ini_find_section(r->doc, "instrument", ""), "supply"))
			complaints_add(
			        r->c, section_line(r, "string"), "string", NULL,
			        "belongs to a series-string set: write `supply = series-string` "
			        "into [instrument]");
		return;
	}
	for (int i = 0; i < p->n_tubes; i++)
		if (p->tubes[i].winding < 0)
			in_string++;
	if (in_string == 0)
		complaints_add(r->c, key_line(r, "instrument", "supply"), "instrument", "supply",
		               "series-string, but no tube is in the string (every tube not `on` a "
		               "winding is)");
	if (has_section(r, "transformer") && p->n_windings == 0)
		complaints_add(r->c, section_line(r, "transformer"), "transformer", NULL,
		               "a series-string set without any [winding NAME] has no transformer");
	for (int i = 0; i < p->n_windings; i++)
		if (!winding_used(p, i))
			complaints_add(
			        r->c, p->windings[i].line,
			        r->doc->sections[profile_section(r, "winding", i)].title, NULL,
			        "nothing is on it: in a series-string set say what is (`on %s`, "
			        "`winding = %s`)",
			        p->windings[i].name, p->windings[i].name);
}

/* ---- places ---- */

struct named_place {
	const char *place, *section;
	int line;
};

static void check_places(const struct profile_reader *r)
{
	static const int max = PROFILE_TUBES_MAX + PROFILE_LAMPS_MAX + PROFILE_CAPS_MAX;
	struct named_place all[PROFILE_TUBES_MAX + PROFILE_LAMPS_MAX + PROFILE_CAPS_MAX];
	const struct profile *p = r->p;
	int n = 0;

	for (int i = 0; i < p->n_tubes && n < max; i++)
		all[n++] = (struct named_place){p->tubes[i].place, "tubes", p->tubes[i].line};
	for (int i = 0; i < p->n_lamps && n < max; i++)
		all[n++] = (struct named_place){p->lamps[i].place, "lamps", p->lamps[i].line};
	for (int i = 0; i < p->n_capacitors && n < max; i++)
		all[n++] = (struct named_place){p->capacitors[i].place, "capacitors",
		                                p->capacitors[i].line};
	/* twice within one section has been told already */
	for (int i = 0; i < n; i++)
		for (int k = 0; k < i; k++)
			if (text_same(all[i].place, all[k].place) &&
			    all[i].section != all[k].section)
				complaints_add(r->c, all[i].line, all[i].section, all[i].place,
				               "this place is there already, in [%s] on line %d",
				               all[k].section, all[k].line);
}

/* ---- windings ---- */

static void check_windings(const struct profile_reader *r)
{
	for (int i = 0; i < r->p->n_windings; i++) {
		const struct profile_winding *w = &r->p->windings[i];
		const struct ini_entry *rated = key_of(r, "winding", i, "volts");
		const struct ini_entry *open = key_of(r, "winding", i, "open_volts");
		const char *title = r->doc->sections[profile_section(r, "winding", i)].title;

		if (!rated && !open && !key_of(r, "winding", i, "ohms"))
			complaints_add(r->c, w->line, title, NULL,
			               "needs volts (as rated), open_volts (as measured), or at least "
			               "ohms");
		else if (w->volts.given && w->open_volts.given &&
		         (w->open_volts.value < w->volts.value ||
		          w->open_volts.value > 1.6 * w->volts.value))
			complaints_add(r->c, open->line, title, "open_volts",
			               "a winding with nothing connected gives 1 to 1.6 times its "
			               "rated volts");
	}
}

/* ---- rails ---- */

struct rail_check {
	const struct profile_reader *r;
	const struct profile_rail *rail;
	const char *title;
	int index;
};

/* Complain at a key of the rail, or at its header when the key is not there. */
static void at_key(const struct rail_check *check, const char *key, const char *what)
{
	const struct ini_entry *e = key_of(check->r, "rail", check->index, key);

	complaints_add(check->r->c, e ? e->line : check->rail->line, check->title, key, "%s", what);
}

static bool has(const struct rail_check *check, const char *key)
{
	return key_of(check->r, "rail", check->index, key) != NULL;
}

static const char *value_of(const struct rail_check *check, const char *key)
{
	const struct ini_entry *e = key_of(check->r, "rail", check->index, key);

	return e ? e->value : "";
}

static void check_form(const struct rail_check *check, struct profile_rail *rail)
{
	struct profile_winding *w = rail->source == RAIL_FROM_WINDING && rail->winding >= 0 ?
		&check->r->p->windings[rail->winding] : NULL;

	if (rail->source == RAIL_FROM_WINDING && !w)
		return; /* its winding is not known: told already */
	/* of its ohms alone nobody sees a tap; full-wave says that there is one */
	if (w && !key_of(check->r, "winding", rail->winding, "volts") &&
	    !key_of(check->r, "winding", rail->winding, "open_volts")) {
		if (!has(check, "form")) {
			at_key(check, "form",
			       "is needed where the winding's volts are not told: full-wave (it has a "
			       "centre tap), half-wave or bridge");
			return;
		}
		w->centre_tapped = w->centre_tapped || rail->form == FORM_FULL_WAVE;
	}

	bool tapped = w && w->centre_tapped;
	if (!has(check, "form")) {
		if (tapped)
			rail->form = FORM_FULL_WAVE;
		else if (rail->rectifier == RECTIFIER_TUBE || rail->source == RAIL_FROM_LINE)
			rail->form = FORM_HALF_WAVE;
		else
			at_key(check, "form", "is needed here: half-wave or bridge");
		return;
	}
	if (rail->form == FORM_FULL_WAVE && rail->source == RAIL_FROM_LINE)
		at_key(check, "form", "full-wave needs a centre-tapped winding, not the line: "
		                      "half-wave, bridge or doubler");
	else if (rail->form == FORM_FULL_WAVE && !tapped)
		at_key(check, "form",
		       "full-wave needs a centre-tapped winding (250-0-250); this one is "
		       "not: bridge?");
}

static void check_rectified(const struct rail_check *check, struct profile_rail *rail)
{
	if (has(check, "through"))
		at_key(check, "through",
		       "belongs to a rail fed `from` another; ahead of a reservoir "
		       "stands `surge` or `choke`");
	if (!has(check, "rectifier"))
		at_key(check, "rectifier", "is missing: tube place(s), `silicon` or `selenium 5`");
	check_form(check, rail);
	if (rail->form == FORM_DOUBLER) {
		if (!has(check, "reservoir") ||
		    (rail->reservoir[0].given && !strchr(value_of(check, "reservoir"), ',')))
			at_key(check, "reservoir", "a doubler has two: `150 uF, 150 uF`");
		if (has(check, "choke"))
			at_key(check, "choke",
			       "a doubler has no choke ahead of its reservoirs; put it "
			       "into a rail `from` this one");
	}
	if (rail->regulator == REGULATOR_GAS)
		at_key(check, "regulator",
		       "a gas regulator needs a resistor ahead of it: give it a rail "
		       "`from` this one, `through` the resistor");
}

static void check_derived(const struct rail_check *check, const struct profile_rail *rail)
{
	static const char *const foreign[] = {"rectifier", "form", "surge"};

	for (size_t i = 0; i < sizeof foreign / sizeof foreign[0]; i++)
		if (has(check, foreign[i]))
			at_key(check, foreign[i],
			       "belongs to a rail with `winding`, not to one `from` "
			       "another rail");
	if (has(check, "choke"))
		at_key(check, "choke",
		       "of a rail `from` another is written `through = 8 H 350 ohm`");
	/* a regulator that was not understood may be a pass tube that needs none */
	if (!has(check, "through") &&
	    (!has(check, "regulator") ||
	     (rail->regulator == REGULATOR_GAS && rail->n_regulator_by == 1)))
		at_key(check, "through",
		       "is missing: the resistor (2k2) or choke (8 H 350 ohm) it is fed "
		       "through");
	if (rail->regulator == REGULATOR_GAS && rail->choke_henry.given)
		at_key(check, "regulator",
		       "a gas regulator needs a resistor ahead of it, not a choke");
}

/* Follow the parents; more steps than rails, or back at the start: a circle. */
static bool in_circle(const struct profile *p, int start)
{
	int at = start;

	for (int steps = 0; steps <= p->n_rails; steps++) {
		if (p->rails[at].source != RAIL_FROM_RAIL || p->rails[at].parent < 0)
			return false;
		at = p->rails[at].parent;
		if (at == start)
			return true;
	}
	return false;
}

static void check_rails(const struct profile_reader *r)
{
	struct profile *p = r->p;

	for (int i = 0; i < p->n_rails; i++) {
		struct profile_rail *rail = &p->rails[i];
		struct rail_check check = {
			.r = r, .rail = rail, .index = i,
			.title = r->doc->sections[profile_section(r, "rail", i)].title};
		bool winding = has(&check, "winding"), from = has(&check, "from");

		if (winding && from) {
			at_key(&check, "from",
			       "and `winding` in one rail: it is fed by a rectifier or "
			       "from another rail, not both");
			continue;
		}
		if (!winding && !from) {
			complaints_add(
			        r->c, rail->line, check.title, NULL,
			        "where is it fed from? `winding = NAME`, `winding = line` or "
			        "`from = RAIL`");
			continue;
		}
		if (winding)
			check_rectified(&check, rail);
		else
			check_derived(&check, rail);
		if (from && in_circle(p, i))
			at_key(&check, "from", "the rail feeds itself in a circle");
		if (rail->reservoir[1].given && rail->form != FORM_DOUBLER)
			at_key(&check, "reservoir",
			       "two values are only for form = doubler (a decimal "
			       "comma? write 2.5)");
	}
}

/* ---- stages ---- */

static void check_stages(const struct profile_reader *r)
{
	const struct profile *p = r->p;
	char most[32];

	if (p->n_stages == 0 || !p->line_volts.given)
		return;
	if (p->stage_volts[p->n_stages - 1] > 1.1 * p->line_volts.value) {
		(void)num_print_unit(most, sizeof most, 1.1 * p->line_volts.value, UNIT_VOLT, 4);
		complaints_add(r->c, key_line(r, "stages", "volts"), "stages", "volts",
		               "%.4g V is more than a tenth above line_volts: %s at most",
		               p->stage_volts[p->n_stages - 1], most);
	}
}

void profile_check(const struct profile_reader *r)
{
	check_instrument(r);
	check_supply(r);
	check_transformer(r);
	check_places(r);
	check_windings(r);
	check_rails(r);
	check_stages(r);
}
