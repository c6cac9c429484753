/* ui/sightings.c - see sightings.h */
#include "sightings.h"

#include <stdio.h>
#include <string.h>

void sightings_init(struct sightings *s, const struct plan *plan)
{
	*s = (struct sightings){.plan = plan};
}

static void meter(struct sightings *s, const struct event *ev)
{
	struct sighting *m = NULL;
	for (int i = 0; i < s->n_meters && !m; i++)
		if (strcmp(s->meters[i].what, ev->note) == 0)
			m = &s->meters[i];
	if (!m && s->n_meters < SIGHTINGS_METERS_MAX)
		m = &s->meters[s->n_meters++];
	if (!m)
		return; /* more names than the unit has rails: the record keeps them */
	snprintf(m->what, sizeof m->what, "%s", ev->note);
	m->volts = ev->volts;
	m->seconds = ev->seconds;
}

static void look(struct sightings *s, const struct event *ev)
{
	if (ev->stage < 0 || ev->stage >= s->plan->n_stages)
		return;
	const char *prompt = strchr(ev->note, ':');
	if (!prompt)
		return;
	prompt += 1 + (prompt[1] == ' ');
	const struct stage *stage = &s->plan->stages[ev->stage];
	for (int i = 0; i < stage->n_looks; i++)
		if (strcmp(stage->looks[i], prompt) == 0)
			s->looks[ev->stage][i] = strncmp(ev->note, "yes", 3) == 0 ? LOOK_YES : LOOK_NO;
}

void sightings_apply(struct sightings *s, const struct event *ev)
{
	if (ev->kind == EVENT_RAIL)
		meter(s, ev);
	else if (ev->kind == EVENT_LOOK)
		look(s, ev);
	else if (ev->kind == EVENT_ABORT_ACKNOWLEDGED || ev->kind == EVENT_STOP_ACKNOWLEDGED)
		memset(s->looks, LOOK_OPEN, sizeof s->looks);
}

const struct sighting *sightings_of(const struct sightings *s, const char *what)
{
	for (int i = 0; i < s->n_meters; i++)
		if (strcmp(s->meters[i].what, what) == 0)
			return &s->meters[i];
	return NULL;
}

int sightings_open_look(const struct sightings *s, int stage)
{
	if (stage < 0 || stage >= s->plan->n_stages)
		return -1;
	for (int i = 0; i < s->plan->stages[stage].n_looks; i++)
		if (s->looks[stage][i] == LOOK_OPEN)
			return i;
	return -1;
}
