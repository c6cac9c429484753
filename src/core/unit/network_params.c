/*
 * core/unit/network_params.c - the uncertain numbers of a network and their tolerances
 *
 * The one table of default tolerances.  Tolerances are limits: a number lies anywhere between
 * them (rectangular, in the sense of the GUM); core/judge/envelope.c combines them so.
 * The common tolerance of rail loads, that of rated windings (network.c) and the default meter's
 * half step (envelope.c) were tightened after the band's median width was seen on tests/spice's
 * circuits: the width found there is a result of that choice, not a confirmation of it.
 */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "network_build.h"

/* One heater's amps: +-8 per cent (data-sheet limits of heater amps are +-8 to 12: 6SN7GT,
 * 6V6GT, EL34; MIL-PRF-1 allows +-10); tubes of a series string are picked closer, +-6. */
static const double heater_tol = 0.08, string_heater_tol = 0.06;
/* Lamps of a set of which no lamp and no rail is told: two dial lamps of 6.3 V 0.3 A where there is
 * a mixer, else one pilot of 0.25 A (common types; how many were fitted: common practice, no
 * source). */
static const double dial_lamps_watts = 2.0 * 6.3 * 0.3, pilot_lamp_watts = 6.3 * 0.25;
/* All heaters together: the table's own error. */
static const double heaters_common_tol = 0.03;
/* Lamps: +-10 per cent (two lamp makers' data). */
static const double lamps_tol = 0.10;
/* Cathode emission of old tubes that still test good: the least known number of all, a factor
 * of about three either way. */
static const double emission_up = 2.0, emission_down = 0.6;
/* All rail loads together: line-up and bias of the type, beside each rail's own tolerance. */
static const double draws_common_tol = 0.03;
/* The share of its volts below which a constant load starves, a fifth: four times that where it
 * lies behind a regulator of its own that needs 2 V to spare (7815 fed from 22 V: data sheet, from
 * memory), a quarter of it where diodes set the current (0.6 V of 12 V; from memory). */
static const double knee_up = 3.0, knee_down = 0.75;
/* Gas regulators: 0A2 runs at 140 to 168 V, strikes at 165 to 185 V (data-sheet limits). */
static const double hold_tol = 0.03, strike_up = 0.05, strike_down = 0.12;
static const double pass_volts_tol = 0.03;

static struct param *add(struct build *b, enum param_kind kind, int index, int sub, double up,
                         double down, enum origin origin, double nominal)
{
	struct network *net = b->net;
	struct param *p;

	if (net->n_params >= NET_PARAMS_MAX || (up <= 0.0 && down <= 0.0))
		return NULL;
	p = &net->params[net->n_params++];
	*p = (struct param){ .kind = kind, .index = index, .sub = sub, .up = up, .down = down,
	                     .origin = origin, .nominal = nominal };
	return p;
}

static void describe(struct param *p, const char *measure, const char *format, ...)
	__attribute__((format(printf, 3, 4)));
static void describe(struct param *p, const char *measure, const char *format, ...)
{
	va_list ap;

	if (!p)
		return;
	(void)snprintf(p->measure, sizeof p->measure, "%s", measure);
	va_start(ap, format);
	(void)vsnprintf(p->name, sizeof p->name, format, ap);
	va_end(ap);
}

static struct param *add_known(struct build *b, enum param_kind kind, int index, int sub,
                               const struct known *k)
{
	if (!(k->value > 0.0))
		return NULL;
	return add(b, kind, index, sub, k->up, k->down, k->origin, k->value);
}

/* Watts of lamps that such a profile may be silent about, and of no other. */
static double untold_lamps_watts(const struct build *b)
{
	if (!b->net->transformer || b->profile->n_lamps > 0 || b->profile->n_rails > 0)
		return 0.0;
	for (int i = 0; i < b->profile->n_tubes; i++)
		if (b->tube_type[i] && b->tube_type[i]->kind == TUBE_CONVERTER)
			return dial_lamps_watts;
	return pilot_lamp_watts;
}

/* The winding with most tube heaters; lamps are fed from it. */
static int main_heater_winding(const struct network *net)
{
	int best = -1;
	double most = 0.0;

	for (int w = 0; w < net->n_windings; w++) {
		double amps = 0.0;

		for (int h = 0; h < net->n_tube_heaters; h++)
			if (net->heaters[h].winding == w && net->heaters[h].kind == HEATER_INDIRECT)
				amps += net->heaters[h].amps;
		if (amps > most) {
			most = amps;
			best = w;
		}
	}
	return best;
}

