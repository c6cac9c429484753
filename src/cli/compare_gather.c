#include "cli/compare_gather.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/like.h"
#include "cli/input.h"
#include "cli/load_record.h"
#include "cli/output.h"
#include "cli/page_desk.h"
#include "mainstair/base/text.h"
#include "mainstair/core/calibrate.h"
#include "mainstair/core/null_hunt.h"
#include "mainstair/core/ohms.h"
#include "mainstair/core/uncertainty.h"
#include "mainstair/proto/values_text.h"

enum { VALUES_SIZE_MAX = 4 << 20 };

static int out_of_memory(void)
{
	complain("out of memory");
	return -1;
}

/* A row more, its values not told.  NULL after a complaint. */
static struct compare_row *new_row(struct compare_rows *r, const char *name, enum unit unit)
{
	struct compare_row *row;

	if (r->n == r->cap) {
		const size_t cap = r->cap ? 2 * r->cap : 32;
		struct compare_row *list = realloc(r->list, cap * sizeof *list);

		if (!list) {
			(void)out_of_memory();
			return NULL;
		}
		r->list = list;
		r->cap = cap;
	}
	row = &r->list[r->n++];
	*row = (struct compare_row){.unit = unit, .a = NAN, .ua = NAN, .b = NAN, .ub = NAN};
	(void)snprintf(row->name, sizeof row->name, "%s", name);
	return row;
}

/* matters NAN: the wish's share. */
static void judge(struct compare_row *row, double matters, const struct compare_wish *wish)
{
	compare_values(row->a, row->ua, row->b, row->ub,
	               isnan(matters) ? compare_matters(row->unit, row->b, wish->matters) : matters,
	               &row->result);
}

/* --- lists of values ------------------------------------------------------------------------ */

static int read_values(const char *path, struct values *ret)
{
	struct buf text = BUF_INIT;
	const char *name = input_read(path, VALUES_SIZE_MAX, &text);
	struct complaints c;
	int status = -1;

	if (name) {
		complaints_init(&c, name);
		status = values_parse(text.data ? text.data : "", text.len, ret, &c);
		complain_all(&c);
		complaints_release(&c);
	}
	buf_release(&text);
	return status;
}

static const struct named_value *named(const struct values *v, const char *name)
{
	for (size_t i = 0; i < v->n; i++)
		if (text_same(v->list[i].name, name))
			return &v->list[i];
	return NULL;
}

static int pair_values(struct compare_rows *r, const struct values *a, const struct values *b,
                       const struct compare_wish *wish)
{
	for (size_t i = 0; i < a->n; i++) {
		const struct named_value *one = &a->list[i], *other = named(b, one->name);
		struct compare_row *row = new_row(r, one->name, one->unit);

		if (!row)
			return -1;
		if (other && other->unit != one->unit) {
			complain("compare: %s is in %s in the one, in %s in the other", one->name,
			         one->unit == UNIT_NONE ? "no unit" : unit_symbol(one->unit),
			         other->unit == UNIT_NONE ? "no unit" : unit_symbol(other->unit));
			return -1;
		}
		row->a = one->value;
		row->ua = one->expanded;
		if (other) {
			row->b = other->value;
			row->ub = other->expanded;
		}
		judge(row, NAN, wish);
	}
	for (size_t i = 0; i < b->n; i++) {
		struct compare_row *row;

		if (named(a, b->list[i].name))
			continue;
		row = new_row(r, b->list[i].name, b->list[i].unit);
		if (!row)
			return -1;
		row->b = b->list[i].value;
		row->ub = b->list[i].expanded;
		judge(row, NAN, wish);
	}
	return 0;
}

static int gather_values(struct compare_rows *r, const char *a, const char *b,
                         const struct compare_wish *wish)
{
	struct values one, other;
	int status;

	if (read_values(a, &one) != 0)
		return -1;
	status = read_values(b, &other);
	if (status == 0) {
		status = pair_values(r, &one, &other, wish);
		values_release(&other);
	}
	values_release(&one);
	return status;
}

