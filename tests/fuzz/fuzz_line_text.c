/* Any bytes as lines from a meter: never a crash, the same lines wherever the stream is cut, and
 * only finite numbers out of them. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "mainstair/proto/line_text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition) \
	do { \
		if (!(condition)) \
			abort(); \
	} while (0)

static void decode(const struct line_text_map *map, const char *line, size_t n)
{
	char why[READING_WHY_MAX] = "", out[LINE_TEXT_MAX];
	struct reading r, again;

	reading_clear(&r);
	switch (line_text_decode(map, line, n, &r, why)) {
	case LINE_TEXT_READING:
		reading_complete(&r);
		for (int q = 0; q < READING_QUANTITIES; q++)
			MUST(isfinite(r.at[q].value));
		/* what it says itself it understands */
		n = line_text_encode(map, &r, out);
		reading_clear(&again);
		MUST(n == 0 || line_text_decode(map, out, n - 2, &again, why) == LINE_TEXT_READING);
		break;
	case LINE_TEXT_GARBLED:
	case LINE_TEXT_BAD_SUM:
		MUST(why[0]);
		for (const char *c = why; *c; c++)
			MUST(*c >= 0x20 && *c < 0x7f);
		break;
	case LINE_TEXT_EMPTY:
	case LINE_TEXT_COMMENT:
		break;
	}
}

/* A sum of all lines that come out of the stream when it is fed in pieces of `step`. */
static uint64_t lines(const uint8_t *data, size_t size, size_t step)
{
	struct line_text_stream s = { 0 };
	uint64_t sum = 1;
	size_t used;

	for (size_t at = 0; at < size; at += used) {
		size_t piece = size - at < step ? size - at : step;
		enum line_text_event e = line_text_take(&s, data + at, piece, &used);

		MUST(used > 0 && used <= piece && s.n <= LINE_TEXT_MAX);
		if (e == LINE_TEXT_LINE)
			for (size_t i = 0; i < s.n; i++)
				sum = (sum ^ (uint8_t)s.line[i]) * 1099511628211u;
		if (e != LINE_TEXT_NONE)
			sum = (sum ^ (uint64_t)e) * 1099511628211u;
	}
	return sum;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct line_text_map ordered = line_text_map_default, summed = line_text_map_default;
	struct line_text_map labelled = { .separator = ' ', .labelled = true,
		.label = { [READING_VOLTS] = "U", [READING_WATTS] = "P" },
		.scale = { 1, 1, 0.001, 1, 1, 1 } };
	struct line_text_map comma = { .separator = ';', .decimal_comma = true,
		.fields = { -1, READING_WATTS }, .n_fields = 2, .scale = { 1, 1, -1000, 1, 1, 1 } };
	struct line_text_stream s = { .in_step = true };
	size_t used;

	summed.check_sum = true;
	MUST(lines(data, size, 1) == lines(data, size, size ? size : 1));
	MUST(lines(data, size, 7) == lines(data, size, size ? size : 1));
	for (size_t at = 0; at < size; at += used) {
		if (line_text_take(&s, data + at, size - at, &used) != LINE_TEXT_LINE)
			continue;
		decode(&ordered, s.line, s.n);
		decode(&summed, s.line, s.n);
		decode(&labelled, s.line, s.n);
		decode(&comma, s.line, s.n);
	}
	return 0;
}
