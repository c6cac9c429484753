/* mainstair ports - serial ports, and what answers on them */
#include "cli/commands.h"

#include <poll.h>
#include <stdbool.h>
#include <string.h>
#include <time.h>

#include "cli/options.h"
#include "cli/output.h"
#include "io/bench_ini.h"
#include "mainstair/base/num.h"

enum { PORTS_MAX = 64, READINGS_SHOWN = 3, EXIT_NOT_YET = 1 };
static const double probe_s = 6, probe_most_s = 60;

/* ---- the list ---- */

static int list_ports(void)
{
	struct wire_port ports[PORTS_MAX];
	struct buf rows = BUF_INIT, out = BUF_INIT;
	struct err err;
	int n = wire_ports(ports, PORTS_MAX, &err), status;

	if (n < 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	if (n == 0) {
		complain("ports: no serial port found; a bridge or another pseudo-terminal is not "
		         "listed, but can be used by its name");
		return EXIT_NOT_YET;
	}
	for (int i = 0; i < n; i++)
		buf_addf(&rows, "%s\t%s\t%s\t\n", ports[i].name,
		         ports[i].description[0] ? ports[i].description : "-",
		         ports[i].by_id[0] ? ports[i].by_id : "-");
	align_columns(&out, &rows, "lll");
	out.failed |= rows.failed;
	status = output_flush(&out);
	buf_release(&rows);
	buf_release(&out);
	return status;
}

/* ---- the probe ---- */

static int64_t now_ms(void)
{
	struct timespec t;

	(void)clock_gettime(CLOCK_MONOTONIC, &t);
	return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static void print_reading(const struct reading *r)
{
	static const int decimals[READING_QUANTITIES] = { 2, 4, 3, 3, 3, 2 };
	struct buf out = BUF_INIT;

	for (int q = 0; q < READING_QUANTITIES; q++) {
		const struct reading_value *at = &r->at[q];
		const char *unit = reading_quantity_unit((enum reading_quantity)q);

		if (at->state == VALUE_NONE)
			continue;
		buf_adds(&out, out.len ? ", " : "  ");
		if (q == READING_POWER_FACTOR)
			buf_adds(&out, "power factor ");
		if (at->state == VALUE_OK || at->state == VALUE_DERIVED)
			add_number(&out, at->value, decimals[q]);
		else
			buf_adds(&out, at->state == VALUE_OVER ? "over range" : "no number");
		buf_addf(&out, "%s%s%s", *unit ? " " : "", unit,
		         at->state == VALUE_DERIVED ? " (worked out)" : "");
	}
	buf_addf(&out, "\n    raw: %s\n", r->raw);
	(void)output_flush(&out);
	buf_release(&out);
}

/* Try the meter on its port.  True: readings came and make sense. */
static bool probe_port(const struct meter_config *config, double seconds)
{
	int64_t end_ms = now_ms() + (int64_t)(seconds * 1000);
	char text[METER_ADVICE_MAX], state[METER_TROUBLE_MAX];
	struct buf out = BUF_INIT;
	struct reading r, last;
	struct meter *m;
	struct err err;
	int shown = 0;
	bool good;

	buf_addf(&out, "%s on %s, %d baud %d%c%d", meter_protocol_word(config->protocol),
	         config->wire.name, config->wire.baud, config->wire.data_bits, config->wire.parity,
	         config->wire.stop_bits);
	if (config->protocol == METER_MODBUS)
		buf_addf(&out, ", unit %u", config->unit);
	buf_adds(&out, "\n");
	(void)output_flush(&out);
	buf_release(&out);
	m = meter_open(config, NULL, now_ms(), &err);
	if (!m) {
		complain("ports: %s", err.text);
		return false;
	}
	while (shown < READINGS_SHOWN && now_ms() < end_ms &&
	       meter_health(m)->state != METER_LOST) {
		struct pollfd p = { .fd = meter_fd(m), .events = POLLIN };
		int64_t now = now_ms();
		int64_t wait = (meter_due(m) < end_ms ? meter_due(m) : end_ms) - now;

		(void)poll(&p, p.fd >= 0 ? 1 : 0, wait < 0 ? 0 : (int)wait);
		meter_step(m, p.revents, now_ms());
		while (shown < READINGS_SHOWN && meter_next(m, &r)) {
			print_reading(&r);
			last = r;
			shown++;
		}
	}
	meter_describe(m, now_ms(), state);
	good = meter_advice(config, meter_health(m), shown ? &last : NULL, text);
	if (shown == 0 && meter_health(m)->heard[0])
		buf_addf(&out, "    heard: %s\n", meter_health(m)->heard);
	buf_addf(&out, "  (%s)\n  %s\n", state, text);
	(void)output_flush(&out);
	buf_release(&out);
	meter_close(m);
	return good;
}

static int probe_all(struct bench_setup *bench, double seconds)
{
	struct wire_port ports[PORTS_MAX];
	struct err err;
	bool good = false;
	int n = wire_ports(ports, PORTS_MAX, &err);

	if (n < 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	if (n == 0)
		complain("ports: no serial port found; name one: --meter %s:PORT",
		         meter_protocol_word(bench->meter.protocol));
	for (int i = 0; i < n; i++) {
		strcpy(bench->meter.wire.name, ports[i].name);
		good |= probe_port(&bench->meter, seconds);
	}
	return good ? EXIT_DONE : EXIT_NOT_YET;
}

static int probe(const struct option_words *meters, double seconds)
{
	struct bench_setup bench;
	struct complaints c;
	int rc;

	complaints_init(&c, "bench.ini");
	rc = bench_gather(meters->list, (size_t)meters->n, &bench, NULL, &c);
	complain_all(&c);
	complaints_release(&c);
	if (rc < 0)
		return EXIT_USAGE;
	if (!bench.has_meter) {
		complain("ports: nothing to probe with: no [meter] in bench.ini and no --meter, as "
		         "in --meter modbus:/dev/ttyUSB0,9600,8N1,1");
		return EXIT_USAGE;
	}
	if (bench.meter.wire.name[0])
		return probe_port(&bench.meter, seconds) ? EXIT_DONE : EXIT_NOT_YET;
	return probe_all(&bench, seconds);
}

int cmd_ports(int argc, char **argv)
{
	struct option_words meters = { .most = 16 };
	double seconds = 0; /* not given */
	struct option_number time = { .to = &seconds, .unit = UNIT_SECOND, .least = 0.1,
		.most = probe_most_s };
	bool probing = false;
	const struct option_row rows[] = {
		{ "probe", NULL, take_flag, &probing, "try the meter" },
		{ "meter", "SPEC", take_words, &meters,
		  "PROTOCOL:PORT[,BAUD[,FRAMING[,UNIT]]], PROTOCOL modbus, scpi or text, as in "
		  "modbus:/dev/ttyUSB0,9600,8N1,1; or the path of a bench file (NAME.ini); may be "
		  "given again, later ones go over earlier ones. Without it: "
		  "$XDG_CONFIG_HOME/mainstair/bench.ini" },
		{ "seconds", "N", take_number, &time, "how long to try on a port (6 s)" },
	};
	const struct command_usage usage = {
		.synopsis = "ports [--probe [--meter SPEC]... [--seconds N]]",
		.about = "The serial ports of this machine. With --probe: ask the meter of the "
			"bench file for a few readings, show them with the bytes they came in, and "
			"say in plain words what is wrong.",
		.after = "A bench file without a port is tried on every port there is. Nothing is "
			"written to a meter but its queries (SCPI: also the setup command of the "
			"bench file).\n"
			"Exit status: 0 done; with --probe, readings came and make sense. 1 there "
			"is no port, or the meter is not right yet. 2 bad usage or input.",
		.rows = rows, .n_rows = sizeof rows / sizeof rows[0],
		.least = 0, .most = 0, .wanted = "no operand was expected; name a port with --meter",
	};
	int status = options_read(&usage, argc, argv, NULL);

	if (status != OPTIONS_READ)
		return status;
	if (!probing && (meters.n > 0 || seconds > 0)) {
		complain("ports: --meter and --seconds go with --probe");
		return EXIT_USAGE;
	}
	return probing ? probe(&meters, seconds > 0 ? seconds : probe_s) : list_ports();
}
