/* The meter's state machines on a fake line and a fake clock: every kind of trouble, by hand. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "io/meter.h"
#include "lib/fake_line.h"

static struct meter_config config;
static struct meter *meter;
static struct reading readings[256];
static size_t n_readings;
static int64_t heard_at; /* device: when the request in `heard` was whole */
static uint8_t heard[512];
static size_t n_heard;

static void take(const struct reading *r)
{
	if (n_readings < 256)
		readings[n_readings] = *r;
	n_readings++;
}

static void begin(void)
{
	fake_line_init();
	n_readings = n_heard = 0;
	heard_at = 0;
}

static void end(void)
{
	meter_close(meter);
	meter = NULL;
}

TestSuite(meter, .timeout = 60, .init = begin, .fini = end);

static void open_meter(enum meter_protocol protocol, fake_device *device)
{
	struct err err;

	meter_config_default(&config, protocol);
	strcpy(config.wire.name, "/dev/ttyFAKE");
	fake_line.device = device;
	meter = meter_open(&config, fake_line_open, fake_line.now_ms, &err);
	cr_assert(meter != NULL);
}

static void run(int64_t ms)
{
	fake_line_run(meter, ms, take);
}

static const struct meter_counters *count(void)
{
	return &meter_health(meter)->count;
}

/* ---- a Modbus slave that can misbehave ---- */

static struct {
	int delay_ms;
	int late_ms;       /* the next answer only comes so late */
	int spoil;         /* the next so many answers have a bad CRC */
	int cut;           /* the next so many answers lack their last byte */
	bool echo, glitch, twice, other_unit;
	uint8_t refuse;    /* exception to everything */
	uint16_t refuse_from; /* exception 2 from this register on; 0: none */
	double volts;
	int requests;
} slave;

static void put_registers(uint16_t registers[12])
{
	struct modbus_bank bank = { 0, 12, registers };
	struct reading r;

	memset(registers, 0, 24);
	reading_clear(&r);
	reading_set(&r, READING_VOLTS, slave.volts);
	reading_set(&r, READING_AMPS, 0.25);
	reading_set(&r, READING_WATTS, 25);
	reading_set(&r, READING_VA, 29.5);
	reading_set(&r, READING_POWER_FACTOR, 0.85);
	reading_set(&r, READING_HERTZ, 60);
	modbus_map_write(&modbus_map_default, &bank, registers, &r);
}

static void send_all(int fd, const void *bytes, size_t n)
{
	cr_assert(write(fd, bytes, n) == (ssize_t)n);
}

static void slave_answer(int fd, const struct modbus_query *query)
{
	uint16_t registers[12];
	struct modbus_bank bank = { 0, 12, registers };
	uint8_t out[MODBUS_FRAME_MAX];
	size_t n;

	put_registers(registers);
	if (slave.refuse)
		n = modbus_encode_exception(query->unit, query->function, slave.refuse, out);
	else if (slave.refuse_from && query->address >= slave.refuse_from)
		n = modbus_encode_exception(query->unit, query->function, MODBUS_ILLEGAL_ADDRESS,
		                            out);
	else
		n = modbus_serve(query, &bank, out);
	if (slave.spoil > 0) {
		slave.spoil--;
		out[4] ^= 0x10;
	}
	if (slave.cut > 0) {
		slave.cut--;
		n--;
	}
	if (slave.other_unit) {
		struct modbus_query other = *query;

		other.unit++;
		n = modbus_serve(&other, &bank, out);
	}
	if (slave.glitch)
		send_all(fd, "\0", 1);
	send_all(fd, out, n);
	if (slave.twice)
		send_all(fd, out, n);
	if (slave.glitch)
		send_all(fd, "\xff", 1);
}

