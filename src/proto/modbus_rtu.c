#include "mainstair/proto/modbus_rtu.h"

#include <assert.h>
#include <math.h>
#include <string.h>

enum { EXCEPTION_BIT = 0x80, EXCEPTION_SIZE = 5, ANSWER_OVERHEAD = 5 };

uint16_t modbus_crc(const uint8_t *bytes, size_t n)
{
	unsigned crc = 0xffff;

	for (size_t i = 0; i < n; i++) {
		crc ^= bytes[i];
		for (int bit = 0; bit < 8; bit++)
			crc = crc & 1 ? crc >> 1 ^ 0xa001 : crc >> 1;
	}
	return (uint16_t)crc;
}

uint32_t modbus_gap_us(uint32_t baud, unsigned bits_per_character)
{
	if (baud > 19200)
		return 1750;
	assert(baud > 0);
	return (3500000u * bits_per_character + baud - 1) / baud;
}

static size_t close_frame(uint8_t *frame, size_t n)
{
	uint16_t crc = modbus_crc(frame, n);

	frame[n] = (uint8_t)crc;
	frame[n + 1] = (uint8_t)(crc >> 8);
	return n + 2;
}

size_t modbus_encode_request(const struct modbus_query *query, uint8_t out[MODBUS_REQUEST_SIZE])
{
	out[0] = query->unit;
	out[1] = query->function;
	out[2] = (uint8_t)(query->address >> 8);
	out[3] = (uint8_t)query->address;
	out[4] = (uint8_t)(query->count >> 8);
	out[5] = (uint8_t)query->count;
	return close_frame(out, 6);
}

/* How the bytes that begin at `b` look as an answer to the query. */
enum shape { SHAPE_NONE, SHAPE_PARTIAL, SHAPE_DAMAGED, SHAPE_WHOLE };

static enum shape shape_at(const struct modbus_query *query, const uint8_t *b, size_t n,
                           size_t *ret_size)
{
	size_t size;

	if (b[0] != query->unit)
		return SHAPE_NONE;
	if (n < 2)
		return SHAPE_PARTIAL;
	if (b[1] == (query->function | EXCEPTION_BIT)) {
		size = EXCEPTION_SIZE;
	} else if (b[1] == query->function) {
		if (n < 3)
			return SHAPE_PARTIAL;
		if (b[2] != 2 * query->count)
			return SHAPE_NONE;
		size = ANSWER_OVERHEAD + b[2];
	} else {
		return SHAPE_NONE;
	}
	if (n < size)
		return SHAPE_PARTIAL;
	*ret_size = size;
	return modbus_crc(b, size) == 0 ? SHAPE_WHOLE : SHAPE_DAMAGED;
}

enum modbus_verdict modbus_decode_answer(const struct modbus_query *query, const uint8_t *bytes,
                                         size_t n, struct modbus_answer *ret)
{
	bool partial = false, damaged = false;
	size_t size = 0, at;

	for (at = 0; at < n; at++) {
		enum shape shape = shape_at(query, bytes + at, n - at, &size);

		if (shape == SHAPE_WHOLE)
			break;
		partial |= shape == SHAPE_PARTIAL;
		damaged |= shape == SHAPE_DAMAGED;
	}
	if (at == n) {
		if (n == 0 || partial)
			return MODBUS_MORE;
		return damaged ? MODBUS_BAD_CRC : MODBUS_FOREIGN;
	}

	/* RTU has no transaction number.  Two answers to one question means that one of them
	 * belongs to an earlier question; nobody can say which. */
	for (size_t i = at + size; i < n; i++) {
		size_t other;

		if (shape_at(query, bytes + i, n - i, &other) == SHAPE_WHOLE)
			return MODBUS_DOUBLED;
	}

	const uint8_t *frame = bytes + at;
	ret->skipped = at;
	ret->trailing = n - at - size;
	if (frame[1] & EXCEPTION_BIT) {
		ret->exception = frame[2];
		return MODBUS_EXCEPTION;
	}
	for (size_t i = 0; i < query->count; i++)
		ret->registers[i] = (uint16_t)(frame[3 + 2 * i] << 8 | frame[4 + 2 * i]);
	return MODBUS_ANSWER;
}

