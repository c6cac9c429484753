#include "mainstair/core/soak.h"

#include <math.h>

/* Stable: less than 1 per cent of the watts an hour (common practice, no source). */
static const double stable_share_per_h = 0.01;
static const double window_s = 600.0, least_window_s = 120.0;
enum { LEAST_POINTS = 8 };

/* The step in which the watts were read: the least difference of two readings in a row. */
static double step_of(const struct soak_point *p, size_t n)
{
	double least = INFINITY;

	for (size_t i = 1; i < n; i++) {
		const double step = fabs(p[i].watts - p[i - 1].watts);

		if (step > 0.0)
			least = fmin(least, step);
	}
	return isfinite(least) ? least : 0.0;
}

struct line {
	double slope, error, middle_s, level; /* W/s, its standard error, and the mean point */
	double scatter; /* standard deviation about the line, W */
	size_t n;
};

/* Ordinary least squares through the points between two times. */
static struct line fit(const struct soak_point *p, size_t n, double from_s, double to_s)
{
	struct line l = { 0 };
	double sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0, rest = 0.0;

	for (size_t i = 0; i < n; i++)
		if (p[i].seconds >= from_s && p[i].seconds <= to_s) {
			sx += p[i].seconds;
			sy += p[i].watts;
			l.n++;
		}
	if (l.n < 3)
		return l;
	l.middle_s = sx / (double)l.n;
	l.level = sy / (double)l.n;
	for (size_t i = 0; i < n; i++)
		if (p[i].seconds >= from_s && p[i].seconds <= to_s) {
			const double x = p[i].seconds - l.middle_s;

			sxx += x * x;
			sxy += x * (p[i].watts - l.level);
		}
	if (!(sxx > 0.0))
		return l;
	l.slope = sxy / sxx;
	for (size_t i = 0; i < n; i++)
		if (p[i].seconds >= from_s && p[i].seconds <= to_s) {
			const double r = p[i].watts - l.level - l.slope * (p[i].seconds - l.middle_s);

			rest += r * r;
		}
	l.scatter = sqrt(rest / (double)(l.n - 2));
	l.error = l.scatter / sqrt(sxx);
	return l;
}

void soak_judge(const struct soak_point *points, size_t n, double abort_watts, struct soak *ret)
{
	*ret = (struct soak){ .slope_w_per_h = (double)NAN, .slope_error = (double)NAN,
	                      .drift_watts = (double)NAN, .stable_in_s = (double)NAN,
	                      .runaway_in_s = (double)NAN };
	if (n < LEAST_POINTS || points[n - 1].seconds - points[0].seconds < least_window_s)
		return;
	const double end = points[n - 1].seconds;
	const double begin = fmax(points[0].seconds, end - window_s);
	const struct line last = fit(points, n, begin, end);
	const struct line all = fit(points, n, points[0].seconds, end);

	if (last.n < LEAST_POINTS)
		return;
	/* A display in steps of 0.1 W that goes from 39.5 to 39.6 may have crept by next to
	 * nothing.  Rounding by half a step, down in one half of the time and up in the other, is
	 * the worst for a line of least squares: three halves of a step over its length.
	 * Readings that scatter over more than that round by chance, and their scatter tells it. */
	const double step = step_of(points, n);
	const double by_step = last.scatter < 0.5 * step ? 1.5 * step / (end - begin) : 0.0;
	const double error = hypot(2.0 * last.error, by_step);

	ret->known = true;
	ret->window_s = end - begin;
	ret->drift_watts = all.slope * (end - points[0].seconds);
	ret->slope_w_per_h = 3600.0 * last.slope;
	ret->slope_error = 3600.0 * error;
	const double now = last.level + last.slope * (end - last.middle_s);
	const double threshold = stable_share_per_h * last.level / 3600.0;

	ret->stable = fabs(last.slope) + error < threshold;
	if (last.slope > error && abort_watts > now)
		ret->runaway_in_s = (abort_watts - now) / last.slope;
	if (ret->stable) {
		ret->stable_in_s = 0.0;
		return;
	}
	/* The slope of warming decays by the same share in equal times: from its two halves. */
	const double middle = 0.5 * (begin + end);
	const struct line early = fit(points, n, begin, middle), late = fit(points, n, middle, end);
	const double ratio = late.slope / early.slope;

	if (early.n >= 4 && late.n >= 4 && fabs(early.slope) > 2.0 * early.error && ratio > 0.02 &&
	    ratio < 0.95 && fabs(late.slope) > threshold) {
		const double tau = (late.middle_s - early.middle_s) / -log(ratio);

		ret->stable_in_s = fmax(0.0, tau * log(fabs(late.slope) / threshold) -
		                             (end - late.middle_s));
	}
}
