/* app/page/calibrate.c - the calibration sheet: as found, adjusted, as left, point by point */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/page/before.h"
#include "mainstair/base/num.h"
#include "mainstair/core/calibrate.h"

enum { TEXT_MAX = 64 };

static const struct typed_form forms[] = {
        {"1.02", "what it reads: as found, and once that is there, as left; its unit may follow"},
        {"found 1.02, left 1.00", "the same, said outright"},
        {"adjusted 1.00", "what it reads after a control was turned; as left is read afterwards"},
        {"1.02 1.01 1.02", "several readings: their scatter counts"},
        {"1.02 at 1.001", "what was really applied"},
        {"P3 1.02", "another point than the one in hand"},
        {NULL, NULL},
};

struct checking {
	struct cal_sheet sheet;
	bool begun;
};

static void *open_page(const struct bench_desk *desk)
{
	(void)desk;
	return calloc(1, sizeof(struct checking));
}

static void look_at(struct checking *c, const struct bench_desk *desk)
{
	cal_sheet_make(&c->sheet, desk->profile, desk->entries, desk->n_entries);
}

static double warm_now(const struct bench_desk *desk)
{
	return cal_warm_s(desk->entries, desk->n_entries, desk->utc_s);
}

/* Did the last power-up reach full line? */
static bool at_full_line(const struct bench_desk *desk)
{
	const struct entry *e = entry_last(desk->entries, desk->n_entries, ENTRY_POWER, NULL);

	return e && strcmp(e->word, "full-line") == 0;
}

/* --- the list ----------------------------------------------------------------------------- */

static enum role role_of(enum cal_verdict verdict)
{
	switch (verdict) {
	case CAL_PASS:
		return ROLE_GOOD;
	case CAL_CONDITIONAL_PASS:
	case CAL_CONDITIONAL_FAIL:
	case CAL_UNPROVED:
		return ROLE_CAUTION;
	case CAL_FAIL:
		return ROLE_DANGER;
	case CAL_UNKNOWN:
		break;
	}
	return ROLE_DIM;
}

static enum glyph mark_of(const struct cal_reading *r)
{
	switch (r->verdict) {
	case CAL_PASS:
	case CAL_CONDITIONAL_PASS:
		return GLYPH_GOOD;
	case CAL_CONDITIONAL_FAIL:
	case CAL_FAIL:
		return r->indicated > r->high ? GLYPH_OVER : GLYPH_UNDER;
	case CAL_UNKNOWN:
	case CAL_UNPROVED:
		break;
	}
	return GLYPH_UNKNOWN;
}

static const char *print_reading(const struct cal_point *p, const struct cal_reading *r, bool stale,
                                 char out[TEXT_MAX])
{
	char text[TEXT_MAX - 2];

	if (!r->have)
		return "-";
	(void)snprintf(out, TEXT_MAX, "%s%s",
	               cal_print(text, sizeof text, p->point, r->indicated, 5), stale ? "*" : "");
	return out;
}

static const char *result_word(const struct cal_point *p)
{
	if (p->result.have)
		return cal_verdict_word(p->result.verdict);
	return p->left_stale || p->found_moved ? "read as left" : "-";
}

static void add_row(const struct cal_point *p, struct sheet *s)
{
	struct sheet_row *row = sheet_row(s, role_of(p->result.verdict), mark_of(&p->result));
	char text[TEXT_MAX];

	if (!row)
		return;
	sheet_cell(row, 0, "%s", p->point->name);
	sheet_cell(row, 1, "%s", p->point->function);
	sheet_cell(row, 2, "%s", cal_print(text, sizeof text, p->point, p->point->applied, 4));
	sheet_cell(row, 3, "%s",
	           cal_print_tolerance(text, sizeof text, p->point, &p->point->tolerance));
	sheet_cell(row, 4, "%s", print_reading(p, &p->found, p->found_late, text));
	sheet_cell(row, 5, "%s", print_reading(p, &p->left, p->left_stale, text));
	sheet_cell(row, 6, "%s", result_word(p));
}

/* --- the point in hand -------------------------------------------------------------------- */

