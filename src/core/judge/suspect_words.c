#include "suspect_words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static bool same_rating(const struct net_heater *a, const struct net_heater *b)
{
	return a->winding == b->winding && fabs(a->amps - b->amps) < 1e-6 &&
		fabs(a->volts - b->volts) < 1e-6;
}

static bool among(const int *by, int n, int heater)
{
	for (int i = 0; i < n; i++)
		if (by[i] == heater)
			return true;
	return false;
}

/* Is the one's heater missed wherever the other's would be? */
static bool same_role(const struct network *net, int a, int b)
{
	for (int r = 0; r < net->n_rails; r++) {
		const struct net_rail *rail = &net->rails[r];

		if (among(rail->rectifier_by, rail->n_rectifier_by, a) !=
		    among(rail->rectifier_by, rail->n_rectifier_by, b) ||
		    among(rail->regulator_by, rail->n_regulator_by, a) !=
		    among(rail->regulator_by, rail->n_regulator_by, b))
			return false;
		for (int d = 0; d < rail->n_draws; d++)
			if (among(rail->draws[d].by, rail->draws[d].n_by, a) !=
			    among(rail->draws[d].by, rail->draws[d].n_by, b))
				return false;
	}
	return true;
}

bool suspect_heaters_alike(const struct network *net, int a, int b)
{
	return same_rating(&net->heaters[a], &net->heaters[b]) && same_role(net, a, b);
}

static void ohms_words(char *to, size_t n, double ohms)
{
	if (ohms >= 1e6)
		(void)snprintf(to, n, "%.2g Mohm", ohms / 1e6);
	else if (ohms >= 1e3)
		(void)snprintf(to, n, "%.2g kohm", ohms / 1e3);
	else if (ohms >= 100.0)
		(void)snprintf(to, n, "%.0f ohm", 10.0 * floor(ohms / 10.0 + 0.5));
	else
		(void)snprintf(to, n, "%.2g ohm", ohms);
}

/* Text of bounded size that is added to; what does not fit whole is left out. */
struct line {
	char *text;
	size_t room, used;
};

static bool add(struct line *l, const char *words)
{
	const size_t n = strlen(words);

	if (l->used + n >= l->room)
		return false;
	memcpy(l->text + l->used, words, n + 1);
	l->used += n;
	return true;
}

/* Every heater that the suspect may be, the likeliest first; in a string it can be any. */
static void word_heaters(const struct network *net, const struct suspect *s, struct line *l)
{
	int place[NET_HEATERS_MAX], n = 0;

	for (int k = -1; k < s->n_also; k++) {
		const int like = k < 0 ? s->index : s->also[k].index;

		for (int i = 0; i < net->n_heaters; i++)
			if (suspect_heaters_alike(net, i, like))
				place[n++] = i;
	}
	(void)add(l, "an open heater: ");
	for (int i = 0; i < n; i++) {
		char more[32];

		(void)snprintf(more, sizeof more, " or %d more", n - i);
		if (l->used + PROFILE_NAME_MAX + sizeof more > l->room && i > 0 && add(l, more))
			return;
		if (i > 0)
			(void)add(l, i == n - 1 ? " or " : ", ");
		(void)add(l, net->heaters[place[i]].place);
	}
}

static void word_one(const struct network *net, enum suspect_kind kind, int index, double size,
                     char *out, size_t room)
{
	char ohms[32];

	ohms_words(ohms, sizeof ohms, size);
	switch (kind) {
	case SUSPECT_HEALTHY:
		(void)snprintf(out, room, "healthy");
		break;
	case SUSPECT_MAINS_SHUNT:
		(void)snprintf(out, room, "about %s across the mains", ohms);
		break;
	case SUSPECT_SHORTED_TURN:
		(void)snprintf(out, room, "a shorted turn taking about %.*f W at full line",
		               size < 10.0 ? 1 : 0, size);
		break;
	case SUSPECT_WINDING_SHORT:
		(void)snprintf(out, room, "about %s across winding %s", ohms,
		               net->windings[index].name);
		break;
	case SUSPECT_RAIL_LEAK:
		(void)snprintf(out, room, "about %s from rail %s to chassis", ohms,
		               net->rails[index].name);
		break;
	case SUSPECT_PLATE_SHORT:
		(void)snprintf(out, room, "a shorted rectifier plate of rail %s",
		               net->rails[index].name);
		break;
	case SUSPECT_RAIL_LOAD:
		(void)snprintf(out, room, "the loads of rail %s draw about %.1f times their current",
		               net->rails[index].name, size);
		break;
	case SUSPECT_HEATER_OPEN:
		(void)snprintf(out, room, "the heater string is open");
		break;
	case SUSPECT_RAIL_DEAD:
		(void)snprintf(out, room, "rail %s dead", net->rails[index].name);
		break;
	case SUSPECT_LINE_HIGHER:
		(void)snprintf(out, room, "the line is about %.0f %% higher than read",
		               100.0 * (size - 1.0));
		break;
	}
}

