/*
 * What the virtual meter says, and what a bad line makes of it.
 *
 * Modbus frames: MODBUS over Serial Line V1.02, MODBUS Application Protocol V1.1b3.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "bench/talk.h"
#include "mainstair/proto/line_text.h"
#include "mainstair/proto/modbus_map.h"

TestSuite(bench_talk, .timeout = 20);

static struct reading reading_of(double volts, double amps, double watts)
{
	struct reading r;

	reading_clear(&r);
	reading_set(&r, READING_VOLTS, volts);
	reading_set(&r, READING_AMPS, amps);
	reading_set(&r, READING_WATTS, watts);
	reading_complete(&r);
	return r;
}

static struct talk *begin(enum talk_protocol protocol)
{
	struct talk *t = malloc(sizeof *t);
	struct reading r = reading_of(117, 0.25, 28.5);

	talk_init(t, protocol, 17, 0.2, 1, 100);
	talk_reading(t, &r);
	return t;
}

/* Everything due by now_s, as a string. */
static size_t said(struct talk *t, double now_s, char out[4096])
{
	size_t n = 0, more;

	while ((more = talk_say(t, now_s, (uint8_t *)out + n, 64)) > 0)
		n += more;
	out[n] = 0;
	return n;
}

Test(bench_talk, text_lines_come_by_themselves)
{
	struct talk *t = begin(TALK_TEXT);
	char out[4096], why[READING_WHY_MAX];
	struct reading r;

	talk_hear(t, NULL, 0, 100.1);
	cr_assert(said(t, 100.1, out) == 0);
	cr_assert(fabs(talk_due(t) - 100.2) < 1e-9);
	talk_hear(t, NULL, 0, 100.21);
	size_t n = said(t, 100.21, out);
	cr_assert(n > 2 && strcmp(out + n - 2, "\r\n") == 0);
	reading_clear(&r);
	cr_assert(line_text_decode(&line_text_map_default, out, n - 2, &r, why) ==
	          LINE_TEXT_READING);
	cr_assert(reading_get(&r, READING_WATTS) == 28.5);
	/* five a second; after a long sleep not all of what was missed */
	int lines = 0;
	for (double s = 100.22; s < 102.3; s += 0.02) {
		talk_hear(t, NULL, 0, s);
		lines += said(t, s, out) > 0;
	}
	cr_assert(lines == 10 || lines == 11, "%d lines", lines);
	talk_hear(t, NULL, 0, 10000);
	cr_assert(said(t, 10000, out) < 1000);
	free(t);
}

Test(bench_talk, nothing_is_told_before_the_first_reading)
{
	struct talk *t = malloc(sizeof *t);
	char out[4096];

	talk_init(t, TALK_TEXT, 1, 0.2, 0, 0);
	talk_hear(t, NULL, 0, 5);
	cr_assert(said(t, 5, out) == 0);
	talk_init(t, TALK_SCPI, 1, 0.2, 0, 0);
	talk_hear(t, (const uint8_t *)"MEAS:VOLT:AC?\n", 14, 5);
	said(t, 5, out);
	double v;
	cr_assert(scpi_parse_number(out, strcspn(out, "\n"), &v) == SCPI_NOT_A_NUMBER);
	free(t);
}

Test(bench_talk, scpi_answers)
{
	struct talk *t = begin(TALK_SCPI);
	char out[4096];
	double v;

	cr_assert(isinf(talk_due(t)));
	talk_hear(t, (const uint8_t *)"MEAS:VO", 7, 100);
	cr_assert(said(t, 100, out) == 0);
	talk_hear(t, (const uint8_t *)"LT:AC?\nMEAS:POW:AC?\n", 20, 100);
	said(t, 100, out);
	cr_assert(scpi_parse_number(out, strcspn(out, "\n"), &v) == SCPI_NUMBER && v == 117);
	char *second = strchr(out, '\n') + 1;
	cr_assert(scpi_parse_number(second, strcspn(second, "\n"), &v) == SCPI_NUMBER && v == 28.5);
	talk_hear(t, (const uint8_t *)"*IDN?\nBAKE?\nSYST:ERR?\n", 22, 101);
	said(t, 101, out);
	cr_assert(strstr(out, "VIRTUAL BENCH") && strstr(out, "-113"), "%s", out);
	free(t);
}

static const struct modbus_query all_registers = { 17, MODBUS_READ_INPUT, 0, 12 };

static size_t ask(struct talk *t, const struct modbus_query *q, double now_s, uint8_t *out)
{
	uint8_t request[MODBUS_REQUEST_SIZE];
	size_t n = modbus_encode_request(q, request);

	talk_hear(t, request, n, now_s);
	return talk_say(t, now_s + t->line.slow_s, out, MODBUS_FRAME_MAX);
}

Test(bench_talk, modbus_answers)
{
	struct talk *t = begin(TALK_MODBUS);
	struct modbus_query q = all_registers;
	struct modbus_answer a;
	struct reading r;
	uint8_t out[MODBUS_FRAME_MAX];

	size_t n = ask(t, &q, 100, out);
	cr_assert(modbus_decode_answer(&q, out, n, &a) == MODBUS_ANSWER);
	reading_clear(&r);
	modbus_map_read(&modbus_map_default, &q, a.registers, &r);
	cr_assert(reading_get(&r, READING_WATTS) == 28.5 && reading_get(&r, READING_VOLTS) == 117);
	q.function = MODBUS_READ_HOLDING;
	n = ask(t, &q, 101, out);
	cr_assert(modbus_decode_answer(&q, out, n, &a) == MODBUS_ANSWER);
	q.address = 100;
	n = ask(t, &q, 102, out);
	cr_assert(modbus_decode_answer(&q, out, n, &a) == MODBUS_EXCEPTION);
	cr_assert(a.exception == MODBUS_ILLEGAL_ADDRESS);
	q = all_registers;
	q.unit = 18;
	cr_assert(ask(t, &q, 103, out) == 0, "for another unit: silence");
	free(t);
}

