#include "io/profile_grammar.h"

#include <stdio.h>
#include <string.h>

#include "io/profile_ini.h"
#include "io/profile_values.h"

#include "mainstair/base/text.h"

enum { KEYS_MAX = 16 };

/* Reads one entry into target.  -1 with err: one complaint at the entry. */
typedef int read_fn(struct profile_reader *r, const struct ini_entry *e, void *target,
                    struct err *err);

/* A key of a section: with `read` NULL a quantity of `range` at `offset` of the target. */
struct key {
	const char *key;
	read_fn *read;
	size_t offset;
	struct range range;
};

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static const char *title_of(const struct profile_reader *r, const struct ini_entry *e)
{
	return r->doc->sections[e->section].title;
}

static void complain(struct profile_reader *r, const struct ini_entry *e, const struct err *err)
{
	complaints_add(r->c, e->line, title_of(r, e), e->key, "%s", err->text);
}

/* ---- looking names up ---- */

/* Complain that `word` names nothing, with the nearest of what there is. */
static void no_such(struct profile_reader *r, const struct ini_entry *e, const char *what,
                    const char *word, const char *const *known, size_t n)
{
	const char *near = text_nearest(word, known, n);

	if (near)
		complaints_add(r->c, e->line, title_of(r, e), e->key,
		               "there is no %s `%.40s`; did you mean `%s`?", what, word, near);
	else
		complaints_add(r->c, e->line, title_of(r, e), e->key, "there is no %s `%.40s`",
		               what, word);
}

/* Index of a winding, rail or tube by name; -1 after a complaint. */
static int find_winding(struct profile_reader *r, const struct ini_entry *e, const char *name)
{
	const char *known[PROFILE_WINDINGS_MAX];

	for (int i = 0; i < r->p->n_windings; i++) {
		known[i] = r->p->windings[i].name;
		if (text_same(known[i], name))
			return i;
	}
	no_such(r, e, "section [winding NAME] for", name, known, (size_t)r->p->n_windings);
	return -1;
}

static int find_rail(struct profile_reader *r, const struct ini_entry *e, const char *name)
{
	const char *known[PROFILE_RAILS_MAX];

	for (int i = 0; i < r->p->n_rails; i++) {
		known[i] = r->p->rails[i].name;
		if (text_same(known[i], name))
			return i;
	}
	no_such(r, e, "section [rail NAME] for", name, known, (size_t)r->p->n_rails);
	return -1;
}

static int find_tube(struct profile_reader *r, const struct ini_entry *e, const char *place)
{
	for (int i = 0; i < r->p->n_tubes; i++)
		if (text_same(r->p->tubes[i].place, place))
			return i;
	/* all places look alike: no guess */
	no_such(r, e, "place in [tubes] called", place, NULL, 0);
	return -1;
}

/* Words first..last-1 as tube places into by[].  Unknown ones are complained of and left out. */
static int find_tubes(struct profile_reader *r, const struct ini_entry *e, const struct words *w,
                      int first, int last, int by[PROFILE_BY_MAX], int *n_by, struct err *err)
{
	*n_by = 0;
	if (last - first > PROFILE_BY_MAX)
		return err_set(err, ERR_RANGE, "more than %d tubes", PROFILE_BY_MAX);
	for (int i = first; i < last; i++) {
		int tube = find_tube(r, e, w->word[i]);

		for (int k = 0; k < *n_by; k++)
			if (tube >= 0 && by[k] == tube)
				return err_set(err, ERR_INPUT, "names %s twice", w->word[i]);
		if (tube >= 0)
			by[(*n_by)++] = tube;
	}
	return 0;
}

/* One of n words into its index, letter case ignored. */
static int find_word(const char *text, const char *const *known, size_t n, int *ret,
                     struct err *err)
{
	char list[160] = "";
	size_t at = 0;

	for (size_t i = 0; i < n; i++) {
		if (text_same(known[i], text)) {
			*ret = (int)i;
			return 0;
		}
		at += (size_t)snprintf(list + at, sizeof list - at, "%s%s", i > 0 ? ", " : "",
		                       known[i]);
	}
	return err_set(err, ERR_INPUT, "`%.40s` is none of: %s", text, list);
}

