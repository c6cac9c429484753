#include "mainstair/core/envelope.h"

#include <math.h>
#include <string.h>

const struct meter_accuracy meter_accuracy_default = { .reading_share = 0.01, .offset_watts = 0.05 };

/* Independent rectangular errors that add up: their limits a_i, summed as a, a^2 and a^4. */
struct spread {
	double sum, squares, fourths;
};

static void spread_add(struct spread *s, double limit)
{
	const double square = limit * limit;

	s->sum += limit;
	s->squares += square;
	s->fourths += square * square;
}

/* Half width of such a sum that holds 99 per cent of it: standard deviation root(sum a_i^2 / 3)
 * (GUM, JCGM 100:2008, 4.3.7) times the normal 2.576, less what the sum's flatness takes off
 * (Cornish and Fisher, first kurtosis term; a rectangle's excess kurtosis is -6/5), and never
 * more than all limits added. */
static double half_width(const struct spread *s)
{
	const double z = 2.576;

	if (!(s->squares > 0.0))
		return 0.0;
	const double kurtosis = -1.2 * s->fourths / (s->squares * s->squares);
	const double factor = z + (z * z * z - 3.0 * z) * kurtosis / 24.0;

	return fmin(s->sum, factor * sqrt(s->squares / 3.0));
}

static const double default_share = 0.15, default_floor_watts = 0.5;

/* Watts of a network near one that was solved; NAN: they do not settle. */
static double watts_near(const struct network *net, double line_volts,
                         const struct load_start *near)
{
	const double watts = load_watts(net, line_volts, near);

	/* a near start is not always a good one */
	return isnan(watts) ? load_watts(net, line_volts, NULL) : watts;
}

/* Watts with parameter k of *scratch moved by factor; *scratch is put back. */
static double watts_with(struct network *scratch, int k, double factor, double line_volts,
                         const struct load_start *near)
{
	network_scale(scratch, k, factor);
	const double watts = watts_near(scratch, line_volts, near);
	network_scale(scratch, k, 1.0 / factor);
	return watts;
}

static bool is_emission(const struct param *p)
{
	return p->kind == PARAM_CATHODE_EMISSION || p->kind == PARAM_RECTIFIER_EMISSION;
}

/* How far the watts go with the cathodes of rectifier and tubes strong together, or weak.  The
 * weaker of the two rules: each alone moves little, both together much, so their effects must not
 * be added as if they were apart.  Both beyond a share c of the same limit are (1 - c)^2 / 4 of all
 * units: one in a hundred beyond four fifths. */
static const double together = 0.8;

static void scale_emission(struct network *net, bool strong, bool back)
{
	for (int k = 0; k < net->n_params; k++) {
		const struct param *p = &net->params[k];
		const double factor = strong ? 1.0 + together * p->up : 1.0 - together * p->down;

		if (is_emission(p))
			network_scale(net, k, back ? 1.0 / factor : factor);
	}
}

static void emission_together(struct network *scratch, double watts, double line_volts,
                              const struct load_start *near, double *ret_up, double *ret_down)
{
	*ret_up = *ret_down = 0.0;
	for (int side = 0; side < 2; side++) {
		scale_emission(scratch, side == 0, false);
		const double moved = watts_near(scratch, line_volts, near) - watts;
		scale_emission(scratch, side == 0, true);
		if (isnan(moved)) {
			*ret_up = *ret_down = watts;
			continue;
		}
		*ret_up = fmax(*ret_up, moved);
		*ret_down = fmax(*ret_down, -moved);
	}
}

double envelope_rated_amps(const struct network *net)
{
	struct load_result at;

	load_settled(net, net->line_volts, NULL, &at);
	return at.watts / net->line_volts;
}

struct abort_rule abort_rule_of(const struct profile *profile, const struct network *net)
{
	struct abort_rule rule = { .rated_amps = envelope_rated_amps(net), .share = default_share,
	                           .floor_watts = default_floor_watts };