static void modbus_slave(int fd, int64_t now_ms)
{
	ssize_t n = read(fd, heard + n_heard, sizeof heard - n_heard);
	struct modbus_query query;
	size_t used;

	if (n > 0) {
		if (slave.echo)
			send_all(fd, heard + n_heard, (size_t)n);
		n_heard += (size_t)n;
		heard_at = now_ms;
	}
	if (n_heard == 0 || now_ms < heard_at + slave.delay_ms + slave.late_ms)
		return;
	if (modbus_slave_take(1, heard, n_heard, true, &query, &used) == MODBUS_SLAVE_SERVE) {
		slave.requests++;
		slave.late_ms = 0;
		slave_answer(fd, &query);
	}
	n_heard -= used;
	memmove(heard, heard + used, n_heard);
}

static void slave_reset(void)
{
	memset(&slave, 0, sizeof slave);
	slave.delay_ms = 5;
	slave.volts = 118;
}

Test(meter, modbus_reads_at_its_period)
{
	slave_reset();
	open_meter(METER_MODBUS, modbus_slave);
	cr_assert(meter_health(meter)->state == METER_STARTING);
	run(5000);
	cr_assert(n_readings == 10, "%zu", n_readings);
	cr_assert(slave.requests == 10); /* one block of registers, one request a reading */
	cr_assert(readings[3].from == FROM_MODBUS);
	cr_assert(reading_get(&readings[3], READING_VOLTS) == 118);
	cr_assert(reading_get(&readings[3], READING_WATTS) == 25);
	cr_assert(readings[4].t_ms - readings[3].t_ms == 500);
	cr_assert(strncmp(readings[3].raw, "01 04 18 42 ec 00 00", 20) == 0, "%s", readings[3].raw);
	cr_assert(meter_health(meter)->state == METER_READING);
	cr_assert(count()->readings == 10 && count()->timeouts == 0 && count()->resyncs == 0);
	cr_assert(meter_health(meter)->trouble[0] == 0);
	cr_assert(fake_line.now_ms - meter_health(meter)->last_ms < 500);
}

Test(meter, modbus_as_fast_as_the_line)
{
	slave_reset();
	meter_config_default(&config, METER_MODBUS);
	config.period_ms = 0;
	fake_line.device = modbus_slave;
	struct err err;
	meter = meter_open(&config, fake_line_open, fake_line.now_ms, &err);
	run(1100);
	/* answers take no time on this line: 5 ms for the slave, 5 for the gap */
	cr_assert(n_readings >= 95 && n_readings <= 111, "%zu", n_readings);
}

Test(meter, modbus_crc_error_is_counted_and_asked_again)
{
	slave_reset();
	slave.spoil = 2;
	open_meter(METER_MODBUS, modbus_slave);
	run(480);
	cr_assert(n_readings == 1);
	cr_assert(count()->crc_errors == 2 && count()->timeouts == 0);
	cr_assert(strstr(meter_health(meter)->trouble, "CRC error"));
}

Test(meter, modbus_cut_answer)
{
	slave_reset();
	slave.cut = 1;
	open_meter(METER_MODBUS, modbus_slave);
	run(480);
	cr_assert(n_readings == 1);
	cr_assert(count()->garbled == 1);
	cr_assert(strstr(meter_health(meter)->trouble, "cut short"));
}

Test(meter, modbus_echo_and_glitches)
{
	slave_reset();
	slave.echo = true;
	open_meter(METER_MODBUS, modbus_slave);
	run(5000);
	cr_assert(n_readings == 10);
	cr_assert(count()->resyncs == 0); /* an echo is no trouble */
	slave.echo = false;
	slave.glitch = true;
	run(5000);
	cr_assert(n_readings == 20, "%zu", n_readings);
	cr_assert(count()->resyncs >= 10 && count()->timeouts == 0);
}

Test(meter, modbus_two_answers_are_none)
{
	slave_reset();
	slave.twice = true;
	open_meter(METER_MODBUS, modbus_slave);
	run(5000);
	cr_assert(n_readings == 0);
	cr_assert(count()->resyncs > 0);
	cr_assert(meter_health(meter)->state == METER_SILENT);
	slave.twice = false;
	run(3000);
	cr_assert(n_readings > 0 && meter_health(meter)->state == METER_READING);
}

