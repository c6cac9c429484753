/* Any bytes as a SCPI answer, an error queue entry, or a controller's commands: never a crash, no
 * number that is none, and a device that is in step again at the next line end. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "mainstair/proto/scpi.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(condition) \
	do { \
		if (!(condition)) \
			abort(); \
	} while (0)

static void check(const struct reading *r)
{
	for (int q = 0; q < READING_QUANTITIES; q++)
		MUST(isfinite(r->at[q].value));
}

static void answers(const char *line, size_t n)
{
	struct scpi_map all = { .query_all = "F?", .scale = { 1, 1e-9, 1e9, 1, 1, -1 },
		.fields = { READING_VOLTS, -1, READING_WATTS }, .n_fields = 3 };
	char text[SCPI_ERROR_MAX];
	struct reading r;
	struct err err;
	double value;
	int code;

	reading_clear(&r);
	(void)scpi_decode(&scpi_map_default, READING_WATTS, line, n, &r, &err);
	(void)scpi_decode(&all, -1, line, n, &r, &err);
	(void)scpi_decode(&all, READING_AMPS, line, n, &r, &err);
	check(&r);
	if (scpi_parse_number(line, n, &value) == SCPI_NUMBER) {
		char out[32];
		double again;

		MUST(isfinite(value));
		MUST(scpi_parse_number(out, scpi_format_number(out, value, SCPI_NR3, 9), &again) ==
		     SCPI_NUMBER);
		MUST(fabs(again - value) <= fabs(value) * 1e-9);
	}
	if (scpi_decode_error(line, n, &code, text) == 0)
		for (const char *c = text; *c; c++)
			MUST(*c >= 0x20 && *c < 0x7f);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct scpi_device device = { .commands = scpi_commands_default,
		.n_commands = scpi_n_commands_default, .identity = "i" };
	struct reading now;
	char out[64];
	size_t n, n_text = 0;

	answers((const char *)data, size);
	for (size_t at = 0; at < size; at += n) {
		n = scpi_line(data + at, size - at, &n_text);
		if (n == 0)
			break;
		MUST(n_text < n);
		answers((const char *)data + at, n_text);
	}

	reading_clear(&now);
	reading_set(&now, READING_VOLTS, 117);
	MUST(scpi_device_input(&device, data, size, &now, out, sizeof out) <= sizeof out);
	MUST(device.n_errors <= SCPI_ERRORS_MAX);
	(void)scpi_device_input(&device, (const uint8_t *)"\n", 1, &now, out, sizeof out);
	n = scpi_device_input(&device, (const uint8_t *)"*CLS;*OPC?\n", 11, &now, out, sizeof out);
	MUST(n == 2 && out[0] == '1' && out[1] == '\n' && device.n_errors == 0);
	return 0;
}
