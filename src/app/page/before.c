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
	int row = *in_hand < 0 ? 0 : *in_hand;

	while (row < s->n_rows && s->row[row].heading)
		row++;
	if (row >= s->n_rows)
		row = s->n_rows > 0 ? s->n_rows - 1 : 0;
	while (row > 0 && s->row[row].heading)
		row--;
	*in_hand = row;
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