/* --- power-ups ------------------------------------------------------------------------------ */

int compare_find_like(const char *path, struct like_curve *ret, struct err *err)
{
	struct loaded_unit *u = malloc(sizeof *u);
	struct record *record = NULL;
	char name[LIKE_NAME_MAX];
	struct err why;
	int status = -1;

	if (!u)
		return err_set(err, ERR_NOMEM, "out of memory");
	if (record_open(path, &record, err) != 0)
		goto out;
	if (unit_load_record(u, record, NULL) == 0) {
		const struct run_unit unit = {u->network, u->plan, &u->rule, &u->accuracy};
		char stamp[RECORD_STAMP_MAX];

		record_stamp(stamp, record_head(record)->started_s);
		(void)snprintf(name, sizeof name, "%.90s, %s", u->profile.name, stamp);
		status = like_from_record(ret, record, &unit, name, &why);
		if (status != 0)
			err_set(err, why.code, "%s: %s", path, why.text);
		unit_release(u);
	} else {
		err_set(err, ERR_INPUT, "%s: the profile in it cannot be read", path);
	}
out:
	record_close(record);
	free(u);
	return status;
}

int compare_read_like(const char *path, struct like_curve *ret)
{
	struct err err;

	if (compare_find_like(path, ret, &err) == 0)
		return 0;
	complain("%s", err.text);
	return -1;
}

/* The settled watts of a at each of its stages, and what b leads to expect there. */
static int pair_powers(struct compare_rows *r, const struct like_curve *a,
                       const struct like_curve *b, const struct compare_wish *wish)
{
	char name[COMPARE_NAME_MAX], volts[32];

	for (int i = 0; i < a->n; i++) {
		struct compare_row *row;
		struct like_band mine, theirs;
		const struct meter_accuracy exact = {0, 0};

		(void)num_print(volts, sizeof volts, a->volts[i], 1);
		(void)snprintf(name, sizeof name, "watts at %s V", volts);
		row = new_row(r, name, UNIT_WATT);
		if (!row)
			return -1;
		/* each with its own meter's errors alone: together they are those of both */
		like_at(a, &exact, a->volts[i], &mine);
		like_at(b, &exact, a->volts[i], &theirs);
		row->a = a->watts[i];
		row->ua = mine.expanded;
		row->b = theirs.expected;
		row->ub = theirs.expanded;
		judge(row, NAN, wish);
	}
	return 0;
}

static int gather_records(struct compare_rows *r, const char *a, const char *b,
                          const struct compare_wish *wish)
{
	struct like_curve *curves = calloc(2, sizeof *curves);
	int status = -1;

	if (!curves)
		return out_of_memory();
	if (compare_read_like(a, &curves[0]) == 0 && compare_read_like(b, &curves[1]) == 0) {
		(void)snprintf(r->a_is, sizeof r->a_is, "%s", curves[0].name);
		(void)snprintf(r->b_is, sizeof r->b_is, "%s", curves[1].name);
		status = pair_powers(r, &curves[0], &curves[1], wish);
	}
	free(curves);
	return status;
}

/* --- units ---------------------------------------------------------------------------------- */

/* What a point came to, at the applied value that the sheet names. */
static void take_point(const struct cal_point *p, double *ret_value, double *ret_expanded)
{
	if (!p || !p->result.have)
		return;
	*ret_value = p->point->applied + p->result.error;
	*ret_expanded = p->result.expanded;
}

static const struct cal_point *point_like(const struct cal_sheet *sheet,
                                          const struct profile_point *p)
{
	for (int i = 0; i < sheet->n; i++)
		if (text_same(sheet->point[i].point->name, p->name) &&
		    sheet->point[i].point->unit == p->unit)
			return &sheet->point[i];
	return NULL;
}

