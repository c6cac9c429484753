/* Any bytes as a capacitor's rating (the first line) and its readings (the rest): never a crash;
 * what is taken for good passes the judge's own check, and is judged and advised within what it
 * stands. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "mainstair/proto/reform_text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition) \
	do { \
		if (!(condition)) \
			abort(); \
	} while (0)

static void check_part(const struct reform_part *part)
{
	MUST(isfinite(part->farad) && part->farad > 0 && isfinite(part->volts) && part->volts > 0);
	for (int rule = 0; rule < REFORM_RULES; rule++) {
		const double limit = reform_limit_amps((enum reform_rule)rule, part);

		MUST(isnan(limit) || (isfinite(limit) && limit > 0));
	}
}

/* Without the fit, which takes too long here. */
static void check_section(const struct reform_section *s, const struct reform_part *part)
{
	struct reform_aim aim = { .part = *part, .form_volts = part->volts,
		                  .rule = REFORM_CV_3, .floor_amps = 0.5 * s->digit_amps };
	struct reform_judgement j;
	struct reform_step step;
	struct err err = { 0 };
	size_t bad;

	MUST(reform_check(s->readings, s->n, &bad, &err) == 0);
	aim.limit_amps = reform_limit_amps(aim.rule, part);
	j = reform_judge(&aim, s->readings, s->n, NULL);
	MUST(j.stretch == 0 || j.stretch < s->n);
	MUST(j.verdict != REFORM_FORMED ||
	     s->readings[s->n - 1].amps <= aim.limit_amps);
	step = reform_next_step(&aim, s->readings, s->n, &j, 0, 0);
	MUST(step.order != REFORM_RAISE || step.volts <= part->volts);
	MUST(memchr(step.why, 0, sizeof step.why) != NULL);
}

static void check_list(const char *text, size_t n, const struct reform_part *parts, size_t n_parts)
{
	struct reform_list list;
	struct complaints c;

	complaints_init(&c, "fuzz");
	if (reform_list_parse(text, n, n_parts, &list, &c) == 0) {
		MUST(complaints_count(&c) == 0);
		for (size_t i = 0; i < n_parts; i++)
			check_section(&list.section[i], &parts[i]);
		reform_list_release(&list);
	} else {
		MUST(complaints_count(&c) > 0);
	}
	for (size_t i = 0; i < c.n; i++)
		MUST(text_is_clean(c.list[i].text, strlen(c.list[i].text)));
	complaints_release(&c);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static const struct reform_part usual = { 20e-6, 450 };
	struct reform_part parts[REFORM_SECTIONS_MAX];
	const char *text = (const char *)data;
	const char *end = size > 0 ? memchr(text, '\n', size) : NULL;
	const size_t line = end ? (size_t)(end - text) : size;
	char rating[200];
	struct err err = { 0 };
	size_t n = 0;

	if (line < sizeof rating) {
		memcpy(rating, text, line);
		rating[line] = '\0';
		if (reform_rating_parse(rating, parts, &n, &err) == 0) {
			MUST(n > 0 && n <= REFORM_SECTIONS_MAX);
			for (size_t i = 0; i < n; i++)
				check_part(&parts[i]);
			if (end)
				check_list(end + 1, size - line - 1, parts, n);
		} else {
			MUST(err.text[0] != '\0' && text_is_clean(err.text, strlen(err.text)));
		}
	}
	check_list(text, size, &usual, 1);
	return 0;
}
