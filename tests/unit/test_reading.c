/* Readings: what is told, what follows from it, and a meter that has frozen. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "mainstair/core/reading.h"

TestSuite(reading, .timeout = 20);

Test(reading, words)
{
	for (int q = 0; q < READING_QUANTITIES; q++) {
		const char *word = reading_quantity_word((enum reading_quantity)q);

		cr_assert(reading_quantity_from_word(word, strlen(word)) == q);
	}
	cr_assert(reading_quantity_from_word("Volts", 5) == READING_VOLTS);
	cr_assert(reading_quantity_from_word("volt", 4) == -1);
	cr_assert(reading_quantity_from_word("", 0) == -1);
}

Test(reading, only_numbers_are_values)
{
	struct reading r;

	reading_clear(&r);
	cr_assert(isnan(reading_get(&r, READING_WATTS)));
	reading_set(&r, READING_WATTS, NAN);
	cr_assert(r.at[READING_WATTS].state == VALUE_NAN && isnan(reading_get(&r, READING_WATTS)));
	reading_set(&r, READING_WATTS, -INFINITY);
	cr_assert(r.at[READING_WATTS].state == VALUE_OVER && isnan(reading_get(&r, READING_WATTS)));
	reading_set(&r, READING_WATTS, 5);
	cr_assert(reading_get(&r, READING_WATTS) == 5);
}

Test(reading, complete)
{
	struct reading r;

	/* volts and amps: VA, and no watts out of thin air */
	reading_clear(&r);
	reading_set(&r, READING_VOLTS, 100);
	reading_set(&r, READING_AMPS, 0.5);
	reading_complete(&r);
	cr_assert(reading_get(&r, READING_VA) == 50);
	cr_assert(r.at[READING_VA].state == VALUE_DERIVED);
	cr_assert(r.at[READING_WATTS].state == VALUE_NONE);
	cr_assert(r.at[READING_POWER_FACTOR].state == VALUE_NONE);

	reading_set(&r, READING_POWER_FACTOR, 0.8);
	reading_complete(&r);
	cr_assert(fabs(reading_get(&r, READING_WATTS) - 40) < 1e-9);

	reading_clear(&r);
	reading_set(&r, READING_VOLTS, 100);
	reading_set(&r, READING_WATTS, 30);
	reading_complete(&r);
	cr_assert(r.at[READING_AMPS].state == VALUE_NONE && r.at[READING_VA].state == VALUE_NONE);
	reading_set(&r, READING_VA, 40);
	reading_complete(&r);
	cr_assert(reading_get(&r, READING_AMPS) == 0.4);
	cr_assert(reading_get(&r, READING_POWER_FACTOR) == 0.75);

	/* told values stay, a NaN is told too, nothing is divided by nought */
	reading_clear(&r);
	reading_set(&r, READING_VOLTS, 0);
	reading_set(&r, READING_AMPS, 0);
	reading_set(&r, READING_WATTS, 0);
	reading_set(&r, READING_VA, NAN);
	reading_complete(&r);
	cr_assert(r.at[READING_VA].state == VALUE_NAN);
	cr_assert(r.at[READING_POWER_FACTOR].state == VALUE_NONE);
}

static bool feed(struct reading_watch *w, double volts, double watts, int64_t t_ms)
{
	struct reading r;

	reading_clear(&r);
	reading_set(&r, READING_VOLTS, volts);
	reading_set(&r, READING_WATTS, watts);
	r.t_ms = t_ms;
	return reading_frozen(w, &r, 0.2);
}

Test(reading, frozen_watts)
{
	struct reading_watch w = { 0 };
	bool frozen = false;

	/* the variac walks from 50 to 90 V in four minutes and the watts stand still */
	for (int64_t s = 0; s <= 240; s++) {
		bool now = feed(&w, 50 + s / 6.0, 5.2, 1000 * s);

		cr_assert(!now || s > 120);
		frozen |= now;
	}
	cr_assert(frozen);
	/* one digit of life ends it */
	cr_assert(!feed(&w, 90, 5.21, 241000));
	/* steady line, steady watts: nothing wrong */
	w = (struct reading_watch){ 0 };
	for (int64_t s = 0; s <= 3600; s++)
		cr_assert(!feed(&w, 117 + 0.2 * (s % 5), 27.3, 1000 * s));
	/* switched off: nought at any voltage */
	w = (struct reading_watch){ 0 };
	for (int64_t s = 0; s <= 600; s++)
		cr_assert(!feed(&w, s / 6.0, 0, 1000 * s));
	/* no number is no sign of life and no proof of death */
	w = (struct reading_watch){ 0 };
	cr_assert(!feed(&w, NAN, 5, 0));
}
