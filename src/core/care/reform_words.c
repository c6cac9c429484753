/* core/care/reform_words.c - times, intervals and steps for people */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/core/reform.h"

enum { NUMBER_MAX = 40 };

/* With at most so many decimals, no zeros at the end. */
static const char *print(char out[NUMBER_MAX], double value, int decimals)
{
	size_t n = num_print(out, NUMBER_MAX, value, decimals);

	if (!strchr(out, '.'))
		return out;
	while (out[n - 1] == '0')
		n--;
	out[out[n - 1] == '.' ? n - 1 : n] = '\0';
	return out;
}

void reform_say_time(char out[REFORM_WORDS_MAX], double seconds)
{
	static const struct {
		double below, unit;
		const char *word;
	} scales[] = { { 120, 1, "s" }, { 7200, 60, "min" }, { 172800, 3600, "h" } };
	const size_t n = sizeof scales / sizeof *scales;
	double value = seconds / 86400;
	const char *word = "d";
	char number[NUMBER_MAX];

	for (size_t i = 0; i < n; i++)
		if (seconds < scales[i].below) {
			value = seconds / scales[i].unit;
			word = scales[i].word;
			break;
		}
	(void)snprintf(out, REFORM_WORDS_MAX, "%s %s",
	               print(number, value, value < 9.95 && seconds >= 60 ? 1 : 0), word);
}

void reform_say_reach(char out[REFORM_WORDS_MAX], const struct reform_reach *reach)
{
	const struct reform_range *s = &reach->seconds;
	char low[REFORM_WORDS_MAX], median[REFORM_WORDS_MAX], high[REFORM_WORDS_MAX];
	char never[NUMBER_MAX];

	if (isinf(s->low)) {
		(void)snprintf(out, REFORM_WORDS_MAX, "not in sight");
		return;
	}
	reform_say_time(low, s->low);
	if (isinf(s->median))
		(void)snprintf(median, sizeof median, "perhaps never");
	else
		reform_say_time(median, s->median);
	if (isinf(s->high)) {
		(void)snprintf(out, REFORM_WORDS_MAX, "%.30s (%.30s at least; never: %s %%)", median,
		               low, print(never, 100.0 * reach->share_never, 0));
		return;
	}
	reform_say_time(high, s->high);
	(void)snprintf(out, REFORM_WORDS_MAX, "%.30s (%.30s to %.30s)", median, low, high);
}

void reform_say_step(char out[REFORM_WORDS_MAX], const struct reform_step *step)
{
	char number[NUMBER_MAX], more[REFORM_WORDS_MAX];

	switch (step->order) {
	case REFORM_STOP:
		(void)snprintf(out, REFORM_WORDS_MAX, "STOP: volts off, discharge");
		return;
	case REFORM_LOWER:
	case REFORM_RAISE:
		(void)snprintf(out, REFORM_WORDS_MAX, "%s to %s V",
		               step->order == REFORM_LOWER ? "lower" : "raise",
		               print(number, step->volts, step->volts < 20.0 ? 1 : 0));
		return;
	case REFORM_HOLD:
		(void)num_print_unit(number, sizeof number, step->below_amps, UNIT_AMPERE, 3);
		reform_say_time(more, step->hold_s);
		(void)snprintf(out, REFORM_WORDS_MAX, "hold until below %s%s%.40s%s", number,
		               step->hold_s > 0.0 ? ", at least " : "",
		               step->hold_s > 0.0 ? more : "", step->hold_s > 0.0 ? " more" : "");
		return;
	case REFORM_DONE:
		(void)snprintf(out, REFORM_WORDS_MAX, "done");
		return;
	}
}
