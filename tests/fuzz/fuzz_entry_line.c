/* Any bytes typed on the pages before power: never a crash; what becomes an entry fits its fields,
 * belongs to its row, holds no number that cannot be; an echo has no control characters.
 * A line of the input: `l`, `t` or `o` and a digit for page and row, then what is typed. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "mainstair/core/look.h"
#include "mainstair/core/ohms_results.h"
#include "mainstair/core/tube_test.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition)                                                                            \
	do {                                                                                       \
		if (!(condition))                                                                  \
			abort();                                                                   \
	} while (0)

/* Some types, and what the pages ask of them. */
static struct tube_type types[] = {
        {.name = "12AX7", .aliases = "ECC83", .kind = TUBE_TWIN_TRIODE},
        {.name = "12AU7", .kind = TUBE_TWIN_TRIODE},
        {.name = "6X4", .kind = TUBE_DIODE_RECTIFIER},
        {.name = "0A2",
         .kind = TUBE_GAS_REGULATOR,
         .strike_volts = 185,
         .hold_volts = 150,
         .min_amps = 0.005,
         .max_amps = 0.03},
};
static const struct tables tables = {.tubes = types, .n_tubes = sizeof types / sizeof *types};
static const struct ohms_check checks[] = {
        {.kind = OHMS_PRIMARY,
         .what = "primary",
         .low = 15,
         .expected = 17,
         .high = 19,
         .blocks_low = true,
         .measured_as = "primary"},
        {.kind = OHMS_INSULATION,
         .what = "pins",
         .low = 2e6,
         .expected = (double)NAN,
         .high = (double)INFINITY,
         .blocks_low = true},
        {.kind = OHMS_FUSE, .what = "fuse", .low = 0, .expected = 0.1, .high = 0.6},
        {.kind = OHMS_BALANCE, .what = "balance", .low = 1, .expected = 1.08, .high = 1.25},
};

static void make_profile(struct profile *p)
{
	static const char *const places[] = {"V1", "V2", "V3", "V4"};

	memset(p, 0, sizeof *p);
	p->chassis = CHASSIS_TWO_WIRE;
	p->line_volts = (struct given){true, 117, -1};
	p->fuse_amps = (struct given){true, 0.5, -1};
	p->fuse_speed = FUSE_SLOW;
	for (int i = 0; i < 4; i++) {
		(void)snprintf(p->tubes[i].place, PROFILE_NAME_MAX, "%s", places[i]);
		(void)snprintf(p->tubes[i].type, PROFILE_NAME_MAX, "%.31s",
		               i == 1 ? "" : types[i].name);
		p->tubes[i].winding = -1;
	}
	p->n_tubes = 4;
}

/* ---- what must hold of every entry and echo ---- */

static void check_echo(const char *echo)
{
	MUST(memchr(echo, '\0', ENTRY_ECHO_MAX) && *echo);
	MUST(text_is_clean(echo, strlen(echo)));
}

static void check_draft(const struct entry_draft *d, enum entry_kind kind)
{
	MUST(d->entry.kind == kind);
	MUST(d->entry.subject == d->subject && d->entry.word == d->word &&
	     d->entry.note == d->note);
	MUST(memchr(d->subject, '\0', sizeof d->subject) && *d->subject);
	MUST(memchr(d->word, '\0', sizeof d->word));
	MUST(memchr(d->note, '\0', sizeof d->note));
}

static void type_look(const struct profile *p, int row, const char *line)
{
	static struct look_list list;
	static struct look_state states[LOOK_CHECKS_MAX];
	char echo[ENTRY_ECHO_MAX];
	struct entry_draft d;
	int last;

	look_list_make(&list, p);
	look_states(&list, NULL, 0, states);
	row = row < 5 ? row : list.n - 10 + row;
	if (look_understand(&list, states, row, p, &tables, line, &d, echo) != ENTRY_LINE_WRONG) {
		check_draft(&d, ENTRY_LOOK);
		last = strcmp(d.subject, list.check[row].key) == 0 ||
		       list.check[row].kind == LOOK_COMPLEMENT;
		MUST(last);
		look_states(&list, &d.entry, 1, states);
		for (int i = 0; i < list.n; i++)
			if (states[i].entry)
				MUST(list.check[i].kind == LOOK_COMPLEMENT ||
				     strcmp(d.word, look_word(states[i].result)) == 0);
	}
	check_echo(echo);
}

static void type_tube(const struct profile *p, int row, const char *line)
{
	static struct tube_list list;
	static struct tube_state states[PROFILE_TUBES_MAX];
	char echo[ENTRY_ECHO_MAX];
	struct entry_draft d;

	tube_list_make(&list, p, &tables);
	row %= list.n;
	if (tube_understand(&list.place[row], line, &d, echo) != ENTRY_LINE_WRONG) {
		check_draft(&d, ENTRY_TUBE);
		MUST(strcmp(d.subject, list.place[row].place) == 0);
		for (int i = 0; i < ENTRY_NUMBERS; i++)
			MUST(isnan(d.entry.number[i]) || d.entry.number[i] >= 0.0);
		tube_states(&list, &d.entry, 1, states);
		MUST(states[row].entry == &d.entry);
	}
	check_echo(echo);
}

static void type_ohms(int row, const char *line)
{
	const struct ohms_check *c = &checks[row % 4];
	char echo[ENTRY_ECHO_MAX];
	struct entry_draft d;

	if (ohms_understand(c, line, &d, echo) != ENTRY_LINE_WRONG) {
		const double ohms = d.entry.number[0];

		check_draft(&d, ENTRY_OHMS);
		MUST(strcmp(d.subject, c->what) == 0);
		MUST(isnan(ohms) || ohms >= 0.0);
		if (ohms_judge(c, ohms) == OHMS_PASS)
			MUST(ohms >= c->low && ohms <= c->high);
		if (ohms_is_of_model(c, ohms))
			MUST(isfinite(ohms) && c->measured_as[0]);
	}
	check_echo(echo);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct profile profile;
	char line[1000];

	make_profile(&profile);
	while (size > 2) {
		const uint8_t *end = memchr(data, '\n', size);
		size_t n = end ? (size_t)(end - data) : size;
		const int row = data[1] >= '0' && data[1] <= '9' ? data[1] - '0' : 0;
		const size_t typed = n > 2 ? (n - 2 < sizeof line ? n - 2 : sizeof line - 1) : 0;

		memcpy(line, data + 2, typed);
		line[typed] = '\0';
		if (n >= 2 && data[0] == 'l')
			type_look(&profile, row, line);
		else if (n >= 2 && data[0] == 't')
			type_tube(&profile, row, line);
		else if (n >= 2 && data[0] == 'o')
			type_ohms(row, line);
		n += end != NULL;
		data += n;
		size -= n;
	}
	return 0;
}
