#include "mainstair/core/fault.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

/* A dead short where no ohms are given. */
static const double dead_short_ohms = 1.0;

const struct fault_help fault_help[] = {
	{ "primary short OHMS", "across the mains, behind the fuse" },
	{ "turn WATTS", "a shorted turn of the transformer; its watts at rated line" },
	{ "heater WINDING short OHMS", "across a winding; across one half of a tapped one" },
	{ "open PLACE", "heater or lamp burnt out, or pulled" },
	{ "rail NAME short [OHMS]", "to chassis, behind its rectifier or filter; 1 ohm" },
	{ "rail NAME leak OHMS", "the same, weaker" },
	{ "rail NAME dead", "its rectifier or filter open" },
	{ "rail NAME load FACTOR", "its loads draw so many times their current" },
	{ "plate PLACE short [OHMS]",
	  "one path of the rectifier PLACE (or of rail PLACE); 1 ohm" },
};
const size_t n_fault_help = sizeof fault_help / sizeof fault_help[0];

enum { WORDS_MAX = 8, LINE_MAX_BYTES = 160 };

/* The line cut at its blanks; word[] points into text[]. */
struct words {
	char text[LINE_MAX_BYTES];
	const char *word[WORDS_MAX];
	int n;
	char shown[LINE_MAX_BYTES]; /* for messages */
};

static int cut(struct words *w, const char *line, struct err *err)
{
	size_t n = strlen(line);

	text_show(w->shown, sizeof w->shown, line, n);
	w->n = 0;
	if (n >= sizeof w->text)
		return err_set(err, ERR_INPUT, "a fault's words are too long: \"%s\"", w->shown);
	memcpy(w->text, line, n + 1);
	for (char *at = w->text; *at;) {
		at += strspn(at, " \t");
		if (!*at)
			break;
		if (w->n == WORDS_MAX)
			return err_set(err, ERR_INPUT, "too many words for a fault: \"%s\"", w->shown);
		w->word[w->n++] = at;
		at += strcspn(at, " \t");
		if (*at)
			*at++ = 0;
	}
	return 0;
}

/* Words from..n-1 as one quantity: "1 ohm", "10k". */
static int read_quantity(const struct words *w, int from, enum unit unit, double *ret,
                         struct err *err)
{
	char joined[LINE_MAX_BYTES] = "";
	struct quantity q;
	struct err why = { 0 };

	for (int k = from; k < w->n; k++) {
		size_t n = strlen(joined);
		snprintf(joined + n, sizeof joined - n, "%s%s", n ? " " : "", w->word[k]);
	}
	if (num_parse(joined, unit, &q, &why) != 0)
		return err_set(err, ERR_INPUT, "fault \"%.80s\": %s", w->shown, why.text);
	if (!(q.value > 0))
		return err_set(err, ERR_INPUT, "fault \"%.80s\": the value must be above zero",
		               w->shown);
	*ret = q.value;
	return 0;
}

/* Ohms, or a dead short where the words end. */
static int read_short(const struct words *w, int from, double *ret_siemens, struct err *err)
{
	double ohms = dead_short_ohms;

	if (from < w->n && read_quantity(w, from, UNIT_OHM, &ohms, err) != 0)
		return -1;
	*ret_siemens = 1 / ohms;
	return 0;
}

/* What was not found, and what there is; `names` ends in its last comma. */
static int unknown(const struct words *w, const char *what, const char *names, struct err *err)
{
	char list[300];

	snprintf(list, sizeof list, "%s", names[0] ? names : " none,");
	list[strlen(list) - 1] = 0;
	return err_set(err, ERR_INPUT, "fault \"%.80s\": no such %s; there are:%s", w->shown, what,
	               list);
}

static void add_name(char *names, size_t size, const char *name)
{
	size_t n = strlen(names);

	if (n + strlen(name) + 3 < size)
		snprintf(names + n, size - n, " %s,", name);
}

static int rail_of(const struct network *net, const char *name)
{
	for (int r = 0; r < net->n_rails; r++)
		if (text_same(net->rails[r].name, name))
			return r;
	return -1;
}