/* ---- [instrument] ---- */

static int read_name(struct profile_reader *r, const struct ini_entry *e, void *target,
                     struct err *err)
{
	(void)target;
	if (strlen(e->value) >= sizeof r->p->name)
		return err_set(err, ERR_RANGE, "longer than %zu bytes", sizeof r->p->name - 1);
	strcpy(r->p->name, e->value);
	return 0;
}

static int read_supply(struct profile_reader *r, const struct ini_entry *e, void *target,
                       struct err *err)
{
	static const char *const known[] = {[SUPPLY_TRANSFORMER] = "transformer",
	                                    [SUPPLY_SERIES_STRING] = "series-string"};
	int found;

	(void)target;
	if (find_word(e->value, known, COUNT(known), &found, err) < 0)
		return -1;
	r->p->supply = (enum supply)found;
	return 0;
}

static int read_chassis(struct profile_reader *r, const struct ini_entry *e, void *target,
                        struct err *err)
{
	static const char *const known[] = {"earthed", "two-wire", "live"};
	static const enum chassis meaning[] = {CHASSIS_EARTHED, CHASSIS_TWO_WIRE, CHASSIS_LIVE};
	int found;

	(void)target;
	if (find_word(e->value, known, COUNT(known), &found, err) < 0)
		return -1;
	r->p->chassis = meaning[found];
	return 0;
}

/* "0.5 A slow" */
static int read_fuse(struct profile_reader *r, const struct ini_entry *e, void *target,
                     struct err *err)
{
	static const struct range amps = {UNIT_AMPERE, 0.01, 30, true};
	char rest[VALUE_MAX];
	struct words w;
	int last;

	(void)target;
	if (words_of(e->value, &w, err) < 0)
		return -1;
	last = w.n;
	if (text_same(w.word[last - 1], "slow"))
		r->p->fuse_speed = FUSE_SLOW;
	else if (text_same(w.word[last - 1], "fast"))
		r->p->fuse_speed = FUSE_FAST;
	if (r->p->fuse_speed != FUSE_UNSPECIFIED)
		last--;
	return value_quantity(words_join(&w, 0, last, rest, sizeof rest), &amps, &r->p->fuse_amps,
	                      err);
}

#define IN_PROFILE(field) offsetof(struct profile, field)

static const struct key instrument_keys[] = {
	{.key = "name", .read = read_name},
	{"line_volts", NULL, IN_PROFILE(line_volts), {UNIT_VOLT, 20, 500, true}},
	{"line_hz", NULL, IN_PROFILE(line_hz), {UNIT_HERTZ, 15, 1000, true}},
	{.key = "supply", .read = read_supply},
	{.key = "chassis", .read = read_chassis},
	{"nameplate_watts", NULL, IN_PROFILE(nameplate_watts), {UNIT_WATT, 0.1, 10e3, true}},
	{.key = "fuse", .read = read_fuse},
};

static const struct key transformer_keys[] = {
	{"primary", NULL, IN_PROFILE(primary_ohms), {UNIT_OHM, 0.01, 20e3, false}},
	{"idle_watts", NULL, IN_PROFILE(idle_watts), {UNIT_WATT, 0.01, 1000, false}},
	{"idle_amps", NULL, IN_PROFILE(idle_amps), {UNIT_AMPERE, 1e-4, 20, false}},
};

static const struct key string_keys[] = {
	{"dropper", NULL, IN_PROFILE(dropper_ohms), {UNIT_OHM, 0.1, 50e3, false}},
};

/* ---- [stages], [limits] ---- */

static int read_stage_volts(struct profile_reader *r, const struct ini_entry *e, void *target,
                            struct err *err)
{
	static const struct range volts = {UNIT_VOLT, 1, 600, true};
	char text[VALUE_MAX], *items[PROFILE_STAGES_MAX];
	int n;

