/* mainstair check PROFILE... - is it right, what is estimated, and what to measure next */
#include "cli/commands.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/load_unit.h"
#include "cli/options.h"
#include "cli/output.h"
#include "mainstair/base/num.h"
#include "mainstair/base/text.h"
#include "mainstair/core/measure_next.h"

enum { RANKS_MAX = 5 };

/* A share too small to speak of. */
static const double least_share = 0.01;

static void add_quantity(struct buf *out, double value, enum unit unit, int digits)
{
	char text[48];

	/* "0.08 ohm", as it stands on a meter and in a profile */
	if (unit == UNIT_OHM && value < 1.0) {
		add_number(out, value, 3);
		buf_adds(out, " ohm");
		return;
	}
	(void)num_print_unit(text, sizeof text, value, unit, digits);
	buf_adds(out, text);
}

static void add_shown(struct buf *out, const char *text)
{
	char shown[512];

	(void)text_show(shown, sizeof shown, text, strlen(text));
	buf_adds(out, shown);
}

static void add_percent(struct buf *out, double fraction)
{
	add_number(out, fraction * 100.0, 0);
}

/* The unit of param.nominal; UNIT_NONE where it is a factor that nobody writes down. */
static enum unit unit_of(enum param_kind kind)
{
	switch (kind) {
	case PARAM_PRIMARY_OHMS:
	case PARAM_WINDING_OHMS:
	case PARAM_SURGE_OHMS:
	case PARAM_SERIES_OHMS:
	case PARAM_BLEEDER:
	case PARAM_DROPPER:
		return UNIT_OHM;
	case PARAM_CORE_WATTS:
		return UNIT_WATT;
	case PARAM_IDLE_AMPS:
	case PARAM_DRAW_AMPS:
	case PARAM_RECTIFIER_EMISSION:
		return UNIT_AMPERE;
	case PARAM_WINDING_VOLTS:
	case PARAM_RECTIFIER_DROP:
	case PARAM_REGULATOR_HOLD:
	case PARAM_REGULATOR_STRIKE:
	case PARAM_PASS_VOLTS:
	case PARAM_RAIL_VOLTS:
		return UNIT_VOLT;
	case PARAM_RESERVOIR:
		return UNIT_FARAD;
	case PARAM_HEATER_AMPS:
	case PARAM_HEATERS_COMMON:
	case PARAM_LAMPS_COMMON:
	case PARAM_HEATER_LAW:
	case PARAM_DRAWS_COMMON:
	case PARAM_CATHODE_EMISSION:
	case PARAM_DRAW_KNEE:
		return UNIT_NONE;
	}
	return UNIT_NONE;
}

static void count(struct buf *out, int n, const char *what)
{
	buf_addf(out, ", %d %s%s", n, what, n == 1 ? "" : "s");
}

static void add_head(struct buf *out, const struct loaded_unit *u, const char *path)
{
	add_shown(out, path);
	buf_adds(out, ": ");
	add_shown(out, u->profile.name);
	buf_adds(out, "\n  ");
	add_number(out, u->network->line_volts, 2);
	buf_adds(out, " V ");
	add_number(out, u->network->line_hz, 2);
	buf_addf(out, " Hz, %s", u->profile.supply == SUPPLY_SERIES_STRING ? "series string"
	                                                                   : "transformer");
	count(out, u->profile.n_tubes, "tube");
	count(out, u->profile.n_lamps, "lamp");
	if (u->profile.supply == SUPPLY_TRANSFORMER)
		count(out, u->network->n_windings, "winding");
	count(out, u->network->n_rails, "rail");
	buf_addc(out, '\n');
}

