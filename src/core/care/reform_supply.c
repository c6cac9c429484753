/*
 * core/care/reform_supply.c - the supply, its series resistor, the next step, the discharge
 *
 * Steps, with their sources (all second hand):
 * - raise until the leakage nears 10 mA, wait until it has nearly vanished, raise again, up to
 *   rated volts (a receiver list, October 2017): "nearly vanished" is taken as a tenth of where
 *   raising stops, and as no more than the older rule allows at full volts;
 * - a quarter of rated at a time (a maker's guidance for drives stored over two years; another
 *   maker's goes by 50, 75, 100 per cent);
 * - leakage is read 5 minutes after the volts are applied (MIL-C-62F, 4.5.3, read).
 */
#include <math.h>
#include <stdio.h>

#include "mainstair/base/num.h"
#include "mainstair/core/reform.h"

const double reform_safe_volts = 60.0;

/* Builders of re-forming supplies let a shorted part draw 5 mA (450 V through 90 kohm), an
 * unformed one drawing 2 to 3 mA at first (a radio list, second hand). */
static const double short_amps_advised = 0.005;
static const double raise_stops_amps = 0.010;
static const double step_share = 0.25, step_hold_s = 300.0;
static const double full_share = 0.97; /* of form_volts counts as there: a meter's 3 per cent */

const char *const reform_cautions[REFORM_CAUTIONS] = {
	"Out of circuit: lift the positive lead; in circuit, parallel paths pass for leakage.",
	"Current limited: a resistor in series that stands a shorted part, and a fuse.",
	"Polarity: the can is mostly, not always, the negative; check before each connection.",
	"Never unattended at rated volts; stop at warmth, hissing or swelling.",
	"Discharge through a resistor before touching, short it after, leave it shorted: it recharges.",
	"Dual cans: every section holds its own charge; discharge and short each of them.",
};

/* --- ready-made values -------------------------------------------------------------------- */

static const double e12[] = { 1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2 };

enum { E12_VALUES = sizeof e12 / sizeof *e12 };

/* The least value of the E12 series that is not below ohms (within a millionth). */
static double e12_at_least(double ohms)
{
	const double decade = pow(10.0, floor(log10(ohms)));

	for (int i = 0; i < E12_VALUES; i++)
		if (e12[i] * decade >= ohms * (1.0 - 1e-6))
			return e12[i] * decade;
	return 10.0 * decade;
}

/* The greatest that is not above. */
static double e12_at_most(double ohms)
{
	const double decade = pow(10.0, floor(log10(ohms)));

	for (int i = E12_VALUES - 1; i >= 0; i--)
		if (e12[i] * decade <= ohms * (1.0 + 1e-6))
			return e12[i] * decade;
	return decade;
}

/* The least ready-made rating that is not below watts; above the last, watts itself. */
static double rating_at_least(double watts)
{
	static const double ratings[] = { 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 25.0,
		                          50.0, 100.0 };

	for (size_t i = 0; i < sizeof ratings / sizeof *ratings; i++)
		if (ratings[i] >= watts)
			return ratings[i];
	return watts;
}

/* --- series resistor ---------------------------------------------------------------------- */

double reform_surge_volts(const struct reform_part *part)
{
	return part->volts * (part->volts <= 315.0 ? 1.15 : 1.10);
}

struct reform_series reform_series_at(double volts, double ohms, double rated_watts,
                                      double limit_amps)
{
	struct reform_series s = { .short_amps = (double)NAN, .short_watts = (double)NAN,
		                   .drop_volts = (double)NAN };

	if (!(volts > 0.0) || !(ohms > 0.0) || !isfinite(volts) || !isfinite(ohms))
		return s;
	s.short_amps = volts / ohms;
	s.short_watts = volts * s.short_amps;
	s.drop_volts = limit_amps * ohms;
	s.overloaded = rated_watts > 0.0 && s.short_watts > rated_watts;
	return s;
}

double reform_series_advised(double volts, double *ret_watts)
{
	double ohms;

	*ret_watts = (double)NAN;
	if (!(volts > 0.0) || !isfinite(volts / short_amps_advised))
		return (double)NAN;
	ohms = e12_at_least(volts / short_amps_advised);
	*ret_watts = rating_at_least(2.0 * volts * volts / ohms);
	return ohms;
}

