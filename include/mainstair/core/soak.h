/*
 * core/soak.h - is it coming to rest, or running away?
 *
 * Layer: core; pure.  At the last stage the watts drift while iron and resistors warm.  From the
 * readings of the last minutes: slope with its uncertainty, time until it is stable, and, when it
 * climbs, the minutes left to the abort line.
 */
#ifndef MAINSTAIR_CORE_SOAK_H
#define MAINSTAIR_CORE_SOAK_H

#include <stdbool.h>
#include <stddef.h>

struct soak_point {
	double seconds, watts;
};

struct soak {
	bool known;            /* at least 8 readings over at least 2 minutes */
	double drift_watts;    /* from the first to the last reading, by the line through them */
	double slope_w_per_h;  /* over the last `window_s` */
	double slope_error;    /* 95 per cent, same unit */
	double window_s;
	bool stable;           /* slope and its error both within the threshold */
	double stable_in_s;    /* until it will be, if it decays as it has so far; NAN: cannot tell;
	                          0: it is */
	double runaway_in_s;   /* until the abort line at this slope; NAN: not climbing for sure */
};

/** n readings at one line voltage, oldest first, seconds rising; abort_watts: the line ahead. */
void soak_judge(const struct soak_point *points, size_t n, double abort_watts, struct soak *ret);

#endif
