/*
 * The serial line itself: both openers on pseudo-terminals (libserialport's own through the
 * modem-line shim), binary bytes, stale input, locking, hang-up, a name that moves.
 */
#include <criterion/criterion.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include "io/meter.h"
#include "io/wire_ends.h"
#include "lib/pty_pair.h"

static struct pty_pair pair;

static void begin(void)
{
	cr_assert(pty_pair_open(&pair) == 0);
}

static void end(void)
{
	pty_pair_close(&pair);
}

TestSuite(wire, .timeout = 20, .init = begin, .fini = end);

static struct wire_settings settings(const char *name)
{
	struct wire_settings s = { .baud = 9600, .data_bits = 8, .parity = 'N', .stop_bits = 1 };

	strcpy(s.name, name);
	return s;
}

/* The two openers, each under the name that it takes. */
static const struct {
	const char *what;
	wire_opener *open;
	bool serial;
} openers[] = { { "termios", wire_pty_open, false }, { "libserialport", wire_serial_open, true } };
enum { OPENERS = 2 };

static struct wire *open_by(int i, struct err *err)
{
	struct wire_settings s = settings(openers[i].serial ? pair.serial_name : pair.slave);
	struct wire *w = NULL;

	return openers[i].open(&s, &w, err) == 0 ? w : NULL;
}

static bool readable(int fd, int ms)
{
	struct pollfd p = { .fd = fd, .events = POLLIN };

	return poll(&p, 1, ms) > 0;
}

Test(wire, libserialport_refuses_without_help_and_wire_open_does_not)
{
	struct wire_settings s = settings(pair.slave);
	struct wire *w = NULL;
	struct err err;

	cr_assert(wire_serial_open(&s, &w, &err) == -1);
	cr_assert(wire_open(&s, &w, &err) == 0, "%s", err.text);
	wire_close(w);
	s = settings(pair.link);
	cr_assert(wire_open(&s, &w, &err) == 0, "%s", err.text);
	wire_close(w);
}

Test(wire, every_byte_both_ways)
{
	for (int i = 0; i < OPENERS; i++) {
		uint8_t out[256], in[600];
		struct err err = { 0 };
		struct wire *w = open_by(i, &err);
		size_t got = 0;

		cr_assert(w != NULL, "%s: %s", openers[i].what, err.text);
		for (int k = 0; k < 256; k++)
			out[k] = (uint8_t)k;
		cr_assert(wire_read(w, in, sizeof in) == 0);
		/* 03 11 13 ff 00 0d 0a among them: signals, XON/XOFF, line editing */
		cr_assert(write(pair.master, out, 256) == 256);
		while (got < 256 && readable(wire_fd(w), 2000)) {
			ssize_t n = wire_read(w, in + got, sizeof in - got);

			cr_assert(n >= 0);
			got += (size_t)n;
		}
		cr_assert(got == 256 && memcmp(in, out, 256) == 0, "%s: %zu", openers[i].what, got);
		cr_assert(wire_write(w, out, 256) == 256);
		for (got = 0; got < 256 && readable(pair.master, 2000); ) {
			ssize_t n = read(pair.master, in + got, sizeof in - got);

			cr_assert(n > 0);
			got += (size_t)n;
		}
		cr_assert(got == 256 && memcmp(in, out, 256) == 0, "%s: %zu", openers[i].what, got);
		wire_close(w);
	}
}

Test(wire, stale_input_is_thrown_away)
{
	for (int i = 0; i < OPENERS; i++) {
		char in[64];
		struct err err;
		struct wire *w;

		cr_assert(write(pair.master, "stale\n", 6) == 6);
		w = open_by(i, &err);
		cr_assert(w != NULL);
		cr_assert(!readable(wire_fd(w), 50), "%s", openers[i].what);
		cr_assert(wire_read(w, in, sizeof in) == 0);
		wire_close(w);
	}
}

Test(wire, one_program_a_port)
{
	for (int i = 0; i < OPENERS; i++) {
		struct err err = { 0 };
		struct wire *w = open_by(i, &err), *second;

		cr_assert(w != NULL);
		for (int k = 0; k < OPENERS; k++) {
			second = open_by(k, &err);
			cr_assert(second == NULL);
			cr_assert(strstr(err.text, "in use by another program"), "%s", err.text);
		}
		wire_close(w);
		w = open_by(i, &err);
		cr_assert(w != NULL, "%s", err.text);
		wire_close(w);
	}
}

