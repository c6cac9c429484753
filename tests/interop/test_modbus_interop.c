/*
 * Against libmodbus, over a pair of pseudo-terminals: our master and its slave, its master and
 * our slave (the one the virtual bench speaks with).
 */
#include <criterion/criterion.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <modbus.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "bench/talk.h"
#include "interop/modbus_peer.h"
#include "io/meter.h"
#include "io/wire_ends.h"
#include "lib/pty_relay.h"

static struct pty_relay cable;
static pid_t peer = -1;

static void begin(void)
{
	cr_assert(pty_relay_open(&cable, 0, 10) == 0);
}

static void end(void)
{
	modbus_peer_end(peer);
	pty_relay_close(&cable);
}

TestSuite(modbus_interop, .timeout = 60, .init = begin, .fini = end);

static int64_t now_ms(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* Run a meter until it has given n readings or ms have passed.  How many came. */
static int run(struct meter *m, int n, int ms, struct reading *last)
{
	int64_t until = now_ms() + ms;
	int got = 0;

	while (got < n && now_ms() < until) {
		struct pollfd p = { .fd = meter_fd(m), .events = POLLIN };
		int64_t wait = meter_due(m) - now_ms();

		poll(&p, p.fd >= 0, wait < 0 ? 0 : wait > 50 ? 50 : (int)wait);
		meter_step(m, p.revents, now_ms());
		while (meter_next(m, last))
			got++;
	}
	return got;
}

static struct modbus_map map_at(uint16_t first, enum modbus_order order)
{
	struct modbus_map map = { 0 };

	for (int q = READING_VOLTS; q <= READING_WATTS; q++)
		map.at[q] = (struct modbus_register){ true, MODBUS_READ_INPUT,
			(uint16_t)(first + 2 * q), MODBUS_F32, order, 1 };
	return map;
}

static struct meter *open_meter(const struct modbus_map *map, bool serial, int unit)
{
	struct meter_config c;
	struct meter *m;
	struct err err;

	meter_config_default(&c, METER_MODBUS);
	strcpy(c.wire.name, serial ? cable.a.serial_name : cable.a.link);
	c.period_ms = 0;
	c.unit = (uint8_t)unit;
	c.modbus = *map;
	m = meter_open(&c, serial ? wire_serial_open : wire_open, now_ms(), &err);
	cr_assert(m && meter_health(m)->state == METER_STARTING);
	return m;
}

/* READING_VOLTS, AMPS, WATTS are 0, 1, 2: what map_at() builds on. */
_Static_assert(READING_VOLTS == 0 && READING_AMPS == 1 && READING_WATTS == 2, "order");

Test(modbus_interop, our_master_their_slave_in_every_word_order)
{
	static const uint16_t first[] = { PEER_ABCD, PEER_CDAB, PEER_BADC, PEER_DCBA };

	peer = modbus_peer_start(cable.b.slave, 9600, 1);
	for (int order = MODBUS_ABCD; order <= MODBUS_DCBA; order++) {
		struct modbus_map map = map_at(first[order], (enum modbus_order)order);
		/* in turn through termios and through the real libserialport */
		struct meter *m = open_meter(&map, order % 2 != 0, 1);
		struct reading r;

		cr_assert(run(m, 20, 10000, &r) >= 20, "%s", meter_health(m)->trouble);
		cr_assert((float)reading_get(&r, READING_VOLTS) == PEER_VOLTS);
		cr_assert((float)reading_get(&r, READING_AMPS) == PEER_AMPS);
		cr_assert((float)reading_get(&r, READING_WATTS) == PEER_WATTS);
		cr_assert(meter_health(m)->suspicion[0] == 0);
		cr_assert(meter_health(m)->count.crc_errors == 0);
		meter_close(m);
	}
}

Test(modbus_interop, wrong_order_is_suspected)
{
	struct modbus_map map = map_at(PEER_CDAB, MODBUS_ABCD);
	struct meter *m;
	struct reading r;

	peer = modbus_peer_start(cable.b.slave, 9600, 1);
	m = open_meter(&map, false, 1);
	cr_assert(run(m, 1, 5000, &r) == 1);
	cr_assert(strstr(meter_health(m)->suspicion, "try cdab"), "%s", meter_health(m)->suspicion);
	meter_close(m);
}

static void at(struct modbus_map *map, enum reading_quantity q, const char *text)
{
	struct err err;

	cr_assert(modbus_register_parse(text, 0, &map->at[q], &err) == 0);
}

Test(modbus_interop, holding_integers_and_an_address_that_is_not_there)
{
	struct modbus_map map = { 0 };
	struct meter *m;
	struct reading r;

	peer = modbus_peer_start(cable.b.slave, 9600, 17);
	at(&map, READING_VOLTS, "holding 0 u16 x 0.1");
	at(&map, READING_AMPS, "holding 1 u16 x 0.001");
	at(&map, READING_WATTS, "holding 2 s16 x 0.1");
	at(&map, READING_HERTZ, "holding 400 u16");
	m = open_meter(&map, true, 17);
	cr_assert(run(m, 2, 10000, &r) >= 2, "%s", meter_health(m)->trouble);
	cr_assert(fabs(reading_get(&r, READING_VOLTS) - 117.2) < 1e-9);
	cr_assert(fabs(reading_get(&r, READING_AMPS) - 0.241) < 1e-9);
	cr_assert(fabs(reading_get(&r, READING_WATTS) - 26.9) < 1e-9);
	cr_assert(r.at[READING_HERTZ].state == VALUE_NONE);
	cr_assert(meter_health(m)->exception == MODBUS_ILLEGAL_ADDRESS);
	meter_close(m);
}

Test(modbus_interop, their_slave_under_another_unit_is_silent)
{
	struct modbus_map map = map_at(PEER_ABCD, MODBUS_ABCD);
	struct meter *m;
	struct reading r;

	peer = modbus_peer_start(cable.b.slave, 9600, 5);
	m = open_meter(&map, false, 6);
	cr_assert(run(m, 1, 2500, &r) == 0);
	cr_assert(meter_health(m)->count.timeouts >= 1);
	meter_close(m);
}

/* ---- our slave ---- */

static struct reading bench_values(void)
{
	struct reading r;

	reading_clear(&r);
	reading_set(&r, READING_VOLTS, (double)PEER_VOLTS);
	reading_set(&r, READING_AMPS, (double)PEER_AMPS);
	reading_set(&r, READING_WATTS, (double)PEER_WATTS);
	reading_set(&r, READING_POWER_FACTOR, 0.5);
	return r;
}

static void serve(const char *port)
{
	static struct talk talk;
	struct reading r = bench_values();
	int fd = open(port, O_RDWR | O_NOCTTY | O_NONBLOCK);

	talk_init(&talk, TALK_MODBUS, 9, 1, 1, 0.001 * (double)now_ms());
	talk_reading(&talk, &r);
	for (;;) {
		struct pollfd p = { .fd = fd, .events = POLLIN };
		uint8_t bytes[512];
		double now;
		ssize_t n;

		poll(&p, 1, 1);
		now = 0.001 * (double)now_ms();
		n = read(fd, bytes, sizeof bytes);
		talk_hear(&talk, bytes, n > 0 ? (size_t)n : 0, now);
		n = (ssize_t)talk_say(&talk, now, bytes, sizeof bytes);
		if (n > 0 && write(fd, bytes, (size_t)n) != n)
			_exit(1);
	}
}

static pid_t our_slave(const char *port)
{
	pid_t child = fork();

	if (child == 0) {
		prctl(PR_SET_PDEATHSIG, SIGKILL);
		serve(port);
	}
	return child;
}

Test(modbus_interop, their_master_our_slave)
{
	modbus_t *ctx = modbus_new_rtu(cable.a.slave, 9600, 'N', 8, 1);
	uint16_t r[MODBUS_MAX_READ_REGISTERS];

	peer = our_slave(cable.b.slave);
	cr_assert(ctx && modbus_set_slave(ctx, 9) == 0 && modbus_connect(ctx) == 0);
	modbus_set_response_timeout(ctx, 2, 0);
	for (int i = 0; i < 50; i++) {
		memset(r, 0, sizeof r);
		cr_assert(modbus_read_input_registers(ctx, 0, 12, r) == 12, "%s",
		          modbus_strerror(errno));
		cr_assert(modbus_get_float_abcd(r) == PEER_VOLTS);
		cr_assert(modbus_get_float_abcd(r + 2) == PEER_AMPS);
		cr_assert(modbus_get_float_abcd(r + 4) == PEER_WATTS);
	}
	/* holding registers hold the same; part of the map too */
	cr_assert(modbus_read_registers(ctx, 4, 2, r) == 2);
	cr_assert(modbus_get_float_abcd(r) == PEER_WATTS);
	/* what it does not have is refused with the standard's codes */
	cr_assert(modbus_read_input_registers(ctx, 500, 2, r) == -1 && errno == EMBXILADD);
	cr_assert(modbus_write_register(ctx, 0, 1) == -1 && errno == EMBXILFUN);
	cr_assert(modbus_read_input_registers(ctx, 0, 2, r) == 2);
	modbus_close(ctx);
	modbus_free(ctx);
}
