/* core/unit/network_measure.c - a number measured on the unit takes the place of a guess */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"
#include "mainstair/core/load.h"
#include "network_build.h"

/* A hand-held multimeter with its leads' ohms taken off. */
static const double multimeter_tol = 0.02;
/* How far a measured number may lie from the one it replaces: further is a slip or a fault, and
 * a fault must not become the new normal. */
static const double plausible_factor = 3.0;
/* Winding volts follow the line's, so they are read where nothing can come to harm: at about this
 * share of it. */
static const double low_line_share = 0.13;
/* What is read in the running unit hangs on all else in it a little. */
enum { FIT_ROUNDS = 4 };

static const char known_words[] =
	"known are, each with the number read: primary 21.4 ohm; dropper 120 ohm; idle 3.1 W; idle "
	"0.1 A; winding NAME 340 ohm; winding NAME 0.84 V at 15 V; rail NAME filter 2k1, or bleeder "
	"98k, surge 47 ohm, reservoir 18 uF, strikes 160 V; in the unit running at full line: rail "
	"NAME 250 V; rail NAME 45 mA, of several loads rail NAME V4 45 mA";

/* ---- how each number is called ---- */

/* The words by which one load of several is told from the others of its rail; "" for the only one,
 * NULL: they do not tell it. */
static const char *load_words(const struct network *net, int r, int d)
{
	static const char *const of_kind[] = {
		[DRAW_SPACE_CHARGE] = NULL, [DRAW_RESISTIVE] = "resistive", [DRAW_CONSTANT] = "constant"
	};
	const struct net_rail *rail = &net->rails[r];
	const struct net_draw *draw = &rail->draws[d];

	if (rail->n_draws == 1)
		return "";
	for (int i = 0; i < rail->n_draws; i++) {
		const struct net_draw *other = &rail->draws[i];

		if (i == d || other->kind != draw->kind)
			continue;
		if (draw->kind != DRAW_SPACE_CHARGE)
			return NULL;
		for (int t = 0; t < other->n_by && draw->n_by > 0; t++)
			if (other->by[t] == draw->by[0])
				return NULL;
	}
	if (draw->kind == DRAW_SPACE_CHARGE)
		return draw->n_by > 0 ? net->heaters[draw->by[0]].place : NULL;
	return of_kind[draw->kind];
}

/* What stands before the number of parameter k: "winding plate", "rail main filter", and its unit.
 * False: no word names it. */
static bool words_of(const struct network *net, int k, char words[MEASURED_WORDS_MAX],
                     enum unit *unit)
{
	const struct param *p = &net->params[k];
	const char *winding = p->index >= 0 && p->index < NET_WINDINGS_MAX ?
		net->windings[p->index].name : "";
	const char *rail = p->index >= 0 && p->index < NET_RAILS_MAX ?
		net->rails[p->index].name : "";
	const char *what = "", *load;

	*unit = UNIT_OHM;
	switch (p->kind) {
	case PARAM_PRIMARY_OHMS:
		(void)snprintf(words, MEASURED_WORDS_MAX, "primary");
		return true;
	case PARAM_DROPPER:
		(void)snprintf(words, MEASURED_WORDS_MAX, "dropper");
		return true;
	case PARAM_CORE_WATTS:
	case PARAM_IDLE_AMPS:
		*unit = p->kind == PARAM_CORE_WATTS ? UNIT_WATT : UNIT_AMPERE;
		(void)snprintf(words, MEASURED_WORDS_MAX, "idle");
		return true;
	case PARAM_WINDING_VOLTS:
	case PARAM_WINDING_OHMS:
		*unit = p->kind == PARAM_WINDING_OHMS ? UNIT_OHM : UNIT_VOLT;
		(void)snprintf(words, MEASURED_WORDS_MAX, "winding %s", winding);
		return true;
	case PARAM_SURGE_OHMS:
		what = " surge";
		break;
	case PARAM_SERIES_OHMS:
		what = " filter";
		break;
	case PARAM_BLEEDER:
		what = " bleeder";
		break;
	case PARAM_RESERVOIR:
		if (net->rails[p->index].farad[1] > 0.0) /* two of them, and one number */
			return false;
		*unit = UNIT_FARAD;
		what = " reservoir";
		break;
	case PARAM_REGULATOR_STRIKE:
		*unit = UNIT_VOLT;
		what = " strikes";
		break;
	case PARAM_REGULATOR_HOLD:
	case PARAM_PASS_VOLTS:
	case PARAM_RAIL_VOLTS:
		*unit = UNIT_VOLT;
		break;
	case PARAM_DRAW_AMPS:
		*unit = UNIT_AMPERE;
		load = load_words(net, p->index, p->sub);
		if (!load)
			return false;
		(void)snprintf(words, MEASURED_WORDS_MAX, "rail %s%s%s", rail, load[0] ? " " : "",
		               load);
		return true;
	case PARAM_HEATER_AMPS:
	case PARAM_HEATERS_COMMON:
	case PARAM_LAMPS_COMMON:
	case PARAM_HEATER_LAW:
	case PARAM_RECTIFIER_DROP:
	case PARAM_RECTIFIER_EMISSION:
	case PARAM_DRAWS_COMMON:
	case PARAM_DRAW_KNEE:
	case PARAM_CATHODE_EMISSION:
		return false;
	}
	(void)snprintf(words, MEASURED_WORDS_MAX, "rail %s%s", rail, what);
	return true;
}

