/*
 * proto/modbus_rtu.h - Modbus RTU frames, both ends: bytes in, verdict out; values in, bytes out
 *
 * Layer: proto; no port, no clock, no allocation.  Only what a power meter needs: functions 03
 * (read holding registers) and 04 (read input registers).
 * Sources: MODBUS over Serial Line V1.02 (frame 2.5.1, CRC 6.2.2); MODBUS Application Protocol
 * V1.1b3 (functions 6.3, 6.4; exceptions chapter 7).  Word order of 32-bit values is each
 * maker's own: the standard fixes only the bytes within one 16-bit register (4.2).
 */
#ifndef MAINSTAIR_PROTO_MODBUS_RTU_H
#define MAINSTAIR_PROTO_MODBUS_RTU_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
	MODBUS_FRAME_MAX = 256,   /* serial line V1.02, 2.5.1 */
	MODBUS_REQUEST_SIZE = 8,  /* of functions 03 and 04 */
	MODBUS_REGISTERS_MAX = 125, /* in one request; V1.1b3, 6.3 */
	MODBUS_READ_HOLDING = 3,
	MODBUS_READ_INPUT = 4
};

/* Exception codes, V1.1b3 chapter 7. */
enum {
	MODBUS_ILLEGAL_FUNCTION = 1, MODBUS_ILLEGAL_ADDRESS = 2, MODBUS_ILLEGAL_VALUE = 3,
	MODBUS_DEVICE_FAILURE = 4, MODBUS_ACKNOWLEDGE = 5, MODBUS_BUSY = 6,
	MODBUS_MEMORY_PARITY = 8, MODBUS_GATEWAY_PATH = 10, MODBUS_GATEWAY_TARGET = 11
};

/** CRC-16 of n bytes (initial FFFF, polynomial A001 reflected); sent low byte first.  Over a
 *  whole good frame, its CRC included, it is 0. */
uint16_t modbus_crc(const uint8_t *bytes, size_t n);

/** Silence that separates frames, in microseconds: 3.5 characters of 10 or 11 bits; above
 *  19200 bit/s the fixed 1750 (serial line V1.02, 2.5.1.1). */
uint32_t modbus_gap_us(uint32_t baud, unsigned bits_per_character);

/* ---- master ---- */

struct modbus_query {
	uint8_t unit;     /* 1..247 */
	uint8_t function; /* MODBUS_READ_HOLDING or MODBUS_READ_INPUT */
	uint16_t address; /* of the first register, as sent: "register 1" is 0 */
	uint16_t count;   /* 1..MODBUS_REGISTERS_MAX */
};

/** The request's bytes.  Returns MODBUS_REQUEST_SIZE. */
size_t modbus_encode_request(const struct modbus_query *query, uint8_t out[MODBUS_REQUEST_SIZE]);

enum modbus_verdict {
	MODBUS_MORE,      /* not whole yet: keep listening */
	MODBUS_ANSWER,    /* whole, CRC right, answers this query */
	MODBUS_EXCEPTION, /* whole, CRC right: the unit refuses, with a code */
	MODBUS_BAD_CRC,   /* an answer to this query by its shape, damaged on the way */
	MODBUS_FOREIGN,   /* bytes, but none that could answer this query (yet) */
	MODBUS_DOUBLED    /* two whole answers: one of them belongs to an earlier question */
};

struct modbus_answer {
	uint16_t registers[MODBUS_REGISTERS_MAX]; /* query->count of them */
	uint8_t exception; /* MODBUS_EXCEPTION: the code */
	size_t skipped;    /* bytes before the frame: the adapter's echo, noise */
	size_t trailing;   /* bytes behind it, none of them another answer */
};

/** Judge what has come in since the query went out.  The frame may stand behind the echo of
 *  the request or behind noise; every place is tried.  Length is known from the header, so
 *  gaps between bytes (USB adapters make them) do not matter here.  MODBUS_BAD_CRC and
 *  MODBUS_FOREIGN may still change with more bytes: believe them only once the line is quiet.
 *  *ret is filled for MODBUS_ANSWER (registers, skipped, trailing) and MODBUS_EXCEPTION
 *  (exception, skipped, trailing) and untouched otherwise. */
enum modbus_verdict modbus_decode_answer(const struct modbus_query *query, const uint8_t *bytes,
                                         size_t n, struct modbus_answer *ret);

/** "illegal data address", … in words; "unknown exception" for the rest. */
const char *modbus_exception_text(uint8_t code);

/* ---- slave ---- */

enum modbus_slave_verdict {
	MODBUS_SLAVE_MORE,    /* keep listening */
	MODBUS_SLAVE_SERVE,   /* for us: *ret is the query; serve it */
	MODBUS_SLAVE_REFUSE,  /* for us, but a function we lack: answer with ILLEGAL_FUNCTION */
	MODBUS_SLAVE_IGNORE   /* for another unit, or damaged: silence (serial line 2.4.2) */
};

/** Judge the first bytes of what a slave has heard.  `unit` is ours.  `quiet`: the line has
 *  been silent for modbus_gap_us(), so nothing more of this frame will come.  *ret_used is how
 *  many bytes are done with (0 for MODBUS_SLAVE_MORE); the caller drops them and calls again.
 *  *ret (unit, function always; address, count for SERVE) is filled for SERVE and REFUSE. */
enum modbus_slave_verdict modbus_slave_take(uint8_t unit, const uint8_t *bytes, size_t n,
                                            bool quiet, struct modbus_query *ret,
                                            size_t *ret_used);

/* A run of registers that a slave has. */
struct modbus_bank {
	uint16_t first;
	uint16_t count;
	const uint16_t *registers; /* borrowed */
};

/** The answer to a query served from a bank, with the exceptions of V1.1b3: function other than
 *  03/04: 01; count 0 or over 125: 03; outside the bank: 02.  Returns the bytes written
 *  to `out`. */
size_t modbus_serve(const struct modbus_query *query, const struct modbus_bank *bank,
                    uint8_t out[MODBUS_FRAME_MAX]);

/** An exception frame, 5 bytes. */
size_t modbus_encode_exception(uint8_t unit, uint8_t function, uint8_t code, uint8_t out[5]);

/* ---- values in registers ---- */

enum modbus_type { MODBUS_U16, MODBUS_S16, MODBUS_U32, MODBUS_S32, MODBUS_F32 };

/* Order of the bytes of a 32-bit value ABCD (A most significant) over two registers.  For a
 * 16-bit value AB: ABCD and CDAB keep it, BADC and DCBA swap its bytes. */
enum modbus_order { MODBUS_ABCD, MODBUS_CDAB, MODBUS_BADC, MODBUS_DCBA };

/** Registers a value takes: 1 or 2. */
size_t modbus_type_registers(enum modbus_type type);

/** Value of the registers at `registers`; a float's NaN and infinities come through. */
double modbus_get(const uint16_t *registers, enum modbus_type type, enum modbus_order order);

/** The reverse: rounds to the nearest integer and holds at the type's ends (NaN becomes the
 *  type's largest value, as meters do); floats to single precision. */
void modbus_put(uint16_t *registers, enum modbus_type type, enum modbus_order order, double value);

#endif