	(void)target;
	(void)snprintf(text, sizeof text, "%s", e->value);
	n = value_list(text, true, items, PROFILE_STAGES_MAX, err);
	if (n < 0)
		return -1;
	for (int i = 0; i < n; i++) {
		struct given volt;

		if (value_quantity(items[i], &volts, &volt, err) < 0)
			return -1;
		if (i > 0 && volt.value <= r->p->stage_volts[i - 1])
			return err_set(err, ERR_INPUT,
			               "stages must rise: %.20s does not lie above %.20s%s",
			               items[i], items[i - 1],
			               strchr(e->value, '.') || strstr(e->value, ", ") ? "" :
			               " (a decimal comma? write 2.5)");
		r->p->stage_volts[i] = volt.value;
		r->p->n_stages = i + 1;
	}
	return 0;
}

static int read_abort_excess(struct profile_reader *r, const struct ini_entry *e, void *target,
                             struct err *err)
{
	static const struct range share = {UNIT_PERCENT, 0.01, 2, true};
	static const struct range watts = {UNIT_WATT, 0.1, 1000, true};
	struct quantity q;
	struct err other;

	(void)target;
	if (num_parse(e->value, UNIT_ANY, &q, &other) == 0 && q.unit != UNIT_PERCENT) {
		if (q.unit != UNIT_WATT)
			return err_set(err, ERR_INPUT,
			               "is written in per cent of the rated current "
			               "(12 %%) or in watts at full line (5 W)");
		return value_quantity(e->value, &watts, &r->p->abort_excess_watts, err);
	}
	return value_quantity(e->value, &share, &r->p->abort_excess_share, err);
}

static const struct key stages_keys[] = {
	{.key = "volts", .read = read_stage_volts},
	{"hold", NULL, IN_PROFILE(hold_s), {UNIT_SECOND, 1, 86400, true}},
};

static const struct key limits_keys[] = {
	{.key = "abort_excess", .read = read_abort_excess},
};

/* ---- [winding NAME] ---- */

static int read_winding_volts(struct profile_reader *r, const struct ini_entry *e, void *target,
                              struct err *err)
{
	struct profile_winding *winding = target;

	(void)r;
	return value_winding(e->value, &winding->volts, &winding->centre_tapped, err);
}

static int read_open_volts(struct profile_reader *r, const struct ini_entry *e, void *target,
                           struct err *err)
{
	struct profile_winding *winding = target;
	const struct ini_entry *rated = ini_find(r->doc, e->section, "volts");
	bool tapped;

	if (value_winding(e->value, &winding->open_volts, &tapped, err) < 0)
		return -1;
	if (rated && !rated->refused && tapped != (strstr(rated->value, "-0-") != NULL))
		return err_set(err, ERR_INPUT, "volts and open_volts must both be centre-tapped "
		               "(250-0-250) or both not");
	winding->centre_tapped = tapped;
	return 0;
}

static const struct key winding_keys[] = {
	{.key = "volts", .read = read_winding_volts},
	{.key = "open_volts", .read = read_open_volts},
	{"ohms", NULL, offsetof(struct profile_winding, ohms), {UNIT_OHM, 5e-4, 100e3, false}},
};

/* ---- [rail NAME] ---- */

static int read_rail_winding(struct profile_reader *r, const struct ini_entry *e, void *target,
                             struct err *err)
{
	struct profile_rail *rail = target;

	(void)err;
	if (text_same(e->value, "line")) {
		rail->source = RAIL_FROM_LINE;
		return 0;
	}
	rail->source = RAIL_FROM_WINDING;
	rail->winding = find_winding(r, e, e->value);
	return 0;
}

static int read_rail_from(struct profile_reader *r, const struct ini_entry *e, void *target,
                          struct err *err)
{
	struct profile_rail *rail = target;

	(void)err;
	rail->source = RAIL_FROM_RAIL;
	rail->parent = find_rail(r, e, e->value);
	return 0;
}

static int read_rectifier(struct profile_reader *r, const struct ini_entry *e, void *target,
                          struct err *err)
{
	static const struct range plates = {UNIT_NONE, 1, 60, true};
	struct profile_rail *rail = target;
	struct given given;
	struct words w;

