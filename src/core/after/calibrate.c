#include "mainstair/core/calibrate.h"

#include <math.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "mainstair/core/uncertainty.h"

/* After this long nobody says that the unit was left on, and what is found is found anew. */
static const double a_day_s = 24 * 3600.0;
static const double ratio_enough = 4.0;

const char *cal_verdict_word(enum cal_verdict verdict)
{
	static const char *const words[] = {
	        [CAL_UNKNOWN] = "not read",
	        [CAL_UNPROVED] = "not proved",
	        [CAL_PASS] = "pass",
	        [CAL_CONDITIONAL_PASS] = "conditional pass",
	        [CAL_CONDITIONAL_FAIL] = "conditional fail",
	        [CAL_FAIL] = "fail",
	};

	return words[verdict];
}

const char *cal_verdict_meaning(enum cal_verdict verdict)
{
	static const char *const texts[] = {
	        [CAL_UNKNOWN] = "no reading that can be judged",
	        [CAL_UNPROVED] = "nothing says how good the reference is: neither pass nor fail",
	        [CAL_PASS] = "inside the tolerance by more than the guard band",
	        [CAL_CONDITIONAL_PASS] = "inside the tolerance, but within the guard band of its "
	                                 "limit",
	        [CAL_CONDITIONAL_FAIL] = "outside the tolerance by no more than the guard band",
	        [CAL_FAIL] = "outside the tolerance by more than the guard band",
	};

	return texts[verdict];
}

const char *cal_rule_text(enum guard_band rule)
{
	static const char *const texts[] = {
	        [GUARD_BAND_U] = "guard band as wide as the expanded uncertainty, w = U "
	                         "(ILAC-G8:09/2019, 4.2.3)",
	        [GUARD_BAND_FOUR_TO_ONE] =
	                "guard band w = U (ILAC-G8:09/2019, 4.2.3) where the test "
	                "uncertainty ratio is below 4, none above",
	        [GUARD_BAND_NONE] =
	                "simple acceptance, w = 0 (ILAC-G8:09/2019, 4.2.1): a reading at "
	                "the limit is wrong one time in two",
	};

	return texts[rule];
}

/* ---- limits ---- */

/* Decibels are 20 log of volts and their like, 10 log of watts. */
static double tenfold_decibels(enum unit unit)
{
	return unit == UNIT_WATT ? 10 : 20;
}

/* How far from `value` the tolerance lets go: *ret_low and *ret_high. */
static void limits_of(const struct profile_point *point, const struct profile_tolerance *t,
                      double value, double *ret_low, double *ret_high)
{
	const double steps = t->digits > 0 ? t->digits * point->resolution : 0;
	const double plain = t->absolute + steps;

	*ret_low = *ret_high = NAN;
	if (!t->given || !isfinite(value))
		return;
	if (unit_is_level(point->unit)) {
		/* per cent are of the volts behind the decibels */
		const double volts = pow(10, value / 20);
		const double share =
		        t->reading * volts +
		        (t->full_scale > 0 ? t->full_scale * pow(10, point->full_scale / 20) : 0);

		if (isnan(share) || isnan(plain))
			return;
		*ret_high = 20 * log10(volts + share) + plain;
		*ret_low = volts > share ? 20 * log10(volts - share) - plain : -(double)INFINITY;
		return;
	}
	if (t->decibel > 0) {
		const double ratio = pow(10, t->decibel / tenfold_decibels(point->unit));

		*ret_low = value < 0 ? value * ratio : value / ratio;
		*ret_high = value < 0 ? value / ratio : value * ratio;
	} else {
		const double half =
		        t->reading * fabs(value) +
		        (t->full_scale > 0 ? t->full_scale * fabs(point->full_scale) : 0) + plain;

		*ret_low = value - half;
		*ret_high = value + half;
	}
}

void cal_limits(const struct profile_point *point, double applied, double *ret_low,
                double *ret_high)
{
	limits_of(point, &point->tolerance, applied, ret_low, ret_high);
}

/* ---- one reading ---- */

/* Half-width of what the reference leaves open around `applied`; NAN: not known. */
static double reference_half(const struct profile_point *point, double applied)
{
	double low, high;

	limits_of(point, &point->reference, applied, &low, &high);
	/* uneven in dB: the wider side holds for both */
	return isfinite(low) && isfinite(high) ? fmax(high - applied, applied - low) : (double)NAN;
}

