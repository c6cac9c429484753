#include "mainstair/core/judge.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"

static const char *const words[] = {
	[VERDICT_UNKNOWN] = "unknown",  [VERDICT_SETTLING] = "settling",
	[VERDICT_IN_BAND] = "in-band",  [VERDICT_UNDER] = "under",
	[VERDICT_OVER] = "over",        [VERDICT_ABORT] = "abort",
};
enum { N_WORDS = sizeof words / sizeof words[0] };

const char *verdict_word(enum verdict v)
{
	return words[v];
}

int verdict_from_word(const char *word)
{
	for (int i = 0; i < N_WORDS; i++)
		if (strcmp(word, words[i]) == 0)
			return i;
	return -1;
}

static bool band_usable(const struct band *band)
{
	return band->at.converged && isfinite(band->low) && isfinite(band->high) &&
	       isfinite(band->abort_watts);
}

/* Watts over volts is the least current that can carry them; below a watt that is only the
 * meter's own offset, divided by next to nothing when the variac is near zero. */
static bool fuse_crossed(const struct band *band, double fuse_amps, double watts, double amps)
{
	if (!(fuse_amps > 0.0))
		return false;
	if (isfinite(amps) && amps > fuse_amps)
		return true;
	return watts > fmax(fuse_amps * band->volts, 1.0);
}

enum verdict judge_settled(const struct band *band, double fuse_amps, double watts, double amps)
{
	/* amps speak for the fuse also where a meter knows no watts */
	if (fuse_crossed(band, fuse_amps, watts, amps))
		return VERDICT_ABORT;
	if (!isfinite(watts) || watts < 0.0)
		return VERDICT_UNKNOWN;
	if (!band_usable(band))
		return VERDICT_UNKNOWN;
	/* The fuse pulls the abort line below the band where volts are next to nothing. */
	if (watts > fmax(band->abort_watts, band->high))
		return VERDICT_ABORT;
	if (watts > band->high)
		return VERDICT_OVER;
	if (watts < band->low)
		return VERDICT_UNDER;
	return VERDICT_IN_BAND;
}

/* Cold heaters and an empty core draw a surge, and a fuse passes twice its amps for longer than
 * that lasts (IEC 60127-2: at 2.1 times up to 2 minutes if slow, 30 if fast; from memory).  What a
 * cold unit draws anyhow it passes as well, or nobody could switch it on: amps that belong to the
 * band's watts, at the power factor of reservoirs that charge. */
static const double surge_share = 2.0, charging_power_factor = 0.67;

enum verdict judge_reading(const struct band *band, double fuse_amps, double watts, double amps,
                           bool settled)
{
	/* watts that the band does not explain are over its abort line, which the fuse holds
	 * down */
	const double surge_amps = band->volts > 0.0 && band->at.converged && fuse_amps > 0.0 ?
		fmax(surge_share * fuse_amps, band->abort_watts / (charging_power_factor * band->volts)) :
		surge_share * fuse_amps;
	const enum verdict v = judge_settled(band, settled ? fuse_amps : surge_amps, watts, amps);

	if (!settled && (v == VERDICT_OVER || v == VERDICT_UNDER))
		return VERDICT_SETTLING;
	return v;
}

/* "<value> <unit> <text>" */
static bool cannot(char why[JUDGE_WHY_MAX], double value, const char *unit, const char *format, ...)
	__attribute__((format(printf, 4, 5)));

static bool cannot(char why[JUDGE_WHY_MAX], double value, const char *unit, const char *format, ...)
{
	char number[40], text[JUDGE_WHY_MAX];
	va_list ap;

	num_print(number, sizeof number, value, 2);
	va_start(ap, format);
	(void)vsnprintf(text, sizeof text, format, ap);
	va_end(ap);
	(void)snprintf(why, JUDGE_WHY_MAX, "%.39s %s%s%.80s", number, unit, *unit ? " " : "", text);
	return false;
}

/* Half the last digit of a coarse ammeter. */
static const double amps_resolution = 0.05;

bool judge_possible(double nameplate_volts, double zero_watts, double volts, double watts,
                    double amps, double power_factor, char why[JUDGE_WHY_MAX])
{
	char number[40];

	if (!isfinite(volts))
		return cannot(why, volts, "V", "is no reading");
	if (isinf(watts) || (isnan(watts) && !isfinite(amps)))
		return cannot(why, watts, "W", "is no reading");
	if (volts < 0.0)
		return cannot(why, volts, "V", "rms is below zero");
	if (volts > 300.0)
		return cannot(why, volts, "V", "is more than any single-phase line gives");
	if (volts > 1.5 * nameplate_volts) {
		num_print(number, sizeof number, nameplate_volts, 0);
		return cannot(why, volts, "V", "on a unit for %s V", number);
	}
	if (watts < -zero_watts)
		return cannot(why, watts, "W", "is below zero");
	if (isinf(amps) || amps < -amps_resolution)
		return cannot(why, amps, "A", "rms is no current");
	if ((amps + amps_resolution) * volts < 0.7 * watts - 1.0) {
		num_print(number, sizeof number, volts * amps, 2);
		return cannot(why, watts, "W", "is more than volts times amps (%s VA)", number);
	}
	if (isinf(power_factor) || fabs(power_factor) > 1.1)
		return cannot(why, power_factor, "", "is no power factor");
	return true;
}