bool measure_has_words(const struct network *net, int k)
{
	char words[MEASURED_WORDS_MAX];
	enum unit unit;

	return words_of(net, k, words, &unit);
}

/* ---- what is read in the running unit ---- */

/* Amps of one load of a rail that stands at so many volts. */
static double load_amps(const struct net_draw *draw, double volts)
{
	const double share = volts > 0.0 ? volts / draw->volts : 0.0;

	switch (draw->kind) {
	case DRAW_SPACE_CHARGE:
		return draw->amps * share * sqrt(share);
	case DRAW_RESISTIVE:
		return draw->amps * share;
	case DRAW_CONSTANT:
		return draw->amps * fmin(share / draw->knee, 1.0);
	}
	return (double)NAN;
}

/* Where parameter k is read in the running unit: what the model says a meter shows at full line.
 * NAN: it is not read there, or does not settle. */
static double shown_now(const struct network *net, int k)
{
	const struct param *p = &net->params[k];
	struct load_result at;

	if (p->kind != PARAM_DRAW_AMPS && p->kind != PARAM_REGULATOR_HOLD &&
	    p->kind != PARAM_PASS_VOLTS && p->kind != PARAM_RAIL_VOLTS)
		return (double)NAN;
	load_settled(net, net->line_volts, NULL, &at);
	if (!at.converged)
		return (double)NAN;
	return p->kind == PARAM_DRAW_AMPS ?
		load_amps(&net->rails[p->index].draws[p->sub], at.rail_volts[p->index]) :
		at.rail_volts[p->index];
}

static bool is_read_running(enum param_kind kind)
{
	return kind == PARAM_DRAW_AMPS || kind == PARAM_REGULATOR_HOLD ||
		kind == PARAM_PASS_VOLTS || kind == PARAM_RAIL_VOLTS;
}

/* Open-circuit volts of a winding (one half of a tapped one) at so many volts of line. */
static double open_volts(const struct network *net, int w, double line_volts)
{
	return net->windings[w].ratio * net->emf_rated * line_volts / net->line_volts;
}

/* What is read where parameter k is as the network has it; `line_volts`: of a winding's volts. */
static double shown(const struct network *net, int k, double line_volts)
{
	const struct param *p = &net->params[k];

	if (is_read_running(p->kind))
		return shown_now(net, k);
	return p->kind == PARAM_WINDING_VOLTS ? open_volts(net, p->index, line_volts) : p->nominal;
}

static bool plausible(double read, double expected)
{
	return read > expected / plausible_factor && read < expected * plausible_factor;
}

/* Move parameter k until a meter would show `read`.  False: the unit cannot be brought there. */
static bool fit(struct network *net, int k, double read, double line_volts)
{
	struct param *p = &net->params[k];
	const int rounds = is_read_running(p->kind) ? FIT_ROUNDS : 1;

	for (int i = 0; i < rounds; i++) {
		const double factor = read / shown(net, k, line_volts);

		if (!(factor > 0.1 && factor < 10.0))
			return false;
		network_scale(net, k, factor);
		p->nominal *= factor;
	}
	return true;
}

static int replace(struct network *net, int k, const struct quantity *q, double line_volts,
                   struct err *err)
{
	struct param *p = &net->params[k];
	const double expected = shown(net, k, line_volts);
	struct network fitted;
	char words[MEASURED_WORDS_MAX], was[32];
	enum unit unit;

	(void)words_of(net, k, words, &unit);
	fitted = *net;
	if (!plausible(q->value, expected) || !fit(&fitted, k, q->value, line_volts) ||
	    !plausible(fitted.params[k].nominal, p->nominal)) {
		(void)num_print_unit(was, sizeof was, expected, unit, 3);
		return err_set(err, ERR_INPUT,
		               "%s: far from the %s %s; if it was measured so, that is a "
		               "finding: write it down with a note and look for the cause",
		               p->name, origin_word(p->origin), was);
	}
	*net = fitted;
	p->up = p->down = q->tol >= 0.0 ? q->tol : multimeter_tol;
	p->origin = ORIGIN_MEASURED;
	return 0;
}