static int pair_sheets(struct compare_rows *r, const struct cal_sheet *a, const struct cal_sheet *b,
                       const struct compare_wish *wish)
{
	for (int i = 0; i < a->n; i++) {
		const struct profile_point *point = a->point[i].point;
		const struct cal_point *other = point_like(b, point);
		char name[COMPARE_NAME_MAX];
		struct compare_row *row;
		double low, high;

		if (!a->point[i].result.have && !(other && other->result.have))
			continue;
		(void)snprintf(name, sizeof name, "%s%s%s", point->name,
		               point->function[0] ? " " : "", point->function);
		row = new_row(r, name, point->unit);
		if (!row)
			return -1;
		take_point(&a->point[i], &row->a, &row->ua);
		/* of another sheet: the same only with the same value applied */
		if (other &&
		    fabs(other->point->applied - point->applied) <= 1e-9 * fabs(point->applied))
			take_point(other, &row->b, &row->ub);
		cal_limits(point, point->applied, &low, &high);
		judge(row, isfinite(high) ? high - point->applied : (double)NAN, wish);
	}
	return 0;
}

static int gather_sheets(struct compare_rows *r, const struct page_desk *a,
                         const struct page_desk *b, const struct compare_wish *wish)
{
	struct cal_sheet *sheets = calloc(2, sizeof *sheets);
	int status;

	if (!sheets)
		return out_of_memory();
	cal_sheet_make(&sheets[0], &a->unit.profile, a->desk.entries, a->desk.n_entries);
	cal_sheet_make(&sheets[1], &b->unit.profile, b->desk.entries, b->desk.n_entries);
	status = pair_sheets(r, &sheets[0], &sheets[1], wish);
	free(sheets);
	return status;
}

/* --- nulls of two units --- */

enum { UNIT_NULLS_MAX = 2 * PROFILE_NULLS_MAX };

/* The nulls that a unit has readings of.  Returns how many. */
static int take_nulls(const struct page_desk *d, struct null_hunt *ret)
{
	const char *names[UNIT_NULLS_MAX];
	const int n = null_names(&d->unit.profile, d->desk.entries, d->desk.n_entries, names,
	                         UNIT_NULLS_MAX);
	int taken = 0;

	for (int i = 0; i < n; i++) {
		null_hunt_make(&ret[taken], &d->unit.profile, names[i], d->desk.entries,
		               d->desk.n_entries);
		taken += ret[taken].best_entry >= 0;
	}
	return taken;
}

static enum unit null_unit(const struct null_hunt *hunt)
{
	return hunt->profile ? hunt->profile->unit : UNIT_NONE;
}

static const struct null_hunt *null_like(const struct null_hunt *list, int n,
                                         const struct null_hunt *hunt)
{
	for (int i = 0; i < n; i++)
		if (text_same(list[i].name, hunt->name) && null_unit(&list[i]) == null_unit(hunt))
			return &list[i];
	return NULL;
}

/* Expanded uncertainty of an indication by a meter that is right to `share`; a level's is in dB. */
static double null_expanded(double indicated, enum unit unit, double share)
{
	const double expand = 2 * uncertainty_rectangular(1).u;

	return expand * (unit_is_level(unit) ? 20 * log10(1 + share) : share * fabs(indicated));
}

/* Where the controls of both stood at the lowest reading, as far as either was told. */
static int pair_positions(struct compare_rows *r, const struct null_hunt *one,
                          const struct null_hunt *other)
{
	for (int k = 0; k < one->n_controls; k++) {
		const struct null_control *control = &one->control[k];
		char name[COMPARE_NAME_MAX];
		struct compare_row *row;
		double there = NAN;

		for (int j = 0; other && j < other->n_controls; j++)
			if (text_same(other->control[j].name, control->name))
				there = other->control[j].best_position;
		if (isnan(control->best_position) && isnan(there))
			continue;
		(void)snprintf(name, sizeof name, "null %.40s, %.40s at", one->name, control->name);
		row = new_row(r, name, UNIT_NONE);
		if (!row)
			return -1;
		row->a = control->best_position;
		row->b = there;
		judge(row, NAN, &(struct compare_wish){.matters = compare_matters_share});
		row->shown_only = true;
	}
	return 0;
}

