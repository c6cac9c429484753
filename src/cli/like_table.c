#include "cli/like_table.h"

#include <math.h>
#include <string.h>

#include "cli/output.h"
#include "mainstair/base/text.h"

void like_table(struct buf *out, const struct like_curve *like, const struct meter_accuracy *meter,
                const struct session_stage *stages, int n)
{
	struct buf rows = BUF_INIT;
	char name[LIKE_NAME_MAX];

	(void)text_show(name, sizeof name, like->name, strlen(like->name));
	buf_addf(out, "Laid under: %s\n", name);
	buf_adds(&rows, "VOLTS\tLOW W\tWATTS\tHIGH W\tREAD W\tCOMPARED\t\n");
	for (int i = 0; i < n; i++) {
		const struct session_stage *s = &stages[i];
		struct compare_result result;
		struct like_band band;

		if (!s->have_reading)
			continue;
		like_at(like, meter, s->reading.volts, &band);
		like_judge(&band, s->settled ? s->reading.watts : (double)NAN, &result);
		number_cell(&rows, s->reading.volts, 1);
		number_cell(&rows, band.low, 2);
		number_cell(&rows, band.expected, 2);
		number_cell(&rows, band.high, 2);
		number_cell(&rows, s->reading.watts, 2);
		buf_addf(&rows, "%s\t\n", compare_verdict_word(result.verdict));
	}
	align_columns(out, &rows, "rrrrrl");
	out->failed |= rows.failed;
	buf_release(&rows);
}
