/*
 * Modbus RTU frames against published ones.
 *
 * Sources, named beside each check:
 *  [serial]  MODBUS over Serial Line Specification and Implementation Guide V1.02 (2006)
 *  [app]     MODBUS Application Protocol Specification V1.1b3 (2012)
 *  [frames]  complete RTU frames as they stand in public Modbus tutorials and drivers; every CRC
 *            in them is computed again by the first test
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/proto/modbus_rtu.h"

TestSuite(modbus_rtu, .timeout = 20);


static size_t unhex(const char *hex, uint8_t *out)
{
	size_t n = 0;
	unsigned byte;
	int used;

	while (sscanf(hex, " %2x%n", &byte, &used) == 1) {
		out[n++] = (uint8_t)byte;
		hex += used;
	}
	return n;
}

/* [frames]; the first two data fields are those of [app] 6.3 page 15 and 6.4 page 16. */
static const struct exchange {
	struct modbus_query query;
	const char *request, *answer;
	uint16_t registers[3];
} exchanges[] = {
	{ { 0x11, 3, 0x6b, 3 }, "11 03 00 6B 00 03 76 87", "11 03 06 AE 41 56 52 43 40 49 AD",
	  { 0xae41, 0x5652, 0x4340 } },
	{ { 0x11, 3, 0x6b, 3 }, "11 03 00 6B 00 03 76 87", "11 03 06 02 2B 00 00 00 64 C8 BA",
	  { 555, 0, 100 } },
	{ { 0x11, 4, 8, 1 }, "11 04 00 08 00 01 B2 98", "11 04 02 00 0A F8 F4", { 10 } },
	{ { 1, 4, 0, 2 }, "01 04 00 00 00 02 71 CB", "01 04 04 43 66 33 34 1B 38",
	  { 0x4366, 0x3334 } },
};
enum { EXCHANGES = sizeof exchanges / sizeof exchanges[0] };

Test(modbus_rtu, crc_examples)
{
	/* [serial] 6.2.2 page 39-41: 02 07 gives 1241h, sent low byte first: 41 12 */
	cr_assert(modbus_crc((const uint8_t *)"\x02\x07", 2) == 0x1241);
	/* the usual check string of CRC catalogues */
	cr_assert(modbus_crc((const uint8_t *)"123456789", 9) == 0x4b37);
	for (int i = 0; i < EXCHANGES; i++) {
		uint8_t b[64];

		cr_assert(modbus_crc(b, unhex(exchanges[i].request, b)) == 0);
		cr_assert(modbus_crc(b, unhex(exchanges[i].answer, b)) == 0);
	}
}

Test(modbus_rtu, gaps_of_the_standard)
{
	/* [serial] 2.5.1.1: 3.5 characters of 11 bits; fixed 1.750 ms above 19200 */
	cr_assert(modbus_gap_us(1200, 11) == 32084);
	cr_assert(modbus_gap_us(9600, 11) == 4011);
	cr_assert(modbus_gap_us(19200, 11) == 2006);
	cr_assert(modbus_gap_us(38400, 11) == 1750);
	cr_assert(modbus_gap_us(115200, 10) == 1750);
	cr_assert(modbus_gap_us(9600, 10) == 3646);
}

Test(modbus_rtu, published_exchanges)
{
	for (int i = 0; i < EXCHANGES; i++) {
		uint8_t expect[64], out[MODBUS_REQUEST_SIZE], answer[64];
		struct modbus_answer ret;
		size_t n = unhex(exchanges[i].answer, answer);

		cr_assert(unhex(exchanges[i].request, expect) == MODBUS_REQUEST_SIZE);
		cr_assert(modbus_encode_request(&exchanges[i].query, out) == MODBUS_REQUEST_SIZE);
		cr_assert(memcmp(out, expect, sizeof out) == 0);
		cr_assert(modbus_decode_answer(&exchanges[i].query, answer, n, &ret) ==
		          MODBUS_ANSWER);
		cr_assert(memcmp(ret.registers, exchanges[i].registers,
		                 2u * exchanges[i].query.count) == 0);
		cr_assert(ret.skipped == 0 && ret.trailing == 0);
	}
}

