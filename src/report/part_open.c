/* What was not checked: every check not made, and every block that was overridden. */
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/calibrate.h"
#include "mainstair/core/compare.h"
#include "mainstair/core/desk.h"
#include "mainstair/core/look.h"
#include "mainstair/core/ohms_results.h"
#include "mainstair/core/tube_test.h"
#include "report/parts.h"

/* A phase's things that nobody has looked at, gathered into one line. */
struct gap {
	struct buf names;
	int n, of;
};

static void gap_add(struct gap *g, bool open, const char *name)
{
	g->of++;
	if (!open)
		return;
	buf_addf(&g->names, "%s%s", g->n > 0 ? "; " : "", name);
	g->n++;
}

/* "Tubes not tested, 3 of 7: V1; V2; V3" */
static void gap_tell(struct document *d, struct gap *g, const char *what)
{
	d->failed |= g->names.failed;
	if (g->n > 0)
		document_item(d, DOC_OPEN, "%s, %d of %d: %s", what, g->n, g->of, g->names.data);
	buf_release(&g->names);
}

static void open_looks(struct document *d, const struct report_data *r)
{
	struct look_list *list = malloc(sizeof *list);
	struct look_state *state = malloc(LOOK_CHECKS_MAX * sizeof *state);
	struct gap gap = {.names = BUF_INIT};

	if (list && state) {
		look_list_make(list, r->profile);
		look_states(list, r->entries, r->n_entries, state);
		for (int i = 0; i < list->n; i++)
			if (list->check[i].kind != LOOK_TUBE)
				gap_add(&gap, state[i].result == LOOK_NOT_LOOKED,
				        list->check[i].what);
		gap_tell(d, &gap, "Not looked at");
	} else {
		d->failed = true;
	}
	free(list);
	free(state);
}

static void open_tubes(struct document *d, const struct report_data *r)
{
	struct tube_list *list = malloc(sizeof *list);
	struct tube_state *state = malloc(PROFILE_TUBES_MAX * sizeof *state);
	struct gap gap = {.names = BUF_INIT};

	if (list && state) {
		tube_list_make(list, r->profile, r->tables);
		tube_states(list, r->entries, r->n_entries, state);
		for (int i = 0; i < list->n; i++)
			gap_add(&gap, state[i].result == TUBE_NOT_TESTED, list->place[i].place);
		gap_tell(d, &gap, "Tubes not tested");
	} else {
		d->failed = true;
	}
	free(list);
	free(state);
}

static void open_ohms(struct document *d, const struct report_data *r)
{
	struct ohms_list *list = malloc(sizeof *list);
	struct ohms_state *state = malloc(OHMS_CHECKS_MAX * sizeof *state);
	struct gap gap = {.names = BUF_INIT};

	if (list && state) {
		ohms_list_make(list, r->network, r->profile);
		ohms_states(list, r->entries, r->n_entries, state);
		for (int i = 0; i < list->n; i++)
			if (list->check[i].kind != OHMS_BALANCE) /* worked out from two others */
				gap_add(&gap, state[i].verdict == OHMS_UNKNOWN,
				        list->check[i].what);
		gap_tell(d, &gap, "Ohms not read");
	} else {
		d->failed = true;
	}
	free(list);
	free(state);
}

static void open_capacitors(struct document *d, const struct report_data *r)
{
	struct desk_section *s = malloc(sizeof *s);
	struct gap untouched = {.names = BUF_INIT}, begun = {.names = BUF_INIT};

	for (int i = 0; s && i < r->profile->n_capacitors; i++) {
		desk_section_make(s, r->profile, i, r->entries, r->n_entries);
		desk_judge(s, NULL);
		gap_add(&untouched, s->state == DESK_UNTOUCHED, s->capacitor->place);
		gap_add(&begun, s->state == DESK_FORMING || s->state == DESK_STUCK,
		        s->capacitor->place);
	}
	d->failed |= !s;
	gap_tell(d, &untouched, "Capacitor sections never re-formed nor replaced");
	gap_tell(d, &begun, "Re-forming begun and not brought to its limit");
	free(s);
}

/* Whether the power-up went on to a later stage. */
static bool passed(const struct report_power *p, int stage)
{
	for (int i = stage + 1; i < p->n_stages; i++)
		if (p->stage[i].reached)
			return true;
	return false;
}