static int fault_open(struct network *net, const struct words *w, struct err *err)
{
	char names[280] = "";

	for (int k = 0; k < net->n_heaters; k++) {
		if (text_same(net->heaters[k].place, w->word[1])) {
			net->heaters[k].open = true;
			return 0;
		}
		add_name(names, sizeof names, net->heaters[k].place);
	}
	return unknown(w, "tube or lamp with a heater", names, err);
}

static int fault_winding(struct network *net, const struct words *w, struct err *err)
{
	char names[280] = "";

	for (int k = 0; k < net->n_windings; k++) {
		if (text_same(net->windings[k].name, w->word[1]))
			return read_short(w, 3, &net->windings[k].short_siemens, err);
		add_name(names, sizeof names, net->windings[k].name);
	}
	return unknown(w, "winding", names, err);
}

static int fault_rail(struct network *net, const struct words *w, struct err *err)
{
	char names[280] = "";
	int r = rail_of(net, w->word[1]);

	if (r < 0) {
		for (int k = 0; k < net->n_rails; k++)
			add_name(names, sizeof names, net->rails[k].name);
		return unknown(w, "rail", names, err);
	}
	if (text_same(w->word[2], "short"))
		return read_short(w, 3, &net->rails[r].leak_siemens, err);
	if (text_same(w->word[2], "leak") && w->n > 3)
		return read_short(w, 3, &net->rails[r].leak_siemens, err);
	if (text_same(w->word[2], "load") && w->n > 3)
		return read_quantity(w, 3, UNIT_NONE, &net->rails[r].load_factor, err);
	if (text_same(w->word[2], "dead") && w->n == 3) {
		net->rails[r].dead = true;
		return 0;
	}
	return err_set(err, ERR_INPUT, "fault \"%.80s\": a rail can have short [OHMS], leak OHMS, "
	               "dead or load FACTOR", w->shown);
}

static int fault_plate(struct network *net, const struct words *w, struct err *err)
{
	char names[280] = "";
	int r = rail_of(net, w->word[1]);

	if (r >= 0 && net->rails[r].source != RAIL_FROM_RAIL)
		return read_short(w, 3, &net->rails[r].plate_short_siemens, err);
	for (r = 0; r < net->n_rails; r++) {
		struct net_rail *rail = &net->rails[r];
		for (int k = 0; k < rail->n_rectifier_by; k++) {
			const char *place = net->heaters[rail->rectifier_by[k]].place;
			if (text_same(place, w->word[1]))
				return read_short(w, 3, &rail->plate_short_siemens, err);
			add_name(names, sizeof names, place);
		}
		if (rail->source != RAIL_FROM_RAIL)
			add_name(names, sizeof names, rail->name);
	}
	return unknown(w, "rectifier", names, err);
}

int fault_apply(struct network *net, const char *words, struct err *err)
{
	struct words w;
	double value;

	if (cut(&w, words, err) != 0)
		return -1;
	if (w.n > 2 && text_same(w.word[0], "primary") && text_same(w.word[1], "short")) {
		if (read_quantity(&w, 2, UNIT_OHM, &value, err) != 0)
			return -1;
		net->line_shunt_siemens = 1 / value;
		return 0;
	}
	if (w.n > 1 && text_same(w.word[0], "turn")) {
		if (read_quantity(&w, 1, UNIT_WATT, &value, err) != 0)
			return -1;
		if (!net->transformer)
			return err_set(err, ERR_INPUT, "fault \"%.80s\": this unit has no transformer",
			               w.shown);
		net->turn_siemens = value / (net->emf_rated * net->emf_rated);
		return 0;
	}
	if (w.n == 2 && text_same(w.word[0], "open"))
		return fault_open(net, &w, err);
	if (w.n > 3 && text_same(w.word[0], "heater") && text_same(w.word[2], "short"))
		return fault_winding(net, &w, err);
	if (w.n > 2 && text_same(w.word[0], "rail"))
		return fault_rail(net, &w, err);
	if (w.n > 2 && text_same(w.word[0], "plate") && text_same(w.word[2], "short"))
		return fault_plate(net, &w, err);
	return err_set(err, ERR_INPUT, "fault \"%.80s\" is not understood; one of: primary short "
	               "OHMS, turn WATTS, heater WINDING short OHMS, open PLACE, rail NAME short|"
	               "leak OHMS|dead|load FACTOR, plate PLACE short", w.shown);
}