Test(modbus_rtu, more_requests)
{
	uint8_t out[MODBUS_REQUEST_SIZE], expect[8];

	/* [frames] */
	modbus_encode_request(&(struct modbus_query){ 1, 3, 0, 10 }, out);
	unhex("01 03 00 00 00 0A C5 CD", expect);
	cr_assert(memcmp(out, expect, 8) == 0);
	modbus_encode_request(&(struct modbus_query){ 1, 3, 0, 2 }, out);
	unhex("01 03 00 00 00 02 C4 0B", expect);
	cr_assert(memcmp(out, expect, 8) == 0);
}

Test(modbus_rtu, exceptions)
{
	/* the first from [frames] (unit 0A refusing function 01, code 02); the others computed */
	static const struct {
		const char *hex;
		uint8_t unit, function, code;
	} rows[] = {
		{ "0A 81 02 B0 53", 0x0a, 1, 2 },
		{ "11 83 02 C1 34", 0x11, 3, 2 },
		{ "01 84 02 C2 C1", 1, 4, 2 },
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct modbus_query query = { rows[i].unit, rows[i].function, 0, 1 };
		uint8_t b[8], made[5];
		struct modbus_answer ret;
		size_t n = unhex(rows[i].hex, b);

		for (size_t cut = 0; cut < n; cut++)
			cr_assert(modbus_decode_answer(&query, b, cut, &ret) == MODBUS_MORE);
		cr_assert(modbus_decode_answer(&query, b, n, &ret) == MODBUS_EXCEPTION);
		cr_assert(ret.exception == rows[i].code);
		cr_assert(modbus_encode_exception(rows[i].unit, rows[i].function, rows[i].code,
		                                  made) == 5);
		cr_assert(memcmp(made, b, 5) == 0);
	}
	/* [app] chapter 7 */
	cr_assert_str_eq(modbus_exception_text(2), "illegal data address");
	cr_assert_str_eq(modbus_exception_text(11), "gateway target did not answer");
	cr_assert_str_eq(modbus_exception_text(99), "unknown exception");
}

Test(modbus_rtu, every_prefix_is_more)
{
	for (int i = 0; i < EXCHANGES; i++) {
		uint8_t b[64];
		struct modbus_answer ret;
		size_t n = unhex(exchanges[i].answer, b);

		for (size_t cut = 0; cut < n; cut++)
			cr_assert(modbus_decode_answer(&exchanges[i].query, b, cut, &ret) ==
			                  MODBUS_MORE,
			          "exchange %d cut at %zu", i, cut);
	}
}

Test(modbus_rtu, no_flipped_bit_passes)
{
	for (int i = 0; i < EXCHANGES; i++) {
		uint8_t b[64];
		struct modbus_answer ret;
		size_t n = unhex(exchanges[i].answer, b);

		for (size_t bit = 0; bit < 8 * n; bit++) {
			enum modbus_verdict v;

			b[bit / 8] ^= (uint8_t)(1u << bit % 8);
			v = modbus_decode_answer(&exchanges[i].query, b, n, &ret);
			cr_assert(v != MODBUS_ANSWER && v != MODBUS_EXCEPTION,
			          "exchange %d bit %zu", i, bit);
			if (bit >= 24) /* behind the header: an answer by its shape, damaged */
				cr_assert(v == MODBUS_BAD_CRC || v == MODBUS_MORE);
			b[bit / 8] ^= (uint8_t)(1u << bit % 8);
		}
	}
}

Test(modbus_rtu, no_lost_or_doubled_byte_passes)
{
	for (int i = 0; i < EXCHANGES; i++) {
		uint8_t b[64], c[64];
		struct modbus_answer ret;
		size_t n = unhex(exchanges[i].answer, b);

		for (size_t gone = 0; gone < n; gone++) {
			memcpy(c, b, gone);
			memcpy(c + gone, b + gone + 1, n - gone - 1);
			cr_assert(modbus_decode_answer(&exchanges[i].query, c, n - 1, &ret) !=
			          MODBUS_ANSWER);
			/* doubled inside the frame; at its ends it would be noise around it */
			memcpy(c, b, gone + 1);
			memcpy(c + gone + 1, b + gone, n - gone);
			if (gone > 0 && gone < n - 1 && b[gone] != b[gone + 1] &&
			    b[gone] != b[gone - 1])
				cr_assert(modbus_decode_answer(&exchanges[i].query, c, n + 1,
				                               &ret) != MODBUS_ANSWER,
				          "exchange %d byte %zu", i, gone);
		}
	}
}