/* ---- what was typed ---- */

/* `text` goes on with `words`, letter case and blanks forgiven; what follows them, or NULL. */
static const char *after_words(const char *text, const char *words)
{
	for (;;) {
		text += strspn(text, " \t");
		words += strspn(words, " ");
		if (!*words)
			return text;
		const size_t n = strcspn(words, " "), m = strcspn(text, " \t");
		char a[48], b[48];

		(void)snprintf(a, sizeof a, "%.*s", (int)n, words);
		(void)snprintf(b, sizeof b, "%.*s", (int)m, text);
		if (n != m || !text_same(a, b))
			return NULL;
		words += n;
		text += m;
	}
}

/* "6.8 V at 117 V", or without the second at the nameplate's.  0 or -1. */
static int parse_at(const struct network *net, const char *number, struct quantity *q,
                    double *line_volts, struct err *err)
{
	struct quantity line = { .value = net->line_volts, .tol = -1.0 };
	const char *rest = num_scan(number, UNIT_ANY, q, err);

	if (!rest)
		return -1;
	if (*rest) {
		const char *at = after_words(rest, "at");

		if (!at)
			return err_set(err, ERR_INPUT, "volts of a winding are written: 0.84 V at "
			               "15 V, the second those of the line");
		if (num_parse(at, UNIT_VOLT, &line, err) < 0)
			return -1;
		if (!(line.value > 0.0) || line.value > 1.5 * net->line_volts)
			return err_set(err, ERR_INPUT, "the line's volts behind `at` cannot be");
	}
	*line_volts = line.value;
	return 0;
}

/* The unit of a number, before it is known what it is of; UNIT_NONE: it has none. */
static enum unit unit_typed(const char *number)
{
	struct quantity q;
	struct err err;

	return num_scan(number, UNIT_ANY, &q, &err) ? q.unit : UNIT_NONE;
}

static bool starts_number(const char *s)
{
	return strchr("0123456789.+-", *s) != NULL && *s;
}

/* The names behind `winding` or `rail` are ours: else it is said which there are not. */
static int check_name(const struct network *net, const char *words, struct err *err)
{
	const char *winding = after_words(words, "winding"), *rail = after_words(words, "rail");
	const char *at = winding ? winding : rail;
	char name[48];
	bool known = false;

	if (!at)
		return 0;
	text_show(name, sizeof name, at, strcspn(at, " \t"));
	for (int w = 0; winding && w < net->n_windings; w++)
		known = known || text_same(name, net->windings[w].name);
	for (int r = 0; rail && r < net->n_rails; r++)
		known = known || text_same(name, net->rails[r].name);
	return known ? 0 : err_set(err, ERR_INPUT, "no %s %s; %s", winding ? "winding" : "rail", name,
	                           known_words);
}

int network_measure(struct network *net, const char *words, struct err *err)
{
	bool named = false;

	if (check_name(net, words, err) < 0)
		return -1;
	for (int k = 0; k < net->n_params; k++) {
		char wanted[MEASURED_WORDS_MAX];
		const char *number;
		double line_volts = net->line_volts;
		struct quantity q;
		enum unit unit;

		if (!words_of(net, k, wanted, &unit))
			continue;
		number = after_words(words, wanted);
		if (!number || !starts_number(number))
			continue;
		named = true;
		/* words may stand for two numbers: the unit tells; without one they are ohms, or
		 * the watts of idling */
		const enum unit typed = unit_typed(number);
		const bool second = is_read_running(net->params[k].kind) ||
			net->params[k].kind == PARAM_WINDING_VOLTS ||
			net->params[k].kind == PARAM_IDLE_AMPS;
		if (typed != unit && (typed != UNIT_NONE || second))
			continue;
		if (net->params[k].kind == PARAM_WINDING_VOLTS) {
			if (parse_at(net, number, &q, &line_volts, err) < 0)
				return -1;
		} else if (num_parse(number, unit, &q, err) < 0) {
			return -1;
		}
		return replace(net, k, &q, line_volts, err);
	}
	return err_set(err, ERR_INPUT, "%s; %s", named ?
	               "this needs its unit behind the number, and no other" :
	               "not understood, or this unit has no such part", known_words);
}

/* ---- what to type, and what to write ---- */

/* "0.08 ohm", as it stands on a meter and in a profile, not in milliohms. */
static void print_number(char dst[48], double value, enum unit unit)
{
	if (unit == UNIT_OHM && value < 1.0)
		(void)snprintf(dst + num_print(dst, 40, value, value < 0.1 ? 3 : 2), 8, " ohm");
	else
		(void)num_print_unit(dst, 48, value, unit, 3);
}

