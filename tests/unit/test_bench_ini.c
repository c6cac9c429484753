/* Bench files: the templates, every key, every fault in its own words, and --meter over them. */
#include <criterion/criterion.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/bench_ini.h"

static struct bench_setup bench;
static struct complaints c;
static struct buf told = BUF_INIT;

static void release(void)
{
	buf_release(&told);
}

TestSuite(bench_ini, .timeout = 20, .fini = release);

/* Parse; the complaints are in told.data. */
static int parse(const char *text)
{
	int rc;

	complaints_init(&c, "bench.ini");
	rc = bench_parse_text(text, strlen(text), &bench, &c);
	buf_clear(&told);
	complaints_print(&c, &told);
	complaints_release(&c);
	return rc;
}

static void template(const char *name)
{
	char path[4096];

	/* beside the tests: profiles/bench/ */
	snprintf(path, sizeof path, "%s/../profiles/bench/%s", getenv("MAINSTAIR_TESTS"), name);
	complaints_init(&c, path);
	if (bench_ini_read(path, &bench, NULL, &c) < 0) {
		complaints_print(&c, &told);
		cr_assert(false, "%s", told.data);
	}
	complaints_release(&c);
	cr_assert(bench.has_meter);
	cr_assert(!bench.meter.own_map);
	cr_assert(bench.line_volts == 120 && bench.isolation == BENCH_NO);
	cr_assert(isnan(bench.lamp_watts));
}

/* What the templates say is what the virtual bench speaks. */
Test(bench_ini, modbus_template)
{
	template("modbus.ini");
	cr_assert(bench.meter.protocol == METER_MODBUS);
	for (int q = 0; q < READING_QUANTITIES; q++) {
		const struct modbus_register *a = &bench.meter.modbus.at[q];
		const struct modbus_register *b = &modbus_map_default.at[q];

		cr_assert(a->present && a->function == b->function && a->address == b->address);
		cr_assert(a->type == b->type && a->order == b->order && a->scale == b->scale);
	}
	cr_assert(bench.meter.accuracy.reading_share == 0.01);
	cr_assert(fabs(bench.meter.accuracy.offset_watts - 0.205) < 1e-9);
	cr_assert(bench.meter.period_ms == 500 && bench.meter.timeout_ms == 500);
}

Test(bench_ini, scpi_template)
{
	template("scpi.ini");
	cr_assert(bench.meter.protocol == METER_SCPI);
	for (int q = 0; q < READING_QUANTITIES; q++) {
		cr_assert_str_eq(bench.meter.scpi.query[q], scpi_map_default.query[q]);
		cr_assert(bench.meter.scpi.scale[q] == 1);
	}
	cr_assert_str_eq(bench.meter.scpi.setup, scpi_map_default.setup);
	cr_assert_str_eq(bench.meter.scpi.error_query, scpi_map_default.error_query);
	/* 0.1 % of 300 W and half of 0.01 W */
	cr_assert(fabs(bench.meter.accuracy.offset_watts - 0.305) < 1e-9);
	cr_assert(bench.meter.accuracy.reading_share == 0.002);
}

Test(bench_ini, text_template)
{
	template("text.ini");
	cr_assert(bench.meter.protocol == METER_TEXT);
	cr_assert(bench.meter.text.separator == ',' && !bench.meter.text.labelled);
	cr_assert(bench.meter.text.n_fields == line_text_map_default.n_fields);
	cr_assert(memcmp(bench.meter.text.fields, line_text_map_default.fields,
	                 3 * sizeof(int)) == 0);
	cr_assert(bench.meter.wire.baud == 115200);
}

