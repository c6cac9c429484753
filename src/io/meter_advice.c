/*
 * What is wrong with a meter that is being set up, in words.  The order matters: the first thing
 * that fits is told, the surest signs first.
 */
#include "io/meter.h"

#include <math.h>
#include <stdio.h>

#include "mainstair/core/judge.h"

static const char rates[] = "1200 2400 4800 9600 19200 38400 57600 115200";

static void refused(const struct meter_config *config, const struct meter_health *h,
                    char ret[METER_ADVICE_MAX])
{
	if (config->protocol == METER_SCPI) {
		(void)snprintf(ret, METER_ADVICE_MAX, "The instrument answers, but refuses: %s. Look the "
		               "command up in its manual and correct the query in the bench file.",
		               h->refusal);
		return;
	}
	switch (h->exception) {
	case MODBUS_ILLEGAL_FUNCTION:
		(void)snprintf(ret, METER_ADVICE_MAX, "The meter answers, but does not know this function: "
		               "write holding instead of input (or the other way) in the register lines.");
		break;
	case MODBUS_ILLEGAL_ADDRESS:
	case MODBUS_ILLEGAL_VALUE:
		(void)snprintf(ret, METER_ADVICE_MAX, "The meter answers, but has no such register (%s). "
		               "Check the addresses; if the manual's first register is 1, set first_register = "
		               "1; set span = 0; try holding instead of input.", h->refusal);
		break;
	default:
		(void)snprintf(ret, METER_ADVICE_MAX, "The meter answers, but refuses: %s.", h->refusal);
		break;
	}
}

/* Nothing could be decoded. */
static void no_reading(const struct meter_config *config, const struct meter_health *h,
                       char ret[METER_ADVICE_MAX])
{
	bool mostly_text = h->heard_bytes >= 8 && h->heard_text * 10 >= h->heard_bytes * 9;
	const char *word = meter_protocol_word(config->protocol);

	if (h->count.exceptions > 0)
		refused(config, h, ret);
	else if (h->other_unit)
		(void)snprintf(ret, METER_ADVICE_MAX, "Another unit answers: the meter's address is %u, not "
		               "%u.", h->other_unit, config->unit);
	else if (h->heard_bytes == 0 && config->protocol == METER_TEXT)
		(void)snprintf(ret, METER_ADVICE_MAX, "Silence: not one byte came. Is the meter on, is this "
		               "its port, does it send by itself (some do only while their log key is on), "
		               "is its TX on the adapter's RX?");
	else if (h->heard_bytes == 0 && config->protocol == METER_SCPI)
		(void)snprintf(ret, METER_ADVICE_MAX, "Silence: not one byte came. Is the instrument on, is "
		               "this its port, is its remote interface set to RS-232 or USB at %d baud, is the "
		               "cable crossed as it should be, does it want handshake = rts-cts?",
		               config->wire.baud);
	else if (h->heard_bytes == 0)
		(void)snprintf(ret, METER_ADVICE_MAX, "Silence: not one byte came. Is the meter on, is this "
		               "its port, are A and B the right way round, is its address %u, its rate %d baud, "
		               "its framing %d%c%d? A meter that hears another address, or a request damaged by a "
		               "wrong rate, stays silent.", config->unit, config->wire.baud,
		               config->wire.data_bits, config->wire.parity, config->wire.stop_bits);
	else if (config->protocol == METER_MODBUS && mostly_text)
		(void)snprintf(ret, METER_ADVICE_MAX, "What comes is text, not Modbus (%s): this meter sends "
		               "lines by itself or answers SCPI; set protocol = text or scpi.", h->heard);
	else if (config->protocol == METER_MODBUS && h->count.crc_errors > 0)
		(void)snprintf(ret, METER_ADVICE_MAX, "Answers come, and all are damaged (CRC errors): parity "
		               "or stop bits may differ (framing is %d%c%d here), the line may lack its "
		               "terminating resistor, or another master talks on it.",
		               config->wire.data_bits, config->wire.parity, config->wire.stop_bits);
	else if (config->protocol != METER_MODBUS && mostly_text)
		(void)snprintf(ret, METER_ADVICE_MAX, "Text comes, but it is not what the bench file "
		               "describes. %s", h->trouble);
	else
		(void)snprintf(ret, METER_ADVICE_MAX, "Bytes come that make no sense (%s): most likely the "
		               "wrong baud rate (%d here; try %s) or framing; or the meter does not speak %s.",
		               h->heard, config->wire.baud, rates, word);
}

bool meter_advice(const struct meter_config *config, const struct meter_health *health,
                  const struct reading *last, char ret[METER_ADVICE_MAX])
{
	const struct meter_counters *c = &health->count;
	unsigned long bad = c->crc_errors + c->garbled + c->timeouts + c->resyncs;
	char why[JUDGE_WHY_MAX];
	bool watts, volts;

	if (!last) {
		if (health->state == METER_LOST)
			(void)snprintf(ret, METER_ADVICE_MAX, "%s.", health->trouble);
		else
			no_reading(config, health, ret);
		return false;
	}
	volts = isfinite(reading_get(last, READING_VOLTS));
	watts = isfinite(reading_get(last, READING_WATTS));
	if (health->suspicion[0]) {
		(void)snprintf(ret, METER_ADVICE_MAX, "Numbers come, with %s.", health->suspicion);
		return false;
	}
	if (c->exceptions > 0 && (!volts || !watts)) {
		refused(config, health, ret);
		return false;
	}
	if (!volts) {
		(void)snprintf(ret, METER_ADVICE_MAX, "Readings come, but without volts, and the stage of a "
		               "power-up is known by its volts: give them a place in the bench file.");
		return false;
	}
	/* against no unit in particular: 240 V nameplate lets everything up to 300 V pass */
	if (!judge_possible(240, config->accuracy.offset_watts, reading_get(last, READING_VOLTS),
	                    watts ? reading_get(last, READING_WATTS) : 0,
	                    reading_get(last, READING_AMPS),
	                    reading_get(last, READING_POWER_FACTOR), why)) {
		(void)snprintf(ret, METER_ADVICE_MAX, "Numbers come, but they cannot be: %s. %s", why,
		               config->protocol == METER_MODBUS
		               ? "Check address (one off?), type, word order and scale of that register."
		               : "Check the order of the fields and their scales.");
		return false;
	}
	if (!watts) {
		(void)snprintf(ret, METER_ADVICE_MAX, "Readings come, but without watts: volts and amps give "
		               "VA alone, and watts stay unknown. If the meter knows watts, give them a place in "
		               "the bench file.");
		return false;
	}
	if (bad > c->readings / 20) {
		(void)snprintf(ret, METER_ADVICE_MAX, "Readings come, but the line is poor (%lu of %lu "
		               "went wrong; last: %s).", bad, bad + c->readings, health->trouble);
		return false;
	}
	(void)snprintf(ret, METER_ADVICE_MAX, "Readings come and make sense. Compare them with what the "
	               "meter shows.%s", config->own_map && config->protocol == METER_MODBUS
	               ? " The registers are mainstair's own default; a real meter needs its own, from "
	                 "its manual." : "");
	return true;
}