/* Independent tolerances of heaters on one winding (or in the string, -1) add in quadrature. */
static void heater_group(struct build *b, int winding, const char *name)
{
	const struct network *net = b->net;
	double sum = 0.0, squares = 0.0;

	for (int i = 0; i < b->profile->n_tubes; i++) {
		const int h = b->tube_heater[i];
		/* a tolerance of its own stands with what the heater was measured by */
		const struct given *amps = &b->profile->tubes[i].amps;

		if (h < 0 || net->heaters[h].winding != winding)
			continue;
		const double share = winding < 0 ? net->heaters[h].volts : net->heaters[h].amps;
		const double off = share * (amps->given && amps->tol >= 0.0 ? amps->tol :
		                            winding < 0 ? string_heater_tol : heater_tol);
		sum += share;
		squares += off * off;
	}
	if (sum <= 0.0)
		return;
	const double tol = sqrt(squares) / sum;
	double up = tol;
	const double lamps = winding >= 0 && winding == main_heater_winding(net) ?
		untold_lamps_watts(b) : 0.0;

	if (lamps > 0.0) {
		up += lamps / (net->windings[winding].rated_volts * sum);
		network_note(b->net, "no lamp is listed: the band allows for %.2g W of them", lamps);
	}
	describe(add(b, PARAM_HEATER_AMPS, winding, -1, up, tol, ORIGIN_RATED, sum), "",
	         "heater amps on %s", name);
}

/* "V1, V2 and 3 more"; how its current is measured. */
static const char *name_load(const struct network *net, const struct net_draw *draw, char name[60])
{
	size_t used = 0;

	if (draw->kind != DRAW_SPACE_CHARGE) {
		(void)snprintf(name, 60, "%s", draw->kind == DRAW_RESISTIVE ? "the resistive load" :
		               "the constant load");
		return "volts across the resistor that feeds it, at full line, divided by its ohms";
	}
	for (int i = 0; i < draw->n_by; i++) {
		if (i > 0 && used + strlen(net->heaters[draw->by[i]].place) + 16 > 60) {
			(void)snprintf(name + used, 60 - used, " and %d more", draw->n_by - i);
			break;
		}
		used += (size_t)snprintf(name + used, 60 - used, "%s%.30s", i > 0 ? ", " : "",
		                         net->heaters[draw->by[i]].place);
	}
	return draw->n_by > 1 ?
		"volts across the filter resistor that feeds them all, at full line, divided by its "
		"ohms; or across each cathode resistor, and the sum" :
		"volts across its cathode resistor, at full line, divided by its ohms";
}

static void rail_params(struct build *b, int r)
{
	const struct net_rail *rail = &b->net->rails[r];
	struct param *p;

	if (rail->source != RAIL_FROM_RAIL) {
		p = add_known(b, PARAM_RECTIFIER_DROP, r, -1, &b->drop[r]);
		describe(p, "", "rail %s: rectifier drop", rail->name);
		if (rail->saturation_amps > 0.0) {
			p = add(b, PARAM_RECTIFIER_EMISSION, r, -1, emission_up, emission_down,
			        ORIGIN_ESTIMATED, rail->saturation_amps);
			describe(p, "", "rail %s: rectifier emission", rail->name);
		}
		p = add_known(b, PARAM_SURGE_OHMS, r, -1, &b->surge[r]);
		describe(p, "ohms of the surge resistor, unplugged", "rail %s: surge ohms",
		         rail->name);
		p = add_known(b, PARAM_RESERVOIR, r, -1, &b->reservoir[r]);
		describe(p, rail->farad[1] > 0.0 ? "" :
		         "its microfarads, one lead lifted, discharged", "rail %s: reservoir",
		         rail->name);
	}
	p = add_known(b, PARAM_SERIES_OHMS, r, -1, &b->series[r]);
	describe(p, "ohms of the filter resistor or choke, unplugged and discharged",
	         "rail %s: filter ohms", rail->name);
	p = add_known(b, PARAM_BLEEDER, r, -1, &b->bleeder[r]);
	describe(p, "ohms of the bleeder, one end lifted", "rail %s: bleeder", rail->name);
	for (int d = 0; d < rail->n_draws; d++) {
		char load[60];
		const char *how = name_load(b->net, &rail->draws[d], load);

		p = add_known(b, PARAM_DRAW_AMPS, r, d, &b->draw[r][d]);
		describe(p, how, "rail %s: mA of %s", rail->name, load);
		if (rail->draws[d].kind == DRAW_CONSTANT)
			describe(add(b, PARAM_DRAW_KNEE, r, d, knee_up, knee_down, ORIGIN_ESTIMATED,
			             rail->draws[d].knee),
			         "", "rail %s: where %s starves", rail->name, load);
	}
	if (rail->regulator == REGULATOR_GAS) {
		p = add(b, PARAM_REGULATOR_HOLD, r, -1, hold_tol, hold_tol, ORIGIN_RATED,
		        rail->hold_volts);
		describe(p, "dc volts across the glowing regulator at full line",
		         "rail %s: regulator volts", rail->name);
		p = add(b, PARAM_REGULATOR_STRIKE, r, -1, strike_up, strike_down, ORIGIN_RATED,
		        rail->strike_volts);
		/* no measure: gone when a meter shows it */
		describe(p, "", "rail %s: regulator strike", rail->name);
	} else if (rail->regulator == REGULATOR_SERIES_PASS) {
		const struct known pass = known_from(&b->profile->rails[r].regulator_volts,
		                                     pass_volts_tol, 0.0, 0.0);

		p = add_known(b, PARAM_PASS_VOLTS, r, -1, &pass);
		describe(p, "dc volts on the regulated rail at full line",
		         "rail %s: regulated volts", rail->name);
	}
}