Test(modbus_rtu, byte_count_lies)
{
	struct modbus_query query = { 1, 4, 0, 2 };
	uint8_t b[64];
	struct modbus_answer ret;

	for (unsigned count = 0; count < 256; count++) {
		size_t n = unhex("01 04 04 43 66 33 34", b);
		uint16_t crc;

		b[2] = (uint8_t)count;
		crc = modbus_crc(b, n); /* the CRC is right: only the count lies */
		b[n++] = (uint8_t)crc;
		b[n++] = (uint8_t)(crc >> 8);
		if (count == 4)
			cr_assert(modbus_decode_answer(&query, b, n, &ret) == MODBUS_ANSWER);
		else
			cr_assert(modbus_decode_answer(&query, b, n, &ret) == MODBUS_FOREIGN);
	}
}

Test(modbus_rtu, other_unit_other_function)
{
	uint8_t b[64];
	struct modbus_answer ret;
	size_t n = unhex(exchanges[0].answer, b);
	struct modbus_query query = exchanges[0].query;

	query.unit = 0x12;
	cr_assert(modbus_decode_answer(&query, b, n, &ret) == MODBUS_FOREIGN);
	query = exchanges[0].query;
	query.function = MODBUS_READ_INPUT;
	cr_assert(modbus_decode_answer(&query, b, n, &ret) == MODBUS_FOREIGN);
	query = exchanges[0].query;
	query.count = 2;
	cr_assert(modbus_decode_answer(&query, b, n, &ret) == MODBUS_FOREIGN);
}

Test(modbus_rtu, echo_noise_and_trailing)
{
	for (int i = 0; i < EXCHANGES; i++) {
		uint8_t b[128];
		struct modbus_answer ret;
		const struct exchange *x = &exchanges[i];
		size_t echo = unhex(x->request, b), n = echo + unhex(x->answer, b + echo);

		/* the adapter hears its own request: cut anywhere it is no answer */
		for (size_t cut = 0; cut < n; cut++) {
			enum modbus_verdict v = modbus_decode_answer(&x->query, b, cut, &ret);

			cr_assert(v != MODBUS_ANSWER && v != MODBUS_EXCEPTION &&
			          v != MODBUS_DOUBLED);
		}
		cr_assert(modbus_decode_answer(&x->query, b, n, &ret) == MODBUS_ANSWER);
		cr_assert(ret.skipped == echo && ret.registers[0] == x->registers[0]);

		/* a line driver that glitches when it turns round */
		b[0] = 0;
		n = 1 + unhex(x->answer, b + 1);
		b[n++] = 0xff;
		cr_assert(modbus_decode_answer(&x->query, b, n, &ret) == MODBUS_ANSWER);
		cr_assert(ret.skipped == 1 && ret.trailing == 1);

		/* two answers to one question */
		n = unhex(x->answer, b);
		n += unhex(x->answer, b + n);
		cr_assert(modbus_decode_answer(&x->query, b, n, &ret) == MODBUS_DOUBLED);
	}
	/* an echo whose bytes look like the beginning of an answer: 4 bytes from address 0x0400 */
	struct modbus_query query = { 1, 4, 0x0400, 2 };
	uint8_t b[64];
	struct modbus_answer ret;
	size_t n = modbus_encode_request(&query, b);

	n += unhex("01 04 04 43 66 33 34 1B 38", b + n);
	cr_assert(modbus_decode_answer(&query, b, n, &ret) == MODBUS_ANSWER);
	cr_assert(ret.skipped == 8 && ret.registers[0] == 0x4366);
}

Test(modbus_rtu, random_bytes_are_no_answer)
{
	struct modbus_query query = { 1, 4, 0, 2 };
	unsigned state = 12345, hits = 0;
	uint8_t b[64];
	struct modbus_answer ret;

	for (int i = 0; i < 200000; i++) {
		for (size_t k = 0; k < sizeof b; k++)
			b[k] = (uint8_t)((state = state * 1664525u + 1013904223u) >> 24);
		hits += modbus_decode_answer(&query, b, sizeof b, &ret) == MODBUS_ANSWER;
	}
	cr_assert(hits == 0);
}

/* ---- slave ---- */

