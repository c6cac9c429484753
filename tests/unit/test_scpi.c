/*
 * SCPI-style query and response: numbers, answers, error queue, and the device's side.
 *
 * Sources, named beside each check (instrument manuals that quote IEEE 488.2 and SCPI):
 *  [nr]    ITECH IT6512D manual page 8: NR1 273, NR2 .273, NR3 2.73E+2
 *  [nan]   HP 53131A operating guide, table 3-3 and text: 9.91E37, +-9.9E37; NR1 up to 17
 *          characters, NR3 up to 22
 *  [form]  HP 34401A user's guide page 159: SD.DDDDDDDDESDD, NL or CR NL, several by commas
 *  [err]   SCPI error numbers as listed in the Chroma 19020 and Agilent 8712ET manuals
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/proto/scpi.h"

TestSuite(scpi, .timeout = 20);

Test(scpi, numbers)
{
	static const struct {
		const char *text;
		double value;
	} rows[] = {
	        {"273", 273},
	        {"0.273", 0.273},
	        {".273", 0.273},
	        {"2.73E+2", 273}, /* [nr] */
	        {"+273", 273},
	        {"-12", -12},
	        {"5.", 5},
	        {"2.73e2", 273},
	        {"0", 0},
	        {"+1.17214530E+02", 117.21453},
	        {"-1.00000000E-03", -0.001},                /* [form] */
	        {"12345678901234567", 12345678901234567.0}, /* [nan] NR1 length */
	        {"-1.23456789012345E+100", -INFINITY},      /* beyond 9.9E37 */
	        {"  117.2\t", 117.2},
	        {"\r117.2\r", 117.2},
	        {"9.89E36", 9.89e36},
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		double v = 4711;
		enum scpi_number kind = scpi_parse_number(rows[i].text, strlen(rows[i].text), &v);

		cr_assert(kind == (isinf(rows[i].value) ? SCPI_INFINITY : SCPI_NUMBER), "%s",
		          rows[i].text);
		cr_assert(v == rows[i].value, "%s", rows[i].text);
	}
}

Test(scpi, special_numbers)
{
	double v;

	/* [nan] */
	cr_assert(scpi_parse_number("9.91E37", 7, &v) == SCPI_NOT_A_NUMBER && isnan(v));
	cr_assert(scpi_parse_number("+9.91000000E+37", 15, &v) == SCPI_NOT_A_NUMBER && isnan(v));
	cr_assert(scpi_parse_number("NAN", 3, &v) == SCPI_NOT_A_NUMBER && isnan(v));
	cr_assert(scpi_parse_number("9.9E37", 6, &v) == SCPI_INFINITY && v > 0 && isinf(v));
	cr_assert(scpi_parse_number("-9.9E+37", 8, &v) == SCPI_INFINITY && v < 0);
	cr_assert(scpi_parse_number("9.90000000E+37", 14, &v) == SCPI_INFINITY && v > 0);
	cr_assert(scpi_parse_number("INF", 3, &v) == SCPI_INFINITY && v > 0);
	cr_assert(scpi_parse_number("+INF", 4, &v) == SCPI_INFINITY && v > 0);
	cr_assert(scpi_parse_number("NINF", 4, &v) == SCPI_INFINITY && v < 0);
	cr_assert(scpi_parse_number("-inf", 4, &v) == SCPI_INFINITY && v < 0);
	cr_assert(scpi_parse_number("1e999", 5, &v) == SCPI_INFINITY && v > 0);
}

Test(scpi, no_numbers)
{
	static const char *const rows[] = {
		"", " ", "+", ".", "-.", "E5", "1E", "1E+", "1e+-5", "1,5", "0x10", "1 2", "--1",
		"117.2V", "VOLT", "1_000", "nan(1)", "infin", "\"5\"",
		"123456789012345678901234567890123456789012345678901234567890",
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		double v = 4711;

		cr_assert(scpi_parse_number(rows[i], strlen(rows[i]), &v) == SCPI_NOT_NUMERIC, "%s",
		          rows[i]);
		cr_assert(v == 4711);
	}
	double v = 4711;
	cr_assert(scpi_parse_number("1\0002", 3, &v) == SCPI_NOT_NUMERIC);
}

