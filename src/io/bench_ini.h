/*
 * io/bench_ini.h - what belongs to the bench and not to the unit: the meter, the line, the lamp
 *
 * Layer: io; includes base/, core/, proto/.  As strict as profiles, by the same reader: every
 * fault of the file is told at once, and with any fault nothing starts.  How each key is written
 * is explained in the templates under profiles/bench/.
 *
 *   [meter]  protocol, port, baud, framing, handshake, period, timeout, watch, accuracy, range,
 *            resolution; then by protocol
 *            modbus: address, first_register, span, and a register for each of volts, amps,
 *                    watts, va, power_factor, hertz
 *            scpi:   a query for each quantity, or query and fields; setup, error_query
 *            text:   fields, or a label for each quantity; separator, decimal, check_sum
 *   [line]   volts, hertz, isolation, series_lamp
 *   [lamp]   watts, volts, or series_lamp: a lamp in series with the unit for the first power-up;
 *            meter: behind it, at the unit's plug, or ahead: its readings are then split
 */
#ifndef MAINSTAIR_IO_BENCH_INI_H
#define MAINSTAIR_IO_BENCH_INI_H

#include "io/meter.h"

#include "mainstair/base/buf.h"
#include "mainstair/base/complaints.h"

enum bench_answer { BENCH_NOT_SAID, BENCH_YES, BENCH_NO };

struct bench_setup {
	bool has_meter;
	struct meter_config meter;
	double line_volts, line_hertz; /* NAN: not said */
	enum bench_answer isolation;   /* an isolation transformer before the unit */
	double lamp_watts, lamp_volts; /* NAN: none */
	bool meter_ahead;              /* of the lamp; false: behind it, at the unit's own plug */
};

/** A lamp's rating as it is written: `60 W 120 V`, 5 to 2000 W and 80 to 300 V.  0, or -1 with
 *  ERR_INPUT. */
int bench_parse_lamp(const char *text, double *ret_watts, double *ret_volts, struct err *err);

/** An empty bench: no meter, nothing said. */
void bench_clear(struct bench_setup *ret);

/** Read the bench in the n bytes of text.  c has been initialised with the name to show.  0 with
 *  *ret filled, or -1 with every fault of the text in *c and *ret not to be used. */
int bench_parse_text(const char *text, size_t n, struct bench_setup *ret, struct complaints *c);

/** The same from a file.  ret_text may be NULL; else the bytes that were judged are appended. */
int bench_ini_read(const char *path, struct bench_setup *ret, struct buf *ret_text,
               struct complaints *c);

/** Where the user's own bench file is: $XDG_CONFIG_HOME/mainstair/bench.ini, or under
 *  ~/.config.  0, or -1 with ERR_SYSTEM (neither variable is set) or ERR_RANGE. */
int bench_path(char *ret, size_t size, struct err *err);

/** The bench for a command.  The user's own bench file if there is one (it need not be), then each
 *  of the n --meter arguments in turn: a spec as meter_parse_spec(); the path of another bench
 *  file (it ends in .ini), which takes the place of all that was read before; or `none`: readings
 *  are typed.  A bench that ends up with a meter has a port for it.  ret_text as bench_ini_read():
 * the file that counted, if any.  0, or -1 with complaints; c must have been initialised, under
 *  whatever name. */
int bench_find(const char *const *meters, size_t n, struct bench_setup *ret, struct buf *ret_text,
               struct complaints *c);

/** The same, but a meter may come out of it without a port: for a search of all ports. */
int bench_gather(const char *const *meters, size_t n, struct bench_setup *ret,
                 struct buf *ret_text, struct complaints *c);

#endif