Test(meter, modbus_late_answer_is_never_taken_for_the_next)
{
	slave_reset();
	open_meter(METER_MODBUS, modbus_slave);
	run(1000);
	cr_assert(n_readings == 2);
	/* 550 ms late: after the time-out, into the time when the next question would be out */
	slave.late_ms = 580;
	slave.volts = 90;
	run(600);
	slave.volts = 117;
	run(5000);
	cr_assert(count()->timeouts == 1 && count()->late == 1, "%lu %lu", count()->timeouts,
	          count()->late);
	/* patience was called for, and no longer is */
	cr_assert(meter_health(meter)->timeout_ms == 500);
	for (size_t i = 2; i < n_readings; i++)
		cr_assert(reading_get(&readings[i], READING_VOLTS) == 117, "%zu", i);
	cr_assert(n_readings > 8);
}

Test(meter, modbus_slow_meter_is_waited_for)
{
	slave_reset();
	slave.delay_ms = 900;
	open_meter(METER_MODBUS, modbus_slave);
	run(30000);
	cr_assert(n_readings > 15, "%zu", n_readings);
	cr_assert(meter_health(meter)->timeout_ms == 1000);
	cr_assert(meter_health(meter)->state == METER_READING);
}

Test(meter, modbus_silence)
{
	open_meter(METER_MODBUS, NULL);
	run(10000);
	cr_assert(n_readings == 0);
	cr_assert(meter_health(meter)->state == METER_SILENT);
	cr_assert(count()->timeouts >= 3);
	cr_assert(strstr(meter_health(meter)->trouble, "no answer from unit 1"));
}

Test(meter, modbus_other_unit)
{
	slave_reset();
	slave.other_unit = true;
	open_meter(METER_MODBUS, modbus_slave);
	run(5000);
	cr_assert(n_readings == 0 && count()->garbled > 0);
	cr_assert_str_eq(meter_health(meter)->trouble, "unit 2 answers, and unit 1 was asked");
	cr_assert(meter_health(meter)->other_unit == 2);
}

Test(meter, modbus_exceptions)
{
	slave_reset();
	slave.refuse = MODBUS_ILLEGAL_ADDRESS;
	open_meter(METER_MODBUS, modbus_slave);
	run(5000);
	cr_assert(n_readings == 0);
	cr_assert(count()->exceptions == 10 && count()->timeouts == 0);
	cr_assert(meter_health(meter)->exception == 2);
	cr_assert(strstr(meter_health(meter)->trouble, "illegal data address"));
	cr_assert(meter_health(meter)->state == METER_SILENT);
	/* busy is no reading either, but passes */
	slave.refuse = MODBUS_BUSY;
	run(1000);
	slave.refuse = 0;
	run(1000);
	cr_assert(n_readings >= 1 && meter_health(meter)->state == METER_READING);
}

Test(meter, modbus_meter_without_power_factor)
{
	struct err err;

	slave_reset();
	slave.refuse_from = 8;
	meter_config_default(&config, METER_MODBUS);
	config.modbus.at[READING_VA].present = false; /* a gap: power factor is asked by itself */
	fake_line.device = modbus_slave;
	meter = meter_open(&config, fake_line_open, fake_line.now_ms, &err);
	run(3000);
	cr_assert(n_readings == 6);
	cr_assert(reading_get(&readings[5], READING_WATTS) == 25);
	/* worked out instead, and marked so */
	cr_assert(readings[5].at[READING_POWER_FACTOR].state == VALUE_DERIVED);
	cr_assert(readings[5].at[READING_HERTZ].state == VALUE_NONE);
	cr_assert(count()->exceptions == 6);
}

