/*
 * proto/scpi.h - query and response in the manner of SCPI, both ends
 *
 * Layer: proto; no port, no clock, no allocation.
 * Sources: number forms NR1, NR2, NR3 as quoted from IEEE 488.2 in instrument manuals; 9.91E37
 * for not-a-number and +-9.9E37 for the infinities; SYSTem:ERRor? as a first-in-first-out queue.
 * A header's capitals are its short form: MEASure:VOLTage:AC? is also MEAS:VOLT:AC?.
 */
#ifndef MAINSTAIR_PROTO_SCPI_H
#define MAINSTAIR_PROTO_SCPI_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "mainstair/base/err.h"
#include "mainstair/core/reading.h"

enum {
	SCPI_LINE_MAX = 256,   /* longest response or command line taken, terminator included */
	SCPI_QUERY_MAX = 96,
	SCPI_ERROR_MAX = 128,
	SCPI_FIELDS_MAX = 16
};

/* ---- numbers ---- */

enum scpi_number { SCPI_NUMBER, SCPI_NOT_A_NUMBER, SCPI_INFINITY, SCPI_NOT_NUMERIC };

/** Parse exactly n characters, blanks around allowed: NR1 `273`, NR2 `.273`, NR3 `2.73E+2`,
 *  signs in front.  SCPI_NUMBER with *ret finite; SCPI_NOT_A_NUMBER (9.91E37, and the word
 *  NAN) with *ret NAN; SCPI_INFINITY (+-9.9E37 and the words INF, NINF) with *ret +-INFINITY;
 *  SCPI_NOT_NUMERIC with *ret untouched.  Independent of the locale. */
enum scpi_number scpi_parse_number(const char *text, size_t n, double *ret);

enum scpi_form { SCPI_NR1, SCPI_NR2, SCPI_NR3 };
/** Write value as a response number (NaN, infinities and anything beyond 9.9E37 as the special
 *  numbers, always NR3); NR2 with `decimals` places, NR3 with `decimals` in its mantissa.
 *  Returns the length; at most 31 characters and a NUL. */
size_t scpi_format_number(char out[32], double value, enum scpi_form form, int decimals);

/* ---- master ---- */

/* What to ask.  Either one query a quantity, or one query whose answer has several fields. */
struct scpi_map {
	char query[READING_QUANTITIES][SCPI_QUERY_MAX]; /* "": not asked */
	double scale[READING_QUANTITIES]; /* V, A, W, … = number * scale; applies to fields too */
	char query_all[SCPI_QUERY_MAX];    /* "": none */
	int fields[SCPI_FIELDS_MAX];       /* of query_all: enum reading_quantity, or -1 to skip */
	size_t n_fields;
	char setup[SCPI_QUERY_MAX];        /* sent once after opening, no answer; "" none */
	char error_query[SCPI_QUERY_MAX];  /* asked when an answer does not come; "" none */
};

/* MEASure:VOLTage:AC?, MEASure:CURRent:AC?, MEASure:POWer:AC?, *CLS, SYSTem:ERRor?: what the
 * virtual bench answers and profiles/bench-scpi.ini asks. */
extern const struct scpi_map scpi_map_default;

/** Length of the first whole line in `bytes`, terminator included (NL, CR NL or CR), 0 when none
 *  is whole yet.  *ret_text is the length without terminator.  A CR that ends the bytes counts
 *  as a terminator; a NL right behind it then shows as an empty line, to be passed over. */
size_t scpi_line(const uint8_t *bytes, size_t n, size_t *ret_text);

/** Read one response line to a query into r.  `quantity` >= 0: a line of one number; < 0:
 *  map->query_all's fields, comma or semicolon between.  NaN and infinities as
 *  reading_set().  0, or -1 with ERR_INPUT when it is not that (err->text shows it, safe to
 *  print); then r is untouched. */
int scpi_decode(const struct scpi_map *map, int quantity, const char *line, size_t n,
                struct reading *r, struct err *err);

/** Parse an entry of the error queue: `-113,"Undefined header"`.  0 with *ret_code (0 is "no
 *  error") and its text, made printable; -1 when the line is not one. */
int scpi_decode_error(const char *line, size_t n, int *ret_code, char ret_text[SCPI_ERROR_MAX]);

/* ---- device ---- */

/** Does a header as received match a pattern in long-and-short form?  Case is ignored, a
 *  leading colon too; the whole header must match, question mark included. */
bool scpi_match(const char *pattern, const char *header, size_t n);

struct scpi_command {
	const char *pattern;          /* "MEASure:VOLTage:AC?" */
	enum reading_quantity answer; /* what it answers */
	enum scpi_form form;
	int decimals;
};

enum { SCPI_ERRORS_MAX = 8 };

/* A device: bytes in, bytes out.  Answers the commands of its table from `now`, and by itself
 * *IDN?, *CLS, *RST, *OPC?, SYSTem:ERRor[:NEXT]?.  Zero it, then set table and identity. */
struct scpi_device {
	const struct scpi_command *commands; /* borrowed */
	size_t n_commands;
	const char *identity;                /* borrowed: answer to *IDN? */
	int errors[SCPI_ERRORS_MAX];         /* queue; -350 in the last place when it overflows */
	size_t n_errors;
	char line[SCPI_LINE_MAX];
	size_t n_line;
	bool overlong;
};

/* The virtual bench's commands: scpi_map_default's queries and MEASure:POWer:AC:APParent?,
 * MEASure:POWer:AC:PFACtor?, MEASure:FREQuency?. */
extern const struct scpi_command scpi_commands_default[];
extern const size_t scpi_n_commands_default;

/** Take n bytes from the line; answers to whole command lines (`;` joins several) are written
 *  to out, NL-terminated, values from `now`.  A quantity that is not told answers NaN.  Returns
 *  bytes written; what does not fit in max is dropped and -430 queued. */
size_t scpi_device_input(struct scpi_device *d, const uint8_t *bytes, size_t n,
                         const struct reading *now, char *out, size_t max);

#endif