const char *modbus_exception_text(uint8_t code)
{
	switch (code) {
	case MODBUS_ILLEGAL_FUNCTION: return "illegal function";
	case MODBUS_ILLEGAL_ADDRESS: return "illegal data address";
	case MODBUS_ILLEGAL_VALUE: return "illegal data value";
	case MODBUS_DEVICE_FAILURE: return "device failure";
	case MODBUS_ACKNOWLEDGE: return "acknowledge";
	case MODBUS_BUSY: return "device busy";
	case MODBUS_MEMORY_PARITY: return "memory parity error";
	case MODBUS_GATEWAY_PATH: return "gateway path unavailable";
	case MODBUS_GATEWAY_TARGET: return "gateway target did not answer";
	default: return "unknown exception";
	}
}

/* Size of a request by its header; 0: more bytes needed to tell; SIZE_MAX: a function whose size
 * only the silence behind it tells.  V1.1b3 chapter 6. */
static size_t request_size(const uint8_t *b, size_t n)
{
	if (n < 2)
		return 0;
	switch (b[1]) {
	case 1: case 2: case 3: case 4: case 5: case 6:
		return 8;
	case 7: case 11: case 12: case 17:
		return 4;
	case 15: case 16:
		return n < 7 ? 0 : 9u + b[6];
	case 22:
		return 10;
	case 23:
		return n < 11 ? 0 : 13u + b[10];
	default:
		return SIZE_MAX;
	}
}

/* Offset of the first good request to `unit` behind the first byte, or n. */
static size_t find_request(uint8_t unit, const uint8_t *bytes, size_t n)
{
	for (size_t at = 1; at + MODBUS_REQUEST_SIZE <= n; at++) {
		size_t size = request_size(bytes + at, n - at);

		if (bytes[at] == unit && size != 0 && size <= n - at &&
		    modbus_crc(bytes + at, size) == 0)
			return at;
	}
	return n;
}

enum modbus_slave_verdict modbus_slave_take(uint8_t unit, const uint8_t *bytes, size_t n,
                                            bool quiet, struct modbus_query *ret,
                                            size_t *ret_used)
{
	size_t size = request_size(bytes, n), at;

	*ret_used = 0;
	if (n == 0)
		return MODBUS_SLAVE_MORE;
	if (size == SIZE_MAX && quiet)
		size = n;
	if (size >= 4 && size <= n && modbus_crc(bytes, size) == 0) {
		*ret_used = size;
		if (bytes[0] != unit)
			return MODBUS_SLAVE_IGNORE;
		*ret = (struct modbus_query){ .unit = unit, .function = bytes[1] };
		if (bytes[1] != MODBUS_READ_HOLDING && bytes[1] != MODBUS_READ_INPUT)
			return MODBUS_SLAVE_REFUSE;
		ret->address = (uint16_t)(bytes[2] << 8 | bytes[3]);
		ret->count = (uint16_t)(bytes[4] << 8 | bytes[5]);
		return MODBUS_SLAVE_SERVE;
	}
	at = find_request(unit, bytes, n);
	if (at == n && !quiet && n < MODBUS_FRAME_MAX)
		return MODBUS_SLAVE_MORE;
	*ret_used = at;
	return MODBUS_SLAVE_IGNORE;
}

size_t modbus_encode_exception(uint8_t unit, uint8_t function, uint8_t code, uint8_t out[5])
{
	out[0] = unit;
	out[1] = (uint8_t)(function | EXCEPTION_BIT);
	out[2] = code;
	return close_frame(out, 3);
}