Test(bench_talk, modbus_requests_in_pieces_and_cut_short)
{
	struct talk *t = begin(TALK_MODBUS);
	struct modbus_answer a;
	uint8_t request[MODBUS_REQUEST_SIZE], out[MODBUS_FRAME_MAX];
	size_t n = modbus_encode_request(&all_registers, request);

	for (size_t k = 0; k < n; k++)
		talk_hear(t, request + k, 1, 100 + 0.001 * (double)k);
	n = talk_say(t, 101, out, sizeof out);
	cr_assert(modbus_decode_answer(&all_registers, out, n, &a) == MODBUS_ANSWER);
	/* a request cut short is forgotten once the line is quiet, and spoils nothing */
	talk_hear(t, request, 5, 102);
	cr_assert(fabs(talk_due(t) - 102.005) < 1e-9);
	talk_hear(t, NULL, 0, 102.006);
	cr_assert(isinf(talk_due(t)) && t->n_in == 0);
	n = ask(t, &all_registers, 103, out);
	cr_assert(modbus_decode_answer(&all_registers, out, n, &a) == MODBUS_ANSWER);
	/* noise of any length */
	uint8_t noise[5000];
	memset(noise, 0x55, sizeof noise);
	talk_hear(t, noise, sizeof noise, 104);
	talk_hear(t, NULL, 0, 104.1);
	cr_assert(t->n_in == 0);
	n = ask(t, &all_registers, 105, out);
	cr_assert(modbus_decode_answer(&all_registers, out, n, &a) == MODBUS_ANSWER);
	free(t);
}

Test(bench_talk, a_bad_line)
{
	struct talk *t = begin(TALK_MODBUS);
	struct modbus_answer a;
	uint8_t out[MODBUS_FRAME_MAX];
	size_t n, whole = 5 + 2 * 12;
	struct reading moved = reading_of(50, 0.1, 4.9), r;

	t->line.bad_check = true;
	n = ask(t, &all_registers, 100, out);
	cr_assert(n == whole);
	cr_assert(modbus_decode_answer(&all_registers, out, n, &a) == MODBUS_BAD_CRC);
	t->line = (struct talk_line){ .mute = true };
	cr_assert(ask(t, &all_registers, 101, out) == 0);
	t->line = (struct talk_line){ .drop_share = 1 };
	cr_assert(ask(t, &all_registers, 102, out) == 0);
	t->line = (struct talk_line){ .drop_share = 0.5 };
	n = ask(t, &all_registers, 103, out);
	cr_assert(n > 0 && n < whole);
	t->line = (struct talk_line){ .noise_share = 1 };
	n = ask(t, &all_registers, 104, out);
	cr_assert(n == whole);
	cr_assert(modbus_decode_answer(&all_registers, out, n, &a) != MODBUS_ANSWER);
	t->line = (struct talk_line){ .slow_s = 0.3 };
	uint8_t request[MODBUS_REQUEST_SIZE];
	talk_hear(t, request, modbus_encode_request(&all_registers, request), 105);
	cr_assert(talk_say(t, 105.29, out, sizeof out) == 0 && fabs(talk_due(t) - 105.3) < 1e-9);
	cr_assert(talk_say(t, 105.31, out, sizeof out) == whole);
	t->line = (struct talk_line){ .frozen = true };
	talk_reading(t, &moved);
	n = ask(t, &all_registers, 106, out);
	cr_assert(modbus_decode_answer(&all_registers, out, n, &a) == MODBUS_ANSWER);
	modbus_map_read(&modbus_map_default, &all_registers, a.registers, &r);
	cr_assert(reading_get(&r, READING_WATTS) == 28.5);
	t->line = (struct talk_line){ 0 };
	n = ask(t, &all_registers, 107, out);
	cr_assert(modbus_decode_answer(&all_registers, out, n, &a) == MODBUS_ANSWER);
	modbus_map_read(&modbus_map_default, &all_registers, a.registers, &r);
	cr_assert(fabs(reading_get(&r, READING_WATTS) - 4.9) < 1e-6);
	free(t);
}

Test(bench_talk, nobody_reads)
{
	struct talk *t = begin(TALK_TEXT);

	for (double s = 100; s < 1000; s += 0.1)
		talk_hear(t, NULL, 0, s);
	cr_assert(t->n_out <= TALK_OUT_MAX);
	talk_hang_up(t);
	cr_assert(t->n_out == 0);
	free(t);
}

Test(bench_talk, protocol_words)
{
	cr_assert(talk_protocol_from_word("text") == TALK_TEXT);
	cr_assert(talk_protocol_from_word("modbus") == TALK_MODBUS);
	cr_assert(talk_protocol_from_word("SCPI") == TALK_SCPI);
	cr_assert(talk_protocol_from_word("gpib") == -1 && talk_protocol_from_word("") == -1);
}