	if (words_of(e->value, &w, err) < 0)
		return -1;
	if (text_same(w.word[0], "silicon")) {
		rail->rectifier = RECTIFIER_SILICON;
		if (w.n > 1)
			return err_set(err, ERR_INPUT, "nothing goes behind `silicon`");
		return 0;
	}
	if (text_same(w.word[0], "selenium")) {
		rail->rectifier = RECTIFIER_SELENIUM;
		if (w.n != 2)
			return err_set(err, ERR_INPUT, "selenium needs its plates in series a leg: "
			               "`selenium 5`");
		if (value_quantity(w.word[1], &plates, &given, err) < 0)
			return -1;
		rail->selenium_plates = (int)given.value;
		if (rail->selenium_plates < given.value)
			return err_set(err, ERR_INPUT, "`%.20s` is no whole number of plates",
			               w.word[1]);
		return 0;
	}
	rail->rectifier = RECTIFIER_TUBE;
	return find_tubes(r, e, &w, 0, w.n, rail->rectifier_by, &rail->n_rectifier_by, err);
}

static int read_form(struct profile_reader *r, const struct ini_entry *e, void *target,
                     struct err *err)
{
	static const char *const known[] = {
		[FORM_HALF_WAVE] = "half-wave", [FORM_FULL_WAVE] = "full-wave",
		[FORM_BRIDGE] = "bridge", [FORM_DOUBLER] = "doubler"};
	struct profile_rail *rail = target;
	int found;

	(void)r;
	if (find_word(e->value, known, COUNT(known), &found, err) < 0)
		return -1;
	rail->form = (enum rectifier_form)found;
	return 0;
}

static int read_choke(struct profile_reader *r, const struct ini_entry *e, void *target,
                      struct err *err)
{
	struct profile_rail *rail = target;
	struct given resistor = {.tol = -1};

	(void)r;
	if (value_through(e->value, &resistor, &rail->choke_henry, &rail->choke_ohms, err) < 0)
		return -1;
	if (!rail->choke_henry.given)
		return err_set(err, ERR_INPUT, "a choke is written `8 H 350 ohm`");
	return 0;
}

static int read_through(struct profile_reader *r, const struct ini_entry *e, void *target,
                        struct err *err)
{
	struct profile_rail *rail = target;

	(void)r;
	return value_through(e->value, &rail->through_ohms, &rail->choke_henry, &rail->choke_ohms,
	                     err);
}

static int read_reservoir(struct profile_reader *r, const struct ini_entry *e, void *target,
                          struct err *err)
{
	static const struct range farad = {UNIT_FARAD, 1e-9, 1, false};
	struct profile_rail *rail = target;
	char text[VALUE_MAX], *items[2];
	int n;

	(void)r;
	(void)snprintf(text, sizeof text, "%s", e->value);
	n = value_list(text, false, items, 2, err);
	for (int i = 0; i < n; i++) {
		if (value_quantity(items[i], &farad, &rail->reservoir[i], err) < 0)
			return -1;
	}
	return n < 0 ? -1 : 0;
}

static bool is_volts(const char *word)
{
	struct quantity q;
	struct err err;

	return num_parse(word, UNIT_VOLT, &q, &err) == 0;
}

/* "V4" or "300 V by V6 V7" */
static int read_regulator(struct profile_reader *r, const struct ini_entry *e, void *target,
                          struct err *err)
{
	static const struct range volts = {UNIT_VOLT, 1, 20e3, false};
	struct profile_rail *rail = target;
	char text[VALUE_MAX];
	struct words w;
	int by = 0;

	if (words_of(e->value, &w, err) < 0)
		return -1;
	while (by < w.n && !text_same(w.word[by], "by"))
		by++;
	if (by == w.n) {
		rail->regulator = REGULATOR_GAS;
		if (w.n > 1 && is_volts(w.word[0]))
			return err_set(err, ERR_INPUT,
			               "say which tubes pass the current: `300 V by "
			               "V6 V7`");
		if (w.n > 1)
			return err_set(err, ERR_INPUT,
			               "is one gas regulator tube (`V4`), or a series "
			               "pass regulator (`300 V by V6 V7`)");
		return find_tubes(r, e, &w, 0, 1, rail->regulator_by, &rail->n_regulator_by, err);
	}
	rail->regulator = REGULATOR_SERIES_PASS;
	if (by + 1 == w.n)
		return err_set(err, ERR_INPUT, "no tube behind `by`: `300 V by V6 V7`");
	if (value_quantity(words_join(&w, 0, by, text, sizeof text), &volts,
	                   &rail->regulator_volts, err) < 0)
		return -1;
	return find_tubes(r, e, &w, by + 1, w.n, rail->regulator_by, &rail->n_regulator_by, err);
}