Test(modbus_rtu, slave_serves_published_requests)
{
	static const uint16_t bank_registers[3] = { 555, 0, 100 };
	/* [app] 6.3: registers 108 to 110 are sent as 107 to 109 */
	struct modbus_bank bank = { 107, 3, bank_registers };
	uint8_t b[64], expect[64], out[MODBUS_FRAME_MAX];
	struct modbus_query query;
	size_t used, n = unhex("11 03 00 6B 00 03 76 87", b);

	for (size_t cut = 0; cut < n; cut++) {
		cr_assert(modbus_slave_take(0x11, b, cut, false, &query, &used) ==
		          MODBUS_SLAVE_MORE);
		cr_assert(used == 0);
	}
	cr_assert(modbus_slave_take(0x11, b, n, false, &query, &used) == MODBUS_SLAVE_SERVE);
	cr_assert(used == n && query.address == 107 && query.count == 3);
	n = unhex("11 03 06 02 2B 00 00 00 64 C8 BA", expect);
	cr_assert(modbus_serve(&query, &bank, out) == n);
	cr_assert(memcmp(out, expect, n) == 0);
}

Test(modbus_rtu, slave_refuses_as_the_standard_says)
{
	static const uint16_t registers[100];
	struct modbus_bank bank = { 0, 100, registers };
	uint8_t out[MODBUS_FRAME_MAX];

	/* [app] chapter 7 page 48: 100 registers; start 96 count 4 is good, count 5 is not */
	cr_assert(modbus_serve(&(struct modbus_query){ 1, 3, 96, 4 }, &bank, out) == 13);
	cr_assert(modbus_serve(&(struct modbus_query){ 1, 3, 96, 5 }, &bank, out) == 5);
	cr_assert(out[1] == 0x83 && out[2] == MODBUS_ILLEGAL_ADDRESS);
	cr_assert(modbus_serve(&(struct modbus_query){ 1, 4, 0, 0 }, &bank, out) == 5);
	cr_assert(out[1] == 0x84 && out[2] == MODBUS_ILLEGAL_VALUE);
	cr_assert(modbus_serve(&(struct modbus_query){ 1, 4, 0, 126 }, &bank, out) == 5);
	cr_assert(out[2] == MODBUS_ILLEGAL_VALUE);
	cr_assert(modbus_serve(&(struct modbus_query){ 1, 4, 65535, 125 }, &bank, out) == 5);
	cr_assert(out[2] == MODBUS_ILLEGAL_ADDRESS);
	cr_assert(modbus_serve(&(struct modbus_query){ 1, 6, 0, 1 }, &bank, out) == 5);
	cr_assert(out[1] == 0x86 && out[2] == MODBUS_ILLEGAL_FUNCTION);
}

Test(modbus_rtu, slave_hears_others_and_damage)
{
	uint8_t b[64];
	struct modbus_query query;
	size_t used, n = unhex("11 03 00 6B 00 03 76 87", b);

	cr_assert(modbus_slave_take(0x12, b, n, false, &query, &used) == MODBUS_SLAVE_IGNORE);
	cr_assert(used == n);
	b[3] ^= 1;
	cr_assert(modbus_slave_take(0x11, b, n, false, &query, &used) == MODBUS_SLAVE_MORE);
	cr_assert(modbus_slave_take(0x11, b, n, true, &query, &used) == MODBUS_SLAVE_IGNORE);
	cr_assert(used == n);
	/* behind a cut request comes a good one: found without waiting for silence */
	n = unhex("11 03 00 11 03 00 6B 00 03 76 87", b);
	cr_assert(modbus_slave_take(0x11, b, n, false, &query, &used) == MODBUS_SLAVE_IGNORE);
	cr_assert(used == 3);
	cr_assert(modbus_slave_take(0x11, b + 3, n - 3, false, &query, &used) ==
	          MODBUS_SLAVE_SERVE);
	/* a function we lack, of a size that only silence tells */
	n = unhex("11 2B 0E 01 00", b);
	uint16_t crc = modbus_crc(b, n);
	b[n++] = (uint8_t)crc;
	b[n++] = (uint8_t)(crc >> 8);
	cr_assert(modbus_slave_take(0x11, b, n, false, &query, &used) == MODBUS_SLAVE_MORE);
	cr_assert(modbus_slave_take(0x11, b, n, true, &query, &used) == MODBUS_SLAVE_REFUSE);
	cr_assert(query.function == 0x2b && used == n);
	/* endless noise never fills the buffer for good */
	uint8_t noise[MODBUS_FRAME_MAX];
	memset(noise, 0x11, sizeof noise);
	cr_assert(modbus_slave_take(0x11, noise, sizeof noise, false, &query, &used) ==
	          MODBUS_SLAVE_IGNORE);
	cr_assert(used > 0);
}

