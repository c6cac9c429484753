#include "cli/volts_list.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/num.h"

static int add(struct volts_list *list, double volts, double most, struct err *err)
{
	char typed[32], limit[32];

	if (!(volts >= 0.0 && volts <= most)) {
		(void)num_print_unit(typed, sizeof typed, volts, UNIT_VOLT, 6);
		(void)num_print_unit(limit, sizeof limit, most, UNIT_VOLT, 6);
		return err_set(err, ERR_RANGE, "%s: this unit's line volts lie between 0 and %s",
		               typed, limit);
	}
	if (list->n == VOLTS_LIST_MAX)
		return err_set(err, ERR_RANGE, "more than %d line voltages", VOLTS_LIST_MAX);
	list->volts[list->n++] = volts;
	return 0;
}

/* `50` or `10:120:10`; item is writable. */
static int add_item(struct volts_list *list, char *item, double most, struct err *err)
{
	struct quantity part[3] = { 0 };
	size_t n = 0;
	char *word;

	if (!*item)
		return err_set(err, ERR_INPUT, "an empty place between commas; write 10,50,117");
	while ((word = strsep(&item, ":")) != NULL) {
		if (n == 3)
			return err_set(err, ERR_INPUT, "a range is FIRST:LAST:STEP, as 10:120:10");
		if (num_parse(word, UNIT_VOLT, &part[n], err) != 0)
			return -1;
		n++;
	}
	if (n == 1)
		return add(list, part[0].value, most, err);
	if (n == 2)
		return err_set(err, ERR_INPUT,
		               "a range needs its step: FIRST:LAST:STEP, as 10:120:10");
	if (!(part[2].value > 0.0) || part[1].value < part[0].value)
		return err_set(err, ERR_INPUT,
		               "a range counts up: FIRST:LAST:STEP, step above 0, as 10:120:10");
	/* A thousandth of a step of slack: 0.1 has no exact double. */
	double steps = floor((part[1].value - part[0].value) / part[2].value + 1e-3);

	if (steps >= VOLTS_LIST_MAX)
		return err_set(err, ERR_RANGE, "more than %d line voltages", VOLTS_LIST_MAX);
	for (double k = 0.0; k <= steps; k += 1.0) {
		double volts = fmin(part[0].value + k * part[2].value, part[1].value);

		if (add(list, volts, most, err) != 0)
			return -1;
	}
	return 0;
}

int volts_list_parse(struct volts_list *ret, const char *text, double most, struct err *err)
{
	char *copy = strdup(text), *rest = copy, *item;
	int status = 0;

	*ret = (struct volts_list){ .volts = malloc(VOLTS_LIST_MAX * sizeof *ret->volts) };
	if (!copy || !ret->volts)
		status = err_set(err, ERR_NOMEM, "out of memory");
	while (status == 0 && (item = strsep(&rest, ",")) != NULL)
		status = add_item(ret, item, most, err);
	free(copy);
	if (status != 0)
		volts_list_release(ret);
	return status;
}

void volts_list_release(struct volts_list *list)
{
	free(list->volts);
	*list = (struct volts_list){ 0 };
}