Test(bench_ini, every_key)
{
	cr_assert(parse("[meter]\n"
	                "protocol = MODBUS ; comment\n"
	                "port = /dev/serial/by-id/usb-x-if00-port0\n"
	                "baud = 19200\n"
	                "framing = 8E1\n"
	                "handshake = rts-cts\n"
	                "address = 17\n"
	                "first_register = 1\n"
	                "span = 4\n"
	                "period = 200 ms\n"
	                "timeout = 0.3\n"
	                "watch = 10 s\n"
	                "accuracy = 0.5 % of reading + 0.1 % of range + 2 counts + 0.05 W\n"
	                "range = 2.3 kW\n"
	                "resolution = 100 mW\n"
	                "volts = holding 1 u16 x 0.1\n"
	                "watts = holding 0x0003 s32 cdab x -0.01\n"
	                "[line]\nvolts = 230 V\nhertz = 50\nisolation = yes\n"
	                "[lamp]\nwatts = 60\nvolts = 230\n") == 0, "%s", told.data);
	cr_assert(bench.meter.wire.baud == 19200 && bench.meter.wire.parity == 'E');
	cr_assert(bench.meter.wire.handshake && bench.meter.unit == 17 && bench.meter.span == 4);
	cr_assert(bench.meter.period_ms == 200 && bench.meter.timeout_ms == 300);
	cr_assert(bench.meter.watch_s == 10);
	cr_assert(bench.meter.modbus.at[READING_VOLTS].address == 0);
	cr_assert(bench.meter.modbus.at[READING_WATTS].address == 2);
	cr_assert(bench.meter.modbus.at[READING_WATTS].scale == -0.01);
	cr_assert(!bench.meter.modbus.at[READING_AMPS].present);
	cr_assert(fabs(bench.meter.accuracy.reading_share - 0.005) < 1e-12);
	cr_assert(fabs(bench.meter.accuracy.offset_watts - (2.3 + 0.2 + 0.05 + 0.05)) < 1e-9);
	cr_assert(bench.line_volts == 230 && bench.line_hertz == 50);
	cr_assert(bench.isolation == BENCH_YES);
	cr_assert(bench.lamp_watts == 60 && bench.lamp_volts == 230);
}

Test(bench_ini, text_and_scpi_forms)
{
	cr_assert(parse("[meter]\nprotocol = text\nseparator = blank\nvolts = U\namps = I x 0.001\n"
	                "watts = P\n") == 0, "%s", told.data);
	cr_assert(bench.meter.text.labelled && bench.meter.text.separator == ' ');
	cr_assert_str_eq(bench.meter.text.label[READING_AMPS], "I");
	cr_assert(bench.meter.text.scale[READING_AMPS] == 0.001);

	cr_assert(parse("[meter]\nprotocol = text\nseparator = semicolon\ndecimal = comma\n"
	                "check_sum = xor\nfields = -, volts, amps x 0.001, -, watts\n") == 0);
	cr_assert(bench.meter.text.n_fields == 5 && bench.meter.text.fields[3] == -1);
	cr_assert(bench.meter.text.fields[2] == READING_AMPS && bench.meter.text.check_sum);

	cr_assert(parse("[meter]\nprotocol = scpi\nquery = FETC?\nfields = watts, -, volts x 0.1\n"
	                "setup = none\nerror_query = none\n") == 0, "%s", told.data);
	cr_assert_str_eq(bench.meter.scpi.query_all, "FETC?");
	cr_assert(bench.meter.scpi.n_fields == 3 && bench.meter.scpi.scale[READING_VOLTS] == 0.1);
	cr_assert(bench.meter.scpi.setup[0] == 0 && bench.meter.scpi.error_query[0] == 0);

	cr_assert(parse("[meter]\nprotocol = scpi\nwatts = MEAS:POW? (@1) x 1000\n") == 0);
	cr_assert_str_eq(bench.meter.scpi.query[READING_WATTS], "MEAS:POW? (@1)");
	cr_assert(bench.meter.scpi.scale[READING_WATTS] == 1000);
	cr_assert(parse("[line]\nvolts = 117\n") == 0 && !bench.has_meter);
	cr_assert(parse("") == 0 && !bench.has_meter);
}