/* A rectifier that cannot be pulled: with nothing on its rails their capacitors would stand at the
 * winding's peak, above what they are made for. */
static bool any_dry_rectifier(const struct network *net)
{
	for (int r = 0; r < net->n_rails; r++)
		if (net->rails[r].source != RAIL_FROM_RAIL && net->rails[r].rectifier != RECTIFIER_TUBE)
			return true;
	return false;
}

void build_params(struct build *b)
{
	struct network *net = b->net;
	bool lamps = false, draws = false;

	if (net->transformer) {
		describe(add_known(b, PARAM_PRIMARY_OHMS, -1, -1, &b->primary_ohms),
		         "ohms across the plug, switch on, unplugged", "primary ohms");
		const bool dry = any_dry_rectifier(net);

		describe(add_known(b, PARAM_CORE_WATTS, -1, -1, &b->idle_watts), dry ?
		         "watts at full line with every tube and lamp out and the rectifier's ac leads "
		         "off" :
		         "watts at full line with every tube and lamp out, rectifier too", "idle watts");
		describe(add_known(b, PARAM_IDLE_AMPS, -1, -1, &b->idle_amps), dry ?
		         "amps at full line with every tube and lamp out and the rectifier's ac leads "
		         "off" :
		         "amps at full line with every tube and lamp out, rectifier too", "idle amps");
	}
	for (int w = 0; w < net->n_windings; w++) {
		const struct net_winding *n = &net->windings[w];

		describe(add_known(b, PARAM_WINDING_VOLTS, w, -1, &b->winding_volts[w]),
		         n->centre_tapped ?
		         "ac volts from its tap to one end with every tube and lamp out, the variac low" :
		         "ac volts across it with every tube and lamp out, the variac low",
		         "winding %s: volts", n->name);
		describe(add_known(b, PARAM_WINDING_OHMS, w, -1, &b->winding_ohms[w]),
		         "ohms of the winding end to end, tubes out, unplugged", "winding %s: ohms",
		         n->name);
		heater_group(b, w, n->name);
	}
	describe(add_known(b, PARAM_RAIL_VOLTS, 0, -1, &b->rail_volts),
	         "dc volts across the reservoir at full line", "rail %s: volts", net->rails[0].name);
	heater_group(b, -1, "the string");
	describe(add_known(b, PARAM_DROPPER, -1, -1, &b->dropper),
	         "ohms of the dropper, unplugged", "string: dropper ohms");
	if (net->n_tube_heaters > 0)
		describe(add(b, PARAM_HEATERS_COMMON, -1, -1, heaters_common_tol,
		             heaters_common_tol, ORIGIN_RATED, 1.0),
		         "", "heater ratings of the table");
	for (int h = net->n_tube_heaters; h < net->n_heaters; h++)
		lamps = true;
	if (lamps)
		describe(add(b, PARAM_LAMPS_COMMON, -1, -1, lamps_tol, lamps_tol, ORIGIN_RATED, 1.0),
		         "", "lamp amps");
	if (net->n_heaters > 0)
		describe(add(b, PARAM_HEATER_LAW, -1, -1, 1.0, 0.9, ORIGIN_ESTIMATED,
		             net->heater_conduction), "", "heaters' conducted heat");
	for (int r = 0; r < net->n_rails; r++) {
		rail_params(b, r);
		draws = draws || net->rails[r].n_draws > 0;
	}
	if (draws) {
		describe(add(b, PARAM_CATHODE_EMISSION, -1, -1, emission_up, emission_down,
		             ORIGIN_ESTIMATED, 1.0), "", "cathode emission");
		describe(add(b, PARAM_DRAWS_COMMON, -1, -1, draws_common_tol, draws_common_tol,
		             ORIGIN_RATED, 1.0), "", "rail loads of this make");
	}
	/* what one cannot say when it was measured is not asked for */
	for (int k = 0; k < net->n_params; k++)
		if (!measure_has_words(net, k))
			net->params[k].measure[0] = '\0';
}