Test(meter, modbus_wrong_word_order_is_suspected)
{
	struct err err;

	slave_reset();
	meter_config_default(&config, METER_MODBUS);
	for (int q = 0; q < READING_QUANTITIES; q++)
		config.modbus.at[q].order = MODBUS_CDAB;
	fake_line.device = modbus_slave;
	meter = meter_open(&config, fake_line_open, fake_line.now_ms, &err);
	run(600);
	cr_assert(strstr(meter_health(meter)->suspicion, "try abcd"));
}

Test(meter, unplugged_and_back)
{
	slave_reset();
	open_meter(METER_MODBUS, modbus_slave);
	run(2000);
	cr_assert(n_readings == 4 && fake_line.opened == 1);
	fake_line_unplug();
	run(10);
	cr_assert(meter_health(meter)->state == METER_LOST);
	cr_assert(meter_fd(meter) == -1);
	run(5000);
	cr_assert(fake_line.opened >= 5 && fake_line.opened <= 7); /* once a second */
	cr_assert(n_readings == 4);
	cr_assert(strstr(meter_health(meter)->trouble, "there is no port"));
	n_heard = 0;
	fake_line.plugged = true;
	run(2000);
	cr_assert(n_readings >= 6);
	cr_assert(count()->unplugged == 1 && count()->reopened == 1);
	cr_assert(meter_health(meter)->state == METER_READING);
}

Test(meter, a_port_that_is_not_there_yet)
{
	slave_reset();
	fake_line.plugged = false;
	open_meter(METER_MODBUS, modbus_slave);
	cr_assert(meter_health(meter)->state == METER_LOST);
	run(3000);
	fake_line.plugged = true;
	run(2000);
	cr_assert(n_readings > 0);
	cr_assert(count()->unplugged == 0 && count()->reopened == 0);
}

/* ---- SCPI ---- */

static struct scpi_device instrument;
static struct reading shown;
static int scpi_delay_ms;
static char commands[4096];

static void scpi_instrument(int fd, int64_t now_ms)
{
	ssize_t n = read(fd, heard + n_heard, sizeof heard - n_heard);
	char out[512];

	if (n > 0) {
		n_heard += (size_t)n;
		heard_at = now_ms;
		if (strlen(commands) + (size_t)n < sizeof commands)
			strncat(commands, (char *)heard + n_heard - n, (size_t)n);
	}
	if (n_heard == 0 || now_ms < heard_at + scpi_delay_ms)
		return;
	send_all(fd, out, scpi_device_input(&instrument, heard, n_heard, &shown, out, sizeof out));
	n_heard = 0;
}

static void instrument_reset(void)
{
	instrument = (struct scpi_device){ .commands = scpi_commands_default,
		.n_commands = scpi_n_commands_default, .identity = "mainstair,test,0,1" };
	reading_clear(&shown);
	reading_set(&shown, READING_VOLTS, 117.5);
	reading_set(&shown, READING_AMPS, 0.25);
	reading_set(&shown, READING_WATTS, 26);
	scpi_delay_ms = 3;
	commands[0] = 0;
}

Test(meter, scpi_reads)
{
	instrument_reset();
	open_meter(METER_SCPI, scpi_instrument);
	run(2950);
	cr_assert(n_readings == 6, "%zu", n_readings);
	cr_assert(readings[5].from == FROM_SCPI);
	cr_assert(reading_get(&readings[5], READING_VOLTS) == 117.5);
	cr_assert(reading_get(&readings[5], READING_WATTS) == 26);
	cr_assert(fabs(reading_get(&readings[5], READING_POWER_FACTOR) - 26 / 29.375) < 1e-9);
	cr_assert_str_eq(readings[5].raw, "+1.175000E+02 | +2.500000E-01 | +2.600000E+01");
	cr_assert(strncmp(commands, "*CLS\nMEASure:VOLTage:AC?\n", 25) == 0, "%s", commands);
	cr_assert(count()->timeouts == 0 && count()->garbled == 0 && count()->resyncs == 0);
	/* over range is told as such */
	reading_set(&shown, READING_WATTS, INFINITY);
	run(1000);
	cr_assert(readings[n_readings - 1].at[READING_WATTS].state == VALUE_OVER);
}

