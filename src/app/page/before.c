#include "app/page/before.h"

#include <stdio.h>

#include "mainstair/core/look.h"

void before_caution(const struct bench_desk *desk, struct sheet *ret)
{
	const char *chassis = look_chassis_warning(desk->profile);

	(void)snprintf(ret->caution, sizeof ret->caution,
	               "unplugged, plug in sight; capacitors discharged, measured under 60 V%s%s",
	               *chassis ? "; " : "", chassis);
}

void before_source(struct sheet *s, const char *source, enum basis basis)
{
	if (!*source)
		return;
	if (basis == BASIS_READ || basis == BASIS_PRACTICE)
		sheet_detail(s, ROLE_DIM, "source: %s", source);
	else
		sheet_detail(s, ROLE_DIM, "source: %s (%s)", source, basis_word(basis));
}

void before_hand(const struct sheet *s, int *in_hand)
{
	if (*in_hand >= s->n_rows)
		*in_hand = s->n_rows - 1;
	if (*in_hand < 0)
		*in_hand = 0;
}

enum page_answer before_answer(enum entry_line line)
{
	switch (line) {
	case ENTRY_LINE_TAKEN:
		return PAGE_TAKEN;
	case ENTRY_LINE_ASK:
		return PAGE_ASK;
	case ENTRY_LINE_WRONG:
		break;
	}
	return PAGE_WRONG;
}
