/* Any lines typed at the re-forming desk, one after the other, a changing time apart: never a
 * crash; what is taken is an entry of the section, and the section made of all of them keeps its
 * bounds. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "mainstair/core/desk.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition) \
	do { \
		if (!(condition)) \
			abort(); \
	} while (0)

enum { LINES_MOST = 64 };

static void check_entry(const struct entry_draft *d)
{
	const struct entry *e = &d->entry;

	MUST(e->subject == d->subject && e->word == d->word && e->note == d->note);
	MUST(memchr(d->subject, 0, sizeof d->subject) && memchr(d->word, 0, sizeof d->word) &&
	     memchr(d->note, 0, sizeof d->note));
	MUST(e->kind == ENTRY_CAP_SET || e->kind == ENTRY_CAP_READING ||
	     e->kind == ENTRY_CAP_EVENT || e->kind == ENTRY_NOTE);
	if (e->kind == ENTRY_CAP_READING)
		MUST(isfinite(e->number[0]) && e->number[0] >= 0 && isfinite(e->number[1]) &&
		     e->number[1] >= 0);
}

static void check_section(struct desk_section *s)
{
	desk_judge(s, NULL);
	MUST(s->n <= DESK_READINGS_MAX && s->n <= s->n_taken);
	for (size_t i = 1; i < s->n; i++)
		MUST(s->reading[i].seconds > s->reading[i - 1].seconds);
	MUST((int)s->state >= 0 && s->state < DESK_STATES);
	MUST(memchr(s->words, 0, sizeof s->words) && s->words[0]);
	MUST(s->state != DESK_FORMED || s->reading[s->n - 1].amps <= s->aim.limit_amps);
	MUST(s->blocks || !(s->on || s->must_discharge || s->state == DESK_FAILING));
	MUST(s->aim.form_volts > 0 && s->aim.form_volts <= s->aim.part.volts);
	MUST(s->step.order != REFORM_RAISE || s->step.volts <= s->aim.part.volts);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct profile unit = { .n_capacitors = 1,
		.capacitors = { { .place = "C1A", .farad = { true, 20e-6, -1 },
		                  .volts = { true, 450, -1 }, .rail = -1 } } };
	static struct entry_draft drafts[LINES_MOST];
	static struct desk_section s;
	struct entry entries[LINES_MOST] = { 0 };
	double utc_s = 1.8e9;
	size_t n = 0;

	desk_section_make(&s, &unit, 0, entries, 0);
	check_section(&s);
	while (size > 0 && n < LINES_MOST) {
		const uint8_t *end = memchr(data, '\n', size);
		const size_t length = end ? (size_t)(end - data) : size;
		char line[600], echo[ENTRY_ECHO_MAX] = "";
		const size_t kept = length < sizeof line ? length : sizeof line - 1;

		memcpy(line, data, kept);
		line[kept] = '\0';
		utc_s += length % 7 == 6 ? -100 : 60 * (double)(length % 7);
		if (desk_understand(&s, line, &drafts[n], echo) != ENTRY_LINE_WRONG) {
			check_entry(&drafts[n]);
			entries[n] = drafts[n].entry;
			entries[n++].utc_s = utc_s;
			desk_section_make(&s, &unit, 0, entries, n);
			check_section(&s);
			(void)desk_keeps(&s, utc_s + 1, 300, 1e-3);
		}
		MUST(echo[0] && strlen(echo) < sizeof echo && text_is_clean(echo, strlen(echo)));
		data += length + (end ? 1 : 0);
		size -= length + (end ? 1 : 0);
	}
	return 0;
}
