#include "mainstair/core/null_hunt.h"

#include <math.h>
#include <string.h>

#include "mainstair/base/text.h"

const double null_gain_least = 0.05;

/* The rate is taken over so many rounds that gained. */
enum { RATE_ROUNDS = 3 };

const char *null_state_word(enum null_state state)
{
	static const char *const words[] = {
	        [NULL_TOO_FEW] = "too few", [NULL_FALLING] = "falling",
	        [NULL_SLOWING] = "slowing", [NULL_WANDERING] = "wandering",
	        [NULL_REACHED] = "reached",
	};

	return words[state];
}

/* An indication as something that is nought at a perfect null. */
static double size_of(const struct null_hunt *hunt, double indicated)
{
	if (hunt->profile && unit_is_level(hunt->profile->unit))
		return pow(10, indicated / 20);
	return fabs(indicated);
}

static int control_named(struct null_hunt *hunt, const char *name)
{
	struct null_control *control;

	for (int i = 0; i < hunt->n_controls; i++)
		if (text_same(hunt->control[i].name, name))
			return i;
	if (hunt->n_controls == NULL_CONTROLS_MAX || strlen(name) >= PROFILE_NAME_MAX)
		return -1;
	control = &hunt->control[hunt->n_controls];
	*control = (struct null_control){.best_position = NAN, .position = NAN};
	strcpy(control->name, name);
	return hunt->n_controls++;
}

/* ---- rounds ---- */

/* The round under way. */
struct under_way {
	unsigned turned;    /* controls, as bits */
	double lowest;      /* indication; its size decides */
	double before_size; /* least size of all before it */
	double least_size;  /* of all entries so far */
};

static void end_round(struct null_hunt *hunt, struct under_way *w, int last_entry)
{
	struct null_round *round;

	if (hunt->n_rounds == NULL_ROUNDS_MAX) {
		memmove(hunt->round, hunt->round + 1,
		        (NULL_ROUNDS_MAX - 1) * sizeof hunt->round[0]);
		hunt->n_rounds--;
	}
	round = &hunt->round[hunt->n_rounds++];
	hunt->rounds++;
	*round = (struct null_round){.lowest = w->lowest, .last_entry = last_entry};
	round->change =
	        w->before_size > 0 ? size_of(hunt, w->lowest) / w->before_size : (double)NAN;
	if (round->change <= 1 - null_gain_least)
		hunt->idle_rounds = 0;
	else
		hunt->idle_rounds++;
	w->turned = 0;
	w->before_size = w->least_size;
}

static bool more_than_one(unsigned bits)
{
	return (bits & (bits - 1)) != 0;
}

static void take_reading(struct null_hunt *hunt, struct under_way *w, const struct entry *e)
{
	const double indicated = e->number[0], size = size_of(hunt, indicated);
	const int at = control_named(hunt, e->subject), index = hunt->entries;
	struct null_control *control;
	unsigned bit;

	if (at < 0) {
		hunt->foreign++;
		return;
	}
	bit = 1u << at;
	control = &hunt->control[at];
	/* turned before in this round, and another one since: a new round */
	if ((w->turned & bit) && hunt->last_control != at && more_than_one(w->turned))
		end_round(hunt, w, index - 1);
	control->position = e->number[1];
	control->turns_since_best++;
	hunt->entries++;
	hunt->last = indicated;
	if (index == 0) {
		hunt->first = indicated;
		w->before_size = w->least_size = size;
	}
	if (!w->turned || size < size_of(hunt, w->lowest))
		w->lowest = indicated;
	w->turned |= bit;
	hunt->last_control = at;
	if (index > 0 && !(size < w->least_size))
		return;
	w->least_size = size;
	hunt->best = indicated;
	hunt->best_entry = index;
	hunt->best_utc_s = e->utc_s;
	hunt->gained_last = index > 0 ? at : -1;
	for (int i = 0; i < hunt->n_controls; i++) {
		hunt->control[i].best_position = hunt->control[i].position;
		hunt->control[i].turns_since_best = 0;
	}
}

/* ---- what it comes to ---- */

static void find_rate(struct null_hunt *hunt)
{
	double logs = 0;
	int n = 0;

	for (int i = hunt->n_rounds; i-- > 0 && n < RATE_ROUNDS;) {
		const double change = hunt->round[i].change;

		if (!(change <= 1 - null_gain_least))
			continue;
		/* nought reached: any rate is quick enough */
		logs += log(fmax(change, 1e-6));
		n++;
	}
	if (n > 0)
		hunt->rate = exp(logs / n);
}

static void find_state(struct null_hunt *hunt)
{
	const struct profile_null *null = hunt->profile;
	const double best = hunt->entries > 0 ? size_of(hunt, hunt->best) : (double)NAN;
	const double below = null && !isnan(null->below) ? size_of(hunt, null->below) : (double)NAN;

	if (best <= below)
		hunt->state = NULL_REACHED;
	else if (hunt->rounds == 0)
		hunt->state = NULL_TOO_FEW;
	else if (hunt->idle_rounds == 0)
		hunt->state = NULL_FALLING;
	else if (hunt->idle_rounds == 1)
		hunt->state = NULL_SLOWING;
	else
		hunt->state = NULL_WANDERING;
	find_rate(hunt);
	if (hunt->state == NULL_FALLING && below > 0 && hunt->rate < 1)
		hunt->rounds_to_go = log(below / best) / log(hunt->rate);
}

void null_hunt_make(struct null_hunt *ret, const struct profile *profile, const char *name,
                    const struct entry *entries, size_t n)
{
	struct under_way w = {.lowest = NAN, .before_size = NAN, .least_size = NAN};
	unsigned all;

	memset(ret, 0, sizeof *ret);
	ret->first = ret->last = ret->best = NAN;
	ret->best_utc_s = ret->rate = ret->rounds_to_go = NAN;
	ret->best_entry = ret->gained_last = ret->last_control = -1;
	(void)text_show(ret->name, sizeof ret->name, name, strlen(name));
	for (int i = 0; i < profile->n_nulls; i++)
		if (text_same(profile->nulls[i].name, name))
			ret->profile = &profile->nulls[i];
	for (int i = 0; ret->profile && i < ret->profile->n_controls; i++)
		(void)control_named(ret, ret->profile->control[i]);
	for (size_t i = 0; i < n; i++)
		if (entries[i].kind == ENTRY_NULL && text_same(entries[i].word, name) &&
		    isfinite(entries[i].number[0]))
			take_reading(ret, &w, &entries[i]);
	all = (1u << ret->n_controls) - 1;
	if (more_than_one(w.turned) && w.turned == all)
		end_round(ret, &w, ret->entries - 1);
	find_state(ret);
}

int null_names(const struct profile *profile, const struct entry *entries, size_t n,
               const char **ret, int max)
{
	int found = 0;

	for (int i = 0; i < profile->n_nulls && found < max; i++)
		ret[found++] = profile->nulls[i].name;
	for (size_t i = 0; i < n && found < max; i++) {
		bool there = entries[i].kind != ENTRY_NULL;

		for (int k = 0; k < found && !there; k++)
			there = text_same(ret[k], entries[i].word);
		if (!there)
			ret[found++] = entries[i].word;
	}
	return found;
}