static void find_uncertainty(const struct profile_point *point, double u_mean,
                             struct cal_reading *r)
{
	struct uncertainty part[3], all;
	size_t n = 0;

	part[n++] = uncertainty_rectangular(reference_half(point, r->applied));
	if (point->resolution > 0)
		part[n++] = uncertainty_rectangular(point->resolution / 2);
	if (r->readings > 1)
		part[n++] = (struct uncertainty){.u = u_mean, .dof = r->readings - 1};
	all = uncertainty_combine(part, n);
	/* nothing is exact: a share of nought and no resolution told is not known */
	r->u = all.u > 0 ? all.u : (double)NAN;
	r->dof = all.dof;
	r->k = uncertainty_coverage(all.dof, UNCERTAINTY_COVERAGE_USUAL);
	r->expanded = r->k * r->u;
	r->test_ratio = uncertainty_test_ratio(r->low, r->high, r->expanded);
	r->conformance = uncertainty_conformance(r->indicated, r->u, r->low, r->high);
}

static double guard_of(enum guard_band rule, const struct cal_reading *r)
{
	switch (rule) {
	case GUARD_BAND_U:
		return r->expanded;
	case GUARD_BAND_FOUR_TO_ONE:
		if (isnan(r->test_ratio))
			return r->expanded;
		return r->test_ratio >= ratio_enough ? 0 : r->expanded;
	case GUARD_BAND_NONE:
		return 0;
	}
	return NAN;
}

static enum cal_verdict verdict_of(const struct cal_reading *r)
{
	if (isnan(r->guard))
		return CAL_UNPROVED;
	if (r->indicated >= r->low + r->guard && r->indicated <= r->high - r->guard)
		return CAL_PASS;
	if (r->indicated >= r->low && r->indicated <= r->high)
		return CAL_CONDITIONAL_PASS;
	if (r->indicated >= r->low - r->guard && r->indicated <= r->high + r->guard)
		return CAL_CONDITIONAL_FAIL;
	return CAL_FAIL;
}

void cal_judge(const struct profile_point *point, enum guard_band rule, double indicated,
               double applied, double u_mean, int readings, struct cal_reading *ret)
{
	*ret = (struct cal_reading){.have = isfinite(indicated) && isfinite(applied),
	                            .indicated = indicated,
	                            .applied = applied,
	                            .error = indicated - applied,
	                            .readings = readings,
	                            .warm_s = NAN,
	                            .verdict = CAL_UNKNOWN};
	cal_limits(point, applied, &ret->low, &ret->high);
	find_uncertainty(point, u_mean, ret);
	ret->guard = guard_of(rule, ret);
	if (ret->have && !isnan(ret->low) && !isnan(ret->high))
		ret->verdict = verdict_of(ret);
}

/* ---- warm-up ---- */

/* Done only with the plug out, or what ends in pulling it. */
static bool is_unplugged(enum entry_kind kind)
{
	static const bool unplugged[ENTRY_KINDS] = {
		[ENTRY_LOOK] = true,        [ENTRY_TUBE] = true,      [ENTRY_OHMS] = true,
		[ENTRY_CAP_SET] = true,     [ENTRY_CAP_EVENT] = true, [ENTRY_STOP] = true,
		[ENTRY_CAP_READING] = true, [ENTRY_MENDED] = true,
	};

	return unplugged[kind];
}

double cal_warm_s(const struct entry *entries, size_t n, double utc_s)
{
	const struct entry *power;
	double since_s;

	/* the newest of either kind decides; between them stand this evening's readings at most */
	while (n > 0 && entries[n - 1].kind != ENTRY_POWER && !is_unplugged(entries[n - 1].kind))
		n--;
	if (n == 0)
		return NAN;
	power = &entries[n - 1];
	/* the word of one that passed the last stage and did not end in an alarm */
	if (power->kind != ENTRY_POWER || !(power->number[1] >= 0) ||
	    strcmp(power->word, "full-line") != 0)
		return NAN;
	since_s = utc_s - power->utc_s;
	if (!(since_s >= 0 && since_s <= a_day_s))
		return NAN;
	return power->number[1] + since_s;
}

