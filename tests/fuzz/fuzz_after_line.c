/* Any text typed at the calibration sheet, at a null or at the comparison: an entry with numbers in
 * it, a question, or what would be right; and whatever is kept can be read back into the state. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "mainstair/core/calibrate.h"
#include "mainstair/core/compare.h"
#include "mainstair/core/null_hunt.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition)                                                                            \
	do {                                                                                       \
		if (!(condition))                                                                  \
			abort();                                                                   \
	} while (0)

enum { ECHO = ENTRY_ECHO_MAX };

static void make_profile(struct profile *p)
{
	static const enum unit units[] = {UNIT_HERTZ, UNIT_VOLT,    UNIT_DECIBEL,
	                                  UNIT_DBM,   UNIT_PERCENT, UNIT_NONE};

	memset(p, 0, sizeof *p);
	p->n_points = sizeof units / sizeof units[0];
	for (int i = 0; i < p->n_points; i++) {
		p->points[i] = (struct profile_point){
		        .unit = units[i],
		        .scale = i == 0 ? 1000 : 1,
		        .applied = 1 - i,
		        .full_scale = 2,
		        .resolution = i % 2 ? 0.1 : (double)NAN,
		        .tolerance = {.given = true, .reading = 0.02, .full_scale = 0.01},
		        .reference = {.given = i % 3 != 0, .reading = 0.001}};
		strcpy(p->points[i].name, (const char *[]){"P1", "P2", "P3", "P4", "P5", "P6"}[i]);
		strcpy(p->points[i].control, i < 2 ? "R1" : "");
		strcpy(p->points[i].written, i == 0 ? "kHz" : unit_symbol(units[i]));
	}
	p->n_nulls = 1;
	p->nulls[0] = (struct profile_null){.name = "n",
	                                    .n_controls = 2,
	                                    .unit = UNIT_VOLT,
	                                    .scale = 1e-3,
	                                    .written = "mV",
	                                    .below = 1e-3};
	strcpy(p->nulls[0].control[0], "R5");
	strcpy(p->nulls[0].control[1], "C7");
}

static void check_echo(const char *echo)
{
	MUST(echo[0] && memchr(echo, 0, ECHO) && text_is_clean(echo, strlen(echo)));
}

static void type_cal(const struct profile *p, struct cal_sheet *sheet, const char *line)
{
	struct entry_draft d;
	char echo[ECHO];

	for (int i = -1; i < p->n_points; i++) {
		cal_sheet_make(sheet, p, NULL, 0);
		entry_draft_init(&d, ENTRY_CAL);
		if (cal_understand(sheet, i, line, &d, echo) != ENTRY_LINE_WRONG) {
			MUST(isfinite(d.entry.number[0]) && d.subject[0] && d.word[0]);
			cal_sheet_make(sheet, p, &d.entry, 1);
			MUST(sheet->count[CAL_PASS] + sheet->count[CAL_CONDITIONAL_PASS] <= 1);
		}
		check_echo(echo);
	}
}

static void type_null(const struct profile *p, struct null_hunt *hunt, const char *line)
{
	char echo[ECHO], text[NULL_TEXT_MAX];
	struct entry_draft d;

	for (int i = 0; i < 2; i++) {
		null_hunt_make(hunt, p, i ? "other" : "n", NULL, 0);
		entry_draft_init(&d, ENTRY_NULL);
		if (null_understand(hunt, line, &d, echo) != ENTRY_LINE_WRONG) {
			MUST(isfinite(d.entry.number[0]) && d.subject[0]);
			null_hunt_make(hunt, p, d.word, &d.entry, 1);
			MUST(hunt->entries == 1 && hunt->best_entry == 0);
			(void)null_advice(hunt, text, sizeof text);
			(void)null_way_back(hunt, text, sizeof text);
		}
		check_echo(echo);
	}
}

static void type_compare(const struct profile *p, struct compare_list *list, const char *line)
{
	char echo[ECHO];
	struct entry_draft d;

	entry_draft_init(&d, ENTRY_COMPARE);
	if (compare_understand(NULL, 0, line, &d, echo) == ENTRY_LINE_TAKEN) {
		MUST(isfinite(d.entry.number[0]) && isfinite(d.entry.number[2]) && d.subject[0]);
		compare_list_make(list, p, &d.entry, 1);
		MUST(list->n == 1);
		if (list->count[COMPARE_AGREE] == 1)
			MUST(d.entry.number[1] > 0 && d.entry.number[3] > 0);
	}
	check_echo(echo);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct profile *p = malloc(sizeof *p);
	struct cal_sheet *sheet = malloc(sizeof *sheet);
	struct null_hunt *hunt = malloc(sizeof *hunt);
	struct compare_list *list = malloc(sizeof *list);
	char *line = malloc(size + 1);

	MUST(p && sheet && hunt && list && line);
	memcpy(line, data, size);
	line[size] = '\0';
	make_profile(p);
	type_cal(p, sheet, line);
	type_null(p, hunt, line);
	type_compare(p, list, line);
	free(line);
	free(list);
	free(hunt);
	free(sheet);
	free(p);
	return 0;
}