void suspect_words(const struct network *net, const struct suspect *s, char *out, size_t size)
{
	struct line l = { out, size, 0 };
	char one[sizeof s->words], more[40];

	out[0] = '\0';
	if (s->kind == SUSPECT_HEATER_OPEN && net->heaters[s->index].winding >= 0) {
		word_heaters(net, s, &l);
		return;
	}
	word_one(net, s->kind, s->index, s->size, out, size);
	l.used = strlen(out);
	for (int i = 0; i < s->n_also; i++) {
		const struct suspect_name *a = &s->also[i];
		const size_t before = l.used;

		word_one(net, a->kind, a->index, a->size, one, sizeof one);
		(void)snprintf(more, sizeof more, "; or %d more", s->n_also - i);
		if (add(&l, "; or ") && add(&l, one) &&
		    (i == s->n_also - 1 || l.used + strlen(more) < l.room))
			continue;
		l.used = before;
		out[before] = '\0';
		(void)add(&l, more);
		return;
	}
}

/* --- what fits badly ---------------------------------------------------------------------- */

void suspect_odd(const struct network *net, const struct observation *o, struct suspicion *ret)
{
	char *to = ret->odd;
	const size_t room = sizeof ret->odd;

	switch (o->what) {
	case OBSERVED_WATTS:
		(void)snprintf(to, room, "the one at %.0f V", o->line_volts);
		break;
	case OBSERVED_RAIL_VOLTS:
		(void)snprintf(to, room, "the volts of rail %s at %.0f V",
		               net->rails[o->index].name, o->line_volts);
		break;
	case OBSERVED_WINDING_VOLTS:
		(void)snprintf(to, room, "the volts of winding %s at %.0f V",
		               net->windings[o->index].name, o->line_volts);
		break;
	}
}

void suspicion_poor(const struct suspicion *s, bool aborted, char *out, size_t size)
{
	const char *what = s->n_readings > 1 ? "all of these readings" : "this reading";
	const char *them = s->n_readings > 1 ? "them" : "it";

	/* nobody is sent back to volts at which there was an abort */
	if (s->odd[0] && aborted)
		(void)snprintf(out, size, "none of the known faults fits %s well; %s may be "
		               "misread, but the abort stands", what, s->odd);
	else if (s->odd[0])
		(void)snprintf(out, size, "none of the known faults fits %s well; take %s "
		               "again, it may be misread", what, s->odd);
	else if (aborted)
		(void)snprintf(out, size, "none of the known faults fits %s well; the abort stands",
		               what);
	else
		(void)snprintf(out, size, "none of the known faults fits %s well; take %s again",
		               what, them);
}

/* --- what would tell ---------------------------------------------------------------------- */

static bool solve(const struct network *net, enum suspect_kind kind, int index, double size,
                  double line_volts, struct load_result *ret)
{
	struct network sick = *net;

	suspect_apply(&sick, kind, index, size);
	load_settled(&sick, line_volts * (kind == SUSPECT_LINE_HIGHER ? size : 1.0), NULL, ret);
	return ret->converged;
}

/* The volts that lie furthest apart, in what a voltmeter tells; how far.  `second`: what the other
 * one is called. */
