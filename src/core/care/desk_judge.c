/* core/care/desk_judge.c - a section's state, next step and words: see core/desk.h */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/core/desk.h"

enum { SHOWN_MAX = 40 };

const char *desk_state_word(enum desk_state state)
{
	static const char *const words[DESK_STATES] = {
		[DESK_UNTOUCHED] = "untouched", [DESK_FORMING] = "forming",
		[DESK_FORMED] = "formed", [DESK_OLDER_ONLY] = "usable",
		[DESK_ACCEPTED] = "accepted", [DESK_REPLACED] = "replaced",
		[DESK_STUCK] = "stuck", [DESK_FAILING] = "failing",
	};

	return words[state];
}

static const char *show(char out[SHOWN_MAX], double value, enum unit unit)
{
	(void)num_print_unit(out, SHOWN_MAX, value, unit, 3);
	return out;
}

static const char *rule_name(enum reform_rule rule)
{
	return rule == REFORM_RULES ? "your own limit" : reform_rules[rule].title;
}

static enum desk_state state_of(const struct desk_section *s)
{
	const double modern = s->limits[REFORM_CV_1];

	if (s->judgement.verdict == REFORM_FAILING && s->n > 0)
		return DESK_FAILING;
	if (s->accepted)
		return DESK_ACCEPTED;
	if (s->replaced)
		return DESK_REPLACED;
	if (s->n == 0)
		return DESK_UNTOUCHED;
	if (s->judgement.verdict == REFORM_STUCK)
		return DESK_STUCK;
	if (s->judgement.verdict != REFORM_FORMED)
		return DESK_FORMING;
	return s->reading[s->n - 1].amps <= modern ? DESK_FORMED : DESK_OLDER_ONLY;
}

/* "usable by the old rule (1.1 mA), not like new by today's 0.01 C V (90 uA)" */
static void say_both(struct desk_section *s, const char *now)
{
	char limit[SHOWN_MAX], modern[SHOWN_MAX];

	(void)show(limit, s->aim.limit_amps, UNIT_AMPERE);
	(void)show(modern, s->limits[REFORM_CV_1], UNIT_AMPERE);
	(void)snprintf(s->words, sizeof s->words,
	               "%s: usable by %s (%s), not like new by %s (%s)", now,
	               rule_name(s->aim.rule), limit, reform_rules[REFORM_CV_1].title, modern);
}

static void say_forming(struct desk_section *s, const char *now)
{
	const double older = s->limits[REFORM_OLDER], amps = s->reading[s->n - 1].amps;
	char limit[SHOWN_MAX], other[SHOWN_MAX], volts[SHOWN_MAX];

	(void)show(limit, s->aim.limit_amps, UNIT_AMPERE);
	if (!s->judgement.at_form_volts)
		(void)snprintf(s->words, sizeof s->words, "%s; limit %s (%s), counts at %s", now,
		               limit, rule_name(s->aim.rule),
		               show(volts, s->aim.form_volts, UNIT_VOLT));
	else if (amps <= older && s->aim.limit_amps < older)
		(void)snprintf(s->words, sizeof s->words,
		               "%s: usable by the old rule (%s), %sabove %s (%s)", now,
		               show(other, older, UNIT_AMPERE),
		               s->state == DESK_STUCK ? "no longer falling, " : "",
		               rule_name(s->aim.rule), limit);
	else
		(void)snprintf(s->words, sizeof s->words, "%s%s; limit %s (%s)", now,
		               s->state == DESK_STUCK ? ", no longer falling to the limit" : "",
		               limit, rule_name(s->aim.rule));
}

static void say(struct desk_section *s)
{
	const struct reform_reading *last = s->n > 0 ? &s->reading[s->n - 1] : NULL;
	char now[2 * SHOWN_MAX + 4] = "", amps[SHOWN_MAX], volts[SHOWN_MAX];
	size_t used;

	if (last)
		(void)snprintf(now, sizeof now, "%s at %s", show(amps, last->amps, UNIT_AMPERE),
		               show(volts, last->volts, UNIT_VOLT));
	switch (s->state) {
	case DESK_UNTOUCHED:
		(void)snprintf(s->words, sizeof s->words, "not re-formed yet: no reading");
		break;
	case DESK_FORMED:
		(void)snprintf(s->words, sizeof s->words, "%s, within %s (%s)", now,
		               show(volts, s->aim.limit_amps, UNIT_AMPERE),
		               rule_name(s->aim.rule));
		break;
	case DESK_OLDER_ONLY:
		say_both(s, now);
		break;
	case DESK_FORMING:
	case DESK_STUCK:
		say_forming(s, now);
		break;
	case DESK_ACCEPTED:
		(void)snprintf(s->words, sizeof s->words, "accepted as it is: %.150s",
		               s->accepted_why);
		break;
	case DESK_REPLACED:
		(void)snprintf(s->words, sizeof s->words, "replaced by a new one%s%s",
		               last ? ": " : "", now);
		break;
	case DESK_FAILING:
		(void)snprintf(s->words, sizeof s->words, "%s: %s", now,
		               reform_reason_text(s->judgement.reason));
		break;
	case DESK_STATES:
		break;
	}
	used = strlen(s->words);
	if (s->must_discharge)
		(void)snprintf(s->words + used, sizeof s->words - used,
		               "; still charged to %s: discharge it",
		               show(volts, s->charged_volts, UNIT_VOLT));
	else if (s->on && s->state != DESK_FORMING && s->state != DESK_STUCK)
		(void)snprintf(s->words + used, sizeof s->words - used, "; still on the supply");
}

void desk_take(struct desk_section *s, const struct reform_judgement *judgement)
{
	s->judgement = *judgement;
	s->step = reform_next_step(&s->aim, s->reading, s->n, &s->judgement,
	                           s->supply_told ? s->supply_volts : 0.0, 0.0);
	if (s->n > 0)
		reform_step_within(&s->step, &s->aim, &s->reading[s->n - 1], s->supply_volts,
		                   s->series_ohms);
	s->state = state_of(s);
	s->blocks = s->on || s->must_discharge || s->state == DESK_UNTOUCHED ||
		s->state == DESK_FORMING || s->state == DESK_STUCK || s->state == DESK_FAILING;
	s->judged = true;
	say(s);
}

void desk_judge(struct desk_section *s, struct reform_work *work)
{
	const struct reform_judgement judgement = reform_judge(&s->aim, s->reading, s->n, work);

	desk_take(s, &judgement);
}
