#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "mainstair/proto/record_text.h"
#include "report/parts.h"

const char *when(char out[WHEN_MAX], double utc_s)
{
	char stamp[RECORD_STAMP_MAX];

	/* what a clock that was never set, or a garbled file, may say */
	if (!isfinite(utc_s) || utc_s < 0 || utc_s > 253402300799.0) {
		(void)snprintf(out, WHEN_MAX, "–");
		return out;
	}
	record_stamp(stamp, (int64_t)floor(utc_s));
	(void)snprintf(out, WHEN_MAX, "%.10s %.5s", stamp, stamp + 11);
	return out;
}

const char *how_long(char out[WHEN_MAX], double seconds)
{
	if (!isfinite(seconds) || seconds < 0)
		(void)snprintf(out, WHEN_MAX, "–");
	else if (seconds < 99.5)
		(void)snprintf(out, WHEN_MAX, "%.0f s", seconds);
	else if (seconds < 99.5 * 60)
		(void)snprintf(out, WHEN_MAX, "%.0f min", seconds / 60);
	else if (seconds < 48 * 3600.0)
		(void)snprintf(out, WHEN_MAX, "%.0f h %.0f min", floor(seconds / 3600),
		               floor(fmod(seconds, 3600) / 60));
	else
		(void)snprintf(out, WHEN_MAX, "%.0f days %.0f h",
		               floor(fmin(seconds, 1e12) / 86400),
		               floor(fmod(seconds, 86400) / 3600));
	return out;
}

const char *with_unit(char out[FIGURE_TEXT_MAX], double value, enum unit unit, int digits)
{
	struct buf text = BUF_INIT;

	document_show_value(&text, value, unit, digits);
	(void)snprintf(out, FIGURE_TEXT_MAX, "%s", text.failed ? "–" : text.data);
	buf_release(&text);
	return out;
}