bool network_measure_line(const struct network *net, int k, double factor, char *dst, size_t size)
{
	const double low_line = floor(low_line_share * net->line_volts + 0.5);
	char words[MEASURED_WORDS_MAX], number[48];
	enum unit unit;

	if (!words_of(net, k, words, &unit))
		return false;
	const double value = factor * shown(net, k, low_line);

	if (!(value > 0.0))
		return false;
	print_number(number, value, unit);
	if (net->params[k].kind == PARAM_WINDING_VOLTS)
		(void)snprintf(dst, size, "%s %s at %.0f V", words, number, low_line);
	else
		(void)snprintf(dst, size, "%s %s", words, number);
	return true;
}

bool network_measure_key(const struct network *net, const struct profile *profile, int k,
                         double factor, char *dst, size_t size)
{
	const struct param *p = &net->params[k];
	const struct profile_rail *rail = p->index >= 0 && p->index < profile->n_rails ?
		&profile->rails[p->index] : NULL;
	const struct profile_winding *winding = p->index >= 0 && p->index < profile->n_windings ?
		&profile->windings[p->index] : NULL;
	const char *key = NULL;
	char number[48], henry[48];
	double value = factor * p->nominal;
	enum unit unit = UNIT_OHM;

	switch (p->kind) {
	case PARAM_PRIMARY_OHMS:
		key = "primary";
		break;
	case PARAM_CORE_WATTS:
		key = "idle_watts";
		unit = UNIT_WATT;
		break;
	case PARAM_IDLE_AMPS:
		key = "idle_amps";
		unit = UNIT_AMPERE;
		break;
	case PARAM_DROPPER:
		print_number(number, value, UNIT_OHM);
		(void)snprintf(dst, size, "[string] dropper = %s +/- 2%%", number);
		return true;
	case PARAM_WINDING_OHMS:
		if (!winding)
			return false;
		print_number(number, value, UNIT_OHM);
		(void)snprintf(dst, size, "[winding %s] ohms = %s +/- 2%%", winding->name, number);
		return true;
	case PARAM_WINDING_VOLTS:
		if (!winding)
			return false;
		value = open_volts(net, p->index, net->line_volts);
		(void)num_print(number, sizeof number, factor * value, value < 20.0 ? 2 : 1);
		if (net->windings[p->index].centre_tapped)
			(void)snprintf(dst, size, "[winding %s] open_volts = %s-0-%s", winding->name,
			               number, number);
		else
			(void)snprintf(dst, size, "[winding %s] open_volts = %s", winding->name,
			               number);
		return true;
	case PARAM_SURGE_OHMS:
		key = "surge";
		break;
	case PARAM_BLEEDER:
		key = "bleeder";
		break;
	case PARAM_RESERVOIR:
		if (net->rails[p->index].farad[1] > 0.0)
			return false;
		key = "reservoir";
		unit = UNIT_FARAD;
		break;
	case PARAM_SERIES_OHMS:
		if (!rail)
			return false;
		print_number(number, value, UNIT_OHM);
		henry[0] = '\0';
		if (rail->choke_henry.given)
			(void)snprintf(henry, sizeof henry, "%.3g H ", rail->choke_henry.value);
		(void)snprintf(dst, size, "[rail %s] %s = %s%s +/- 2%%", rail->name,
		               rail->source == RAIL_FROM_RAIL ? "through" : "choke", henry, number);
		return true;
	case PARAM_HEATER_AMPS:
	case PARAM_HEATERS_COMMON:
	case PARAM_LAMPS_COMMON:
	case PARAM_HEATER_LAW:
	case PARAM_RECTIFIER_DROP:
	case PARAM_RECTIFIER_EMISSION:
	case PARAM_DRAW_AMPS: /* one of a list, at volts of its own: written by hand */
	case PARAM_DRAWS_COMMON:
	case PARAM_DRAW_KNEE:
	case PARAM_CATHODE_EMISSION:
	case PARAM_REGULATOR_HOLD:
	case PARAM_REGULATOR_STRIKE:
	case PARAM_PASS_VOLTS:
	case PARAM_RAIL_VOLTS:
		return false;
	}
	if (p->index >= 0 && !rail)
		return false;
	print_number(number, value, unit);
	if (rail)
		(void)snprintf(dst, size, "[rail %s] %s = %s +/- 2%%", rail->name, key, number);
	else
		(void)snprintf(dst, size, "[transformer] %s = %s +/- 2%%", key, number);
	return true;
}