Test(wire, settings_that_libserialport_leaves_undone)
{
	for (int i = 0; i < OPENERS; i++) {
		struct termios t;
		struct err err;
		struct wire *w;

		/* someone before us wanted a hardware handshake */
		cr_assert(tcgetattr(pair.held, &t) == 0);
		t.c_cflag |= CRTSCTS | HUPCL;
		t.c_iflag |= IXON | IXOFF;
		cr_assert(tcsetattr(pair.held, TCSANOW, &t) == 0);
		w = open_by(i, &err);
		cr_assert(w != NULL);
		cr_assert(tcgetattr(wire_fd(w), &t) == 0);
		cr_assert(!(t.c_cflag & (CRTSCTS | HUPCL)), "%s", openers[i].what);
		cr_assert(!(t.c_iflag & (IXON | IXOFF | ICRNL | INLCR | ISTRIP)));
		cr_assert(!(t.c_lflag & (ECHO | ICANON | ISIG)));
		cr_assert(fcntl(wire_fd(w), F_GETFL) & O_NONBLOCK);
		cr_assert(fcntl(wire_fd(w), F_GETFD) & FD_CLOEXEC);
		wire_close(w);
	}
}

Test(wire, baud_rate_reaches_the_terminal)
{
	struct wire_settings s = settings(pair.serial_name);
	struct wire *w = NULL;
	struct termios t;
	struct err err;

	s.baud = 19200;
	s.handshake = true;
	cr_assert(wire_serial_open(&s, &w, &err) == 0, "%s", err.text);
	cr_assert(tcgetattr(wire_fd(w), &t) == 0);
	cr_assert(cfgetospeed(&t) == B19200 && cfgetispeed(&t) == B19200);
	cr_assert(t.c_cflag & CRTSCTS);
	wire_close(w);
}

Test(wire, hang_up_is_not_silence)
{
	for (int i = 0; i < OPENERS; i++) {
		char in[16];
		struct err err;
		struct wire *w = open_by(i, &err);

		cr_assert(w != NULL);
		cr_assert(wire_read(w, in, sizeof in) == 0); /* silence */
		pty_pair_unplug(&pair);
		cr_assert(readable(wire_fd(w), 2000));
		cr_assert(wire_read(w, in, sizeof in) == WIRE_GONE, "%s", openers[i].what);
		cr_assert(wire_write(w, "x", 1) == WIRE_GONE, "%s", openers[i].what);
		wire_close(w);
		pty_pair_close(&pair);
		cr_assert(pty_pair_open(&pair) == 0);
	}
}

/* What pulling a USB adapter does to the tty; needs root. */
Test(wire, kernel_hang_up)
{
	for (int i = 0; i < OPENERS; i++) {
		char in[16];
		struct err err;
		struct wire *w = open_by(i, &err);

		cr_assert(w != NULL);
		cr_assert(write(pair.master, "left", 4) == 4);
		if (ioctl(wire_fd(w), TIOCVHANGUP) < 0) {
			cr_assert(errno == EPERM);
			wire_close(w);
			cr_skip_test("not root: the kernel lets no one else hang up a terminal");
		}
		/* the bytes may be lost; what must not happen is silence for ever */
		while (wire_read(w, in, sizeof in) > 0) {
		}
		cr_assert(wire_read(w, in, sizeof in) == WIRE_GONE, "%s", openers[i].what);
		wire_close(w);
		pty_pair_close(&pair);
		cr_assert(pty_pair_open(&pair) == 0);
	}
}

Test(wire, full_output_is_later_not_gone)
{
	for (int i = 0; i < OPENERS; i++) {
		char block[4096];
		struct err err;
		struct wire *w = open_by(i, &err);
		ssize_t n;
		int rounds = 0;

		cr_assert(w != NULL);
		memset(block, 'x', sizeof block);
		do {
			n = wire_write(w, block, sizeof block);
			cr_assert(n >= 0);
		} while (n > 0 && ++rounds < 100);
		cr_assert(n == 0 && rounds < 100);
		wire_close(w);
	}
}

Test(wire, refusals_say_what_to_do)
{
	struct wire_settings s = settings("/dev/ttyNOTHERE");
	struct wire *w = NULL;
	struct err err;

	cr_assert(wire_open(&s, &w, &err) == -1 && err.code == ERR_SYSTEM);
	cr_assert_str_eq(err.text,
	                 "there is no port /dev/ttyNOTHERE; `mainstair ports` lists those "
	                 "there are");
	s = settings("/dev/null");
	cr_assert(wire_open(&s, &w, &err) == -1);
	cr_assert(strstr(err.text, "/dev/null is no serial port"), "%s", err.text);
	s = settings("/etc/passwd");
	cr_assert(wire_open(&s, &w, &err) == -1);
	s = settings("/dev/\x1b[2J");
	cr_assert(wire_open(&s, &w, &err) == -1);
	cr_assert(!strchr(err.text, '\x1b'));
	s = settings("");
	cr_assert(wire_open(&s, &w, &err) == -1);
	cr_assert(w == NULL);
}