static void add_expected(struct buf *out, const struct band *band)
{
	buf_adds(out, "  expected at ");
	add_number(out, band->volts, 2);
	buf_adds(out, " V: ");
	add_quantity(out, band->expected, UNIT_WATT, 3);
	buf_adds(out, ", healthy from ");
	add_quantity(out, band->low, UNIT_WATT, 3);
	buf_adds(out, " to ");
	add_quantity(out, band->high, UNIT_WATT, 3);
	buf_adds(out, ", abort above ");
	add_quantity(out, band->abort_watts, UNIT_WATT, 3);
	buf_adds(out, "; ");
	add_quantity(out, band->at.amps, UNIT_AMPERE, 3);
	buf_adds(out, ", power factor ");
	add_number(out, band->at.power_factor, 2);
	buf_addc(out, '\n');
}

/* A cross-check, never the model: nameplates are rounded and often tell the most a unit draws. */
static void add_nameplate(struct buf *out, const struct loaded_unit *u, const struct band *band)
{
	const struct given *plate = &u->profile.nameplate_watts;

	if (!plate->given)
		return;
	buf_adds(out, "  nameplate: ");
	add_quantity(out, plate->value, UNIT_WATT, 3);
	if (plate->value > band->high)
		buf_adds(out, ", above the band: usual where it tells the most the unit may draw; "
		              "else a tube, lamp or load is missing in the profile\n");
	else if (plate->value < band->low)
		buf_addf(out, ", below the band: is a load%s too large in the profile?\n",
		         u->network->transformer ? " or a winding's volts" : "");
	else
		buf_adds(out, ", within the band: agrees\n");
}

static void add_estimates(struct buf *out, const struct network *net)
{
	bool any = false;

	for (int i = 0; i < net->n_notes; i++) {
		buf_adds(out, i == 0 ? "  where the profile is silent:\n    - " : "    - ");
		add_shown(out, net->notes[i]);
		buf_addc(out, '\n');
	}
	for (int k = 0; k < net->n_params; k++) {
		const struct param *p = &net->params[k];
		enum unit unit = unit_of(p->kind);

		if (p->origin != ORIGIN_ESTIMATED)
			continue;
		if (!any)
			buf_adds(out, "  estimated numbers and how far off they may be:\n");
		any = true;
		buf_adds(out, "    - ");
		add_shown(out, p->name);
		if (unit != UNIT_NONE) {
			buf_addc(out, ' ');
			add_quantity(out, p->nominal, unit, 3);
		}
		buf_adds(out, ", +");
		add_percent(out, p->up);
		buf_adds(out, "/-");
		add_percent(out, p->down);
		buf_adds(out, " %\n");
	}
	if (!any)
		buf_adds(out, "  nothing is estimated\n");
}

static void add_unused(struct buf *out, const struct loaded_unit *u)
{
	char unused[NET_UNUSED_MAX][NET_UNUSED_TEXT_MAX];
	const int n = network_unused(u->network, &u->profile, &u->tables, unused, NET_UNUSED_MAX);

	for (int i = 0; i < n; i++) {
		buf_adds(out, i == 0 ? "  written, and of no use to the band:\n    - " : "    - ");
		add_shown(out, unused[i]);
		buf_addc(out, '\n');
	}
}

/* Where the number goes: what is typed in run, and the key of the profile that says the same. */
static void add_how_to_tell(struct buf *out, const struct loaded_unit *u, int param)
{
	char line[MEASURED_LINE_MAX];

	if (network_measure_line(u->network, param, 1.0, line, sizeof line)) {
		buf_adds(out, "       type in run, with your number: measured ");
		add_shown(out, line);
		buf_addc(out, '\n');
	}
	if (network_measure_key(u->network, &u->profile, param, 1.0, line, sizeof line)) {
		buf_adds(out, "       or write into the profile: ");
		add_shown(out, line);
		buf_addc(out, '\n');
	}
}

