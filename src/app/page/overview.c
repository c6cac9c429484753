#include "app/page/overview.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

const struct typed_form overview_forms[] = {
	{"look, tubes, ohms ...", "go to that phase; or choose its row and press Enter"},
	{"power", "the staged power-up, when nothing blocks it"},
	{"mended WHAT", "after an abort or a stop: what it was found to be, and what was done"},
	{"override KEY reason", "let something not block power: its key as shown, and your reason, "
		"which is recorded and stands in the report"},
	{"\"words", "your own words, for the unit's file"},
	{NULL, NULL},
};

static void phase_row(const struct job *job, enum job_phase phase, struct sheet *s)
{
	const struct job_progress *p = &job->progress[phase];
	int standing = 0;

	for (int i = 0; i < job->n_blocks; i++)
		standing += job->block[i].phase == phase && !job->block[i].override_reason;
	bool done = p->of > 0 && p->done >= p->of;
	struct sheet_row *row = sheet_row(s,
		standing > 0 ? ROLE_DANGER : p->findings > 0 ? ROLE_CAUTION
			: done ? ROLE_GOOD : ROLE_DIM,
		standing > 0 ? GLYPH_ABORT : p->findings > 0 ? GLYPH_OVER
			: done ? GLYPH_GOOD : p->done > 0 ? GLYPH_SETTLING : GLYPH_UNKNOWN);
	sheet_cell(row, 0, "%s", job_phase_word(phase));
	sheet_cell(row, 1, "%s", job_phase_title(phase));
	sheet_cell(row, 2, "%s", standing > 0 ? "blocks power" : phase == job->next ? "next"
		: done ? "done" : p->done > 0 ? "begun" : p->of > 0 ? "to do" : "");
	sheet_cell(row, 3, "%s", p->summary);
}

/* An abort or a stop that nobody has accounted for, overridden or not; NULL: none. */
static const struct job_block *alarm_block(const struct job *job)
{
	for (int i = 0; i < job->n_blocks; i++)
		if (job->block[i].phase == JOB_POWER)
			return &job->block[i];
	return NULL;
}

void overview_fill(const struct bench_desk *desk, int in_hand, struct sheet *s)
{
	const struct job *job = desk->job;
	int shown = 0;

	snprintf(s->title, sizeof s->title, "the job");
	sheet_column(s, "phase", false, false);
	sheet_column(s, "what", false, true);
	sheet_column(s, "state", false, false);
	sheet_column(s, "so far", false, false);
	s->verdict_column = 2;
	for (int phase = 0; phase < JOB_PHASES; phase++)
		phase_row(job, (enum job_phase)phase, s);
	s->in_hand = in_hand;

	s->instruction_role = ROLE_MUST;
	snprintf(s->instruction, sizeof s->instruction, "next: %.190s", job->next_words);
	snprintf(s->how, sizeof s->how,
		"Enter opens the row in hand. Each result is kept in the unit's file; leave and come "
		"back when you like.");
	if (job->charged[0])
		sheet_detail(s, ROLE_DANGER, "Under volts or charged: %s. Supply off, discharge, then "
			"type `discharged` on the page of capacitors.", job->charged);
	if (job->n_standing > 0 || job->cut)
		sheet_detail(s, ROLE_DANGER, "Power is blocked by:");
	for (int i = 0; i < job->n_blocks; i++)
		if (!job->block[i].override_reason) {
			sheet_detail(s, ROLE_PLAIN, "%s: %s", job->block[i].key, job->block[i].what);
			shown++;
		}
	if (alarm_block(job))
		sheet_detail(s, ROLE_STRONG, "After an abort or a stop: plug out, capacitors "
			"discharged; find what it was; then type here: mended, what it was, and what "
			"was done.");
	if (shown > 0)
		sheet_detail(s, ROLE_DIM, "Mend it and enter the new result; or, knowing what you do: "
			"override KEY reason.");
	for (int i = 0; i < job->n_blocks; i++)
		if (job->block[i].override_reason)
			sheet_detail(s, ROLE_CAUTION, "overridden: %s: %s. Reason: %s", job->block[i].key,
				job->block[i].what, job->block[i].override_reason);
	if (job->n_blocks == 0)
		sheet_detail(s, ROLE_PLAIN, "Nothing that was entered blocks power. That proves "
			"nothing about what was not looked at.");
}