Test(wire, framing_and_baud)
{
	struct wire_settings s = { .baud = 9600 };
	struct err err;
	int baud;

	cr_assert(wire_parse_framing("8N1", &s, &err) == 0 && wire_bits(&s) == 10);
	cr_assert(wire_ms(&s, 96) == 100);
	cr_assert(wire_parse_framing("8e1", &s, &err) == 0 && s.parity == 'E' &&
	          wire_bits(&s) == 11);
	cr_assert(wire_parse_framing("7O2", &s, &err) == 0 && s.data_bits == 7 && s.stop_bits == 2);
	static const char *const bad[] = { "", "8N", "8N11", "9N1", "8X1", "8N3", "N81", "8 1" };
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
		cr_assert(wire_parse_framing(bad[i], &s, &err) == -1, "%s", bad[i]);
	cr_assert(wire_parse_baud("9601", &baud, &err) == 0 && baud == 9601);
	static const char *const bad_baud[] = {"", "0", "49", "4000001", "-9600", "9.6k", "9600 "};
	for (size_t i = 0; i < sizeof bad_baud / sizeof bad_baud[0]; i++)
		cr_assert(wire_parse_baud(bad_baud[i], &baud, &err) == -1, "%s", bad_baud[i]);
}

Test(wire, list_of_ports)
{
	static struct wire_port ports[64];
	struct err err;
	int n = wire_ports(ports, 64, &err);

	cr_assert(n >= 0);
	for (int i = 0; i < n; i++)
		cr_assert(strncmp(ports[i].name, "/dev/", 5) == 0);
	cr_assert(wire_ports(ports, 0, &err) == 0);
}

/* A meter behind a name that moves to another device, through either opener. */
static int64_t now_ms;

static void run(struct meter *m, int ms)
{
	for (; ms > 0; ms--, now_ms++) {
		struct pollfd p = { .fd = meter_fd(m), .events = POLLIN };

		p.revents = 0;
		if (poll(&p, p.fd >= 0, 0) > 0 || now_ms >= meter_due(m))
			meter_step(m, p.revents, now_ms);
	}
}

Test(wire, a_meter_comes_back_under_another_number)
{
	for (int i = 0; i < OPENERS; i++) {
		struct pty_pair other;
		struct meter_config c;
		struct reading r;
		struct meter *m;
		struct err err;
		const char line[] = "117,1,90\r\n118,1,91\r\n";

		meter_config_default(&c, METER_TEXT);
		strcpy(c.wire.name, openers[i].serial ? pair.serial_name : pair.link);
		m = meter_open(&c, openers[i].serial ? wire_serial_open : wire_open, now_ms, &err);
		cr_assert(m != NULL);
		cr_assert(meter_health(m)->state == METER_STARTING, "%s", meter_health(m)->trouble);
		cr_assert(write(pair.master, line, sizeof line - 1) == (ssize_t)sizeof line - 1);
		run(m, 20);
		cr_assert(meter_next(m, &r) && reading_get(&r, READING_VOLTS) == 118);

		pty_pair_unplug(&pair);
		run(m, 20);
		cr_assert(meter_health(m)->state == METER_LOST, "%s", openers[i].what);
		run(m, 2500);
		cr_assert(meter_health(m)->state == METER_LOST);

		cr_assert(pty_pair_open(&other) == 0);
		cr_assert(pty_pair_relink(&pair, &other) == 0);
		run(m, 1100);
		cr_assert(meter_health(m)->state == METER_STARTING, "%s", meter_health(m)->trouble);
		cr_assert(write(other.master, line, sizeof line - 1) == (ssize_t)sizeof line - 1);
		run(m, 20);
		cr_assert(meter_next(m, &r) && reading_get(&r, READING_WATTS) == 91);
		cr_assert(meter_health(m)->count.unplugged == 1);
		cr_assert(meter_health(m)->count.reopened == 1);
		meter_close(m);
		pty_pair_close(&other);
		pty_pair_close(&pair);
		cr_assert(pty_pair_open(&pair) == 0);
	}
}
