/* core/network_measure.c - a number measured on the unit takes the place of a guess */
#include <math.h>
#include <stdio.h>
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
	if (!(q.value > p->nominal / plausible_factor) || !(q.value < p->nominal * plausible_factor)) {
		char was[32];

		(void)num_print_unit(was, sizeof was, p->nominal, unit, 3);
		return err_set(err, ERR_INPUT, "%s: far from the %s %s; if it was measured so, that is a "
		               "finding: write it down with a note and look for the cause",
		               p->name, origin_word(p->origin), was);
	}
	network_scale(net, k, q.value / p->nominal);
	p->nominal = q.value;
	p->up = p->down = q.tol >= 0.0 ? q.tol : multimeter_tol;
	p->origin = ORIGIN_MEASURED;
	return 0;
}

int network_measure(struct network *net, const char *words, struct err *err)
{
	char part[5][48];
	char number[100];
	const int n = sscanf(words, "%47s %47s %47s %47s %47s", part[0], part[1], part[2], part[3],
	                     part[4]);

	if (n >= 2 && text_same(part[0], "primary")) {
		(void)snprintf(number, sizeof number, "%s %s", part[1], n > 2 ? part[2] : "");
		return replace(net, PARAM_PRIMARY_OHMS, -1, number, UNIT_OHM, err);
	}
	if (n >= 2 && text_same(part[0], "idle")) {
		(void)snprintf(number, sizeof number, "%s %s", part[1], n > 2 ? part[2] : "");
		return replace(net, PARAM_CORE_WATTS, -1, number, UNIT_WATT, err);
	}
	if (n >= 3 && text_same(part[0], "winding")) {
		const int w = find_winding(net, part[1]);

		if (w < 0)
			return err_set(err, ERR_INPUT, "no winding %s; %s", part[1], known_words);
		(void)snprintf(number, sizeof number, "%s %s", part[2], n > 3 ? part[3] : "");
		return replace(net, PARAM_WINDING_OHMS, w, number, UNIT_OHM, err);
	}
	if (n >= 4 && text_same(part[0], "rail")) {
		const int r = find_rail(net, part[1]);
		const bool filter = text_same(part[2], "filter");

		if (r < 0)
			return err_set(err, ERR_INPUT, "no rail %s; %s", part[1], known_words);
		if (filter || text_same(part[2], "bleeder")) {
			(void)snprintf(number, sizeof number, "%s %s", part[3], n > 4 ? part[4] : "");
			return replace(net, filter ? PARAM_SERIES_OHMS : PARAM_BLEEDER, r, number,
			               UNIT_OHM, err);
		}
	}
	return err_set(err, ERR_INPUT, "not understood; %s", known_words);
}