static double farthest(const struct network *net, double line_volts, const struct load_result at[2],
                       const char *second, char *out, size_t room)
{
	const double least = 2.0;
	double best = 0.0;

	for (int r = 0; r < net->n_rails; r++) {
		const double a = at[0].rail_volts[r], b = at[1].rail_volts[r];
		const double apart = fabs(a - b) / (0.5 + 0.02 * (a + b));

		if (apart > best && apart > least) {
			best = apart;
			(void)snprintf(out, room, "volts on rail %s at %.0f V line: %.0f V if the first, "
			               "%.0f V if %s", net->rails[r].name, line_volts, a, b, second);
		}
	}
	for (int w = 0; w < net->n_windings; w++) {
		const double a = at[0].winding_volts[w], b = at[1].winding_volts[w];
		const double apart = fabs(a - b) / (0.02 + 0.02 * (a + b));

		if (net->windings[w].feeds_rail) /* nobody is sent to probe plate volts under power */
			continue;

		if (apart > best && apart > least) {
			best = apart;
			(void)snprintf(out, room, "volts on winding %s at %.0f V line: %.2f V if the "
			               "first, %.2f V if %s", net->windings[w].name, line_volts, a, b,
			               second);
		}
	}
	return best;
}

/* Does a whole heater show a dull red at these volts (core/judge/plan.c)? */
static bool heaters_glow(const struct network *net, double line_volts)
{
	struct load_result at;
	double most = 0.0;

	load_settled(net, line_volts, NULL, &at);
	for (int h = 0; h < net->n_tube_heaters; h++)
		most = fmax(most, at.heater_share[h]);
	return most >= 0.3;
}

static void look_at_heaters(const struct network *net, double line_volts, struct suspicion *ret)
{
	(void)snprintf(ret->separate, sizeof ret->separate, "%s", heaters_glow(net, line_volts) ?
	               "look which of them stays dark, or cold to the touch once the plug is out" :
	               "too few volts for any to glow: plug out, ohms from heater pin to heater pin of "
	               "each; the open one reads OL");
}

/* Where no voltmeter tells: what else would. */
static const char *without_volts(const struct suspect *first, const struct suspect_name *other)
{
	const enum suspect_kind a = first->kind, b = other->kind;

	if (a == SUSPECT_LINE_HIGHER || b == SUSPECT_LINE_HIGHER)
		return "read the line volts with another meter, at the unit's plug";
	if (a == SUSPECT_MAINS_SHUNT || b == SUSPECT_MAINS_SHUNT)
		return "plug out, take one wire off the primary: what is drawn then is across the mains";
	if (a == SUSPECT_SHORTED_TURN || b == SUSPECT_SHORTED_TURN)
		return "plug out, every winding's leads off: what is drawn then is in the transformer";
	return NULL;
}

void suspect_separate(const struct network *net, double line_volts, struct suspicion *ret)
{
	const struct suspect *first = &ret->list[0], *second = &ret->list[1];
	const int n = first->n_also > 0 ? first->n_also : 1;
	char words[sizeof ret->separate], name[80];
	struct load_result at[2];
	double best = 0.0;

	if (first->kind == SUSPECT_HEATER_OPEN &&
	    (first->n_also > 0 || second->kind == SUSPECT_HEATER_OPEN)) {
		look_at_heaters(net, line_volts, ret);
		return;
	}
	if (solve(net, first->kind, first->index, first->size, line_volts, &at[0]))
		for (int k = 0; k < n; k++) {
			const struct suspect_name other = first->n_also > 0 ? first->also[k] :
				(struct suspect_name){ second->kind, second->index, second->size };

			(void)snprintf(name, sizeof name, "the second");
			if (first->n_also > 0)
				word_one(net, other.kind, other.index, other.size, name, sizeof name);
			if (!solve(net, other.kind, other.index, other.size, line_volts, &at[1]))
				continue;
			const double apart = farthest(net, line_volts, at, name, words, sizeof words);

			if (apart > best) {
				best = apart;
				memcpy(ret->separate, words, sizeof ret->separate);
			}
		}
	if (best > 0.0)
		return;
	const struct suspect_name other = first->n_also > 0 ? first->also[0] :
		(struct suspect_name){ second->kind, second->index, second->size };
	const char *instead = without_volts(first, &other);

	if (first->kind == SUSPECT_HEATER_OPEN)
		look_at_heaters(net, line_volts, ret);
	else if (instead)
		(void)snprintf(ret->separate, sizeof ret->separate,
		               "no voltmeter tells these two apart at %.0f V: %s", line_volts, instead);
	else
		(void)snprintf(ret->separate, sizeof ret->separate,
		               "no voltmeter tells these two apart at %.0f V: plug out, discharge, and "
		               "take ohms of both", line_volts);
}