Test(scpi, formatting)
{
	char out[32];

	cr_assert(scpi_format_number(out, 273, SCPI_NR1, 0) == 3);
	cr_assert_str_eq(out, "273");
	scpi_format_number(out, 0.273, SCPI_NR2, 3);
	cr_assert_str_eq(out, "0.273");
	scpi_format_number(out, 117.21453, SCPI_NR3, 8);
	cr_assert_str_eq(out, "+1.17214530E+02");
	scpi_format_number(out, NAN, SCPI_NR1, 0);
	cr_assert_str_eq(out, "9.91E+37");
	scpi_format_number(out, INFINITY, SCPI_NR2, 3);
	cr_assert_str_eq(out, "9.9E+37");
	scpi_format_number(out, -1e200, SCPI_NR2, 3);
	cr_assert_str_eq(out, "-9.9E+37");
	cr_assert(scpi_format_number(out, -1e30, SCPI_NR2, 9) < 32);
	cr_assert_str_eq(out, "-1.000000000E+30");
	/* there and back, special ones included */
	static const double values[] = { 0, 1, -1, 117.25, 1e-6, 1e14, NAN, INFINITY, -INFINITY };
	for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
		double v = 4711;

		scpi_parse_number(out, scpi_format_number(out, values[i], SCPI_NR3, 9), &v);
		cr_assert(v == values[i] || (isnan(v) && isnan(values[i])));
	}
}

Test(scpi, lines)
{
	size_t text = 99;

	cr_assert(scpi_line((const uint8_t *)"117.2", 5, &text) == 0);
	cr_assert(scpi_line((const uint8_t *)"117.2\n8", 7, &text) == 6 && text == 5);
	cr_assert(scpi_line((const uint8_t *)"117.2\r\n8", 8, &text) == 7 && text == 5);
	cr_assert(scpi_line((const uint8_t *)"117.2\r8", 7, &text) == 6 && text == 5);
	cr_assert(scpi_line((const uint8_t *)"\n", 1, &text) == 1 && text == 0);
	cr_assert(scpi_line(NULL, 0, &text) == 0);
}

static int decode(const struct scpi_map *map, int q, const char *line, struct reading *r,
                  struct err *err)
{
	return scpi_decode(map, q, line, strlen(line), r, err);
}

Test(scpi, answers)
{
	struct scpi_map map = scpi_map_default;
	struct reading r;
	struct err err = { 0 };

	reading_clear(&r);
	cr_assert(decode(&map, READING_VOLTS, "+1.17214530E+02", &r, &err) == 0);
	cr_assert(reading_get(&r, READING_VOLTS) == 117.21453);
	map.scale[READING_WATTS] = 1000; /* a device that speaks kW */
	cr_assert(decode(&map, READING_WATTS, ".0273", &r, &err) == 0);
	cr_assert(fabs(reading_get(&r, READING_WATTS) - 27.3) < 1e-9);
	cr_assert(decode(&map, READING_AMPS, "9.91E37", &r, &err) == 0);
	cr_assert(r.at[READING_AMPS].state == VALUE_NAN);
	cr_assert(decode(&map, READING_AMPS, "9.9E37", &r, &err) == 0);
	cr_assert(r.at[READING_AMPS].state == VALUE_OVER);
	/* with the header in front */
	cr_assert(decode(&map, READING_AMPS, ":MEAS:CURR:AC 0.25", &r, &err) == 0);
	cr_assert(reading_get(&r, READING_AMPS) == 0.25);
	/* anything else is told, escaped, and changes nothing */
	cr_assert(decode(&map, READING_VOLTS, "ERR\x1b[2J", &r, &err) == -1);
	cr_assert(strstr(err.text, "'ERR.[2J' is not a number"), "%s", err.text);
	cr_assert(reading_get(&r, READING_VOLTS) == 117.21453);
	cr_assert(decode(&map, READING_VOLTS, "", &r, &err) == -1);
	cr_assert(decode(&map, READING_VOLTS, "1,2", &r, &err) == -1);
}

Test(scpi, answers_of_several_fields)
{
	struct scpi_map map = { .scale = { 1, 0.001, 1, 1, 1, 1 }, .query_all = "FETCh?",
		.fields = { READING_VOLTS, READING_AMPS, -1, READING_WATTS }, .n_fields = 4 };
	struct reading r;
	struct err err = { 0 };

	reading_clear(&r);
	/* [form] several readings are joined by commas */
	cr_assert(decode(&map, -1, "+1.172E+02, 241 ,whatever,26.9", &r, &err) == 0);
	cr_assert(reading_get(&r, READING_VOLTS) == 117.2);
	cr_assert(fabs(reading_get(&r, READING_AMPS) - 0.241) < 1e-12);
	cr_assert(reading_get(&r, READING_WATTS) == 26.9);
	cr_assert(decode(&map, -1, "1,2,3", &r, &err) == -1);
	cr_assert(strstr(err.text, "3 fields instead of 4"), "%s", err.text);
	cr_assert(decode(&map, -1, "1,2,3,4,5", &r, &err) == -1);
	cr_assert(decode(&map, -1, "1,,3,4", &r, &err) == -1);
	cr_assert(decode(&map, -1, "1,2,3,x", &r, &err) == -1);
	cr_assert(reading_get(&r, READING_VOLTS) == 117.2); /* a spoilt answer changes nothing */
	cr_assert(decode(&map, -1, "118;241;0;27", &r, &err) == 0);
}