/* ---- values ---- */

Test(modbus_rtu, floats_in_four_orders)
{
	/* 117.0 is 42 EA 00 00, 48.5 is 42 42 00 00, 123456.0 is 47 F1 20 00 in IEEE 754 */
	static const struct {
		double value;
		uint16_t abcd[2];
	} rows[] = {
		{ 117.0, { 0x42ea, 0x0000 } }, { 120.0, { 0x42f0, 0x0000 } },
		{ 48.5, { 0x4242, 0x0000 } }, { 123456.0, { 0x47f1, 0x2000 } },
		/* a meter's published 230.2 V, nearest but one */
		{ 230.20001220703125, { 0x4366, 0x3334 } },
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		uint16_t a = rows[i].abcd[0], c = rows[i].abcd[1];
		uint16_t swapped_a = (uint16_t)(a << 8 | a >> 8),
		         swapped_c = (uint16_t)(c << 8 | c >> 8);
		const uint16_t as_sent[4][2] = { { a, c }, { c, a }, { swapped_a, swapped_c },
			                         { swapped_c, swapped_a } };

		for (int order = MODBUS_ABCD; order <= MODBUS_DCBA; order++) {
			uint16_t put[2];

			cr_assert(modbus_get(as_sent[order], MODBUS_F32,
			                     (enum modbus_order)order) == rows[i].value);
			modbus_put(put, MODBUS_F32, (enum modbus_order)order, rows[i].value);
			cr_assert(memcmp(put, as_sent[order], sizeof put) == 0);
		}
	}
	/* read in the wrong order the published 230.2 V is 4.2e-8 */
	const uint16_t wrong[2] = { 0x4366, 0x3334 };
	double v = modbus_get(wrong, MODBUS_F32, MODBUS_CDAB);
	cr_assert(v > 4.1e-8 && v < 4.3e-8);
}

Test(modbus_rtu, integers)
{
	const uint16_t r[2] = { 0xfffe, 0x0001 };
	uint16_t put[2];

	cr_assert(modbus_get(r, MODBUS_U16, MODBUS_ABCD) == 65534);
	cr_assert(modbus_get(r, MODBUS_S16, MODBUS_ABCD) == -2);
	cr_assert(modbus_get(r, MODBUS_U16, MODBUS_BADC) == 0xfeff);
	cr_assert(modbus_get(r, MODBUS_U32, MODBUS_ABCD) == 4294836225.0);
	cr_assert(modbus_get(r, MODBUS_S32, MODBUS_ABCD) == -131071);
	cr_assert(modbus_get(r, MODBUS_S32, MODBUS_CDAB) == 131070);
	modbus_put(put, MODBUS_S16, MODBUS_ABCD, -2.4);
	cr_assert(put[0] == 0xfffe);
	modbus_put(put, MODBUS_S16, MODBUS_ABCD, 1e9);
	cr_assert(put[0] == 0x7fff);
	modbus_put(put, MODBUS_U16, MODBUS_ABCD, -5);
	cr_assert(put[0] == 0);
	modbus_put(put, MODBUS_U32, MODBUS_CDAB, 4294836225.0);
	cr_assert(put[0] == 1 && put[1] == 0xfffe);
	modbus_put(put, MODBUS_U32, MODBUS_ABCD, NAN);
	cr_assert(put[0] == 0xffff && put[1] == 0xffff);
	modbus_put(put, MODBUS_F32, MODBUS_ABCD, NAN);
	cr_assert(isnan(modbus_get(put, MODBUS_F32, MODBUS_ABCD)));
	modbus_put(put, MODBUS_F32, MODBUS_ABCD, INFINITY);
	cr_assert(isinf(modbus_get(put, MODBUS_F32, MODBUS_ABCD)));
}

Test(modbus_rtu, every_type_and_order_comes_back)
{
	static const double values[] = { 0, 1, 117, 255, 256, 4660, 32767 };

	for (int type = MODBUS_U16; type <= MODBUS_F32; type++)
		for (int order = MODBUS_ABCD; order <= MODBUS_DCBA; order++)
			for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
				uint16_t r[2] = { 0, 0 };

				modbus_put(r, (enum modbus_type)type, (enum modbus_order)order,
				           values[i]);
				cr_assert(modbus_get(r, (enum modbus_type)type,
				                     (enum modbus_order)order) == values[i]);
			}
}
