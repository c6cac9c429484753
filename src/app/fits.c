#include "app/fits.h"

#include <math.h>
#include <stdio.h>

/* While a finding lasts its readings go on changing a little. */
static const double again_s = 20;

static bool finding(const struct session *s)
{
	enum observed what;
	int index;

	if (s->phase == PHASE_ABORT)
		return true;
	if (!s->have_reading || s->phase == PHASE_STOPPED)
		return false;
	return s->last.verdict == VERDICT_OVER || s->last.verdict == VERDICT_UNDER ||
		session_probe_against(s, &what, &index);
}

static double newest_probe(const struct session *s)
{
	double newest = -1;
	for (int i = 0; i < s->net->n_rails; i++)
		newest = fmax(newest, s->rail_probes[i].seconds);
	for (int i = 0; i < s->net->n_windings; i++)
		newest = fmax(newest, s->winding_probes[i].seconds);
	return newest;
}

bool fits_wanted(const struct fits *f, const struct session *s)
{
	if (!finding(s))
		return false;
	if (!f->ranked || f->phase != s->phase || newest_probe(s) > f->probe_s)
		return true;
	if (s->phase == PHASE_ABORT)
		return false; /* the way down tells nothing new */
	return f->stage != s->stage || f->verdict != s->last.verdict ||
		s->now_s - f->ranked_s >= again_s;
}

void fits_rank(struct fits *f, const struct session *s)
{
	struct observation obs[OBSERVATIONS_MAX];
	int n = session_observations(s, obs, OBSERVATIONS_MAX);

	/* On the way down after an abort its reading is no longer the present one. */
	if (s->phase == PHASE_ABORT && s->last.verdict != VERDICT_ABORT && n < OBSERVATIONS_MAX)
		obs[n++] = (struct observation){s->abort_event.volts, OBSERVED_WATTS, -1,
			s->abort_event.watts};
	f->suspicion.n = 0;
	if (n > 0)
		suspects_rank(s->net, s->meter, obs, n, &f->suspicion);
	f->ranked = true;
	f->phase = s->phase;
	f->stage = s->stage;
	f->verdict = s->have_reading ? s->last.verdict : VERDICT_UNKNOWN;
	f->probe_s = newest_probe(s);
	f->ranked_s = s->now_s;
}

/* Acknowledged: its explanation is wanted until there is another one. */
static bool after_abort(const struct fits *f, const struct session *s)
{
	return f->phase == PHASE_ABORT && s->phase != PHASE_ABORT;
}

static void show_one(const struct suspicion *c, const struct suspect *one, const struct session *s,
                     struct fit *ret)
{
	suspect_words(s->net, one, ret->words, sizeof ret->words);
	snprintf(ret->brief, sizeof ret->brief, "%s", one->words);
	ret->odds[0] = '\0';
	if (!c->poor_fit) /* of what fits badly they would mislead */
		suspect_odds(one, ret->odds, sizeof ret->odds);
}

void fits_show(const struct fits *f, const struct session *s, struct surroundings *a)
{
	const struct suspicion *c = &f->suspicion;

	a->n_fits = 0;
	a->separate[0] = a->poor[0] = '\0';
	a->fits_of_abort = a->fits_healthy = false;
	if (!f->ranked || c->n == 0 || !(finding(s) || after_abort(f, s)))
		return;
	a->fits_of_abort = after_abort(f, s);
	if (c->poor_fit)
		suspicion_poor(c, f->phase == PHASE_ABORT, a->poor, sizeof a->poor);
	a->fits_healthy = c->list[0].kind == SUSPECT_HEALTHY;
	for (int i = 0; i < c->n && a->n_fits < SURROUNDINGS_FITS; i++) {
		if (c->list[i].kind == SUSPECT_HEALTHY)
			break; /* what fits worse than a healthy unit is no suspect */
		show_one(c, &c->list[i], s, &a->fits[a->n_fits++]);
	}
	a->fits_told_apart = c->can_tell;
	snprintf(a->separate, sizeof a->separate, "%s", a->n_fits > 0 ? c->separate : "");
}