#define MODBUS "[meter]\nprotocol = modbus\nwatts = input 4 float32\n"
#define SCPI "[meter]\nprotocol = scpi\nwatts = P?\n"
#define TEXT "[meter]\nprotocol = text\nfields = volts, watts\n"

Test(bench_ini, faults)
{
	static const struct {
		const char *text, *expect;
	} rows[] = {
	        {"[meter]\nport = /dev/ttyS0\n", "bench.ini:1: [meter] protocol: is missing"},
	        {"[meter]\nprotocol = canbus\n",
	         "bench.ini:2: [meter] protocol: 'canbus' is none of"},
	        {"[meter]\nprotocol = modbus\n", "nothing says where the readings are"},
	        {MODBUS "volt = input 0 u16\n",
	         "bench.ini:4: [meter] volt: no such key; did you mean "
	         "`volts`?"},
	        {MODBUS "fields = volts\n", "means nothing to a modbus meter"},
	        {SCPI "address = 1\n", "means nothing to a scpi meter"},
	        {TEXT "period = 1 s\n", "means nothing to a text meter"},
	        {MODBUS "port = ttyUSB0\n", "whole path"},
	        {MODBUS "baud = fast\n", "no baud rate"},
	        {MODBUS "framing = 8N\n", "no framing"},
	        {MODBUS "handshake = maybe\n", "none of: none, rts-cts"},
	        {MODBUS "address = 0\n", "outside 1 to 247"},
	        {MODBUS "address = 1.5\n", "whole number"},
	        {MODBUS "first_register = 2\n", "outside 0 to 1"},
	        {MODBUS "period = 1 V\n", "[meter] period"},
	        {MODBUS "period = -1 s\n", "[meter] period"},
	        {MODBUS "timeout = 1 ms\n", "[meter] timeout"},
	        {MODBUS "watch = 0.1 s\n", "[meter] watch"},
	        {MODBUS "volts = coil 3 u16\n", "input or holding"},
	        {MODBUS "accuracy = good\n", "is no accuracy"},
	        {MODBUS "accuracy = 1 % + 1 %\n", "say of what"},
	        {MODBUS "accuracy = 1 % of range\n", "needs the key range"},
	        {MODBUS "accuracy = 1 % + 2 counts\n", "need the key resolution"},
	        {MODBUS "accuracy = -1 %\n", "is no accuracy"},
	        {MODBUS "accuracy = 99 %\n", "is no accuracy"},
	        {MODBUS "accuracy = 1 %  +\n", "is no accuracy"},
	        {MODBUS "accuracy = 0,5 %\n", "is no accuracy"},
	        {MODBUS "resolution = 0\n", "[meter] resolution"},
	        {MODBUS "baud = 9600\nbaud = 9600\n", "bench.ini:5:"},
	        {SCPI "query = F?\n", "belong together"},
	        {SCPI "query = F?\nfields = watts\n", "not both"},
	        {"[meter]\nprotocol = scpi\nfields = watts\n", "belong together"},
	        {SCPI "volts = \xc3\xa4?\n", "plain ASCII"},
	        {SCPI "volts = V? x 0\n", "between 1e-9 and 1e9"},
	        {TEXT "watts = P\n", "not both"},
	        {"[meter]\nprotocol = text\nfields = volts, volts\n", "volts twice"},
	        {"[meter]\nprotocol = text\nfields = volts, ohms\n", "no field"},
	        {"[meter]\nprotocol = text\nfields = volts,\n", "between two commas"},
	        {"[meter]\nprotocol = text\nwatts = P W\n", "is no label"},
	        {TEXT "decimal = comma\n", "needs another separator"},
	        {TEXT "separator = |\n", "none of: comma"},
	        {TEXT "check_sum = crc\n", "none of: none, xor"},
	        {"[line]\nvolts = 12\n", "outside 80 V to 300 V"},
	        {"[line]\nisolation = perhaps\n", "none of: yes, no"},
	        {"[line]\nohms = 3\n", "no such key"},
	        {"[lamp]\nwatts = 1\n", "[lamp] watts"},
	        {"[lamp]\nwatts = 60\n", "volts are missing"},
	        {"[lamp]\nseries_lamp = 60\n", "as 60 W 120 V"},
	        {"[lamp]\nseries_lamp = 60 W 120 W\n", "as 60 W 120 V"},
	        {"[lamp]\nseries_lamp = 60 W 120 V\nwatts = 40\n", "given twice"},
	        {"[line]\nseries_lamp = 60 W 120 V\n[lamp]\nwatts = 60\nvolts = 120\n",
	         "given twice"},
	        {"[lamp]\nmeter = beside\n", "none of: behind, ahead"},
	        {"[meters]\n", "did you mean `meter`?"},
	        {"[meter two]\nprotocol = text\n", "no such section"},
	        {"protocol = text\n", "bench.ini:1"},
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		cr_assert(parse(rows[i].text) == -1, "%s", rows[i].text);
		cr_assert(strstr(told.data, rows[i].expect), "%s: %s", rows[i].text, told.data);
	}
}