static void add_ranking(struct buf *out, const struct loaded_unit *u, const struct band *band,
                        const struct sensitivity *all)
{
	const struct network *net = u->network;
	double by_meter = u->accuracy.reading_share * band->expected + u->accuracy.offset_watts;
	struct measure_gain ranks[RANKS_MAX];
	const int n = measure_next(net, &u->accuracy, band, all, ranks, RANKS_MAX);

	buf_adds(out, "  to narrow the band at ");
	add_number(out, band->volts, 2);
	buf_adds(out, " V (now ");
	add_quantity(out, band->high - band->low, UNIT_WATT, 3);
	buf_adds(out, " wide), measure:\n");
	for (int i = 0; i < n; i++) {
		buf_addf(out, "    %d. ", i + 1);
		add_shown(out, net->params[ranks[i].param].name);
		buf_adds(out, ": ");
		add_percent(out, ranks[i].gain);
		buf_adds(out, " % narrower; ");
		add_shown(out, net->params[ranks[i].param].measure);
		buf_addc(out, '\n');
		add_how_to_tell(out, u, ranks[i].param);
	}
	if (n == 0)
		buf_adds(out, "    nothing: no number that can be measured tells much more\n");
	double half = (band->high - band->low) / 2.0;
	double share = half > 0.0 ? by_meter * by_meter / (half * half) : 0.0;

	if (share >= 0.25) {
		buf_adds(out, "    (");
		add_percent(out, fmin(share, 1.0));
		buf_adds(out, " % of what is uncertain here is the wattmeter's own error)\n");
	}
	if (band->emission_share >= least_share) {
		buf_adds(out, "    (");
		add_percent(out, band->emission_share);
		buf_adds(out, " % of what is uncertain here is cathode emission: no meter shows it "
		              "before the unit runs)\n");
	}
}

/* Append all of it.  0, or -1 after a complaint. */
static int report(struct buf *out, struct loaded_unit *u, const char *path)
{
	const struct network *net = u->network;
	struct sensitivity *all = calloc(NET_PARAMS_MAX, sizeof *all);
	struct load_start *start = calloc(1, sizeof *start);
	struct band full, first;
	int status = -1;

	if (!all || !start) {
		complain("out of memory");
		goto out;
	}
	if (unit_plan(u, 0.0) != 0)
		goto out;
	envelope_at(net, &u->rule, &u->accuracy, net->line_volts, start, &full, all);
	if (!full.at.converged) {
		complain("%s: the model does not settle at full line; is a value far from real?",
		         path);
		goto out;
	}
	add_head(out, u, path);
	add_expected(out, &full);
	add_nameplate(out, u, &full);
	add_unused(out, u);
	add_estimates(out, net);
	add_ranking(out, u, &full, all);
	envelope_at(net, &u->rule, &u->accuracy, u->plan->stages[0].volts, NULL, &first, all);
	if (first.at.converged && u->plan->n_stages > 1)
		add_ranking(out, u, &first, all);
	status = 0;
out:
	free(all);
	free(start);
	return status;
}

int cmd_check(int argc, char **argv)
{
	const struct command_usage usage = {
		.synopsis = "check PROFILE...",
		.about = "Reads each profile and tells every fault in it, or else what the program "
			"expects of the unit, which numbers it had to estimate and by which rule, "
			"what to measure next to narrow the band, and whether the nameplate "
			"agrees.",
		.after = "Exit status: 0 all are right, 2 bad usage or a fault in one.",
		.least = 1, .most = INT_MAX, .wanted = "which PROFILE?",
	};
	struct buf out = BUF_INIT;
	struct loaded_unit *unit;
	char **operands;
	int status = options_read(&usage, argc, argv, &operands), written;

	if (status != OPTIONS_READ)
		return status;
	status = EXIT_DONE;
	unit = malloc(sizeof *unit);
	if (!unit) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	for (; *operands; operands++) {
		if (unit_load(unit, *operands) != 0) {
			status = EXIT_USAGE;
			continue;
		}
		if (out.len > 0)
			buf_addc(&out, '\n');
		if (report(&out, unit, *operands) != 0)
			status = EXIT_USAGE;
		unit_release(unit);
	}
	free(unit);
	written = output_flush(&out);
	buf_release(&out);
	return status != EXIT_DONE ? status : written;
}