double reform_series_reaching(double volts, double wanted, double amps, double *ret_watts)
{
	double ohms = (volts - wanted) / amps;

	*ret_watts = (double)NAN;
	if (!(wanted > 0.0) || !(amps > 0.0) || !(ohms > 0.0) || !isfinite(ohms))
		return (double)NAN;
	ohms = e12_at_most(ohms);
	*ret_watts = rating_at_least(2.0 * volts * volts / ohms);
	return ohms;
}

/* --- discharge ---------------------------------------------------------------------------- */

double reform_joules(double farad, double volts)
{
	return 0.5 * farad * volts * volts;
}

double reform_discharge_s(double ohms, double farad, double from_volts, double to_volts)
{
	const double product = ohms * farad * from_volts * to_volts;

	if (!(ohms > 0.0) || !(farad > 0.0) || !(from_volts > 0.0) || !(to_volts > 0.0) ||
	    !isfinite(product))
		return (double)NAN;
	return from_volts <= to_volts ? 0.0 : ohms * farad * log(from_volts / to_volts);
}

struct reform_discharge reform_discharge_of(double farad, double volts)
{
	/* terminals below 60 V after 5 to 10 s (IEC 61010-1, second hand) */
	const double wanted_s = 5.0, most_amps = 0.1;
	struct reform_discharge d = { .ohms = (double)NAN, .joules = reform_joules(farad, volts) };

	if (!(farad > 0.0) || !(volts >= 0.0) || !isfinite(d.joules)) {
		d.seconds = d.peak_watts = d.watts = (double)NAN;
		return d;
	}
	/* both must hold: LBNL electrical safety manual, table 2.2.13 (read) */
	d.shock_hazard = volts >= 100.0 && d.joules >= 10.0;
	if (volts <= reform_safe_volts)
		return d;
	d.ohms = e12_at_most(wanted_s / (farad * log(volts / reform_safe_volts)));
	if (d.ohms < volts / most_amps)
		d.ohms = e12_at_least(volts / most_amps);
	d.seconds = reform_discharge_s(d.ohms, farad, volts, reform_safe_volts);
	d.peak_watts = volts * volts / d.ohms;
	d.watts = (d.joules - reform_joules(farad, reform_safe_volts)) / d.seconds;
	/* small resistors stand 350 V, those of 2 W 500 V and more (from memory) */
	d.watts = rating_at_least(volts > 350.0 ? fmax(d.watts, 2.0) : d.watts);
	return d;
}

/* --- the next step ------------------------------------------------------------------------ */

static struct reform_step say(enum reform_order order, const char *why)
{
	struct reform_step step = { .order = order, .volts = (double)NAN,
		                    .below_amps = (double)NAN };

	(void)snprintf(step.why, sizeof step.why, "%s", why);
	return step;
}

static struct reform_step raise_to(double volts, const char *why)
{
	struct reform_step step = say(REFORM_RAISE, why);

	step.volts = volts;
	return step;
}

static struct reform_step hold(double below_amps, double hold_s, const char *why)
{
	struct reform_step step = say(REFORM_HOLD, why);

	step.below_amps = below_amps;
	step.hold_s = fmax(hold_s, 0.0);
	return step;
}

/* A step up by a share of rated volts from where the part is; whole volts above 20. */
static double step_up(const struct reform_aim *aim, double from_volts, double share,
                      double ceiling_volts)
{
	double to = from_volts + share * aim->part.volts;

	to = to > 20.0 ? round(to) : to;
	/* no crumb of a last step */
	if (to > ceiling_volts - 0.25 * share * aim->part.volts)
		to = ceiling_volts;
	return to;
}