Test(bench_ini, all_faults_at_once)
{
	cr_assert(parse("[meter]\nprotocol = modbus\nbaud = x\nframing = y\nwatts = z\n[what]\n") ==
	          -1);
	cr_assert(strstr(told.data, "bench.ini:3:") && strstr(told.data, "bench.ini:4:"));
	cr_assert(strstr(told.data, "bench.ini:5:") && strstr(told.data, "bench.ini:6:"));
}

/* ---- which bench a command gets ---- */

static char home[64];

static void write_file(const char *name, const char *text)
{
	char path[256];
	int fd;

	snprintf(path, sizeof path, "%s/%s", home, name);
	fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
	cr_assert(fd >= 0 && write(fd, text, strlen(text)) == (ssize_t)strlen(text));
	close(fd);
}

static void make_home(void)
{
	char path[128];

	strcpy(home, "/tmp/mainstair-home-XXXXXX");
	cr_assert(mkdtemp(home) != NULL);
	snprintf(path, sizeof path, "%s/mainstair", home);
	cr_assert(mkdir(path, 0700) == 0);
	setenv("XDG_CONFIG_HOME", home, 1);
}

static void remove_home(void)
{
	char path[128];

	release();

	static const char *const files[] = { "mainstair/bench.ini", "other.ini", "mainstair", "" };
	for (size_t i = 0; i < 4; i++) {
		snprintf(path, sizeof path, "%s/%s", home, files[i]);
		(void)remove(path);
	}
}

static int find(const char *const *meters, size_t n)
{
	int rc;

	complaints_init(&c, "?");
	rc = bench_find(meters, n, &bench, NULL, &c);
	buf_clear(&told);
	complaints_print(&c, &told);
	complaints_release(&c);
	return rc;
}