static void say_instruction(const struct cal_point *p, struct sheet *s)
{
	const struct profile_point *point = p->point;
	char applied[TEXT_MAX], range[TEXT_MAX];
	char head[2 * PROFILE_NAME_MAX + 2];
	const bool turn = p->result.have && (p->result.verdict == CAL_FAIL ||
	                                     p->result.verdict == CAL_CONDITIONAL_FAIL);

	(void)snprintf(head, sizeof head, "%s%s%s", point->name, point->function[0] ? ", " : "",
	               point->function);
	cal_print(applied, sizeof applied, point, point->applied, 4);
	if (turn && point->control[0])
		(void)snprintf(s->instruction, sizeof s->instruction,
		               "%s: turn %s until it reads "
		               "%.40s, then enter it as adjusted",
		               head, point->control, applied);
	else if (!p->result.have && p->found_moved)
		(void)snprintf(s->instruction, sizeof s->instruction,
		               "%s: with %s applied, what does it read as left?", head, applied);
	else if (isnan(point->full_scale))
		(void)snprintf(s->instruction, sizeof s->instruction,
		               "%s: apply %s, enter what it reads", head, applied);
	else
		(void)snprintf(s->instruction, sizeof s->instruction,
		               "%s: apply %.40s on the range to %.40s, enter what it reads", head,
		               applied,
		               cal_print(range, sizeof range, point, point->full_scale, 4));
}

static void say_limits(const struct cal_point *p, const struct profile *profile, struct sheet *s)
{
	const struct profile_point *point = p->point;
	char low[TEXT_MAX], high[TEXT_MAX], reference[TEXT_MAX], step[TEXT_MAX] = "not told";
	struct cal_reading r;

	cal_judge(point, profile->guard_band, point->applied, point->applied, NAN, 1, &r);
	sheet_detail(s, ROLE_PLAIN, "may read %s to %s",
	             cal_print(low, sizeof low, point, r.low, 5),
	             cal_print(high, sizeof high, point, r.high, 5));
	if (point->resolution > 0)
		cal_print_span(step, sizeof step, point, point->resolution, 2);
	sheet_detail(s, ROLE_PLAIN, "reference %s; resolution %s",
	             cal_print_tolerance(reference, sizeof reference, point, &point->reference),
	             step);
	if (isnan(r.expanded))
		return;
	(void)num_print_unit(high, sizeof high, r.test_ratio, UNIT_NONE, 2);
	sheet_detail(s, r.test_ratio < 4 ? ROLE_CAUTION : ROLE_PLAIN,
	             "known to +/- %s (95 %%, before scatter): test uncertainty ratio %s%s",
	             cal_print_span(low, sizeof low, point, r.expanded, 2), high,
	             r.test_ratio < 4 ? ", under the usual 4" : "");
}

static void say_reading(const struct cal_point *p, const char *word, const struct cal_reading *r,
                        struct sheet *s)
{
	char error[TEXT_MAX], chance[TEXT_MAX] = "", scatter[TEXT_MAX] = "", percent[24];

	if (!r->have)
		return;
	if (r->conformance > 0.005 && r->conformance < 0.995) {
		(void)num_print(percent, sizeof percent, 100 * r->conformance, 0);
		(void)snprintf(chance, sizeof chance, ", %s %% likely inside", percent);
	}
	if (r->readings > 1)
		(void)snprintf(scatter, sizeof scatter, ", mean of %d", r->readings);
	sheet_detail(s, role_of(r->verdict), "%s: off by %s%s: %s, %s%s", word,
	             cal_print_error(error, sizeof error, p->point, r->error, 5), scatter,
	             cal_verdict_word(r->verdict), cal_verdict_meaning(r->verdict), chance);
}

static void say_point(const struct checking *c, const struct bench_desk *desk, int i,
                      struct sheet *s)
{
	const struct cal_point *p = &c->sheet.point[i];

	say_instruction(p, s);
	say_limits(p, desk->profile, s);
	say_reading(p, "as found", &p->found, s);
	say_reading(p, "adjusted", &p->adjusted, s);
	say_reading(p, "as left", &p->left, s);
	if (p->found_moved && !p->result.have && p->adjustings == 0)
		sheet_detail(s, ROLE_CAUTION, "%s was turned at another point since: read it again",
		             p->point->control);
	if (p->found_late)
		sheet_detail(s, ROLE_CAUTION,
		             "* read as found after a control had been turned: it does "
		             "not count");
	if (p->left_stale)
		sheet_detail(s, ROLE_CAUTION,
		             "* a control that it hangs on was turned since: read it "
		             "again");
	sheet_detail(s, ROLE_DIM, "%s", cal_rule_text(desk->profile->guard_band));
}