void network_scale(struct network *net, int k, double factor)
{
	const struct param *p = &net->params[k];
	struct net_rail *rail = p->index >= 0 && p->index < NET_RAILS_MAX ?
		&net->rails[p->index] : NULL;

	switch (p->kind) {
	case PARAM_PRIMARY_OHMS:
		net->primary_ohms *= factor;
		break;
	case PARAM_CORE_WATTS:
		net->core_watts *= factor;
		break;
	case PARAM_IDLE_AMPS:
		net->mag_amps *= factor;
		break;
	case PARAM_WINDING_VOLTS:
		net->windings[p->index].ratio *= factor;
		break;
	case PARAM_RAIL_VOLTS:
		/* another set of more volts, whose tubes take what they took */
		net->windings[rail->winding].ratio *= factor;
		for (int d = 0; d < rail->n_draws; d++)
			rail->draws[d].volts *= factor;
		break;
	case PARAM_WINDING_OHMS:
		net->windings[p->index].ohms *= factor;
		break;
	case PARAM_HEATER_AMPS:
		/* tubes only: lamps have their own; in a string a thirstier heater is one of
		 * fewer ohms, the current being everybody's */
		for (int h = 0; h < net->n_tube_heaters; h++)
			if (net->heaters[h].winding == p->index)
				net->heaters[h].amps *= factor;
		break;
	case PARAM_HEATERS_COMMON:
		for (int h = 0; h < net->n_tube_heaters; h++)
			net->heaters[h].amps *= factor;
		break;
	case PARAM_LAMPS_COMMON:
		for (int h = net->n_tube_heaters; h < net->n_heaters; h++)
			net->heaters[h].amps *= factor;
		break;
	case PARAM_HEATER_LAW:
		net->heater_conduction *= factor;
		break;
	case PARAM_RECTIFIER_DROP:
		rail->drop_volts *= factor;
		break;
	case PARAM_RECTIFIER_EMISSION:
		rail->saturation_amps *= factor;
		break;
	case PARAM_SURGE_OHMS:
		rail->surge_ohms *= factor;
		break;
	case PARAM_RESERVOIR:
		rail->farad[0] *= factor;
		rail->farad[1] *= factor;
		break;
	case PARAM_SERIES_OHMS:
		rail->series_ohms *= factor;
		break;
	case PARAM_BLEEDER:
		rail->bleeder_ohms *= factor;
		break;
	case PARAM_DRAW_AMPS:
		rail->draws[p->sub].amps *= factor;
		break;
	case PARAM_DRAW_KNEE:
		rail->draws[p->sub].knee *= factor;
		break;
	case PARAM_DRAWS_COMMON:
		for (int r = 0; r < net->n_rails; r++)
			for (int d = 0; d < net->rails[r].n_draws; d++)
				net->rails[r].draws[d].amps *= factor;
		break;
	case PARAM_CATHODE_EMISSION:
		for (int r = 0; r < net->n_rails; r++)
			for (int d = 0; d < net->rails[r].n_draws; d++)
				net->rails[r].draws[d].emission *= factor;
		for (int r = 0; r < net->n_rails; r++)
			net->rails[r].pass_saturation_amps *= factor;
		break;
	case PARAM_REGULATOR_HOLD:
		rail->hold_volts *= factor;
		break;
	case PARAM_REGULATOR_STRIKE:
		rail->strike_volts *= factor;
		break;
	case PARAM_PASS_VOLTS:
		rail->pass_volts *= factor;
		break;
	case PARAM_DROPPER:
		net->dropper_ohms *= factor;
		break;
	}
}
