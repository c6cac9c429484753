/* mainstair ports - serial ports, and what answers on them */
#include "cli/commands.h"

#include <getopt.h>
#include <math.h>
#include <poll.h>
#include <stdbool.h>
#include <string.h>
#include <time.h>

#include "cli/output.h"
#include "io/bench_ini.h"
#include "mainstair/base/num.h"

static const char usage[] =
	"usage: mainstair ports [--probe [--meter SPEC]... [--seconds N]]\n"
	"\n"
	"The serial ports of this machine. With --probe: ask the meter of the bench file for a\n"
	"few readings, show them with the bytes they came in, and say in plain words what is\n"
	"wrong.\n"
	"\n"
	"  --probe          try the meter\n"
	"  --meter SPEC     PROTOCOL:PORT[,BAUD[,FRAMING[,UNIT]]], PROTOCOL modbus, scpi or text,\n"
	"                   as in modbus:/dev/ttyUSB0,9600,8N1,1; or the path of a bench file\n"
	"                   (NAME.ini); may be given again, later ones go over earlier ones.\n"
	"                   Without it: $XDG_CONFIG_HOME/mainstair/bench.ini\n"
	"  --seconds N      how long to try on a port (6; up to 60)\n"
	"\n"
	"A bench file without a port is tried on every port there is. Nothing is written to a\n"
	"meter but its queries (SCPI: also the setup command of the bench file).\n"
	"Exit status: 0 done; with --probe, readings came and make sense. 1 there is no port,\n"
	"or the meter is not right yet. 2 bad usage or input.\n";

enum { PORTS_MAX = 64, METERS_MAX = 16, READINGS_SHOWN = 3, EXIT_NOT_YET = 1 };

struct ports_options {
	bool probe;
	double seconds;
	const char *meters[METERS_MAX];
	size_t n_meters;
};

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

static int probe(const struct ports_options *o)
{
	struct bench_setup bench;
	struct complaints c;
	int rc;

	complaints_init(&c, "bench.ini");
	rc = bench_gather(o->meters, o->n_meters, &bench, NULL, &c);
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
		return probe_port(&bench.meter, o->seconds) ? EXIT_DONE : EXIT_NOT_YET;
	return probe_all(&bench, o->seconds);
}

static int parse_seconds(const char *text, double *ret)
{
	struct quantity q;
	struct err err;

	if (num_parse(text, UNIT_SECOND, &q, &err) < 0) {
		complain("ports: --seconds: %s", err.text);
		return -1;
	}
	if (!(q.value >= 0.1 && q.value <= 60)) {
		complain("ports: --seconds: 0.1 to 60");
		return -1;
	}
	*ret = q.value;
	return 0;
}

int cmd_ports(int argc, char **argv)
{
	static const struct option options[] = {
		{ "probe", no_argument, NULL, 'p' },
		{ "meter", required_argument, NULL, 'm' },
		{ "seconds", required_argument, NULL, 's' },
		{ "help", no_argument, NULL, 'h' },
		{ NULL, 0, NULL, 0 },
	};
	struct ports_options o = { .seconds = 6 };
	bool needs_probe = false;
	int option;

	opterr = 0;
	optind = 0;
	while ((option = getopt_long(argc, argv, ":h", options, NULL)) != -1) {
		switch (option) {
		case 'p':
			o.probe = true;
			break;
		case 'm':
			if (o.n_meters == METERS_MAX) {
				complain("ports: --meter more than %d times", METERS_MAX);
				return EXIT_USAGE;
			}
			o.meters[o.n_meters++] = optarg;
			needs_probe = true;
			break;
		case 's':
			if (parse_seconds(optarg, &o.seconds) < 0)
				return EXIT_USAGE;
			needs_probe = true;
			break;
		case 'h':
			return output_text(usage);
		default:
			complain_option(option, argv);
			return EXIT_USAGE;
		}
	}
	if (optind < argc) {
		complain("ports: '%s' was not expected; name a port with --meter", argv[optind]);
		return EXIT_USAGE;
	}
	if (needs_probe && !o.probe) {
		complain("ports: --meter and --seconds go with --probe");
		return EXIT_USAGE;
	}
	return o.probe ? probe(&o) : list_ports();
}