/* "13 mA at 210 V by V1 V2" */
static int read_one_draw(struct profile_reader *r, const struct ini_entry *e, const char *text,
                         struct profile_draw *draw, struct err *err)
{
	static const struct range amps = {UNIT_AMPERE, 1e-7, 50, false};
	static const struct range volts = {UNIT_VOLT, 0.5, 20e3, false};
	char part[VALUE_MAX];
	struct words w;
	struct quantity q;
	int at = 0, kind;

	if (words_of(text, &w, err) < 0)
		return -1;
	while (at < w.n && !text_same(w.word[at], "at"))
		at++;
	for (kind = at; kind < w.n; kind++)
		if (text_same(w.word[kind], "by") || text_same(w.word[kind], "resistive") ||
		    text_same(w.word[kind], "constant"))
			break;
	if (kind == w.n || (!text_same(w.word[kind], "by") && kind + 1 != w.n))
		return err_set(err, ERR_INPUT,
		               "`%.60s`: a draw is written `13 mA at 210 V by V1 V2`, "
		               "`5 mA at 210 V resistive` or `200 mA at 24 V constant`",
		               text);
	/* a bare 13 would be 13 A: say the unit */
	words_join(&w, 0, at, part, sizeof part);
	if (num_parse(part, UNIT_ANY, &q, err) < 0 ||
	    value_quantity(part, &amps, &draw->amps, err) < 0 ||
	    value_quantity(words_join(&w, at + 1, kind, part, sizeof part), &volts, &draw->volts,
	                   err) < 0)
		return -1;
	if (text_same(w.word[kind], "by")) {
		draw->kind = DRAW_SPACE_CHARGE;
		if (kind + 1 == w.n)
			return err_set(err, ERR_INPUT, "no tube behind `by`");
		return find_tubes(r, e, &w, kind + 1, w.n, draw->by, &draw->n_by, err);
	}
	draw->kind = text_same(w.word[kind], "constant") ? DRAW_CONSTANT : DRAW_RESISTIVE;
	return 0;
}

static int read_draw(struct profile_reader *r, const struct ini_entry *e, void *target,
                     struct err *err)
{
	struct profile_rail *rail = target;
	char text[VALUE_MAX], *items[PROFILE_DRAWS_MAX];
	int n;

	(void)snprintf(text, sizeof text, "%s", e->value);
	n = value_list(text, false, items, PROFILE_DRAWS_MAX, err);
	for (int i = 0; i < n; i++)
		if (read_one_draw(r, e, items[i], &rail->draws[rail->n_draws++], err) < 0)
			complain(r, e, err);
	return n < 0 ? -1 : 0;
}

#define IN_RAIL(field) offsetof(struct profile_rail, field)

static const struct key rail_keys[] = {
	{.key = "winding", .read = read_rail_winding},
	{.key = "from", .read = read_rail_from},
	{.key = "rectifier", .read = read_rectifier},
	{.key = "form", .read = read_form},
	{"surge", NULL, IN_RAIL(surge_ohms), {UNIT_OHM, 0.01, 1e6, false}},
	{.key = "choke", .read = read_choke},
	{.key = "through", .read = read_through},
	{.key = "reservoir", .read = read_reservoir},
	{"bleeder", NULL, IN_RAIL(bleeder_ohms), {UNIT_OHM, 1, 100e6, false}},
	{.key = "regulator", .read = read_regulator},
	{.key = "draw", .read = read_draw},
};

/* ---- [tubes], [lamps], [capacitors]: the keys are places ---- */

static bool is_type(const char *s, bool blanks)
{
	for (; *s; s++) {
		bool letter = (*s >= 'a' && *s <= 'z') || (*s >= 'A' && *s <= 'Z');
		bool digit = *s >= '0' && *s <= '9';

		if (!letter && !digit && *s != '-' && *s != '/' &&
		    !(blanks && (*s == ' ' || *s == '.')))
			return false;
	}
	return true;
}