size_t modbus_serve(const struct modbus_query *query, const struct modbus_bank *bank,
                    uint8_t out[MODBUS_FRAME_MAX])
{
	uint8_t refuse = 0;

	if (query->function != MODBUS_READ_HOLDING && query->function != MODBUS_READ_INPUT)
		refuse = MODBUS_ILLEGAL_FUNCTION;
	else if (query->count == 0 || query->count > MODBUS_REGISTERS_MAX)
		refuse = MODBUS_ILLEGAL_VALUE;
	else if (query->address < bank->first ||
	         (uint32_t)query->address + query->count > (uint32_t)bank->first + bank->count)
		refuse = MODBUS_ILLEGAL_ADDRESS;
	if (refuse)
		return modbus_encode_exception(query->unit, query->function, refuse, out);

	const uint16_t *from = bank->registers + (query->address - bank->first);
	out[0] = query->unit;
	out[1] = query->function;
	out[2] = (uint8_t)(2 * query->count);
	for (size_t i = 0; i < query->count; i++) {
		out[3 + 2 * i] = (uint8_t)(from[i] >> 8);
		out[4 + 2 * i] = (uint8_t)from[i];
	}
	return close_frame(out, 3u + 2u * query->count);
}

size_t modbus_type_registers(enum modbus_type type)
{
	return type == MODBUS_U16 || type == MODBUS_S16 ? 1 : 2;
}

static uint16_t swap_bytes(uint16_t v)
{
	return (uint16_t)(v << 8 | v >> 8);
}

/* The two words of ABCD, from or to the order on the wire: the mapping is its own inverse. */
static void reorder(uint16_t word[2], size_t n, enum modbus_order order)
{
	if (order == MODBUS_BADC || order == MODBUS_DCBA)
		for (size_t i = 0; i < n; i++)
			word[i] = swap_bytes(word[i]);
	if (n == 2 && (order == MODBUS_CDAB || order == MODBUS_DCBA)) {
		uint16_t first = word[0];

		word[0] = word[1];
		word[1] = first;
	}
}

double modbus_get(const uint16_t *registers, enum modbus_type type, enum modbus_order order)
{
	size_t n = modbus_type_registers(type);
	uint16_t word[2] = { registers[0], n == 2 ? registers[1] : 0 };
	uint32_t bits;
	float f;

	reorder(word, n, order);
	bits = n == 2 ? (uint32_t)word[0] << 16 | word[1] : word[0];
	switch (type) {
	case MODBUS_U16:
	case MODBUS_U32:
		return bits;
	case MODBUS_S16:
		return bits & 0x8000 ? (double)bits - 0x10000 : bits;
	case MODBUS_S32:
		return bits & 0x80000000u ? (double)bits - 4294967296.0 : bits;
	case MODBUS_F32:
		memcpy(&f, &bits, sizeof f);
		return (double)f;
	}
	assert(!"type");
	return (double)NAN;
}

static uint32_t integer_bits(double value, double low, double high)
{
	double v = isnan(value) || value > high ? high : value < low ? low : round(value);

	return (uint32_t)(int64_t)v;
}

void modbus_put(uint16_t *registers, enum modbus_type type, enum modbus_order order, double value)
{
	size_t n = modbus_type_registers(type);
	uint32_t bits = 0;
	uint16_t word[2];
	float f;

	switch (type) {
	case MODBUS_U16: bits = integer_bits(value, 0, UINT16_MAX); break;
	case MODBUS_S16: bits = integer_bits(value, INT16_MIN, INT16_MAX); break;
	case MODBUS_U32: bits = integer_bits(value, 0, UINT32_MAX); break;
	case MODBUS_S32: bits = integer_bits(value, INT32_MIN, INT32_MAX); break;
	case MODBUS_F32:
		f = (float)value;
		memcpy(&bits, &f, sizeof bits);
		break;
	}
	word[0] = n == 2 ? (uint16_t)(bits >> 16) : (uint16_t)bits;
	word[1] = (uint16_t)bits;
	reorder(word, n, order);
	for (size_t i = 0; i < n; i++)
		registers[i] = word[i];
}
