/* What the unit is, how far the job has come, and the cautions. */

#include "report/parts.h"

static const char *chassis_word(enum chassis chassis)
{
	switch (chassis) {
	case CHASSIS_EARTHED:
		return "earthed through its cord";
	case CHASSIS_TWO_WIRE:
		return "two-wire cord, not earthed";
	case CHASSIS_LIVE:
		return "LIVE: joined to one side of the mains";
	case CHASSIS_UNKNOWN:
		break;
	}
	return "not said";
}

static void tell_fuse(struct document *d, const struct profile *p)
{
	char amps[FIGURE_TEXT_MAX];
	const char *speed = p->fuse_speed == FUSE_SLOW   ? ", slow"
	                    : p->fuse_speed == FUSE_FAST ? ", fast"
	                                                 : "";

	if (p->fuse_amps.given)
		document_fact(d, "fuse", "%s%s",
		              with_unit(amps, p->fuse_amps.value, UNIT_AMPERE, 3), speed);
	else
		document_fact(d, "fuse", "not said in the profile");
}

static const char *plural(int n)
{
	return n == 1 ? "" : "s";
}

static void tell_instrument(struct document *d, const struct report_data *r)
{
	const struct profile *p = r->profile;
	char volts[FIGURE_TEXT_MAX], hertz[FIGURE_TEXT_MAX];
	int measured = 0, estimated = 0;

	if (r->label[0])
		document_fact(d, "unit", "%s", r->label);
	document_fact(d, "instrument", "%s", p->name);
	document_fact(
	        d, "line", "%s, %s, %s", with_unit(volts, r->network->line_volts, UNIT_VOLT, 4),
	        with_unit(hertz, r->network->line_hz, UNIT_HERTZ, 3),
	        p->supply == SUPPLY_TRANSFORMER ? "transformer" : "series string, no transformer");
	document_fact(d, "chassis", "%s", chassis_word(p->chassis));
	tell_fuse(d, p);
	document_fact(d, "complement", "%d tube%s, %d lamp%s, %d electrolytic section%s, %d rail%s",
	              p->n_tubes, plural(p->n_tubes), p->n_lamps, plural(p->n_lamps),
	              p->n_capacitors, plural(p->n_capacitors), r->network->n_rails,
	              plural(r->network->n_rails));
	for (int i = 0; i < r->measured->n_params; i++) {
		measured += r->measured->params[i].origin == ORIGIN_MEASURED;
		estimated += r->measured->params[i].origin == ORIGIN_ESTIMATED;
	}
	document_fact(d, "computed from", "%d numbers: %d measured, %d estimated, the rest as rated",
	              r->measured->n_params, measured, estimated);
}

static void tell_progress(struct document *d, const struct report_data *r)
{
	document_table(d, "progress", "How far the job has come");
	document_column(d, "phase");
	document_number_column(d, "done", UNIT_NONE, DOC_DECIMALS, 0, "");
	document_number_column(d, "of", UNIT_NONE, DOC_DECIMALS, 0, "");
	document_number_column(d, "findings", UNIT_NONE, DOC_DECIMALS, 0, "");
	document_column(d, "state");
	for (int i = 0; i < JOB_PHASES; i++) {
		const struct job_progress *p = &r->job->progress[i];
		enum doc_role role = p->findings > 0   ? DOC_CAUTION
		                     : p->done < p->of ? DOC_OPEN
		                     : p->of > 0       ? DOC_GOOD
		                                       : DOC_PLAIN;

		document_cell(d, DOC_PLAIN, "%s", job_phase_title((enum job_phase)i));
		document_number(d, DOC_PLAIN, p->done);
		document_number(d, DOC_PLAIN, p->of);
		document_number(d, DOC_PLAIN, p->findings);
		document_cell(d, role, "%s", p->summary[0] ? p->summary : "nothing in the profile");
	}
}

static void tell_blocks(struct document *d, const struct job *job)
{
	for (int i = 0; i < job->n_blocks; i++)
		if (!job->block[i].override_reason)
			document_item(d, DOC_DANGER, "Keep it unplugged: %s", job->block[i].what);
	if (job->cut)
		document_item(d, DOC_DANGER,
		              "Keep it unplugged: there is more than is listed here");
	if (job->n_blocks == 0 && job->progress[JOB_POWER].findings > 0)
		document_para(d, DOC_CAUTION,
		              "A power-up ended in an abort or a stop. What it was is said to be "
		              "mended; no power-up since has shown that it is.");
	else if (job->n_blocks == 0)
		document_para(d, DOC_GOOD,
		              "Nothing that was looked at or read speaks against power.");
}

void part_unit(struct document *d, const struct report_data *r)
{
	document_section(d, 2, "unit", "The unit");
	for (int i = 0; i < r->n_powers; i++)
		if (r->power[i].virtual_bench) {
			document_para(
			        d, DOC_CAUTION,
			        "A DEMONSTRATION: at least one power-up in this "
			        "report ran on the virtual bench. Its readings are computed, not "
			        "measured.");
			break;
		}
	tell_instrument(d, r);
	if (!r->job)
		return;
	tell_progress(d, r);
	tell_blocks(d, r->job);
}

void part_cautions(struct document *d, const struct report_data *r)
{
	document_section(d, 2, "cautions", "Cautions");
	if (r->profile->chassis == CHASSIS_LIVE || r->profile->supply == SUPPLY_SERIES_STRING)
		document_para(d, DOC_DANGER,
		              "This set's chassis is or may be live: isolation transformer, "
		              "and never a scope ground on it.");
	for (size_t i = 0; i < r->n_cautions; i++)
		document_item(d, DOC_PLAIN, "%s", r->caution[i]);
}