/* The lowest readings of a null in both; either may be NULL. */
static int pair_null(struct compare_rows *r, const struct null_hunt *a, const struct null_hunt *b,
                     const struct compare_wish *wish)
{
	const struct null_hunt *one = a ? a : b;
	const enum unit unit = null_unit(one);
	char name[COMPARE_NAME_MAX];
	struct compare_row *row;

	(void)snprintf(name, sizeof name, "null %.40s, lowest", one->name[0] ? one->name : "(unnamed)");
	row = new_row(r, name, unit);
	if (!row)
		return -1;
	row->a = a ? a->best : NAN;
	row->b = b ? b->best : NAN;
	row->ua = null_expanded(row->a, unit, wish->nulls);
	row->ub = null_expanded(row->b, unit, wish->nulls);
	judge(row, NAN, wish);
	return a ? pair_positions(r, a, b) : 0;
}

static int pair_nulls(struct compare_rows *r, const struct page_desk *a, const struct page_desk *b,
                      const struct compare_wish *wish)
{
	struct null_hunt *one = calloc(2 * UNIT_NULLS_MAX, sizeof *one), *other;
	int status = 0, n_one, n_other;

	if (!one)
		return out_of_memory();
	other = one + UNIT_NULLS_MAX;
	n_one = take_nulls(a, one);
	n_other = take_nulls(b, other);
	for (int i = 0; i < n_one && status == 0; i++)
		status = pair_null(r, &one[i], null_like(other, n_other, &one[i]), wish);
	for (int i = 0; i < n_other && status == 0; i++)
		if (!null_like(one, n_one, &other[i]))
			status = pair_null(r, NULL, &other[i], wish);
	free(one);
	return status;
}

/* Ohms that both have read, over-range left out: it has no size. */
static int gather_ohms(struct compare_rows *r, const struct page_desk *a, const struct page_desk *b,
                       const struct compare_wish *wish)
{
	const double expand = 2 * uncertainty_rectangular(wish->ohms).u;
	struct ohms_list *list = malloc(sizeof *list);
	int status = 0;

	if (!list)
		return out_of_memory();
	ohms_list_make(list, a->bare, &a->unit.profile);
	for (int i = 0; i < list->n && status == 0; i++) {
		const struct ohms_check *check = &list->check[i];
		const struct entry *one =
		        entry_last(a->desk.entries, a->desk.n_entries, ENTRY_OHMS, check->what);
		const struct entry *other =
		        entry_last(b->desk.entries, b->desk.n_entries, ENTRY_OHMS, check->what);
		struct compare_row *row;

		if (!one || !other || !isfinite(one->number[0]) || !isfinite(other->number[0]))
			continue;
		row = new_row(r, check->what, check->kind == OHMS_BALANCE ? UNIT_NONE : UNIT_OHM);
		if (!row) {
			status = -1;
			break;
		}
		row->a = one->number[0];
		row->b = other->number[0];
		row->ua = expand * fabs(row->a);
		row->ub = expand * fabs(row->b);
		judge(row, NAN, wish);
	}
	free(list);
	return status;
}

/* The newest power-up that is recorded and came to full line; else the newest recorded. */
static const struct entry *best_power(const struct page_desk *d)
{
	const struct entry *best = NULL;

	for (size_t i = 0; i < d->desk.n_entries; i++) {
		const struct entry *e = &d->desk.entries[i];

		if (e->kind == ENTRY_POWER && e->subject[0] &&
		    (!best || strcmp(e->word, "full-line") == 0 ||
		     strcmp(best->word, "full-line") != 0))
			best = e;
	}
	return best;
}