struct reform_step reform_next_step(const struct reform_aim *aim,
                                    const struct reform_reading *readings, size_t n,
                                    const struct reform_judgement *judgement, double most_volts,
                                    double most_amps)
{
	const double goal = fmin(aim->form_volts, aim->part.volts);
	const double ceiling = most_volts > 0.0 ? fmin(goal, most_volts) : goal;
	const double stop_amps = most_amps > 0.0 ? most_amps : raise_stops_amps;
	const double older = reform_limit_amps(REFORM_OLDER, &aim->part);
	const double go_amps = fmin(0.1 * stop_amps, isnan(older) ? aim->limit_amps : older);
	const struct reform_reading *last = n > 0 ? &readings[n - 1] : NULL;
	struct reform_step step;

	if (!last)
		return raise_to(step_up(aim, 0.0, step_share, ceiling),
		                "begin at a quarter of rated volts");
	if (judgement->verdict == REFORM_FAILING)
		return say(REFORM_STOP, reform_reason_text(judgement->reason));
	if (last->amps > stop_amps) {
		step = say(REFORM_LOWER, "more current than the supply should give");
		step.volts = 0.5 * last->volts;
		return step;
	}
	if (last->volts > aim->part.volts / full_share) {
		step = say(REFORM_LOWER, "above rated volts, which re-forming never needs");
		step.volts = aim->part.volts;
		return step;
	}
	if (judgement->verdict == REFORM_FORMED)
		return say(REFORM_DONE, "at full volts and within the limit");
	if (last->volts >= full_share * goal)
		return hold(aim->limit_amps, 0.0, judgement->verdict == REFORM_STUCK ?
		            "at full volts; what remains does not reach the limit" :
		            "at full volts: wait for the limit");
	if (last->volts >= full_share * ceiling)
		return hold(go_amps, 0.0, "the supply gives no more volts: take one that gives its "
		            "full ones, or form it to less");
	if (last->amps > go_amps)
		return hold(go_amps, step_hold_s - judgement->held_s,
		            judgement->verdict == REFORM_STUCK ?
		            "it no longer falls at these volts: do not raise" :
		            "wait until the leakage has fallen");
	if (judgement->held_s < step_hold_s)
		return hold(go_amps, step_hold_s - judgement->held_s,
		            "the leakage counts five minutes after the volts were applied");
	if (last->amps > 0.5 * go_amps)
		return raise_to(step_up(aim, last->volts, 0.5 * step_share, ceiling),
		                "half a step: the leakage is not far below what allows one");
	return raise_to(step_up(aim, last->volts, step_share, ceiling), "the leakage has fallen");
}

/* Beyond this a resistor limits nothing: a shorted part would be boiled before anybody sees it. */
static const double last_short_amps_most = 0.05;

/* "; or 12 kohm 25 W in its place": the resistor for the last step, with the part at its limit or,
 * where that would let too much through a short, leaking as it does. */
static void name_resistor(char *out, size_t size, double supply_volts, double need_volts,
                          double limit_amps, double amps)
{
	char r[32], w[32];
	double watts, ohms = reform_series_reaching(supply_volts, need_volts, limit_amps, &watts);

	out[0] = '\0';
	if (!(supply_volts / ohms <= last_short_amps_most))
		ohms = reform_series_reaching(supply_volts, need_volts, amps, &watts);
	if (!(supply_volts / ohms <= last_short_amps_most))
		return;
	(void)num_print_unit(r, sizeof r, ohms, UNIT_OHM, 3);
	(void)num_print_unit(w, sizeof w, watts, UNIT_WATT, 3);
	(void)snprintf(out, size, "; or %.20s %.20s in its place", r, w);
}

void reform_step_within(struct reform_step *step, const struct reform_aim *aim,
                        const struct reform_reading *last, double supply_volts,
                        double series_ohms)
{
	const double need = full_share * step->volts;
	const double at_limit = supply_volts - series_ohms * aim->limit_amps;
	const double now = supply_volts - series_ohms * last->amps;
	char resistor[64], supply[32], ohms[32], volts[32], amps[32];

	if (step->order != REFORM_RAISE || !(supply_volts > 0.0) || !(series_ohms > 0.0) ||
	    !(aim->limit_amps > 0.0) || last->volts > now + 0.05 * supply_volts || now >= need)
		return;
	if (last->volts < full_share * at_limit && at_limit < need) {
		step->volts = floor(at_limit);
		(void)snprintf(step->why, sizeof step->why, "as far as the supply reaches through "
		               "its resistor with the leakage at its limit");
		return;
	}
	if (last->volts < full_share * now && at_limit >= need)
		return; /* the supply is not at its end, and the leakage may fall on the way */
	name_resistor(resistor, sizeof resistor, supply_volts, need, aim->limit_amps, last->amps);
	(void)num_print_unit(supply, sizeof supply, supply_volts, UNIT_VOLT, 3);
	(void)num_print_unit(ohms, sizeof ohms, series_ohms, UNIT_OHM, 3);
	(void)num_print_unit(volts, sizeof volts, need, UNIT_VOLT, 3);
	*step = hold(fmax(0.0, (supply_volts - need) / series_ohms), 0.0, "");
	(void)num_print_unit(amps, sizeof amps, step->below_amps, UNIT_AMPERE, 3);
	(void)snprintf(step->why, sizeof step->why,
	               "supply up to %.12s: through %.12s that gives %.12s once below %.12s%.48s",
	               supply, ohms, volts, amps, resistor);
}