/* ---- the sheet ---- */

static struct cal_point *point_named(struct cal_sheet *sheet, const char *name)
{
	for (int i = 0; i < sheet->n; i++)
		if (text_same(sheet->point[i].point->name, name))
			return &sheet->point[i];
	return NULL;
}

/* Something was turned at `at`: what hangs on the same control has moved too. */
static void turned(struct cal_sheet *sheet, const struct cal_point *at)
{
	for (int i = 0; i < sheet->n; i++) {
		struct cal_point *p = &sheet->point[i];

		if (p != at &&
		    !(at->point->control[0] && text_same(p->point->control, at->point->control)))
			continue;
		p->left_stale = p->left.have;
		p->found_moved = true;
	}
}

/* A reading as found a day or more after the last entry of its point begins the point anew. */
static void begin_anew(struct cal_point *p, double utc_s)
{
	const double last_s = fmax(p->left.utc_s, fmax(p->adjusted.utc_s, p->found.utc_s));

	if (utc_s - last_s < a_day_s)
		return;
	*p = (struct cal_point){.point = p->point};
}

static void take_entry(struct cal_sheet *sheet, const struct profile *profile,
                       const struct entry *entries, size_t at)
{
	const struct entry *e = &entries[at];
	struct cal_point *p = point_named(sheet, e->subject);
	struct cal_reading reading;
	int readings;

	if (!p)
		return;
	readings = e->number[3] >= 2 && e->number[3] <= 1e6 ? (int)e->number[3] : 1;
	cal_judge(p->point, profile->guard_band, e->number[0],
	          isnan(e->number[1]) ? p->point->applied : e->number[1], e->number[2], readings,
	          &reading);
	reading.utc_s = e->utc_s;
	reading.warm_s = cal_warm_s(entries, at, e->utc_s);
	if (strcmp(e->word, "adjusted") == 0) {
		p->adjusted = reading;
		p->adjustings++;
		turned(sheet, p);
	} else if (strcmp(e->word, "as-left") == 0) {
		p->left = reading;
		p->left_stale = false;
	} else if (strcmp(e->word, "as-found") == 0) {
		begin_anew(p, e->utc_s);
		p->found = reading;
		p->found_late = p->found_moved;
	}
}

static bool is_fail(enum cal_verdict verdict)
{
	return verdict == CAL_FAIL || verdict == CAL_CONDITIONAL_FAIL;
}

/* First what was never read, before anything is turned; then what is not done; then what fails. */
static int find_next(const struct cal_sheet *sheet)
{
	for (int i = 0; i < sheet->n; i++)
		if (!sheet->point[i].found.have && !sheet->point[i].left.have &&
		    !sheet->point[i].found_moved)
			return i;
	for (int i = 0; i < sheet->n; i++)
		if (!sheet->point[i].result.have)
			return i;
	for (int i = 0; i < sheet->n; i++)
		if (is_fail(sheet->point[i].result.verdict))
			return i;
	return -1;
}

void cal_sheet_make(struct cal_sheet *ret, const struct profile *profile,
                    const struct entry *entries, size_t n)
{
	memset(ret, 0, sizeof *ret);
	ret->n = profile->n_points;
	ret->warm_up_s = profile->warm_up_s.given ? profile->warm_up_s.value : (double)NAN;
	for (int i = 0; i < ret->n; i++)
		ret->point[i].point = &profile->points[i];
	for (size_t i = 0; i < n; i++)
		if (entries[i].kind == ENTRY_CAL)
			take_entry(ret, profile, entries, i);
	for (int i = 0; i < ret->n; i++) {
		struct cal_point *p = &ret->point[i];

		if (p->left.have && !p->left_stale) {
			p->result = p->left;
		} else if (p->found.have && !p->left.have && !p->found_moved) {
			p->result = p->found;
			p->result_is_found = true;
		}
		if (p->result.have) {
			ret->done++;
			ret->count[p->result.verdict]++;
			if (!isnan(ret->warm_up_s) && !(p->result.warm_s >= ret->warm_up_s))
				ret->cold++;
		} else {
			ret->count[CAL_UNKNOWN]++;
		}
	}
	ret->next = find_next(ret);
}
