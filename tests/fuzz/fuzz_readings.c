/* Any bytes as a list of readings: never a crash; what is taken for good has numbers in it, and its
 * rows, put together again, are read the same. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "mainstair/proto/readings_text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition) \
	do { \
		if (!(condition)) \
			abort(); \
	} while (0)

static void check_again(const struct readings *r)
{
	struct buf text = BUF_INIT;
	struct readings back;
	struct complaints c;

	complaints_init(&c, "again");
	buf_add(&text, r->head.raw, r->head.len);
	for (size_t i = 0; i < r->n_rows; i++) {
		buf_adds(&text, i % 2 ? "\n" : "\r\n");
		buf_add(&text, r->rows[i].raw, r->rows[i].len);
	}
	MUST(readings_parse(text.data, text.len, &back, &c) == 0);
	MUST(back.n_rows == r->n_rows && back.n_columns == r->n_columns);
	for (size_t i = 0; i < r->n_rows; i++) {
		MUST(memcmp(&back.rows[i].volts, &r->rows[i].volts, sizeof(double)) == 0);
		MUST(memcmp(&back.rows[i].watts, &r->rows[i].watts, sizeof(double)) == 0);
	}
	readings_release(&back);
	complaints_release(&c);
	buf_release(&text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct readings r;
	struct complaints c;
	char name[16];

	complaints_init(&c, "fuzz");
	if (readings_parse((const char *)data, size, &r, &c) == 0) {
		MUST(complaints_count(&c) == 0 && r.n_rows > 0);
		for (size_t i = 0; i < r.n_rows; i++) {
			const struct readings_row *row = &r.rows[i];

			MUST(isfinite(row->volts) && isfinite(row->watts));
			MUST(row->raw >= (const char *)data &&
			     row->raw + row->len <= (const char *)data + size);
		}
		for (size_t k = 0; k < r.n_columns; k++)
			if (r.column[k] == READINGS_RAIL)
				readings_rail_name(&r, k, name, sizeof name);
		check_again(&r);
		readings_release(&r);
	} else {
		MUST(complaints_count(&c) > 0);
	}
	for (size_t i = 0; i < c.n; i++)
		MUST(text_is_clean(c.list[i].text, strlen(c.list[i].text)));
	complaints_release(&c);
	return 0;
}
