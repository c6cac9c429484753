/* Any bytes on a Modbus line, at either end, and as a register line of a bench file: never a crash,
 * never an answer without its check sum, and a slave always gets on. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/proto/modbus_map.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition) \
	do { \
		if (!(condition)) \
			abort(); \
	} while (0)

static void master(const struct modbus_query *query, const uint8_t *bytes, size_t n)
{
	struct modbus_answer answer;
	char why[READING_WHY_MAX];
	struct reading r;
	size_t whole = 5u + 2u * query->count;

	switch (modbus_decode_answer(query, bytes, n, &answer)) {
	case MODBUS_ANSWER:
		MUST(answer.skipped + whole + answer.trailing == n);
		MUST(modbus_crc(bytes + answer.skipped, whole) == 0);
		MUST(bytes[answer.skipped] == query->unit);
		reading_clear(&r);
		modbus_map_read(&modbus_map_default, query, answer.registers, &r);
		modbus_map_suspect(&modbus_map_default, query, answer.registers, why);
		reading_complete(&r);
		for (int q = 0; q < READING_QUANTITIES; q++)
			MUST(isfinite(r.at[q].value));
		break;
	case MODBUS_EXCEPTION:
		MUST(answer.skipped + 5 + answer.trailing == n);
		MUST(modbus_crc(bytes + answer.skipped, 5) == 0);
		MUST(modbus_exception_text(answer.exception) != NULL);
		break;
	case MODBUS_MORE:
	case MODBUS_BAD_CRC:
	case MODBUS_FOREIGN:
	case MODBUS_DOUBLED:
		break;
	}
}

static void slave(uint8_t unit, const uint8_t *bytes, size_t n)
{
	static const uint16_t registers[16];
	struct modbus_bank bank = { 4, 16, registers };
	uint8_t out[MODBUS_FRAME_MAX];
	struct modbus_query query;
	size_t used;

	/* quiet at the end: whatever was heard is done with in so many steps at most */
	for (size_t steps = 0; n > 0; steps++) {
		enum modbus_slave_verdict v =
		        modbus_slave_take(unit, bytes, n, true, &query, &used);

		MUST(steps < 10000 && v != MODBUS_SLAVE_MORE && used > 0 && used <= n);
		if (v == MODBUS_SLAVE_SERVE) {
			size_t size = modbus_serve(&query, &bank, out);

			MUST(size >= 5 && size <= sizeof out && modbus_crc(out, size) == 0);
		}
		bytes += used;
		n -= used;
	}
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct modbus_query query = { .unit = 1, .function = MODBUS_READ_INPUT };
	struct modbus_register reg;
	struct err err;
	char text[128];
	size_t n, used;

	if (size < 4 || size > 600)
		return 0;
	query.function = data[0] & 1 ? MODBUS_READ_INPUT : MODBUS_READ_HOLDING;
	query.count = (uint16_t)(1 + data[1] % MODBUS_REGISTERS_MAX);
	query.address = data[2];
	query.unit = data[3];
	for (n = 0; n <= size - 4; n++)
		master(&query, data + 4, n);
	slave(data[3], data + 4, size - 4);
	for (n = 0; n <= size - 4; n++)
		(void)modbus_slave_take(data[3], data + 4, n, false, &query, &used);

	n = size < sizeof text ? size : sizeof text - 1;
	memcpy(text, data, n);
	text[n] = 0;
	err.text[0] = 0;
	if (modbus_register_parse(text, data[0] & 1, &reg, &err) == 0)
		MUST(reg.present && fabs(reg.scale) > 0 &&
		     reg.address + modbus_type_registers(reg.type) <= 65536);
	else
		MUST(err.text[0]);
	return 0;
}