Test(scpi, error_queue_entries)
{
	char text[SCPI_ERROR_MAX];
	int code;

	/* [err] */
	cr_assert(scpi_decode_error("0,\"No error\"", 12, &code, text) == 0 && code == 0);
	cr_assert_str_eq(text, "No error");
	cr_assert(scpi_decode_error("-113,\"Undefined header\"\r", 24, &code, text) == 0);
	cr_assert(code == -113);
	cr_assert_str_eq(text, "Undefined header");
	cr_assert(scpi_decode_error("+0", 2, &code, text) == 0 && code == 0);
	cr_assert_str_eq(text, "");
	cr_assert(scpi_decode_error("-113,\x1b\x07", 7, &code, text) == 0);
	cr_assert_str_eq(text, "..");
	cr_assert(scpi_decode_error("Undefined", 9, &code, text) == -1);
	cr_assert(scpi_decode_error("", 0, &code, text) == -1);
	cr_assert(scpi_decode_error("1e9,\"x\"", 7, &code, text) == -1);
}

/* ---- device ---- */

Test(scpi, headers_long_and_short)
{
	static const struct {
		const char *pattern, *header;
		bool expect;
	} rows[] = {
		{ "MEASure:VOLTage:AC?", "MEASURE:VOLTAGE:AC?", true },
		{ "MEASure:VOLTage:AC?", "meas:volt:ac?", true },
		{ "MEASure:VOLTage:AC?", ":Meas:Voltage:AC?", true },
		{ "MEASure:VOLTage:AC?", "MEASU:VOLT:AC?", false }, /* neither long nor short */
		{ "MEASure:VOLTage:AC?", "MEAS:VOLT:AC", false },
		{ "MEASure:VOLTage:AC?", "MEAS:VOLT?", false },
		{ "MEASure:VOLTage:AC?", "MEAS:VOLT:AC:DC?", false },
		{ "MEASure:VOLTage:AC?", "MEAS VOLT AC?", false },
		{ "MEASure:VOLTage:AC?", "", false },
		{ "MEASure:VOLTage:AC?", ":", false },
		{ "SYSTem:ERRor[:NEXT]?", "SYST:ERR?", true },
		{ "SYSTem:ERRor[:NEXT]?", "SYST:ERR:NEXT?", true },
		{ "SYSTem:ERRor[:NEXT]?", "SYST:ERR:ALL?", false },
		{ "MEASure[:SCALar]:POWer:AC?", "MEAS:POW:AC?", true },
		{ "MEASure[:SCALar]:POWer:AC?", "MEAS:SCAL:POW:AC?", true },
		{ "[SENSe:]FUNCtion?", "FUNC?", true },
		{ "[SENSe:]FUNCtion?", "SENS:FUNC?", true },
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		cr_assert(scpi_match(rows[i].pattern, rows[i].header, strlen(rows[i].header)) ==
		          rows[i].expect, "%s %s", rows[i].pattern, rows[i].header);
}

static struct scpi_device device;
static struct reading now;

static void device_init(void)
{
	device = (struct scpi_device){ .commands = scpi_commands_default,
		.n_commands = scpi_n_commands_default, .identity = "mainstair,virtual bench,0,1" };
	reading_clear(&now);
	reading_set(&now, READING_VOLTS, 117.25);
	reading_set(&now, READING_WATTS, 27.5);
}

static const char *ask(const char *text)
{
	static char out[512];
	size_t n = scpi_device_input(&device, (const uint8_t *)text, strlen(text), &now, out,
	                             sizeof out - 1);

	out[n] = 0;
	return out;
}

Test(scpi, device_answers, .init = device_init)
{
	cr_assert_str_eq(ask("MEAS:VOLT:AC?\n"), "+1.172500E+02\n");
	cr_assert_str_eq(ask("measure:power:ac?\r\n"), "+2.750000E+01\n");
	cr_assert_str_eq(ask("MEAS:CURR:AC?\n"), "9.91E+37\n"); /* not told: not a number */
	cr_assert_str_eq(ask("*IDN?\n"), "mainstair,virtual bench,0,1\n");
	cr_assert_str_eq(ask("*OPC?;*CLS\n"), "1\n");
	cr_assert_str_eq(ask("*RST\n\n\r\n"), "");
	/* cut anywhere */
	cr_assert_str_eq(ask("MEAS:VO"), "");
	cr_assert_str_eq(ask("LT:AC?"), "");
	cr_assert_str_eq(ask("\n"), "+1.172500E+02\n");
	/* several on one line; behind a semicolon the path goes on, a colon begins anew */
	cr_assert_str_eq(ask("MEAS:VOLT:AC?;:MEAS:POW:AC?\n"), "+1.172500E+02;+2.750000E+01\n");
	cr_assert_str_eq(ask("MEAS:POW:AC:REAL?;APP?\n"), "+2.750000E+01;9.91E+37\n");
	cr_assert_str_eq(ask("MEAS:POW:AC:REAL?;APPA?\n"), "+2.750000E+01\n");
	cr_assert_str_eq(ask("SYST:ERR?\n"), "-113,\"Undefined header\"\n");
}

Test(scpi, device_error_queue, .init = device_init)
{
	cr_assert_str_eq(ask("SYST:ERR?\n"), "0,\"No error\"\n");
	cr_assert_str_eq(ask("MEAS:NONSENSE?\n"), "");
	cr_assert_str_eq(ask("MEAS:VOLT:AC? 5\n"), "");
	cr_assert_str_eq(ask("MEAS:\x01\n"), "");
	/* first in, first out */
	cr_assert_str_eq(ask("SYST:ERR?\n"), "-113,\"Undefined header\"\n");
	cr_assert_str_eq(ask("SYST:ERR:NEXT?\n"), "-108,\"Parameter not allowed\"\n");
	cr_assert_str_eq(ask("SYST:ERR?\n"), "-101,\"Invalid character\"\n");
	cr_assert_str_eq(ask("SYST:ERR?\n"), "0,\"No error\"\n");
	for (int i = 0; i < 20; i++)
		ask("X\n");
	for (int i = 0; i < SCPI_ERRORS_MAX - 1; i++)
		cr_assert_str_eq(ask("SYST:ERR?\n"), "-113,\"Undefined header\"\n");
	cr_assert_str_eq(ask("SYST:ERR?\n"), "-350,\"Queue overflow\"\n");
	cr_assert_str_eq(ask("SYST:ERR?\n"), "0,\"No error\"\n");
	ask("X\n*CLS\n");
	cr_assert_str_eq(ask("SYST:ERR?\n"), "0,\"No error\"\n");
}

Test(scpi, device_bounds, .init = device_init)
{
	char line[SCPI_LINE_MAX * 3], out[20];

	memset(line, ':', sizeof line - 1);
	line[sizeof line - 1] = 0;
	cr_assert_str_eq(ask(line), "");
	cr_assert_str_eq(ask("\n"), "");
	cr_assert_str_eq(ask("SYST:ERR?\n"), "-363,\"Input buffer overrun\"\n");
	/* exactly full: 256 colons are one header, and no one's */
	line[SCPI_LINE_MAX] = 0;
	ask(line);
	cr_assert_str_eq(ask("\n"), "");
	cr_assert_str_eq(ask("SYST:ERR?\n"), "-113,\"Undefined header\"\n");
	/* answers that do not fit are dropped whole and told */
	const char *two = "MEAS:VOLT:AC?;:MEAS:VOLT:AC?\n";
	size_t n = scpi_device_input(&device, (const uint8_t *)two, strlen(two), &now, out,
	                             sizeof out);
	cr_assert(n == 14 && memcmp(out, "+1.172500E+02\n", 14) == 0);
	cr_assert_str_eq(ask("SYST:ERR?\n"), "-430,\"Query DEADLOCKED\"\n");
	cr_assert(scpi_device_input(&device, (const uint8_t *)two, strlen(two), &now, out, 0) == 0);
}

Test(scpi, master_and_device_agree, .init = device_init)
{
	struct reading got;
	struct err err = { 0 };

	reading_clear(&got);
	reading_set(&now, READING_AMPS, 0.2413);
	for (int q = READING_VOLTS; q <= READING_WATTS; q++) {
		char query[SCPI_QUERY_MAX + 2];
		size_t text;
		const char *answer;

		snprintf(query, sizeof query, "%s\n", scpi_map_default.query[q]);
		answer = ask(query);
		cr_assert(scpi_line((const uint8_t *)answer, strlen(answer), &text) ==
		          strlen(answer));
		cr_assert(scpi_decode(&scpi_map_default, q, answer, text, &got, &err) == 0);
		cr_assert(fabs(reading_get(&got, (enum reading_quantity)q) -
		               reading_get(&now, (enum reading_quantity)q)) < 1e-4);
	}
}