Test(meter, scpi_unknown_query_is_given_up_and_the_rest_goes_on)
{
	struct err err;

	instrument_reset();
	meter_config_default(&config, METER_SCPI);
	strcpy(config.scpi.query[READING_HERTZ], "FREQ:MAINS?");
	fake_line.device = scpi_instrument;
	meter = meter_open(&config, fake_line_open, fake_line.now_ms, &err);
	run(12000);
	cr_assert(n_readings > 10);
	cr_assert(reading_get(&readings[0], READING_WATTS) == 26);
	cr_assert(readings[0].at[READING_HERTZ].state == VALUE_NONE);
	cr_assert(count()->timeouts == 3 && count()->exceptions == 3);
	cr_assert(meter_health(meter)->scpi_error == -113);
	cr_assert(strstr(meter_health(meter)->trouble, "\"Undefined header\" (after FREQ:MAINS?)"));
}

Test(meter, scpi_late_answer_is_never_taken_for_the_next)
{
	instrument_reset();
	open_meter(METER_SCPI, scpi_instrument);
	run(1000);
	scpi_delay_ms = 700; /* volts would arrive when amps are asked for */
	run(20000);
	scpi_delay_ms = 3;
	run(3000);
	cr_assert(count()->late >= 1 && count()->timeouts >= 1);
	cr_assert(n_readings > 4);
	for (size_t i = 0; i < n_readings; i++) {
		cr_assert(reading_get(&readings[i], READING_VOLTS) == 117.5);
		cr_assert(reading_get(&readings[i], READING_AMPS) == 0.25);
		cr_assert(reading_get(&readings[i], READING_WATTS) == 26);
	}
}

static void chatterbox(int fd, int64_t now_ms)
{
	char in[64];

	while (read(fd, in, sizeof in) > 0) {
	}
	if (now_ms % 100 == 0)
		send_all(fd, "117.2,0.25,26.0\r\n", 17);
}

Test(meter, wrong_protocols_bring_no_reading)
{
	open_meter(METER_MODBUS, chatterbox);
	run(20000);
	cr_assert(n_readings == 0 && meter_health(meter)->state == METER_SILENT);
	meter_close(meter);
	open_meter(METER_SCPI, chatterbox);
	run(20000);
	cr_assert(n_readings == 0 && meter_health(meter)->state == METER_SILENT);
}

Test(meter, scpi_one_query_for_all)
{
	struct err err;

	instrument_reset();
	static const struct scpi_command all[] = { { "FETCh?", READING_VOLTS, SCPI_NR2, 1 } };
	instrument.commands = all;
	instrument.n_commands = 1;
	meter_config_default(&config, METER_SCPI);
	config.scpi = (struct scpi_map){ .query_all = "FETC?", .scale = { 1, 1, 1, 1, 1, 1 },
		.fields = { READING_VOLTS }, .n_fields = 1 };
	fake_line.device = scpi_instrument;
	meter = meter_open(&config, fake_line_open, fake_line.now_ms, &err);
	run(2000);
	cr_assert(n_readings == 4 && reading_get(&readings[0], READING_VOLTS) == 117.5);
}

/* ---- text ---- */

static void text_sender(int fd, int64_t now_ms)
{
	static const char *const lines[] = { "117.2,0.25,26.0\r\n", "# hello\r\n", "117.2,0.25\r\n",
		                             "\r\n", "118,0.26,27\n" };

	if (now_ms % 20 == 0)
		send_all(fd, lines[now_ms / 20 % 5], strlen(lines[now_ms / 20 % 5]));
}

