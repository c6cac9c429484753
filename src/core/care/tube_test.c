/*
 * core/care/tube_test.c - places, their duties, and what a result means for the unit
 *
 * Range of a glow: the 0A2's data sheet gives 140 to 168 V for 150 and 185 V at most to strike
 * (from memory); the tables hold one figure a type, so its shares stand for all of them.
 */
#include "mainstair/core/tube_test.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"

const double tube_good_share = 0.66;

static const double hold_down = 140.0 / 150.0, hold_up = 168.0 / 150.0;
/* Further off it is another type, an arc or a short (common practice, no source). */
static const double hold_lost = 0.25;
/* Strikes later in the dark and after years at rest: taken as told, only named. */
static const double possible_volts = 2000.0;

static bool names(const int *by, int n, int tube)
{
	for (int i = 0; i < n; i++)
		if (by[i] == tube)
			return true;
	return false;
}

static void find_duty(const struct profile *p, int tube, struct tube_place *ret)
{
	ret->duty = TUBE_DUTY_STAGE;
	ret->rail = -1;
	if (ret->row && ret->row->kind == TUBE_GAS_REGULATOR)
		ret->duty = TUBE_DUTY_REGULATOR;
	else if (ret->row && ret->row->kind == TUBE_DIODE_RECTIFIER)
		ret->duty = TUBE_DUTY_RECTIFIER;
	for (int r = 0; r < p->n_rails; r++) {
		const struct profile_rail *rail = &p->rails[r];

		if (rail->source != RAIL_FROM_RAIL && rail->rectifier == RECTIFIER_TUBE &&
		    names(rail->rectifier_by, rail->n_rectifier_by, tube))
			ret->duty = TUBE_DUTY_RECTIFIER;
		else if (rail->regulator == REGULATOR_GAS &&
		         names(rail->regulator_by, rail->n_regulator_by, tube))
			ret->duty = TUBE_DUTY_REGULATOR;
		else if (rail->regulator == REGULATOR_SERIES_PASS &&
		         names(rail->regulator_by, rail->n_regulator_by, tube))
			ret->duty = TUBE_DUTY_PASS;
		else
			continue;
		ret->rail = r;
		return;
	}
}

void tube_list_make(struct tube_list *list, const struct profile *profile,
                    const struct tables *tables)
{
	list->n = profile->n_tubes;
	for (int i = 0; i < list->n; i++) {
		struct tube_place *place = &list->place[i];
		const struct profile_place *from = &profile->tubes[i];

		*place = (struct tube_place){
		        .place = from->place,
		        .type = from->type,
		        .source = "",
		        .strike_most = (double)NAN,
		        .hold = (double)NAN,
		        .hold_low = (double)NAN,
		        .hold_high = (double)NAN,
		};
		if (from->type[0])
			place->row = tables_tube(tables, from->type);
		find_duty(profile, i, place);
		if (!place->row || place->row->kind != TUBE_GAS_REGULATOR)
			continue;
		place->strike_most = place->row->strike_volts;
		place->hold = place->row->hold_volts;
		place->hold_low = hold_down * place->hold;
		place->hold_high = hold_up * place->hold;
		place->source = "the tube table; spread as the 0A2's data sheet has it, 140 to 168 "
		                "V for 150";
		place->basis = BASIS_FROM_MEMORY;
	}
}

/* --- results ------------------------------------------------------------------------------ */

const char *tube_word(enum tube_result result)
{
	static const char *const words[] = {
	        [TUBE_NOT_TESTED] = "not-tested",
	        [TUBE_GOOD] = "good",
	        [TUBE_WEAK] = "weak",
	        [TUBE_BAD] = "bad",
	        [TUBE_SHORTED] = "shorted",
	};

	return words[result];
}

static enum tube_result result_of(const char *word)
{
	for (int r = TUBE_GOOD; r <= TUBE_SHORTED; r++)
		if (strcmp(word, tube_word((enum tube_result)r)) == 0)
			return (enum tube_result)r;
	return TUBE_NOT_TESTED;
}

static bool possible(double volts)
{
	return volts > 0.0 && volts <= possible_volts;
}

enum tube_result tube_judge_volts(const struct tube_place *place, double strikes, double holds)
{
	if (isnan(place->hold) || (isnan(strikes) && isnan(holds)))
		return TUBE_NOT_TESTED;
	if ((!isnan(strikes) && !possible(strikes)) || (!isnan(holds) && !possible(holds)))
		return TUBE_NOT_TESTED;
	if (fabs(holds - place->hold) > hold_lost * place->hold)
		return TUBE_BAD;
	if (holds < place->hold_low || holds > place->hold_high || strikes > place->strike_most)
		return TUBE_WEAK;
	return TUBE_GOOD;
}