bool overview_blocked(const struct job *job, char *echo)
{
	if (job->n_standing == 0 && !job->cut)
		return false;
	snprintf(echo, PAGE_ECHO_MAX, "power is blocked by %d %s: see below, or override KEY reason",
		job->n_standing, job->n_standing == 1 ? "thing" : "things");
	return true;
}

/* "override KEY reason": a key may hold blanks, so the longest that fits is meant. */
static enum overview_goes override(const struct job *job, const char *rest, struct entry_draft *ret,
                                   char *echo)
{
	const struct job_block *best = NULL;
	size_t length = 0;

	for (int i = 0; i < job->n_blocks; i++) {
		size_t n = strlen(job->block[i].key);
		if (n > length && strncasecmp(rest, job->block[i].key, n) == 0 &&
		    (rest[n] == ' ' || rest[n] == '\0' || rest[n] == ':')) {
			best = &job->block[i];
			length = n;
		}
	}
	if (!best) {
		snprintf(echo, PAGE_ECHO_MAX, "override KEY reason: no block has that key");
		return OVERVIEW_WRONG;
	}
	const char *reason = rest + length + strspn(rest + length, ": ");
	if (strlen(reason) < 3) {
		snprintf(echo, PAGE_ECHO_MAX, "a reason, please: override %s reason", best->key);
		return OVERVIEW_WRONG;
	}
	entry_draft_init(ret, ENTRY_OVERRIDE);
	snprintf(ret->subject, sizeof ret->subject, "%s", best->key);
	snprintf(ret->note, sizeof ret->note, "%.500s", reason);
	snprintf(echo, PAGE_ECHO_MAX, "overridden, recorded: %s", best->key);
	return OVERVIEW_KEEPS;
}

/* "mended C1B broke down, new section": what an abort or a stop was. */
static enum overview_goes mended(const struct job *job, const char *what, struct entry_draft *ret,
                                 char *echo)
{
	const struct job_block *alarm = alarm_block(job);

	if (!alarm) {
		snprintf(echo, PAGE_ECHO_MAX, "mended: no abort and no stop waits for that; what a "
			"page found is mended on that page");
		return OVERVIEW_WRONG;
	}
	if (strlen(what) < 3) {
		snprintf(echo, PAGE_ECHO_MAX, "mended: what was it, and what was done? As: mended "
			"C2 was shorted, new one fitted");
		return OVERVIEW_WRONG;
	}
	entry_draft_init(ret, ENTRY_MENDED);
	snprintf(ret->subject, sizeof ret->subject, "%s", alarm->key);
	snprintf(ret->note, sizeof ret->note, "%.500s", what);
	snprintf(echo, PAGE_ECHO_MAX, "mended, recorded: %.150s", what);
	return OVERVIEW_KEEPS;
}

enum overview_goes overview_enter(const struct bench_desk *desk, const char *line,
                                  struct entry_draft *ret, int *ret_page, char *echo)
{
	if (strncasecmp(line, "override ", 9) == 0)
		return override(desk->job, line + 9 + strspn(line + 9, " "), ret, echo);
	if (strncasecmp(line, "mended", 6) == 0 && strchr(" :,", line[6]))
		return mended(desk->job, line + 6 + strspn(line + 6, " :,"), ret, echo);
	if (strcasecmp(line, job_phase_word(JOB_POWER)) == 0) {
		*ret_page = -1;
		return OVERVIEW_OPENS;
	}
	for (int i = 0; job_pages[i]; i++)
		if (strcasecmp(line, job_pages[i]->word) == 0) {
			*ret_page = i;
			return OVERVIEW_OPENS;
		}
	snprintf(echo, PAGE_ECHO_MAX,
		"not understood: look, tubes, ohms, capacitors, power ..., mended WHAT, override KEY "
		"reason, or \"a note");
	return OVERVIEW_WRONG;
}
