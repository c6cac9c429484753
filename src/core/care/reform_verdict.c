/*
 * core/care/reform_verdict.c - formed, improving, stuck, failing
 */
#include <math.h>
#include <stdlib.h>

#include "mainstair/core/reform.h"

static const double full_share = 0.97;      /* of form_volts counts as there */
static const double supply_share = 0.015;   /* a supply that stands still, with a volt of slack */
static const double neighbour_share = 0.03, span_share = 0.10;
/* A room that warms by 5 K explains some 12 per cent (leakage rises two to three times from 20 to
 * 60 C, second hand); what rises by more is not the room. */
static const double rise_least = 0.15, jump_least = 0.3, spark_least = 0.5;
/* A rise far below the limit heats nothing. */
static const double rise_of_limit = 0.1;
/* Fewer samples than this reach the limit: what remains is there to stay. */
static const double stuck_share = 0.9;

const char *reform_verdict_word(enum reform_verdict verdict)
{
	static const char *const words[] = {
		[REFORM_EARLY] = "too-early", [REFORM_FORMED] = "formed",
		[REFORM_IMPROVING] = "improving", [REFORM_STUCK] = "stuck",
		[REFORM_FAILING] = "failing",
	};

	return words[verdict];
}

const char *reform_reason_text(enum reform_reason reason)
{
	static const char *const texts[] = {
		[REFORM_NO_REASON] = "",
		[REFORM_RISING] = "leakage rises at constant volts: stop now",
		[REFORM_JUMPED] = "leakage jumped up at constant volts: stop now",
		[REFORM_OVER_SURGE] = "volts above what the part stands: stop now",
	};

	return texts[reason];
}

int reform_check(const struct reform_reading *readings, size_t n, size_t *ret_bad,
                 struct err *err)
{
	for (size_t i = 0; i < n; i++) {
		const struct reform_reading *r = &readings[i];

		*ret_bad = i;
		if (!isfinite(r->seconds) || !isfinite(r->volts) || !isfinite(r->amps))
			return err_set(err, ERR_INPUT, "a reading that is not a number");
		if (r->volts < 0.0 || r->amps < 0.0)
			return err_set(err, ERR_INPUT, "%s below zero: is the meter or the "
			               "capacitor the wrong way round? A reversed one is not re-formed",
			               r->volts < 0.0 ? "volts" : "leakage");
		if (i > 0 && !(r->seconds > readings[i - 1].seconds))
			return err_set(err, ERR_INPUT, "seconds do not rise: readings stand in the order "
			               "they were taken, seconds counted from when the volts were "
			               "applied");
	}
	return 0;
}

/* Do the part's own volts stand still from reading r to its follower, and to the last? */
static bool part_stands(const struct reform_reading *r, const struct reform_reading *follower,
                        const struct reform_reading *last)
{
	return fabs(r->volts - follower->volts) <= fmax(neighbour_share * last->volts, 1.0) &&
		fabs(r->volts - last->volts) <= fmax(span_share * last->volts, 1.0);
}

static bool supply_stands(const struct reform_reading *r, const struct reform_reading *last,
                          double series_ohms)
{
	const double supply = last->volts + series_ohms * last->amps;

	return series_ohms > 0.0 && fabs(r->volts + series_ohms * r->amps - supply) <=
		fmax(supply_share * supply, 1.0);
}

size_t reform_stretch(const struct reform_reading *readings, size_t n, double series_ohms)
{
	const struct reform_reading *last = &readings[n - 1];
	size_t first = n - 1;

	while (first > 0 && (part_stands(&readings[first - 1], &readings[first], last) ||
	                     supply_stands(&readings[first - 1], last, series_ohms)))
		first--;
	return first;
}

