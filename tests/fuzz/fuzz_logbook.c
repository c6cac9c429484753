/* Any bytes as a unit's file, and as one line of it: never a crash; what is read can be written
 * again and reads as the same. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/proto/logbook_text.h"
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
	struct buf line = BUF_INIT, again = BUF_INIT, texts = BUF_INIT;
	struct entry read, back;
	size_t at[3], back_at[3];

	(void)logbook_text_get(text, n, &read, &texts, at);
	buf_clear(&texts);
	buf_add(&line, text, n);
	buf_addf(&line, "\t%08x", (unsigned)record_crc32(0, text, n));
	if (logbook_text_get(line.data, line.len, &read, &texts, at) == LOGBOOK_LINE_ENTRY) {
		read.subject = texts.data + at[0];
		read.word = texts.data + at[1];
		read.note = texts.data + at[2];
		MUST(isfinite(read.utc_s) && read.kind < ENTRY_KINDS);
		const size_t subject = strlen(read.subject), word = strlen(read.word);
		const size_t note = strlen(read.note);
		logbook_text_put(&again, &read);
		MUST(again.len > 0 && again.data[again.len - 1] == '\n');
		MUST(!memchr(again.data, '\n', again.len - 1));
		MUST(logbook_text_get(again.data, again.len - 1, &back, &texts, back_at) ==
			LOGBOOK_LINE_ENTRY);
		/* longer ones than an entry holds were cut */
		if (subject < ENTRY_SUBJECT_MAX && word < ENTRY_WORD_MAX && note < ENTRY_NOTE_MAX)
			for (int i = 0; i < 3; i++)
				MUST(strcmp(texts.data + at[i], texts.data + back_at[i]) == 0);
		MUST(back.kind == read.kind && fabs(back.utc_s - read.utc_s) < 0.002);
		for (int i = 0; i < ENTRY_NUMBERS; i++)
			MUST(same(back.number[i], read.number[i]) ||
				(fabs(read.number[i]) < 1e-300 && back.number[i] == 0));
	}
	buf_release(&line);
	buf_release(&again);
	buf_release(&texts);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	const char *text = (const char *)data;
	char label[LOGBOOK_LABEL_MAX];
	struct err err;

	if (size == 0)
		return 0;
	size_t head = logbook_text_get_head(text, size, label, &err);
	MUST(head <= size && (head == 0 || memchr(label, '\0', sizeof label)));
	for (size_t at = 0; at < size;) {
		const char *end = memchr(text + at, '\n', size - at);
		const size_t n = end ? (size_t)(end - (text + at)) : size - at;

		try_line(text + at, n);
		at += n + 1;
	}
	return 0;
}