static int read_own_ratings(const char *text, struct profile_place *place, struct err *err)
{
	static const struct range volts = {UNIT_VOLT, 0.3, 300, false};
	static const struct range amps = {UNIT_AMPERE, 1e-3, 100, false};

	return value_pair(text, &volts, &amps, true, &place->volts, &place->amps, err);
}

/* "47 on heater", "12AX7", "6.3 V 0.45 A on heater", "6Z9X 6.3 V 0.45 A".  Lamp types may hold
 * blanks ("MES 6.3V .3A"); tube types may not. */
static int read_place(struct profile_reader *r, const struct ini_entry *e,
                      struct profile_place *place, bool lamp, struct err *err)
{
	char type[VALUE_MAX], rest[VALUE_MAX];
	struct profile_place own = *place;
	struct err other;
	struct words w;
	int last;

	if (words_of(e->value, &w, err) < 0)
		return -1;
	last = w.n;
	if (text_same(w.word[w.n - 1], "on"))
		return err_set(err, ERR_INPUT, "no winding behind `on`: `47 on heater`");
	if (w.n >= 3 && text_same(w.word[w.n - 2], "on")) {
		place->winding = find_winding(r, e, w.word[w.n - 1]);
		last -= 2;
		own.winding = place->winding;
	}
	words_join(&w, 0, last, type, sizeof type);
	if (read_own_ratings(type, &own, &other) == 0) {
		*place = own;
		return 0;
	}
	if (text_same(w.word[0], "on") && w.n > 1)
		return err_set(err, ERR_INPUT, "no type before `on`");
	if (!lamp && last > 1) {
		/* ratings that were not understood, or a type with ratings behind it */
		if (strpbrk(w.word[0], ".,") ||
		    w.word[0][strspn(w.word[0], "+-0123456789")] == '\0')
			return read_own_ratings(type, place, err);
		if (read_own_ratings(words_join(&w, 1, last, rest, sizeof rest), place, &other) < 0)
			return err_set(err, ERR_INPUT,
			               "expected `TYPE`, `TYPE on WINDING` or own "
			               "ratings such as `6.3 V 0.45 A on heater`: %.200s",
			               other.text);
		(void)snprintf(type, sizeof type, "%s", w.word[0]);
	}
	if (type[0] == '#' && lamp)
		memmove(type, type + 1, strlen(type));
	else if (type[0] == '#')
		return err_set(err, ERR_INPUT, "write the type without #");
	if (!is_type(type, lamp))
		return err_set(err, ERR_INPUT, "`%.40s` is no type: letters, digits, - and /",
		               type);
	if (strlen(type) >= sizeof place->type)
		return err_set(err, ERR_RANGE, "a type of more than %zu letters",
		               sizeof place->type - 1);
	strcpy(place->type, type);
	return 0;
}

/* "20 uF 450 V on main", of an entry or of a section of it */
static int read_capacitor(struct profile_reader *r, const struct ini_entry *e, const char *value,
                          struct profile_capacitor *cap, struct err *err)
{
	static const struct range farad = {UNIT_FARAD, 1e-12, 1, false};
	static const struct range volts = {UNIT_VOLT, 1, 20e3, true};
	char text[VALUE_MAX];
	struct words w;
	int last;

	if (words_of(value, &w, err) < 0)
		return -1;
	last = w.n;
	if (text_same(w.word[w.n - 1], "on"))
		return err_set(err, ERR_INPUT, "no rail behind `on`: `20 uF 450 V on main`");
	if (w.n >= 3 && text_same(w.word[w.n - 2], "on")) {
		cap->rail = find_rail(r, e, w.word[w.n - 1]);
		last -= 2;
	}
	return value_pair(words_join(&w, 0, last, text, sizeof text), &farad, &volts, true,
	                  &cap->farad, &cap->volts, err);
}

/* A can of several sections is as many capacitors: C1A, C1B.  Of a refused value the place is
 * kept. */