	if (profile->abort_excess_share.given)
		rule.share = profile->abort_excess_share.value;
	if (profile->abort_excess_watts.given)
		rule.watts_at_line = profile->abort_excess_watts.value;
	if (profile->fuse_amps.given)
		rule.fuse_amps = profile->fuse_amps.value;
	return rule;
}

void envelope_at(const struct network *net, const struct abort_rule *rule,
                 const struct meter_accuracy *meter, double line_volts,
                 struct load_start *start, struct band *ret, struct sensitivity *ret_sens)
{
	struct load_start own = { 0 };
	struct spread up_all = { 0 }, down_all = { 0 };           /* but for emission */
	struct spread up_emission = { 0 }, down_emission = { 0 }; /* each cathode alone */
	struct network scratch = *net;

	memset(ret, 0, sizeof *ret);
	ret->volts = line_volts;
	if (!start)
		start = &own;
	load_settled(net, line_volts, start, &ret->at);
	const double watts = ret->at.watts;
	ret->expected = watts;

	for (int k = 0; k < net->n_params; k++) {
		const struct param *p = &net->params[k];
		double up = 0.0, down = 0.0;
		const double factors[2] = { 1.0 + p->up, 1.0 - p->down };
		/* Within narrow limits the watts go straight: one side tells the other.  Not so
		 * for emission and striking, which have knees. */
		const bool straight = p->up < 0.21 && !(p->up < p->down) && !(p->up > p->down);

		for (int side = 0; side < (straight ? 1 : 2) && line_volts > 0.0; side++) {
			const double moved = watts_with(&scratch, k, factors[side], line_volts, start) -
				watts;

			/* a solve that does not come back says nothing good: count it as wide */
			if (isnan(moved)) {
				up = down = watts;
				continue;
			}
			if (moved > up)
				up = moved;
			if (-moved > down)
				down = -moved;
		}
		if (straight)
			up = down = fmax(up, down);
		if (ret_sens)
			ret_sens[k] = (struct sensitivity){ k, up, down };
		spread_add(is_emission(p) ? &up_emission : &up_all, up);
		spread_add(is_emission(p) ? &down_emission : &down_all, down);
	}
	const double up_rest = half_width(&up_all), down_rest = half_width(&down_all);
	double up_together = 0.0, down_together = 0.0;
	if (line_volts > 0.0 && up_emission.squares + down_emission.squares > 0.0)
		emission_together(&scratch, watts, line_volts, start, &up_together, &down_together);
	up_together = fmax(up_together, sqrt(up_emission.squares));
	down_together = fmax(down_together, sqrt(down_emission.squares));
	spread_add(&up_all, up_together);
	spread_add(&down_all, down_together);
	const double up = half_width(&up_all), down = half_width(&down_all);
	/* The meter's error is nobody's fault but its own: quadrature with the unit's. */
	const double by_meter = meter->reading_share * watts + meter->offset_watts;

	ret->high = watts + sqrt(up * up + by_meter * by_meter);
	ret->low = fmax(0.0, watts - sqrt(down * down + by_meter * by_meter));
	ret->rest_high = watts + sqrt(up_rest * up_rest + by_meter * by_meter);
	ret->rest_low = fmax(0.0, watts - sqrt(down_rest * down_rest + by_meter * by_meter));
	const double squares = up_all.squares + down_all.squares;
	ret->emission_share = squares > 0.0 ?
		(up_together * up_together + down_together * down_together) / squares : 0.0;

	double excess;
	if (rule->watts_at_line > 0.0)
		excess = rule->watts_at_line * line_volts / net->line_volts;
	else
		excess = rule->share * rule->rated_amps * line_volts;
	ret->abort_watts = ret->high + fmax(excess, rule->floor_watts);
	/* never silently above the fuse, though never inside the band either: at a volt or two
	 * the meter's own error is more than any fuse would pass */
	if (rule->fuse_amps > 0.0 && line_volts > 0.0)
		ret->abort_watts = fmax(ret->high, fmin(ret->abort_watts,
		                                        rule->fuse_amps * line_volts));
}
