/*
 * core/reading.h - what a power meter told us, and whether it told us anything
 *
 * Layer: core; pure; includes nothing.  Lives in core so that judge, session, proto and the
 * virtual bench can speak of readings without knowing meters or ports.
 * Units: V and A rms, W, VA, Hz; power factor 0..1 (or -1..1); time in monotonic milliseconds.
 */
#ifndef MAINSTAIR_CORE_READING_H
#define MAINSTAIR_CORE_READING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum reading_quantity {
	READING_VOLTS, READING_AMPS, READING_WATTS, READING_VA, READING_POWER_FACTOR,
	READING_HERTZ,
	READING_QUANTITIES /* how many */
};

enum value_state {
	VALUE_NONE,    /* not told: this meter has no such quantity, or it failed this time */
	VALUE_OK,      /* the only state in which `value` means anything */
	VALUE_DERIVED, /* worked out from the others (VA = V A); means as much as they do */
	VALUE_OVER,    /* over range (infinity): not a number, and not "high" */
	VALUE_NAN      /* told, but as "not a number" */
};

/* Where a reading comes from: shown on screen, in the record and in the report, so that a
 * demonstration can never pass for a measurement. */
enum reading_from { FROM_TYPED, FROM_MODBUS, FROM_SCPI, FROM_TEXT, FROM_BENCH, READING_FROMS };

struct reading_value {
	enum value_state state;
	double value; /* finite when state is VALUE_OK or VALUE_DERIVED, else 0 */
};

enum { READING_RAW_MAX = 192, READING_WHY_MAX = 160 };

struct reading {
	enum reading_from from;
	struct reading_value at[READING_QUANTITIES];
	int64_t t_ms;              /* monotonic, when its last byte came in */
	char raw[READING_RAW_MAX]; /* what came over the line, printable ASCII, cut to fit */
};

/** "volts", "amps", "watts", "va", "power_factor", "hertz": the words of files and messages. */
const char *reading_quantity_word(enum reading_quantity q);
/** The reverse for the first n characters of `word`; -1 when it is none of them. */
int reading_quantity_from_word(const char *word, size_t n);
/** "V", "A", "W", "VA", "", "Hz". */
const char *reading_quantity_unit(enum reading_quantity q);
/** "typed", "modbus", "scpi", "text lines", "virtual bench". */
const char *reading_from_word(enum reading_from from);

/** An empty reading: nothing told. */
void reading_clear(struct reading *r);

/** Store one value as it was decoded: a NaN becomes VALUE_NAN, an infinity VALUE_OVER. */
void reading_set(struct reading *r, enum reading_quantity q, double value);

/** The value of q, or NAN unless its state is VALUE_OK or VALUE_DERIVED. */
double reading_get(const struct reading *r, enum reading_quantity q);

/** Work out what the told values imply and mark it VALUE_DERIVED: VA = V A, A = VA / V,
 *  W = V A PF, PF = W / VA.  Never overwrites a told value and never guesses watts from volts
 *  and amps alone. */
void reading_complete(struct reading *r);

/* Watches for a meter that repeats itself while the line moves.  Zero it to begin. */
struct reading_watch {
	bool have;
	double watts, volts_low, volts_high; /* watts unchanged; volts seen meanwhile */
	int64_t since_ms;
};

/** Feed every reading in turn; `zero_watts` (>= 0) is how far from nought this meter may read
 *  with nothing connected.  True while the watts have stood still to the last
 *  digit for more than two minutes although the volts moved so far that watts, taken to
 *  follow volts at least in proportion, must have moved by more than 2 * zero_watts + 2 %.
 *  Watts of nought never count: a unit that is switched off draws that at any voltage. */
bool reading_frozen(struct reading_watch *w, const struct reading *r, double zero_watts);

#endif