Test(meter, text_lines)
{
	open_meter(METER_TEXT, text_sender);
	run(1000);
	/* two good lines of five; the first line heard may be cut and is passed over */
	cr_assert(n_readings >= 19 && n_readings <= 20, "%zu", n_readings);
	cr_assert(readings[1].from == FROM_TEXT);
	cr_assert(count()->garbled == 10 || count()->garbled == 9);
	cr_assert(strstr(meter_health(meter)->trouble, "2 fields instead of 3: 117.2,0.25"));
	fake_line.device = NULL;
	run(16000);
	cr_assert(count()->timeouts == 3 && meter_health(meter)->state == METER_SILENT);
	fake_line.device = text_sender;
	run(500);
	cr_assert(meter_health(meter)->state == METER_READING);
}

/* Nobody looks for a while, and lines come in. */
Test(meter, lines_of_a_time_that_was_missed_are_old)
{
	static const char old[] = "230.0,1,230\n230.0,1,230\n230.0,1,2";

	open_meter(METER_TEXT, text_sender);
	run(1000);
	n_readings = 0;
	send_all(fake_line.fd, old, strlen(old));
	fake_line.now_ms += 60000;
	meter_missed(meter, fake_line.now_ms);
	run(1000);
	cr_assert(n_readings >= 18, "%zu", n_readings);
	for (size_t i = 0; i < n_readings; i++)
		cr_assert(reading_get(&readings[i], READING_VOLTS) < 200);
	cr_assert(count()->timeouts == 0);
}

/* The answer to a question of before is not taken for one to the next question. */
Test(meter, an_answer_of_a_time_that_was_missed_is_old)
{
	slave_reset();
	open_meter(METER_MODBUS, modbus_slave);
	run(3000);
	cr_assert(n_readings > 3);
	slave.delay_ms = 100;
	int asked = slave.requests;
	while (n_heard == 0)
		run(1);
	cr_assert(slave.requests == asked);
	n_readings = 0;
	slave.volts = 230;
	for (int i = 0; i < 101; i++) /* it answers while nobody looks */
		modbus_slave(fake_line.fd, ++fake_line.now_ms);
	cr_assert(slave.requests == asked + 1);
	slave.volts = 100;
	fake_line.now_ms += 60000;
	meter_missed(meter, fake_line.now_ms);
	run(3000);
	cr_assert(n_readings > 2);
	for (size_t i = 0; i < n_readings; i++)
		cr_assert(reading_get(&readings[i], READING_VOLTS) < 200);
}

static int lines_sent;
static void fast_sender(int fd, int64_t now_ms)
{
	char line[64];
	int n = snprintf(line, sizeof line, "%d,1,1\n", lines_sent % 300);

	(void)now_ms;
	if (lines_sent < 5000 && write(fd, line, (size_t)n) == n)
		lines_sent++;
}

Test(meter, readings_that_nobody_takes_wait)
{
	lines_sent = 0;
	open_meter(METER_TEXT, fast_sender);
	fake_line_run(meter, 3000, NULL); /* the app is busy: nobody takes a reading */
	cr_assert(count()->readings == 16, "%lu", count()->readings);
	cr_assert(meter_fd(meter) == -1);
	run(6000); /* a full socket held the sender up, too */
	cr_assert(lines_sent == 5000);
	cr_assert(n_readings == 4999, "%zu", n_readings); /* all but the first, perhaps cut, one */
	for (size_t i = 0; i < 256; i++)
		cr_assert(reading_get(&readings[i], READING_VOLTS) == (double)((i + 1) % 300));
	cr_assert(count()->timeouts == 0 && count()->garbled == 0);
}

/* ---- configuration ---- */

