/* Any bytes as a bench file: all faults in words or a meter that can be opened. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/bench_ini.h"

#include "mainstair/base/text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition) \
	do { \
		if (!(condition)) \
			abort(); \
	} while (0)

static int never(const struct wire_settings *settings, struct wire **ret, struct err *err)
{
	(void)settings;
	(void)ret;
	return err_set(err, ERR_SYSTEM, "no ports here");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct bench_setup bench;
	struct complaints c;
	struct meter *m;
	struct err err;
	int rc;

	complaints_init(&c, "fuzz");
	rc = bench_parse_text((const char *)data, size, &bench, &c);
	MUST((rc == 0) == (complaints_count(&c) == 0));
	for (size_t i = 0; i < c.n; i++)
		MUST(text_is_clean(c.list[i].text, strlen(c.list[i].text)));
	complaints_release(&c);
	if (rc < 0 || !bench.has_meter)
		return 0;
	MUST(isfinite(bench.meter.accuracy.offset_watts) && bench.meter.accuracy.offset_watts >= 0);
	MUST(isfinite(bench.meter.accuracy.reading_share) &&
	     bench.meter.accuracy.reading_share >= 0);
	MUST(bench.meter.timeout_ms > 0 && bench.meter.period_ms >= 0);
	m = meter_open(&bench.meter, never, 0, &err);
	MUST(m != NULL);
	meter_step(m, 0, 5000);
	meter_close(m);
	return 0;
}