static void say_warm_up(const struct checking *c, const struct bench_desk *desk, struct sheet *s)
{
	const double warm_s = warm_now(desk);
	char minutes[24], asked[24];

	(void)num_print(minutes, sizeof minutes, floor(warm_s / 60), 0);
	(void)num_print(asked, sizeof asked, ceil(c->sheet.warm_up_s / 60), 0);
	if (isnan(warm_s) && isnan(c->sheet.warm_up_s))
		return;
	if (isnan(warm_s))
		sheet_detail(s, ROLE_CAUTION,
		             "when it reached full line is not known here; %s min of "
		             "warm-up are asked",
		             asked);
	else if (isnan(c->sheet.warm_up_s))
		sheet_detail(s, ROLE_PLAIN, "%s min since full line, if it stayed on", minutes);
	else
		sheet_detail(s, warm_s < c->sheet.warm_up_s ? ROLE_CAUTION : ROLE_PLAIN,
		             "%s min since full line, if it stayed on; %s min are asked", minutes,
		             asked);
}

static void fill(void *self, const struct bench_desk *desk, int *in_hand, struct sheet *s)
{
	struct checking *c = self;
	const struct cal_sheet *sheet = &c->sheet;

	look_at(c, desk);
	(void)snprintf(s->title, sizeof s->title, "calibration: %d of %d points", sheet->done,
	               sheet->n);
	sheet_column(s, "point", false, false);
	sheet_column(s, "what", false, true);
	sheet_column(s, "applied", true, true);
	sheet_column(s, "tolerance", false, true);
	sheet_column(s, "as found", true, false);
	sheet_column(s, "as left", true, false);
	sheet_column(s, "result", false, false);
	s->verdict_column = 6;
	(void)snprintf(s->caution, sizeof s->caution, "%s%s",
	               at_full_line(desk) ? ""
	                                  : "full line was not reached yet, as far as this file "
	                                    "knows; ",
	               "under power, case open: one hand, insulated tools, nobody alone");
	(void)snprintf(s->how, sizeof s->how,
	               "what it reads, in the unit shown; after a turn: adjusted and what it reads");
	if (sheet->n == 0) {
		(void)snprintf(s->instruction, sizeof s->instruction,
		               "the profile has no calibration sheet");
		(void)snprintf(s->how, sizeof s->how,
		               "a [calibration] section lists its points; nulls are "
		               "a page of their own");
		return;
	}
	for (int i = 0; i < sheet->n; i++)
		add_row(&sheet->point[i], s);
	if (!c->begun && sheet->next >= 0)
		*in_hand = sheet->next;
	c->begun = true;
	before_hand(s, in_hand);
	say_point(c, desk, *in_hand, s);
	say_warm_up(c, desk, s);
}

static enum page_answer enter(void *self, const struct bench_desk *desk, int in_hand,
                              const char *line, struct entry_draft *ret, char *echo)
{
	struct checking *c = self;
	enum page_answer answer;

	look_at(c, desk);
	entry_draft_init(ret, ENTRY_CAL);
	answer = before_answer(cal_understand(&c->sheet, in_hand, line, ret, echo));
	/* as left is read at the same point; a line about another point leaves the hand where it is
	 */
	if (answer == PAGE_TAKEN &&
	    (strcmp(ret->word, "adjusted") == 0 || in_hand < 0 || in_hand >= c->sheet.n ||
	     strcmp(ret->subject, c->sheet.point[in_hand].point->name) != 0))
		return PAGE_STAY;
	return answer;
}

static double due(void *self, const struct bench_desk *desk)
{
	const struct checking *c = self;
	const double warm_s = warm_now(desk);

	(void)c;
	return isnan(warm_s) ? (double)INFINITY : 60 - fmod(warm_s, 60);
}

const struct page_ops page_calibrate = {
        .phase = JOB_CALIBRATE,
        .word = "calibrate",
        .forms = forms,
        .open = open_page,
        .close = free,
        .fill = fill,
        .enter = enter,
        .due = due,
};