Test(meter, specs)
{
	struct meter_config c;
	struct err err;

	meter_config_default(&c, METER_TEXT);
	cr_assert(meter_parse_spec("modbus:/dev/ttyUSB0,19200,8E1,17", &c, &err) == 0);
	cr_assert(c.protocol == METER_MODBUS && c.wire.baud == 19200 && c.unit == 17);
	cr_assert(c.wire.parity == 'E' && c.wire.stop_bits == 1 && c.wire.data_bits == 8);
	cr_assert_str_eq(c.wire.name, "/dev/ttyUSB0");
	cr_assert(c.modbus.at[READING_WATTS].address == 4 && c.own_map);
	/* what the spec leaves out stays as the bench file has it, if it is of that protocol */
	c.modbus.at[READING_WATTS].address = 99;
	cr_assert(meter_parse_spec("Modbus:/dev/pts/3", &c, &err) == 0);
	cr_assert(c.unit == 17 && c.wire.baud == 19200 && c.modbus.at[READING_WATTS].address == 99);
	cr_assert(meter_parse_spec("scpi:/dev/ttyS0,115200", &c, &err) == 0);
	cr_assert(c.protocol == METER_SCPI && c.wire.baud == 115200 && c.unit == 1);
	cr_assert(meter_parse_spec("text:/dev/serial/by-id/usb-X_Y:1.0-if00", &c, &err) == 0);
	cr_assert_str_eq(c.wire.name, "/dev/serial/by-id/usb-X_Y:1.0-if00");
}

Test(meter, bad_specs)
{
	static const struct {
		const char *spec, *expect;
	} rows[] = {
	        {"", "is no meter"},
	        {"modbus", "is no meter"},
	        {"/dev/ttyUSB0", "is no meter"},
	        {"canbus:/dev/ttyUSB0", "is no meter"},
	        {":/dev/ttyUSB0", "is no meter"},
	        {"modbus:", "names no port"},
	        {"modbus:,9600", "names no port"},
	        {"modbus:/dev/ttyUSB0,fast", "no baud rate"},
	        {"modbus:/dev/ttyUSB0,0", "no baud rate"},
	        {"modbus:/dev/ttyUSB0,99999999999", "no baud rate"},
	        {"modbus:/dev/ttyUSB0,9600,9N1", "no framing"},
	        {"modbus:/dev/ttyUSB0,9600,8N1,0", "1 to 247"},
	        {"modbus:/dev/ttyUSB0,9600,8N1,248", "1 to 247"},
	        {"modbus:/dev/ttyUSB0,9600,8N1,1,2", "goes on"},
	        {"text:/dev/ttyUSB0,9600,8N1,1", "only Modbus"},
	        {"modbus:/dev/\x1b[2J,x", "no baud rate"},
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct meter_config c, before;
		struct err err;

		meter_config_default(&c, METER_SCPI);
		before = c;
		cr_assert(meter_parse_spec(rows[i].spec, &c, &err) == -1, "%s", rows[i].spec);
		cr_assert(strstr(err.text, rows[i].expect), "%s: %s", rows[i].spec, err.text);
		cr_assert(!strchr(err.text, '\x1b'));
		cr_assert(memcmp(&c, &before, sizeof c) == 0);
	}
}

Test(meter, maps_with_nothing_in_them)
{
	struct meter_config c;
	struct err err;

	meter_config_default(&c, METER_MODBUS);
	memset(&c.modbus, 0, sizeof c.modbus);
	cr_assert(meter_open(&c, fake_line_open, 0, &err) == NULL);
	cr_assert(strstr(err.text, "no register"));
	meter_config_default(&c, METER_SCPI);
	memset(&c.scpi, 0, sizeof c.scpi);
	cr_assert(meter_open(&c, fake_line_open, 0, &err) == NULL);
	meter_config_default(&c, METER_TEXT);
	memset(&c.text, 0, sizeof c.text);
	cr_assert(meter_open(&c, fake_line_open, 0, &err) == NULL);
	cr_assert(fake_line.opened == 0);
}

Test(meter, description)
{
	char text[METER_TROUBLE_MAX];

	slave_reset();
	slave.spoil = 1;
	open_meter(METER_MODBUS, modbus_slave);
	meter_describe(meter, fake_line.now_ms, text);
	cr_assert_str_eq(text, "no reading yet");
	run(500);
	meter_describe(meter, readings[0].t_ms + 1200, text);
	cr_assert_str_eq(text, "reading, last 1.2 s ago, CRC errors 1");
}