static int read_can(struct profile_reader *r, const struct ini_entry *e, struct err *err)
{
	char text[CAN_SECTIONS_MAX][VALUE_MAX];
	struct profile *p = r->p;
	const int n = e->refused ? 1 : value_can(e->value, text, err);
	int result = n < 0 ? -1 : 0;

	if (n > 1 && (strlen(e->key) + 2 > PROFILE_NAME_MAX || p->n_capacitors + n > PROFILE_CAPS_MAX))
		return err_set(err, ERR_RANGE, "no room for its %d sections", n);
	for (int i = 0; i < (n > 1 ? n : 1); i++) {
		struct profile_capacitor *place = &p->capacitors[p->n_capacitors++];

		*place = (struct profile_capacitor){.rail = -1, .line = e->line};
		(void)snprintf(place->place, sizeof place->place, n > 1 ? "%s%c" : "%s", e->key,
		               'A' + i);
		if (n > 1 && ini_find(r->doc, e->section, place->place))
			return err_set(err, ERR_INPUT, "its sections are called %sA, %sB, and %s is there "
			               "already", e->key, e->key, place->place);
		if (result == 0 && !e->refused)
			result = read_capacitor(r, e, n > 1 ? text[i] : e->value, place, err);
	}
	return result;
}

/* All places of one section.  A place whose value is wrong is kept, so that what refers to it is
 * not complained of as well. */
static void read_places(struct profile_reader *r, const char *kind)
{
	bool lamp = strcmp(kind, "lamps") == 0, cap = strcmp(kind, "capacitors") == 0;
	int section = ini_find_section(r->doc, kind, "");
	struct profile *p = r->p;
	int *n = lamp ? &p->n_lamps : cap ? &p->n_capacitors : &p->n_tubes;
	int max = lamp ? PROFILE_LAMPS_MAX : cap ? PROFILE_CAPS_MAX : PROFILE_TUBES_MAX;

	for (int i = 0; section >= 0 && i < r->doc->n_entries; i++) {
		const struct ini_entry *e = &r->doc->entries[i];
		struct err err;
		int result;

		if (e->section != section)
			continue;
		/* of a refused value the place is kept all the same */
		if (*n == max) {
			complaints_add(r->c, e->line, title_of(r, e), e->key,
			               "more than %d %s in one profile", max, kind);
			break;
		}
		if (cap) {
			result = read_can(r, e, &err);
		} else {
			struct profile_place *place = lamp ? &p->lamps[(*n)++] : &p->tubes[(*n)++];

			*place = (struct profile_place){.winding = -1, .line = e->line,
			                                .volts.tol = -1, .amps.tol = -1};
			strcpy(place->place, e->key);
			result = !e->refused ? read_place(r, e, place, lamp, &err) : 0;
		}
		if (result < 0)
			complain(r, e, &err);
	}
}

/* ---- sections ---- */

/* Read the entries of one section by its table of keys. */
static void read_section(struct profile_reader *r, int section, const struct key *keys, size_t n,
                         void *target)
{
	const char *known[KEYS_MAX];

	for (size_t k = 0; k < n; k++)
		known[k] = keys[k].key;
	for (int i = 0; i < r->doc->n_entries; i++) {
		const struct ini_entry *e = &r->doc->entries[i];
		const struct key *key = NULL;
		struct err err;
		int result;

		if (e->section != section)
			continue;
		for (size_t k = 0; k < n; k++)
			if (text_same(e->key, keys[k].key))
				key = &keys[k];
		if (!key) {
			ini_unknown_key(r->doc, e, known, n, r->c);
			continue;
		}
		if (e->refused)
			continue;
		if (key->read)
			result = key->read(r, e, target, &err);
		else
			result = value_quantity(
			        e->value, &key->range,
			        (struct given *)(void *)((char *)target + key->offset), &err);
		if (result < 0)
			complain(r, e, &err);
	}
}

static void read_single(struct profile_reader *r, const char *kind, const struct key *keys,
                        size_t n)
{
	int section = ini_find_section(r->doc, kind, "");

	if (section >= 0)
		read_section(r, section, keys, n, r->p);
}

static const struct given absent = {.tol = -1};

