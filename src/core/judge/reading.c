#include "mainstair/core/reading.h"

#include <assert.h>
#include <math.h>
#include <string.h>
#include <strings.h>

static const struct {
	const char *word, *unit;
} quantities[READING_QUANTITIES] = {
	[READING_VOLTS] = { "volts", "V" },
	[READING_AMPS] = { "amps", "A" },
	[READING_WATTS] = { "watts", "W" },
	[READING_VA] = { "va", "VA" },
	[READING_POWER_FACTOR] = { "power_factor", "" },
	[READING_HERTZ] = { "hertz", "Hz" },
};

const char *reading_quantity_word(enum reading_quantity q)
{
	assert((unsigned)q < READING_QUANTITIES);
	return quantities[q].word;
}

int reading_quantity_from_word(const char *word, size_t n)
{
	for (int q = 0; q < READING_QUANTITIES; q++)
		if (strlen(quantities[q].word) == n &&
		    strncasecmp(quantities[q].word, word, n) == 0)
			return q;
	return -1;
}

const char *reading_quantity_unit(enum reading_quantity q)
{
	assert((unsigned)q < READING_QUANTITIES);
	return quantities[q].unit;
}

const char *reading_from_word(enum reading_from from)
{
	static const char *const words[READING_FROMS] = {
		[FROM_TYPED] = "typed",
		[FROM_MODBUS] = "modbus",
		[FROM_SCPI] = "scpi",
		[FROM_TEXT] = "text lines",
		[FROM_BENCH] = "virtual bench",
	};

	assert((unsigned)from < READING_FROMS);
	return words[from];
}

void reading_clear(struct reading *r)
{
	*r = (struct reading){ .from = FROM_TYPED };
}

void reading_set(struct reading *r, enum reading_quantity q, double value)
{
	struct reading_value *at = &r->at[q];

	at->value = 0;
	if (isnan(value)) {
		at->state = VALUE_NAN;
	} else if (isinf(value)) {
		at->state = VALUE_OVER;
	} else {
		at->state = VALUE_OK;
		at->value = value;
	}
}

double reading_get(const struct reading *r, enum reading_quantity q)
{
	enum value_state state = r->at[q].state;

	return state == VALUE_OK || state == VALUE_DERIVED ? r->at[q].value : (double)NAN;
}

/* Fill q with value when the meter did not tell it and all that went into value was told. */
static void derive(struct reading *r, enum reading_quantity q, double value)
{
	if (r->at[q].state == VALUE_NONE && isfinite(value))
		r->at[q] = (struct reading_value){ VALUE_DERIVED, value };
}

void reading_complete(struct reading *r)
{
	double volts = reading_get(r, READING_VOLTS);

	derive(r, READING_VA, volts * reading_get(r, READING_AMPS));
	derive(r, READING_WATTS,
	       reading_get(r, READING_VA) * reading_get(r, READING_POWER_FACTOR));
	if (volts > 0)
		derive(r, READING_AMPS, reading_get(r, READING_VA) / volts);
	if (reading_get(r, READING_VA) > 0)
		derive(r, READING_POWER_FACTOR,
		       reading_get(r, READING_WATTS) / reading_get(r, READING_VA));
}

bool reading_frozen(struct reading_watch *w, const struct reading *r, double zero_watts)
{
	const int64_t still_ms = 120000;
	double volts = reading_get(r, READING_VOLTS), watts = reading_get(r, READING_WATTS);

	if (!isfinite(volts) || !isfinite(watts))
		return false;
	if (!w->have || memcmp(&watts, &w->watts, sizeof watts) != 0) {
		*w = (struct reading_watch){ true, watts, volts, volts, r->t_ms };
		return false;
	}
	w->volts_low = fmin(w->volts_low, volts);
	w->volts_high = fmax(w->volts_high, volts);
	if (r->t_ms - w->since_ms <= still_ms || watts <= zero_watts || w->volts_high <= 0)
		return false;
	return watts * (1 - w->volts_low / w->volts_high) > 2 * zero_watts + 0.02 * watts;
}
