/* Any bytes as a profile: never a crash, a hang or a silent loss.  What the strict scan lets
 * through the INI library reads the same way, and what is taken for good is within its bounds. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/profile_ini.h"

#include "mainstair/base/text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition) \
	do { \
		if (!(condition)) \
			abort(); \
	} while (0)

static void check_given(const struct given *given)
{
	MUST(!given->given || (isfinite(given->value) && given->tol < 1));
}

static void check_by(const int *by, int n, const struct profile *p)
{
	MUST(n >= 0 && n <= PROFILE_BY_MAX);
	for (int i = 0; i < n; i++)
		MUST(by[i] >= 0 && by[i] < p->n_tubes);
}

static void check_rail(const struct profile_rail *rail, const struct profile *p)
{
	int steps = 0;

	MUST(memchr(rail->name, 0, sizeof rail->name));
	MUST(rail->source != RAIL_FROM_WINDING ||
	     (rail->winding >= 0 && rail->winding < p->n_windings));
	for (const struct profile_rail *up = rail; up->source == RAIL_FROM_RAIL;
	     up = &p->rails[up->parent])
		MUST(up->parent >= 0 && up->parent < p->n_rails && steps++ < p->n_rails);
	check_by(rail->rectifier_by, rail->n_rectifier_by, p);
	check_by(rail->regulator_by, rail->n_regulator_by, p);
	MUST(rail->source == RAIL_FROM_RAIL || rail->rectifier != RECTIFIER_TUBE ||
	     rail->n_rectifier_by > 0);
	MUST(rail->regulator == REGULATOR_NONE || rail->n_regulator_by > 0);
	check_given(&rail->reservoir[0]);
	check_given(&rail->through_ohms);
	MUST(rail->n_draws <= PROFILE_DRAWS_MAX);
	for (int d = 0; d < rail->n_draws; d++) {
		MUST(rail->draws[d].amps.given && rail->draws[d].volts.given);
		check_by(rail->draws[d].by, rail->draws[d].n_by, p);
		MUST(rail->draws[d].kind != DRAW_SPACE_CHARGE || rail->draws[d].n_by > 0);
	}
}

static void check_good(const struct profile *p)
{
	MUST(p->line_volts.given && p->line_volts.value >= 20 && p->line_hz.value > 0);
	MUST(p->name[0] && memchr(p->name, 0, sizeof p->name));
	MUST(p->n_tubes <= PROFILE_TUBES_MAX && p->n_lamps <= PROFILE_LAMPS_MAX);
	MUST(p->n_windings <= PROFILE_WINDINGS_MAX && p->n_rails <= PROFILE_RAILS_MAX);
	MUST(p->n_capacitors <= PROFILE_CAPS_MAX && p->n_stages <= PROFILE_STAGES_MAX);
	for (int i = 0; i < p->n_tubes; i++) {
		MUST(p->tubes[i].type[0] || (p->tubes[i].volts.given && p->tubes[i].amps.given));
		MUST(p->tubes[i].winding >= -1 && p->tubes[i].winding < p->n_windings);
	}
	for (int i = 0; i < p->n_windings; i++)
		MUST(p->windings[i].volts.given || p->windings[i].open_volts.given);
	for (int i = 0; i < p->n_rails; i++)
		check_rail(&p->rails[i], p);
	for (int i = 0; i < p->n_capacitors; i++)
		MUST(p->capacitors[i].rail >= -1 && p->capacitors[i].rail < p->n_rails);
	for (int i = 1; i < p->n_stages; i++)
		MUST(p->stage_volts[i] > p->stage_volts[i - 1]);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct profile *p = malloc(sizeof *p);
	struct ini_doc doc;
	struct complaints c;
	int result;

	MUST(p);
	complaints_init(&c, "fuzz");
	result = profile_parse_text((const char *)data, size, p, &c);
	MUST((result == 0) == (complaints_count(&c) == 0));
	for (size_t i = 0; i < c.n; i++)
		MUST(text_is_clean(c.list[i].text, strlen(c.list[i].text)));
	if (result == 0)
		check_good(p);
	complaints_release(&c);
	free(p);

	/* what the scan lets through the library reads, and reads the same */
	complaints_init(&c, "fuzz");
	result = ini_scan((const char *)data, size, &doc, &c);
	ini_release(&doc);
	if (result == 0)
		MUST(ini_load((const char *)data, size, &doc, &c) == 0);
	ini_release(&doc);
	complaints_release(&c);
	return 0;
}