static int gather_powers(struct compare_rows *r, const struct page_desk *a,
                         const struct page_desk *b, const struct compare_wish *wish)
{
	const struct entry *one = best_power(a), *other = best_power(b);
	struct like_curve *curves;
	char paths[2][PATH_MAX];
	int status = 0;

	if (!one || !other)
		return 0;
	record_find(a->book, one, paths[0], sizeof paths[0]);
	record_find(b->book, other, paths[1], sizeof paths[1]);
	curves = calloc(2, sizeof *curves);
	if (!curves)
		return out_of_memory();
	/* a record that has gone is told, and the rest compared */
	if (compare_read_like(paths[0], &curves[0]) == 0 &&
	    compare_read_like(paths[1], &curves[1]) == 0)
		status = pair_powers(r, &curves[0], &curves[1], wish);
	free(curves);
	return status;
}

static int gather_units(struct compare_rows *r, const char *a, const char *b,
                        const struct compare_wish *wish)
{
	struct page_desk *one = page_desk_open(a, LOGBOOK_TO_READ), *other;
	int status = -1;

	if (!one)
		return -1;
	other = page_desk_open(b, LOGBOOK_TO_READ);
	if (other && gather_sheets(r, one, other, wish) == 0 &&
	    pair_nulls(r, one, other, wish) == 0 &&
	    (isnan(wish->ohms) || gather_ohms(r, one, other, wish) == 0))
		status = gather_powers(r, one, other, wish);
	if (other) {
		(void)snprintf(r->a_is, sizeof r->a_is, "%s: %.90s", logbook_label(one->book),
		               one->unit.profile.name);
		(void)snprintf(r->b_is, sizeof r->b_is, "%s: %.90s", logbook_label(other->book),
		               other->unit.profile.name);
	}
	page_desk_close(other);
	page_desk_close(one);
	return status;
}

/* --- which of them -------------------------------------------------------------------------- */

enum kind { KIND_RECORD, KIND_UNIT, KIND_VALUES };

static enum kind kind_of(const char *what)
{
	const size_t n = strlen(what), end = strlen(".unit");

	if (input_begins(what, RECORD_FIRST_WORDS))
		return KIND_RECORD;
	if (input_begins(what, "mainstair unit ") || (n > end && !strcmp(what + n - end, ".unit")))
		return KIND_UNIT;
	/* a label is no file here; what holds a slash is no label */
	if (!strcmp(what, "-") || strchr(what, '/') || access(what, F_OK) == 0)
		return KIND_VALUES;
	return KIND_UNIT;
}

int compare_gather(struct compare_rows *ret, const char *a, const char *b,
                   const struct compare_wish *wish)
{
	static const char *const words[] = {
	        [KIND_RECORD] = "the record of a power-up",
	        [KIND_UNIT] = "a unit",
	        [KIND_VALUES] = "a list of values",
	};
	const enum kind kind = kind_of(a), other = kind_of(b);
	int status = -1;

	*ret = (struct compare_rows){0};
	(void)text_show(ret->a_is, sizeof ret->a_is, a, strlen(a));
	(void)text_show(ret->b_is, sizeof ret->b_is, b, strlen(b));
	if (kind != other) {
		complain("compare: %s is %s, %s is %s: two of a kind, please", ret->a_is,
		         words[kind], ret->b_is, words[other]);
		return -1;
	}
	switch (kind) {
	case KIND_RECORD:
		status = gather_records(ret, a, b, wish);
		break;
	case KIND_UNIT:
		status = gather_units(ret, a, b, wish);
		break;
	case KIND_VALUES:
		status = gather_values(ret, a, b, wish);
		break;
	}
	if (status == 0 && ret->n == 0) {
		complain("compare: nothing that both have: a calibration, or a recorded power-up");
		status = -1;
	}
	if (status != 0)
		compare_rows_release(ret);
	return status;
}

void compare_rows_release(struct compare_rows *r)
{
	free(r->list);
	*r = (struct compare_rows){0};
}
