/*
 * Poll rate on Modbus RTU at 9600 8N1: ours and libmodbus' master in the same run, against the same
 * slave (libmodbus) at the other end of a cable that carries one character in 10/9600 s.
 *
 * The wire allows: 8 characters of request, 25 of answer (10 registers), a silence of 3.5
 * characters after each.  libmodbus' slave answers without its silence, so the stricter
 * figure with one silence alone is told beside it.  Wanted: 95 % at least of the stricter one.
 */
#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include <modbus.h>

#include "interop/modbus_peer.h"
#include "io/meter.h"
#include "lib/pty_relay.h"

enum { BAUD = 9600, BITS = 10, REGISTERS = 10, POLLS = 300, WARM_UP = 10 };

static double now_s(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double processor_s(void)
{
	struct rusage u;

	getrusage(RUSAGE_SELF, &u);
	return (double)(u.ru_utime.tv_sec + u.ru_stime.tv_sec) +
	       1e-6 * (double)(u.ru_utime.tv_usec + u.ru_stime.tv_usec);
}

/* Readings a second of our meter, as the loop runs it; 0: it failed. */
static double ours(const char *port, double *ret_processor_share)
{
	struct meter_config c;
	struct reading r;
	struct meter *m;
	struct err err;
	double begun = 0, begun_processor = 0;
	int n = 0;

	meter_config_default(&c, METER_MODBUS);
	strcpy(c.wire.name, port);
	c.period_ms = 0;
	/* volts, amps, watts, and one more at 8: registers 0 to 9 in one request */
	c.span = 2;
	c.modbus.at[READING_VA].present = c.modbus.at[READING_POWER_FACTOR].present = false;
	c.modbus.at[READING_HERTZ].address = 8;
	m = meter_open(&c, NULL, (int64_t)(now_s() * 1000), &err);
	if (!m)
		return 0;
	while (n < WARM_UP + POLLS) {
		struct pollfd p = { .fd = meter_fd(m), .events = POLLIN };
		double wait = (double)meter_due(m) / 1000 - now_s();
		struct timespec t = { 0 };

		if (wait > 0) {
			t.tv_sec = (time_t)wait;
			t.tv_nsec = (long)((wait - (double)t.tv_sec) * 1e9);
		}
		ppoll(&p, p.fd >= 0, &t, NULL);
		meter_step(m, p.revents, (int64_t)(now_s() * 1000));
		while (meter_next(m, &r)) {
			if (++n == WARM_UP) {
				begun = now_s();
				begun_processor = processor_s();
			}
		}
		if (meter_health(m)->count.timeouts > 5)
			break;
	}
	double rate = POLLS / (now_s() - begun);
	*ret_processor_share = (processor_s() - begun_processor) / (now_s() - begun);
	if (meter_health(m)->count.readings < WARM_UP + POLLS)
		rate = 0;
	meter_close(m);
	return rate;
}

static double theirs(const char *port)
{
	modbus_t *ctx = modbus_new_rtu(port, BAUD, 'N', 8, 1);
	uint16_t registers[REGISTERS];
	double begun = 0;

	if (!ctx || modbus_set_slave(ctx, 1) < 0 || modbus_connect(ctx) < 0)
		return 0;
	modbus_set_response_timeout(ctx, 2, 0);
	for (int i = 0; i < WARM_UP + POLLS; i++) {
		if (i == WARM_UP)
			begun = now_s();
		if (modbus_read_input_registers(ctx, 0, REGISTERS, registers) != REGISTERS) {
			fprintf(stderr, "libmodbus: %s\n", modbus_strerror(errno));
			return 0;
		}
	}
	double rate = POLLS / (now_s() - begun);
	modbus_close(ctx);
	modbus_free(ctx);
	return rate;
}

int main(void)
{
	const double character_s = (double)BITS / BAUD;
	const double characters = 8 + 5 + 2 * REGISTERS;
	struct pty_relay cable;
	double share = 0;

	if (pty_relay_open(&cable, BAUD, BITS) < 0) {
		perror("pseudo-terminals");
		return 1;
	}
	pid_t peer = modbus_peer_start(cable.b.slave, BAUD, 1);
	double mine = ours(cable.a.slave, &share);
	double its = theirs(cable.a.slave);
	double two_gaps = 1 / (character_s * (characters + 7));
	double one_gap = 1 / (character_s * (characters + 3.5));

	printf("9600 8N1, function 4, %d registers, %d polls each\n", REGISTERS, POLLS);
	printf("the wire allows            %6.2f polls/s (two silences), %.2f (one)\n", two_gaps,
	       one_gap);
	printf("mainstair                  %6.2f polls/s: %.1f %%, %.1f %%; %.2f %% of a core\n",
	       mine, 100 * mine / two_gaps, 100 * mine / one_gap, 100 * share);
	printf("libmodbus (no silence)     %6.2f polls/s: %.1f %%, %.1f %%\n", its,
	       100 * its / two_gaps, 100 * its / one_gap);
	modbus_peer_end(peer);
	pty_relay_close(&cable);
	return mine >= 0.95 * one_gap ? 0 : 1;
}
