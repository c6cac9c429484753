/*
 * What is wrong with a meter that is being set up, in words.  The order matters: the first thing
 * that fits is told, the surest signs first.
 */
#include "io/meter.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "mainstair/core/judge.h"

static const char rates[] = "1200 2400 4800 9600 19200 38400 57600 115200";

/* Everything but "all is well" comes through here. */
static bool wrong(char ret[METER_ADVICE_MAX], const char *format, ...)
	__attribute__((format(printf, 2, 3)));

static bool wrong(char ret[METER_ADVICE_MAX], const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	(void)vsnprintf(ret, METER_ADVICE_MAX, format, ap);
	va_end(ap);
	return false;
}

static bool refused(const struct meter_config *config, const struct meter_health *h,
                    char ret[METER_ADVICE_MAX])
{
	if (config->protocol == METER_SCPI)
		return wrong(ret, "The instrument answers, but refuses: %s. Look the command up in "
		             "its manual and correct the query in the bench file.", h->refusal);
	switch (h->exception) {
	case MODBUS_ILLEGAL_FUNCTION:
		return wrong(ret, "The meter answers, but does not know this function: write "
		             "holding instead of input (or the other way) in the register lines.");
	case MODBUS_ILLEGAL_ADDRESS:
	case MODBUS_ILLEGAL_VALUE:
		return wrong(ret, "The meter answers, but has no such register (%s). Check the "
		             "addresses; if the manual's first register is 1, set first_register = "
		             "1; set span = 0; try holding instead of input.", h->refusal);
	default:
		return wrong(ret, "The meter answers, but refuses: %s.", h->refusal);
	}
}

/* Not one byte came. */
static bool silence(const struct meter_config *config, char ret[METER_ADVICE_MAX])
{
	const struct wire_settings *w = &config->wire;

	switch (config->protocol) {
	case METER_TEXT:
		return wrong(ret, "Silence: not one byte came. Is the meter on, is this its port, "
		             "does it send by itself (some do only while their log key is on), is "
		             "its TX on the adapter's RX?");
	case METER_SCPI:
		return wrong(ret, "Silence: not one byte came. Is the instrument on, is this its "
		             "port, is its remote interface set to RS-232 or USB at %d baud, is "
		             "the cable crossed as it should be, does it want handshake = "
		             "rts-cts?", w->baud);
	case METER_MODBUS:
	case METER_PROTOCOLS:
		break;
	}
	return wrong(ret, "Silence: not one byte came. Is the meter on, is this its port, are A "
	             "and B the right way round, is its address %u, its rate %d baud, its framing "
	             "%d%c%d? A meter that hears another address, or a request damaged by a wrong "
	             "rate, stays silent.", config->unit, w->baud, w->data_bits, w->parity,
	             w->stop_bits);
}

/* Nothing could be decoded. */
static bool no_reading(const struct meter_config *config, const struct meter_health *h,
                       char ret[METER_ADVICE_MAX])
{
	const struct wire_settings *w = &config->wire;
	bool modbus = config->protocol == METER_MODBUS;
	bool mostly_text = h->heard_bytes >= 8 && h->heard_text * 10 >= h->heard_bytes * 9;

	if (h->count.exceptions > 0)
		return refused(config, h, ret);
	if (h->other_unit)
		return wrong(ret, "Another unit answers: the meter's address is %u, not %u.",
		             h->other_unit, config->unit);
	if (h->heard_bytes == 0)
		return silence(config, ret);
	if (modbus && mostly_text)
		return wrong(ret, "What comes is text, not Modbus (%s): this meter sends lines by "
		             "itself or answers SCPI; set protocol = text or scpi.", h->heard);
	if (modbus && h->count.crc_errors > 0)
		return wrong(ret, "Answers come, and all are damaged (CRC errors): parity or stop "
		             "bits may differ (framing is %d%c%d here), the line may lack its "
		             "terminating resistor, or another master talks on it.", w->data_bits,
		             w->parity, w->stop_bits);
	if (!modbus && mostly_text)
		return wrong(ret, "Text comes, but it is not what the bench file describes. %s",
		             h->trouble);
	return wrong(ret, "Bytes come that make no sense (%s): most likely the wrong baud rate "
	             "(%d here; try %s) or framing; or the meter does not speak %s.", h->heard,
	             w->baud, rates, meter_protocol_word(config->protocol));
}

bool meter_advice(const struct meter_config *config, const struct meter_health *health,
                  const struct reading *last, char ret[METER_ADVICE_MAX])
{
	const struct meter_counters *c = &health->count;
	unsigned long bad = c->crc_errors + c->garbled + c->timeouts + c->resyncs;
	bool modbus = config->protocol == METER_MODBUS;
	char why[JUDGE_WHY_MAX];
	double volts, watts;

	if (!last && health->state == METER_LOST)
		return wrong(ret, "%s.", health->trouble);
	if (!last)
		return no_reading(config, health, ret);
	volts = reading_get(last, READING_VOLTS);
	watts = reading_get(last, READING_WATTS);
	if (health->suspicion[0])
		return wrong(ret, "Numbers come, with %s.", health->suspicion);
	if (c->exceptions > 0 && (isnan(volts) || isnan(watts)))
		return refused(config, health, ret);
	if (isnan(volts))
		return wrong(ret,
		             "Readings come, but without volts, and the stage of a power-up is "
		             "known by its volts: give them a place in the bench file.");
	/* against no unit in particular: 240 V nameplate lets everything up to 300 V pass */
	if (!judge_possible(240, config->accuracy.offset_watts, volts, isnan(watts) ? 0 : watts,
	                    reading_get(last, READING_AMPS),
	                    reading_get(last, READING_POWER_FACTOR), why))
		return wrong(
		        ret, "Numbers come, but they cannot be: %s. Check %s.", why,
		        modbus ? "address (one off?), type, word order and scale of the register"
		               : "the order of the fields and their scales");
	if (isnan(watts))
		return wrong(ret, "Readings come, but without watts: volts and amps give VA alone, "
		             "and watts stay unknown. If the meter knows watts, give them a place "
		             "in the bench file.");
	if (bad > c->readings / 20)
		return wrong(ret, "Readings come, but the line is poor (%lu of %lu went wrong; "
		             "last: %s).", bad, bad + c->readings, health->trouble);
	(void)snprintf(ret, METER_ADVICE_MAX, "Readings come and make sense. Compare them with "
	               "what the meter shows.%s", modbus && config->own_map
	               ? " The registers are mainstair's own default; a real meter needs its own, "
	                 "from its manual." : "");
	return true;
}
