/* core/network_measure.c - a number measured on the unit takes the place of a guess */
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"
#include "mainstair/core/network.h"

/* A hand-held multimeter with its leads' ohms taken off. */
static const double multimeter_tol = 0.02;
/* How far a measured number may lie from the one it replaces: further is a slip or a fault, and
 * a fault must not become the new normal. */
static const double plausible_factor = 3.0;

static const char known_words[] =
	"known are: primary 21.4 ohm; winding NAME 340 ohm; rail NAME filter 2k1; "
	"rail NAME bleeder 98k; idle 3.1 W";

static int find_winding(const struct network *net, const char *name)
{
	for (int w = 0; w < net->n_windings; w++)
		if (text_same(name, net->windings[w].name))
			return w;
	return -1;
}

static int find_rail(const struct network *net, const char *name)
{
	for (int r = 0; r < net->n_rails; r++)
		if (text_same(name, net->rails[r].name))
			return r;
	return -1;
}

static int find_param(const struct network *net, enum param_kind kind, int index)
{
	for (int k = 0; k < net->n_params; k++)
		if (net->params[k].kind == kind && net->params[k].index == index)
			return k;
	return -1;
}

static int replace(struct network *net, enum param_kind kind, int index, const char *number,
                   enum unit unit, struct err *err)
{
	const int k = find_param(net, kind, index);
	struct quantity q;

	if (k < 0)
		return err_set(err, ERR_INPUT, "this unit has no such part; %s", known_words);
	if (num_parse(number, unit, &q, err) < 0)
		return -1;
	struct param *p = &net->params[k];
	if (!(q.value > p->nominal / plausible_factor) ||
	    !(q.value < p->nominal * plausible_factor)) {
		char was[32];

		(void)num_print_unit(was, sizeof was, p->nominal, unit, 3);
		return err_set(err, ERR_INPUT,
		               "%s: far from the %s %s; if it was measured so, that is a "
		               "finding: write it down with a note and look for the cause",
		               p->name, origin_word(p->origin), was);
	}
	network_scale(net, k, q.value / p->nominal);
	p->nominal = q.value;
	p->up = p->down = q.tol >= 0.0 ? q.tol : multimeter_tol;
	p->origin = ORIGIN_MEASURED;
	return 0;
}

/* Put the next word of *at into word[], fit to be shown (cut short when it is longer than any name;
 * "" at the end), and leave *at on what follows. */
static void next_word(const char **at, char word[48])
{
	*at += strspn(*at, " \t");
	const size_t n = strcspn(*at, " \t");

	text_show(word, 48, *at, n);
	*at += n;
}

int network_measure(struct network *net, const char *words, struct err *err)
{
	char part[48], name[48];
	const char *at = words; /* what follows the names is the number, all of it */

	next_word(&at, part);
	if (text_same(part, "primary"))
		return replace(net, PARAM_PRIMARY_OHMS, -1, at, UNIT_OHM, err);
	if (text_same(part, "idle"))
		return replace(net, PARAM_CORE_WATTS, -1, at, UNIT_WATT, err);
	if (text_same(part, "winding")) {
		next_word(&at, name);
		const int w = find_winding(net, name);

		if (w < 0)
			return err_set(err, ERR_INPUT, "no winding %s; %s", name, known_words);
		return replace(net, PARAM_WINDING_OHMS, w, at, UNIT_OHM, err);
	}
	if (text_same(part, "rail")) {
		next_word(&at, name);
		const int r = find_rail(net, name);

		if (r < 0)
			return err_set(err, ERR_INPUT, "no rail %s; %s", name, known_words);
		next_word(&at, part);
		if (text_same(part, "filter"))
			return replace(net, PARAM_SERIES_OHMS, r, at, UNIT_OHM, err);
		if (text_same(part, "bleeder"))
			return replace(net, PARAM_BLEEDER, r, at, UNIT_OHM, err);
	}
	return err_set(err, ERR_INPUT, "not understood; %s", known_words);
}