void tube_states(const struct tube_list *list, const struct entry *entries, size_t n,
                 struct tube_state ret[PROFILE_TUBES_MAX])
{
	for (int i = 0; i < list->n; i++)
		ret[i] = (struct tube_state){.figure = (double)NAN,
		                             .of = (double)NAN,
		                             .strikes = (double)NAN,
		                             .holds = (double)NAN};
	for (size_t e = 0; e < n; e++) {
		if (entries[e].kind != ENTRY_TUBE)
			continue;
		for (int i = 0; i < list->n; i++)
			if (strcmp(list->place[i].place, entries[e].subject) == 0)
				ret[i].entry = &entries[e];
	}
	for (int i = 0; i < list->n; i++) {
		const struct entry *entry = ret[i].entry;
		enum tube_result volts;

		if (!entry)
			continue;
		ret[i].result = result_of(entry->word);
		if (ret[i].result == TUBE_NOT_TESTED)
			continue;
		ret[i].figure = entry->number[0];
		ret[i].of = entry->number[1];
		ret[i].strikes = entry->number[2];
		ret[i].holds = entry->number[3];
		volts = tube_judge_volts(&list->place[i], ret[i].strikes, ret[i].holds);
		if (volts > ret[i].result)
			ret[i].result = volts;
	}
}

bool tube_blocks(const struct tube_place *place, enum tube_result result)
{
	switch (result) {
	case TUBE_SHORTED:
		return true;
	case TUBE_BAD:
		return place->duty != TUBE_DUTY_STAGE;
	case TUBE_NOT_TESTED:
	case TUBE_GOOD:
	case TUBE_WEAK:
		break;
	}
	return false;
}

const char *tube_finding(const struct tube_place *place, enum tube_result result)
{
	static const struct {
		const char *weak, *bad, *shorted;
	} findings[] = {
	        [TUBE_DUTY_STAGE] =
	                {"it will draw less than expected and may do its work; keep a spare",
	                 "its stage will not work, and the watts will lie under what is expected",
	                 "it joins what must stay apart: a heater winding, a bias or a rail is "
	                 "shorted through it"},
	        [TUBE_DUTY_RECTIFIER] =
	                {"its rail will come up late and low under load",
	                 "its rail stays down, or arcs over when the filter charges",
	                 "it puts ac on the filter capacitors and shorts the winding: no power "
	                 "with it in place"},
	        [TUBE_DUTY_REGULATOR] =
	                {"its rail will be off its volts; watch whether it strikes",
	                 "nothing holds its rail: it rises to what the filter gives",
	                 "its rail is shorted to chassis through the dropping resistor"},
	        [TUBE_DUTY_PASS] = {"the regulated rail sags under load",
	                            "the regulated rail stays down, or is not held",
	                            "the regulated rail rises to what the filter gives"},
	};

	switch (result) {
	case TUBE_WEAK:
		return findings[place->duty].weak;
	case TUBE_BAD:
		return findings[place->duty].bad;
	case TUBE_SHORTED:
		return findings[place->duty].shorted;
	case TUBE_NOT_TESTED:
	case TUBE_GOOD:
		break;
	}
	return "";
}

void tube_how(const struct tube_place *place, char *ret, size_t size)
{
	char least[32], ohms[32], amps[32];

	if (!isnan(place->hold) && place->row->max_amps > 0.0) {
		/* a quarter above what it may need to strike, to the middle of its current */
		const double supply = 1.25 * place->strike_most;
		const double middle = 0.5 * (place->row->min_amps + place->row->max_amps);

		(void)num_print_unit(least, sizeof least, supply, UNIT_VOLT, 3);
		(void)num_print_unit(ohms, sizeof ohms, (supply - place->hold) / middle, UNIT_OHM,
		                     2);
		(void)num_print_unit(amps, sizeof amps, middle, UNIT_AMPERE, 3);
		(void)snprintf(ret, size,
		               "a supply raised from 0 to %s through %s (%s once lit), a voltmeter "
		               "across the tube: volts as it lights, then as it glows; no "
		               "capacitor across it",
		               least, ohms, amps);
	} else if (place->duty == TUBE_DUTY_RECTIFIER) {
		(void)snprintf(ret, size,
		               "heater first, shorts and leakage next, then the emission of each "
		               "plate");
	} else {
		(void)snprintf(ret, size,
		               "heater first, shorts and leakage next (warm, tapped), then each "
		               "section's transconductance or emission");
	}
}
