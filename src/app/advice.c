#include "app/advice.h"

#include <stdio.h>
#include <string.h>

static int stage_next(const struct session *s)
{
	return s->stage + 1 < s->plan->n_stages ? s->stage + 1 : s->plan->n_stages - 1;
}

bool advice_wanted(const struct advice *a, const struct session *s)
{
	return !a->known || a->next != stage_next(s);
}

void advice_work_out(struct advice *a, const struct session *s)
{
	const struct stage *stages = s->plan->stages;

	a->next = stage_next(s);
	a->n = measure_next_both(s->net, s->rule, s->meter, (double[2]){stages[a->next].volts,
		stages[s->plan->n_stages - 1].volts}, a->list, SURROUNDINGS_MEASURES);
	for (int i = 0; i < a->n; i++)
		if (!network_measure_line(s->net, a->list[i].param, 1, a->line[i], sizeof a->line[i]))
			a->line[i][0] = '\0';
	a->known = true;
}

void advice_show(const struct advice *a, const struct session *s, struct surroundings *around)
{
	const struct plan *plan = s->plan;

	around->n_measures = 0;
	for (int i = 0; a->known && i < a->n; i++) {
		const struct param *p = &s->net->params[a->list[i].param];
		char *text = around->measures[around->n_measures++];
		const size_t size = sizeof around->measures[0];

		if (a->next == plan->n_stages - 1)
			snprintf(text, size, "%s: %.0f %% narrower at full line; %s", p->name,
				100 * a->list[i].gain[1], p->measure);
		else
			snprintf(text, size, "%s: %.0f %% narrower at %.0f V, %.0f %% at full "
				"line; %s", p->name, 100 * a->list[i].gain[0], plan->stages[a->next].volts,
				100 * a->list[i].gain[1], p->measure);
		const size_t used = strlen(text);

		snprintf(text + used, size - used, "; then type, with your number: measured %s",
			a->line[i]);
	}
}