/* Make a winding or a rail for a section, so that any line may refer to it. */
static void make_named(struct profile_reader *r, int section)
{
	const struct ini_section *s = &r->doc->sections[section];
	bool winding = text_same(s->kind, "winding");
	int *n = winding ? &r->p->n_windings : &r->p->n_rails;
	int max = winding ? PROFILE_WINDINGS_MAX : PROFILE_RAILS_MAX;

	if (!s->name[0]) {
		complaints_add(r->c, s->line, s->title, NULL, "needs a name: [%s main]", s->kind);
		return;
	}
	if (winding && text_same(s->name, "line")) {
		complaints_add(r->c, s->line, s->title, NULL,
		               "`line` means the mains: give the winding another name");
		return;
	}
	if (*n == max) {
		complaints_add(r->c, s->line, s->title, NULL, "more than %d %ss in one profile",
		               max, winding ? "winding" : "rail");
		return;
	}
	if (winding) {
		struct profile_winding *w = &r->p->windings[*n];

		*w = (struct profile_winding){.volts = absent, .open_volts = absent,
		                              .ohms = absent, .line = s->line};
		strcpy(w->name, s->name);
	} else {
		struct profile_rail *rail = &r->p->rails[*n];

		*rail = (struct profile_rail){
			.winding = -1, .parent = -1, .surge_ohms = absent, .through_ohms = absent,
			.choke_henry = absent, .choke_ohms = absent, .reservoir = {absent, absent},
			.bleeder_ohms = absent, .regulator_volts = absent, .line = s->line};
		strcpy(rail->name, s->name);
	}
	r->index_of[section] = (*n)++;
}

static void check_section(struct profile_reader *r, int section)
{
	static const char *const known[] = {"instrument", "tubes", "lamps",  "transformer",
	                                    "winding",    "rail",  "string", "capacitors",
	                                    "stages",     "limits", "calibration", "nulls"};
	const struct ini_section *s = &r->doc->sections[section];

	for (size_t i = 0; i < COUNT(known); i++) {
		if (!text_same(s->kind, known[i]))
			continue;
		if (text_same(s->kind, "winding") || text_same(s->kind, "rail"))
			make_named(r, section);
		else if (s->name[0])
			complaints_add(r->c, s->line, s->title, NULL,
			               "only windings and rails have names: write [%s]", known[i]);
		return;
	}
	ini_unknown_section(r->doc, section, known, COUNT(known), r->c);
}

int profile_section(const struct profile_reader *r, const char *kind, int index)
{
	for (int i = 0; i < r->doc->n_sections; i++)
		if (r->index_of[i] == index && text_same(r->doc->sections[i].kind, kind))
			return i;
	return -1;
}

void profile_grammar(const struct ini_doc *doc, struct profile *ret, struct complaints *c)
{
	struct profile_reader r = {.doc = doc, .p = ret, .c = c};

	*ret = (struct profile){.line_volts = absent, .line_hz = absent, .nameplate_watts = absent,
	                        .fuse_amps = absent, .primary_ohms = absent, .idle_watts = absent,
	                        .idle_amps = absent, .dropper_ohms = absent, .hold_s = absent,
	                        .abort_excess_share = absent, .abort_excess_watts = absent,
	                        .warm_up_s = absent};
	for (int i = 0; i < doc->n_sections; i++) {
		r.index_of[i] = -1;
		check_section(&r, i);
	}
	read_single(&r, "instrument", instrument_keys, COUNT(instrument_keys));
	read_single(&r, "transformer", transformer_keys, COUNT(transformer_keys));
	read_single(&r, "string", string_keys, COUNT(string_keys));
	read_single(&r, "stages", stages_keys, COUNT(stages_keys));
	read_single(&r, "limits", limits_keys, COUNT(limits_keys));
	read_places(&r, "tubes");
	read_places(&r, "lamps");
	read_places(&r, "capacitors");
	for (int i = 0; i < doc->n_sections; i++) {
		if (r.index_of[i] < 0)
			continue;
		if (text_same(doc->sections[i].kind, "winding"))
			read_section(&r, i, winding_keys, COUNT(winding_keys),
			             &ret->windings[r.index_of[i]]);
		else
			read_section(&r, i, rail_keys, COUNT(rail_keys),
			             &ret->rails[r.index_of[i]]);
	}
	profile_sheet(&r);
	profile_check(&r);
}