Test(bench_ini, finding, .init = make_home, .fini = remove_home)
{
	char other[128];
	struct buf text;

	/* nothing there: no meter, and that is fine */
	cr_assert(find(NULL, 0) == 0 && !bench.has_meter);
	/* a spec alone: the default map of its protocol */
	cr_assert(find((const char *const[]){ "modbus:/dev/pts/7" }, 1) == 0, "%s", told.data);
	cr_assert(bench.has_meter && bench.meter.own_map);

	write_file("mainstair/bench.ini", "[meter]\nprotocol = modbus\nport = /dev/ttyUSB0\n"
	           "address = 3\nwatts = holding 9 u16\n");
	cr_assert(find(NULL, 0) == 0 && bench.has_meter && bench.meter.unit == 3);
	/* a spec over it keeps the map */
	cr_assert(find((const char *const[]){ "modbus:/dev/pts/7" }, 1) == 0);
	cr_assert(bench.meter.modbus.at[READING_WATTS].address == 9 && !bench.meter.own_map);
	cr_assert_str_eq(bench.meter.wire.name, "/dev/pts/7");
	/* of another protocol it does not */
	cr_assert(find((const char *const[]){ "text:/dev/pts/7" }, 1) == 0);
	cr_assert(bench.meter.protocol == METER_TEXT && bench.meter.own_map);
	cr_assert(find((const char *const[]){ "none" }, 1) == 0 && !bench.has_meter);

	/* another file, and a port over that */
	write_file("other.ini", "[meter]\nprotocol = scpi\nwatts = P?\n");
	snprintf(other, sizeof other, "%s/other.ini", home);
	cr_assert(find((const char *const[]){ other }, 1) == -1);
	cr_assert(strstr(told.data, "no --meter names one"), "%s", told.data);
	complaints_init(&c, "?");
	cr_assert(bench_gather((const char *const[]){ other }, 1, &bench, NULL, &c) == 0);
	complaints_release(&c);
	cr_assert(bench.has_meter && bench.meter.wire.name[0] == 0); /* to be tried on every port */
	cr_assert(find((const char *const[]){ other, "scpi:/dev/pts/8,115200" }, 2) == 0);
	cr_assert_str_eq(bench.meter.scpi.query[READING_WATTS], "P?");
	cr_assert(bench.meter.wire.baud == 115200);

	/* the text that counted, for the record */
	complaints_init(&c, "?");
	buf_init(&text);
	cr_assert(bench_find((const char *const[]){ other, "scpi:/dev/pts/8" }, 2, &bench, &text,
	                     &c) == 0);
	cr_assert_str_eq(text.data, "[meter]\nprotocol = scpi\nwatts = P?\n");
	buf_release(&text);
	complaints_release(&c);

	/* faults name the file they are in */
	write_file("mainstair/bench.ini", "[meter]\nprotocol = tape\n");
	cr_assert(find(NULL, 0) == -1);
	cr_assert(strstr(told.data, "mainstair/bench.ini:2: [meter] protocol"), "%s", told.data);
	write_file("mainstair/bench.ini", "[line]\nvolts = 230\n");
	cr_assert(find((const char *const[]){ "nonsense" }, 1) == -1);
	cr_assert(strstr(told.data, "--meter: 'nonsense' is no meter"), "%s", told.data);
	cr_assert(find((const char *const[]){ "/nowhere/x.ini" }, 1) == -1);
	write_file("other.ini", "[line]\nvolts = 230\n");
	cr_assert(find((const char *const[]){ other }, 1) == -1);
	cr_assert(strstr(told.data, "there is no meter in this bench file"), "%s", told.data);
}

Test(bench_ini, path)
{
	char path[256], tiny[8];
	struct err err;

	setenv("XDG_CONFIG_HOME", "/c", 1);
	setenv("HOME", "/h", 1);
	cr_assert(bench_path(path, sizeof path, &err) == 0);
	cr_assert_str_eq(path, "/c/mainstair/bench.ini");
	setenv("XDG_CONFIG_HOME", "relative", 1);
	cr_assert(bench_path(path, sizeof path, &err) == 0);
	cr_assert_str_eq(path, "/h/.config/mainstair/bench.ini");
	cr_assert(bench_path(tiny, sizeof tiny, &err) == -1);
	unsetenv("XDG_CONFIG_HOME");
	unsetenv("HOME");
	cr_assert(bench_path(path, sizeof path, &err) == -1);
}

Test(bench_ini, a_series_lamp_as_it_is_marked)
{
	static const char *const texts[] = {
		"[line]\nseries_lamp = 60 W 120 V\n", "[lamp]\nseries_lamp = 120 V 60 W\n",
		"[lamp]\nwatts = 60\nvolts = 120\nmeter = behind\n",
	};

	for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
		cr_assert(parse(texts[i]) == 0, "%s", told.data);
		cr_assert(bench.lamp_watts == 60 && bench.lamp_volts == 120);
	}
}