static int by_value(const void *a, const void *b)
{
	const double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

/* Scatter of neighbours about each other, a fraction: from second differences of the logarithm,
 * which a smooth fall does not move; the median, which strays do not move. */
static double scatter_of(const struct reform_reading *readings, size_t n, double floor_amps)
{
	enum { MOST = 101 };
	double bend[MOST];
	size_t count = 0;

	for (size_t i = n > MOST + 2 ? n - MOST : 2; i < n && count < MOST; i++) {
		const double a = log(readings[i - 2].amps + floor_amps + 1e-12);
		const double b = log(readings[i - 1].amps + floor_amps + 1e-12);
		const double c = log(readings[i].amps + floor_amps + 1e-12);
		const double w = (readings[i - 1].seconds - readings[i - 2].seconds) /
			(readings[i].seconds - readings[i - 2].seconds);

		/* b against the straight line from a to c */
		bend[count++] = fabs(b - (1.0 - w) * a - w * c) /
			sqrt(1.0 + (1.0 - w) * (1.0 - w) + w * w);
	}
	if (count < 5)
		return 0.0;
	qsort(bend, count, sizeof *bend, by_value);
	return bend[count / 2] / 0.674;
}

/* Does the leakage rise in this stretch?  The last two readings against the least pair of
 * neighbours before them, at volts no higher now than then. */
static enum reform_reason rising(const struct reform_aim *aim,
                                 const struct reform_reading *readings, size_t n, double *ret_rise)
{
	const double scatter = scatter_of(readings, n, aim->floor_amps);
	const double slack = 2.0 * aim->floor_amps;
	double least = (double)INFINITY, now, then_volts = 0.0;
	const struct reform_reading *last = &readings[n - 1];

	*ret_rise = (double)NAN;
	if (n < 2 || !(last->amps > rise_of_limit * aim->limit_amps))
		return REFORM_NO_REASON;
	if (last->amps > (1.0 + fmax(jump_least, 6.0 * scatter)) * readings[n - 2].amps + slack &&
	    last->volts <= 1.01 * readings[n - 2].volts + 0.5) {
		*ret_rise = last->amps / fmax(readings[n - 2].amps, 1e-12) - 1.0;
		return REFORM_JUMPED;
	}
	for (size_t i = 0; i + 3 < n; i++) {
		const double pair = 0.5 * (readings[i].amps + readings[i + 1].amps);

		if (pair < least) {
			least = pair;
			then_volts = fmin(readings[i].volts, readings[i + 1].volts);
		}
	}
	now = fmin(last->amps, readings[n - 2].amps);
	if (isinf(least) || last->volts > 1.01 * then_volts + 0.5 ||
	    !(now > (1.0 + fmax(rise_least, 4.0 * scatter)) * least + slack))
		return REFORM_NO_REASON;
	*ret_rise = last->amps / fmax(least, 1e-12) - 1.0;
	return REFORM_RISING;
}

/* A spark inside shows as one high reading between two that agree. */
static size_t sparks(const struct reform_aim *aim, const struct reform_reading *readings, size_t n)
{
	const double slack = 2.0 * aim->floor_amps;
	size_t count = 0;

	for (size_t i = 1; i + 1 < n; i++)
		if (readings[i].amps > (1.0 + spark_least) * fmax(readings[i - 1].amps,
		                                                  readings[i + 1].amps) + slack)
			count++;
	return count;
}

static struct reform_range no_range(void)
{
	return (struct reform_range){ (double)NAN, (double)NAN, (double)NAN };
}

/* When the stretch's volts were applied, or NAN.  A list's own nought counts for its first
 * stretch, unless its seconds are a clock's. */
static double applied(const struct reform_aim *aim, const struct reform_reading *readings,
                      size_t n, size_t first)
{
	const double span = readings[n - 1].seconds - readings[first].seconds;

	if (aim->applied_told)
		return aim->applied_s;
	return first == 0 && readings[0].seconds >= 0.0 && readings[0].seconds <= span ? 0.0 :
		(double)NAN;
}

static void fit(const struct reform_aim *aim, const struct reform_reading *readings, size_t n,
                struct reform_work *work, struct reform_judgement *j)
{
	const size_t count = n - j->stretch;

	if (!work || count < REFORM_READINGS_LEAST ||
	    reform_fit(work, readings + j->stretch, count, applied(aim, readings, n, j->stretch),
	               aim->floor_amps) < 0)
		return;
	j->fitted = true;
	j->reach = reform_fit_reach(work, aim->limit_amps);
	j->plateau = reform_fit_plateau(work);
}

struct reform_judgement reform_judge(const struct reform_aim *aim,
                                     const struct reform_reading *readings, size_t n,
                                     struct reform_work *work)
{
	struct reform_judgement j = { .verdict = REFORM_EARLY, .rise = (double)NAN,
		                      .held_s = 0.0, .plateau = no_range(),
		                      .reach = { no_range(), (double)NAN } };
	const struct reform_reading *last;

	if (n == 0 || !(aim->limit_amps > 0.0))
		return j;
	last = &readings[n - 1];
	j.stretch = reform_stretch(readings, n, aim->series_ohms);
	j.held_s = last->seconds - readings[j.stretch].seconds;
	if (!isnan(applied(aim, readings, n, j.stretch)))
		j.held_s = last->seconds - applied(aim, readings, n, j.stretch);
	j.at_form_volts = last->volts >= full_share * fmin(aim->form_volts, aim->part.volts);
	j.sparks = sparks(aim, readings + j.stretch, n - j.stretch);
	fit(aim, readings, n, work, &j);

	j.reason = last->volts > reform_surge_volts(&aim->part) ? REFORM_OVER_SURGE :
		rising(aim, readings + j.stretch, n - j.stretch, &j.rise);
	if (j.reason != REFORM_NO_REASON)
		j.verdict = REFORM_FAILING;
	else if (j.at_form_volts && last->amps <= aim->limit_amps)
		j.verdict = REFORM_FORMED;
	else if (!j.fitted)
		j.verdict = REFORM_EARLY;
	else if (last->amps > aim->limit_amps && j.reach.share_never >= stuck_share)
		j.verdict = REFORM_STUCK;
	else
		j.verdict = REFORM_IMPROVING;
	return j;
}
