/* Any bytes as a record, and as one line of it: never a crash; what is read can be written again
 * and reads as the same. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/proto/record_text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition) \
	do { \
		if (!(condition)) \
			abort(); \
	} while (0)

static int same(double a, double b)
{
	return isnan(a) ? isnan(b) : !(a < b) && !(a > b);
}

/* The line without its check sum is what comes in: the fuzzer need not find CRCs. */
static void try_line(const char *text, size_t n)
{
	struct buf line = BUF_INIT, again = BUF_INIT, scratch = BUF_INIT;
	struct record_line read, back;
	struct event ev, same_ev;

	(void)record_text_scan(text, n, &read);
	buf_add(&line, text, n);
	buf_addf(&line, "\t%08x", (unsigned)record_crc32(0, text, n));
	if (!memchr(text, '\n', n) &&
	    record_text_scan(line.data, line.len, &read) == RECORD_LINE_EVENT) {
		record_text_get_event(&read, &scratch, &ev);
		MUST(memchr(ev.note, 0, sizeof ev.note));
		MUST(isfinite(ev.seconds) && ev.stage >= -1 && ev.kind < EVENT_KINDS);
		record_text_put_event(&again, &ev);
		MUST(again.len <= RECORD_LINE_MAX);
		MUST(record_text_scan(again.data, again.len - 1, &back) == RECORD_LINE_EVENT);
		record_text_get_event(&back, &scratch, &same_ev);
		MUST(strcmp(ev.note, same_ev.note) == 0 && ev.kind == same_ev.kind);
		MUST(ev.stage == same_ev.stage && ev.verdict == same_ev.verdict);
		MUST(same(ev.seconds, same_ev.seconds) && same(ev.volts, same_ev.volts));
		MUST(same(ev.watts, same_ev.watts) && same(ev.amps, same_ev.amps));
		MUST(same(ev.power_factor, same_ev.power_factor));
	}
	buf_release(&line);
	buf_release(&again);
	buf_release(&scratch);
}

static void try_head(const char *text, size_t n)
{
	struct buf store = BUF_INIT, again = BUF_INIT, back_store = BUF_INIT;
	const size_t size = record_text_head_size(text, n);
	struct record_head head, back;
	struct err err;

	MUST(size <= n);
	if (record_text_get_head(text, size ? size : n, &head, &store, &err) == 0) {
		MUST(head.profile.text[head.profile.len] == '\0');
		MUST(head.bench.text[head.bench.len] == '\0');
		record_text_put_head(&again, &head);
		MUST(record_text_head_size(again.data, again.len) == again.len);
		MUST(record_text_get_head(again.data, again.len, &back, &back_store, &err) == 0);
		MUST(!back.damaged && !back.profile.damaged && !back.bench.damaged);
		MUST(back.profile.len == head.profile.len);
		MUST(memcmp(back.profile.text, head.profile.text, head.profile.len) == 0);
	}
	buf_release(&store);
	buf_release(&again);
	buf_release(&back_store);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	const char *text = (const char *)data;

	if (size == 0)
		return 0;
	try_head(text, size);
	for (size_t at = 0; at < size;) {
		const char *end = memchr(text + at, '\n', size - at);
		const size_t n = end ? (size_t)(end - (text + at)) : size - at;

		try_line(text + at, n);
		at += n + 1;
	}
	return 0;
}