/* The stages of the newest power-up that could be read. */
static void open_stages(struct document *d, const struct report_data *r)
{
	struct gap reached = {.names = BUF_INIT}, settled = {.names = BUF_INIT};
	struct gap ended = {.names = BUF_INIT}, looks = {.names = BUF_INIT};
	const struct report_power *p = NULL;

	for (int i = 0; i < r->n_powers; i++) {
		if (r->power[i].trouble[0])
			document_item(d, DOC_OPEN, "A power-up whose record cannot be read: %s",
			              r->power[i].path);
		else
			p = &r->power[i];
	}
	if (!p) {
		document_item(d, DOC_OPEN, "It was not powered up, as far as this file knows");
		return;
	}
	for (int i = 0; i < p->n_stages; i++) {
		const struct report_stage *s = &p->stage[i];
		char volts[FIGURE_TEXT_MAX];

		(void)with_unit(volts, s->volts, UNIT_VOLT, 3);
		gap_add(&reached, !s->reached, volts);
		gap_add(&settled, s->reached && !s->judged && passed(p, i), volts);
		gap_add(&ended, s->reached && !s->judged && !passed(p, i), volts);
		gap_add(&looks, s->reached && s->looks_yes + s->looks_no < s->looks, volts);
	}
	gap_tell(d, &reached, "Stages not reached in the last power-up");
	gap_tell(d, &settled, "Stages passed without a settled reading");
	gap_tell(d, &ended, "The stage it ended in, without a settled reading");
	gap_tell(d, &looks, "Stages where not everything was looked at that the plan asks");
	if (p->soaked && !p->soak.known)
		document_item(d, DOC_OPEN, "Soak at full line: too short to tell");
	else if (p->soaked && !p->soak.stable)
		document_item(d, DOC_OPEN, "Soak at full line: not yet stable when it ended");
	if (p->virtual_bench)
		document_item(d, DOC_OPEN,
		              "The last power-up was on the virtual bench: a real one was not "
		              "made");
}

static void open_after(struct document *d, const struct report_data *r)
{
	struct cal_sheet *sheet = malloc(sizeof *sheet);
	struct gap undone = {.names = BUF_INIT}, unproved = {.names = BUF_INIT};
	struct gap stale = {.names = BUF_INIT};

	if (!sheet) {
		d->failed = true;
		return;
	}
	cal_sheet_make(sheet, r->profile, r->entries, r->n_entries);
	for (int i = 0; i < sheet->n; i++) {
		const struct cal_point *c = &sheet->point[i];

		gap_add(&undone, !c->result.have, c->point->name);
		gap_add(&unproved, c->result.have && c->result.verdict == CAL_UNPROVED,
		        c->point->name);
		gap_add(&stale, c->left_stale, c->point->name);
	}
	gap_tell(d, &undone, "Calibration points without a result");
	gap_tell(d, &unproved,
	         "Calibration points that prove nothing, the reference's accuracy not "
	         "being known");
	gap_tell(d, &stale, "Calibration points adjusted and not read again");
	if (sheet->n == 0)
		document_item(d, DOC_OPEN, "Calibration: the profile has no sheet");
	free(sheet);
}

static void open_compare(struct document *d, const struct report_data *r)
{
	struct compare_list *list = malloc(sizeof *list);

	if (!list) {
		d->failed = true;
		return;
	}
	compare_list_make(list, r->profile, r->entries, r->n_entries);
	if (list->n == 0) /* also when all was dropped */
		document_item(d, DOC_OPEN, "It was not compared with another unit");
	free(list);
}

static void open_nulls(struct document *d, const struct report_data *r)
{
	struct gap gap = {.names = BUF_INIT};

	for (int i = 0; i < r->profile->n_nulls; i++) {
		bool met = false;

		for (size_t k = 0; k < r->n_entries; k++)
			met |= r->entries[k].kind == ENTRY_NULL &&
			       strcmp(r->entries[k].word, r->profile->nulls[i].name) == 0;
		gap_add(&gap, !met, r->profile->nulls[i].name);
	}
	gap_tell(d, &gap, "Nulls not adjusted");
}

void part_open(struct document *d, const struct report_data *r)
{
	const struct job *job = r->job;

	document_section(d, 2, "not-checked", "What was not checked");
	document_para(d, DOC_OPEN,
	              "What stands here nobody has looked at, or looked at and passed over. "
	              "Nothing in this report says that it is sound.");
	if (!job) {
		document_item(d, DOC_OPEN,
		              "Everything before and after this one power-up: this is the "
		              "report of a record, not of a unit's file");
	} else {
		for (int i = 0; i < job->n_blocks; i++)
			if (job->block[i].override_reason)
				document_item(d, DOC_CAUTION,
				              "Overridden: %s. The reason given: %s",
				              job->block[i].what, job->block[i].override_reason);
		open_looks(d, r);
		open_tubes(d, r);
		open_ohms(d, r);
		open_capacitors(d, r);
	}
	open_stages(d, r);
	if (job) {
		open_after(d, r);
	open_compare(d, r);
		open_nulls(d, r);
	}
	document_item(
	        d, DOC_OPEN,
	        "By no part of this job: touch current under power and dielectric "
	        "strength (tests of electrical safety by the local code), and what an instrument "
	        "does that is not on its calibration sheet");
}
