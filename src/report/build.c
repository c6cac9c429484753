#include <stdio.h>

#include "report/parts.h"

static void add_title(struct document *d, const struct report_data *r)
{
	char title[PROFILE_TEXT_MAX + 80], lead[200], made[WHEN_MAX];

	if (r->label[0])
		(void)snprintf(title, sizeof title, "%s, unit %s", r->profile->name, r->label);
	else
		(void)snprintf(title, sizeof title, "%s, one power-up", r->profile->name);
	(void)snprintf(lead, sizeof lead, "%s, made %s UTC by %.60s. All times are UTC.",
	               r->label[0] ? "What was done, read and found"
	                           : "What the record of one power-up tells",
	               when(made, r->made_s), r->program);
	document_title(d, title, lead);
}

int report_build(struct document *d, const struct report_data *r)
{
	add_title(d, r);
	part_unit(d, r);
	part_open(d, r);
	part_cautions(d, r);
	if (r->job) {
		part_look(d, r);
		part_tubes(d, r);
		part_ohms(d, r);
		part_capacitors(d, r);
	}
	part_power(d, r);
	if (r->job) {
		part_calibrate(d, r);
		part_nulls(d, r);
		part_compare(d, r);
		part_notes(d, r);
	}
	return d->failed ? -1 : 0;
}
