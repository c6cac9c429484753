#include "report/scale.h"

#include <math.h>

/* Steps of 1, 2 or 5 in a decade. */
static void linear(struct scale *s, int ticks)
{
	double rough = (s->high - s->low) / ticks, decade = pow(10, floor(log10(rough)));
	double step = rough / decade <= 1.0 + 1e-9   ? decade
	              : rough / decade <= 2.0 + 1e-9 ? 2 * decade
	              : rough / decade <= 5.0 + 1e-9 ? 5 * decade
	                                             : 10 * decade;

	s->low = floor(s->low / step + 1e-9) * step;
	s->high = ceil(s->high / step - 1e-9) * step;
	s->decimals = step >= 1 ? 0 : (int)ceil(-log10(step) - 1e-9);
	for (int i = 0; i < SCALE_TICKS_MAX && s->low + i * step <= s->high + step / 2; i++)
		s->tick[s->n_ticks++] = s->low + i * step;
}

/* Decades, with 2 and 5 between them when there are few, every n-th when there are many. */
static void logarithmic(struct scale *s, int ticks)
{
	static const double within[] = {1, 2, 5};
	int first = (int)floor(log10(s->low) + 1e-9), last = (int)ceil(log10(s->high) - 1e-9);
	int every, n_within;
	double low, high;

	if (last == first)
		last++;
	n_within = last - first <= 3 ? 3 : 1;
	every = (last - first) / ticks + 1;
	s->decimals = -1;
	low = pow(10, first);
	high = pow(10, last);
	for (int e = first; e <= last; e++) /* no wider than the next 1, 2 or 5 */
		for (int k = 0; k < 3; k++) {
			double v = within[k] * pow(10, e);

			low = v <= s->low * (1 + 1e-9) ? fmax(low, v) : low;
			high = v >= s->high * (1 - 1e-9) ? fmin(high, v) : high;
		}
	s->low = low;
	s->high = high > low ? high : 10 * low;
	for (int e = first; e <= last; e += every)
		for (int k = 0; k < n_within && s->n_ticks < SCALE_TICKS_MAX; k++) {
			double v = within[k] * pow(10, e);

			if (v >= s->low * (1 - 1e-9) && v <= s->high * (1 + 1e-9))
				s->tick[s->n_ticks++] = v;
		}
}

void scale_make(struct scale *ret, bool log, double low, double high, double from, double to,
                int ticks)
{
	*ret = (struct scale){.log = log, .low = low, .high = high, .from = from, .to = to};
	if (!isfinite(low) || !isfinite(high) || low > high || (log && !(low > 0))) {
		ret->low = log ? 1 : 0;
		ret->high = log ? 10 : 1;
	}
	/* a single value: some room about it */
	if (!(ret->high - ret->low > fabs(ret->high) * 1e-9)) {
		ret->high = log ? ret->high * 2 : ret->high + fmax(fabs(ret->high) * 0.1, 1e-9);
		ret->low = log ? ret->low / 2 : ret->low - fmax(fabs(ret->low) * 0.1, 1e-9);
	}
	if (log)
		logarithmic(ret, ticks);
	else
		linear(ret, ticks);
}

double scale_at(const struct scale *s, double value)
{
	double share;

	if (!isfinite(value) || (s->log && !(value > 0)))
		return NAN;
	share = s->log ? (log10(value) - log10(s->low)) / (log10(s->high) - log10(s->low))
	               : (value - s->low) / (s->high - s->low);
	return s->from + share * (s->to - s->from);
}
