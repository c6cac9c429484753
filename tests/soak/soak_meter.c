/*
 * A meter at full pace on a bad line: no reading lost, none made up, no growth in memory.
 *
 *   soak_meter [--seconds N] [--seed S]     N seconds of fake time on each protocol (60)
 *
 * The line is a socket pair and the clock is fake, so an hour passes in a minute or so.  The device
 * at the far end plays every exchange by one of the fates below, gives every answer a number of
 * its own as its value, and notes which answers went over the line whole and in time.  Exactly
 * those must come out of the meter, in order: one missing is lost, one besides is made up.
 * Bytes arrive one a millisecond, about 9600 baud.
 */
#include <inttypes.h>
#include <malloc.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "lib/fake_line.h"

enum { LATE_MS = 700, EXPECT_MAX = 64, PENDING_MAX = 1024 };

/* What an answer is to the meter.  A late one counts only if the meter has become patient. */
enum worth { SPOILT, LATE, WHOLE };

static uint64_t state;
static unsigned random_below(unsigned n)
{
	state ^= state << 13;
	state ^= state >> 7;
	state ^= state << 17;
	return (unsigned)((state >> 20) % n);
}

static struct {
	uint8_t heard[512];
	size_t n_heard;
	uint8_t out[PENDING_MAX]; /* goes out one byte a ms from out_ms on */
	size_t n_out;
	int64_t out_ms;
	unsigned id;              /* number of the last answer */
	enum worth round; /* SCPI: of the answers so far in this one */
	int64_t replug_ms;
	int opened;               /* text: as of the last line */
	bool first;               /* text: this is the first line since then */
} device;

static struct {
	unsigned id;
	enum worth worth;
} expected[EXPECT_MAX];
static size_t first_expected, n_expected;
static unsigned long n_good, n_late, n_bad, n_readings, lost, made_up;

static void expect(unsigned id, enum worth worth)
{
	if (worth == SPOILT) {
		n_bad++;
		return;
	}
	if (n_expected == EXPECT_MAX) {
		lost += expected[first_expected].worth == WHOLE; /* so far behind: it never came */
		first_expected = (first_expected + 1) % EXPECT_MAX;
		n_expected--;
	}
	expected[(first_expected + n_expected) % EXPECT_MAX].id = id;
	expected[(first_expected + n_expected++) % EXPECT_MAX].worth = worth;
	n_good += worth == WHOLE;
	n_late += worth == LATE;
}

static void take(const struct reading *r)
{
	unsigned id = (unsigned)lround(reading_get(r, READING_WATTS) * 10);

	n_readings++;
	while (n_expected > 0) {
		unsigned want = expected[first_expected].id;
		enum worth worth = expected[first_expected].worth;

		first_expected = (first_expected + 1) % EXPECT_MAX;
		n_expected--;
		if (want == id)
			return;
		if (worth == LATE)
			continue;
		lost++;
		fprintf(stderr, "lost %u (came %u) at %" PRId64 "\n", want, id, fake_line.now_ms);
	}
	made_up++;
	fprintf(stderr, "made up %u at %" PRId64 "\n", id, fake_line.now_ms);
}

/* ---- fates of what is sent ---- */

enum fate {
	FATE_WHOLE, FATE_FLIPPED, FATE_DROPPED, FATE_INSERTED, FATE_NOISE_BEFORE, FATE_NOISE_BEHIND,
	FATE_SILENCE, FATE_LATE, FATE_CUT, FATE_DOUBLED
};

static enum fate draw_fate(void)
{
	/* in per mille; the rest is whole */
	static const unsigned share[] = {
		[FATE_FLIPPED] = 40, [FATE_DROPPED] = 30, [FATE_INSERTED] = 20,
		[FATE_NOISE_BEFORE] = 20, [FATE_NOISE_BEHIND] = 20, [FATE_SILENCE] = 15,
		[FATE_LATE] = 10, [FATE_CUT] = 10, [FATE_DOUBLED] = 5,
	};
	unsigned r = random_below(1000);

	for (int f = FATE_FLIPPED; f <= FATE_DOUBLED; f++) {
		if (r < share[f])
			return (enum fate)f;
		r -= share[f];
	}
	return FATE_WHOLE;
}

static void send_byte(uint8_t b)
{
	if (device.n_out < PENDING_MAX)
		device.out[device.n_out++] = b;
}

static void send_bytes(const uint8_t *b, size_t n)
{
	for (size_t i = 0; i < n; i++)
		send_byte(b[i]);
}

/* Queue an answer under its fate, first byte after delay_ms.  `checked`: a check sum protects
 * it; without one no byte of it may be touched, because nobody could tell.  What it will be
 * worth on arrival. */
static enum worth answer(const uint8_t *b, size_t n, enum fate fate, int delay_ms, bool checked)
{
	uint8_t copy[512];
	size_t at = random_below((unsigned)n);

	memcpy(copy, b, n);
	if (!checked && (fate == FATE_FLIPPED || fate == FATE_DROPPED || fate == FATE_INSERTED ||
	                 fate == FATE_NOISE_BEFORE || fate == FATE_NOISE_BEHIND))
		fate = FATE_WHOLE;
	device.out_ms = fake_line.now_ms + delay_ms + (fate == FATE_LATE ? LATE_MS : 0);
	switch (fate) {
	case FATE_SILENCE:
		return SPOILT;
	case FATE_FLIPPED:
		for (unsigned k = 1 + random_below(3); k > 0; k--)
			copy[random_below((unsigned)n)] ^= (uint8_t)(1u << random_below(8));
		if (memcmp(copy, b, n) == 0)
			break; /* the same bit twice */
		send_bytes(copy, n);
		return SPOILT;
	case FATE_DROPPED:
		send_bytes(copy, at);
		send_bytes(copy + at + 1, n - at - 1);
		return SPOILT;
	case FATE_INSERTED: {
		uint8_t extra = (uint8_t)random_below(256);

		/* a byte like its neighbour only lengthens a run: still whole if at an end */
		at = 1 + random_below((unsigned)n - 1);
		if (extra == copy[at] || extra == copy[at - 1])
			extra ^= 0x5a;
		/* a line end cuts a text in two; one sum of eight bits in 256 fits the rest */
		if (extra == '\r' || extra == '\n')
			extra = '?';
		send_bytes(copy, at);
		send_byte(extra);
		send_bytes(copy + at, n - at);
		return SPOILT;
	}
	case FATE_NOISE_BEFORE:
		for (unsigned k = 1 + random_below(4); k > 0; k--)
			send_byte((uint8_t)random_below(256));
		break;
	case FATE_CUT:
		send_bytes(copy, at);
		return SPOILT;
	case FATE_DOUBLED:
		send_bytes(copy, n);
		send_bytes(copy, n);
		return WHOLE; /* the first is taken before the second comes; that one is nobody's */
	case FATE_LATE:
		send_bytes(copy, n);
		return LATE;
	case FATE_NOISE_BEHIND:
	case FATE_WHOLE:
		break;
	}
	send_bytes(copy, n);
	for (unsigned k = fate == FATE_NOISE_BEHIND ? 1 + random_below(3) : 0; k > 0; k--)
		send_byte((uint8_t)random_below(256));
	return WHOLE;
}

/* One byte a millisecond.  An answer counts when its last byte is out. */
static void trickle(int fd)
{
	if (device.n_out == 0 || fake_line.now_ms < device.out_ms)
		return;
	if (write(fd, device.out, 1) != 1)
		return;
	device.n_out--;
	memmove(device.out, device.out + 1, device.n_out);
}

static void hear(int fd)
{
	ssize_t n = read(fd, device.heard + device.n_heard, sizeof device.heard - device.n_heard);

	if (n > 0)
		device.n_heard += (size_t)n;
}

/* Now and then, with nothing under way, the adapter is pulled out for a while. */
static void maybe_unplug(void)
{
	if (device.n_out == 0 && device.n_heard == 0 && random_below(200000) == 0) {
		device.replug_ms = fake_line.now_ms + 100 + random_below(3000);
		fake_line_unplug();
	}
}

static struct reading numbered(unsigned id)
{
	struct reading r;

	reading_clear(&r);
	reading_set(&r, READING_VOLTS, 100 + id % 100);
	reading_set(&r, READING_AMPS, 1000);
	reading_set(&r, READING_WATTS, id / 10.0);
	return r;
}

/* ---- Modbus ---- */

static void modbus_device(int fd, int64_t now_ms)
{
	uint16_t registers[6];
	struct modbus_bank bank = { 0, 6, registers };
	uint8_t out[MODBUS_FRAME_MAX];
	struct modbus_query query;
	struct reading r;
	size_t used, n;
	enum fate fate;

	(void)now_ms;
	hear(fd);
	if (device.n_heard >= MODBUS_REQUEST_SIZE) {
		/* the request is damaged on its way now and then: nobody answers */
		if (random_below(100) == 0)
			device.heard[random_below(8)] ^= 4;
		if (modbus_slave_take(1, device.heard, device.n_heard, true, &query, &used) ==
		    MODBUS_SLAVE_SERVE) {
			device.n_out = 0; /* who asks again hears no more of the last */
			fate = draw_fate();
			if (random_below(100) == 0) {
				n = modbus_encode_exception(1, query.function, MODBUS_BUSY, out);
				(void)answer(out, n, FATE_WHOLE, 5, true);
				n_bad++;
			} else {
				r = numbered(++device.id % 100000);
				modbus_map_write(&modbus_map_default, &bank, registers, &r);
				n = modbus_serve(&query, &bank, out);
				expect(device.id % 100000,
				       answer(out, n, fate, 1 + (int)random_below(20), true));
			}
		}
		device.n_heard = 0;
	}
	trickle(fd);
	maybe_unplug();
}

/* ---- text lines ---- */

static void text_device(int fd, int64_t now_ms)
{
	struct line_text_map map = line_text_map_default;
	char line[LINE_TEXT_MAX];
	struct reading r;
	enum fate fate;
	size_t n;

	map.check_sum = true;
	if (device.n_out == 0 && now_ms >= device.out_ms + 5) {
		device.first = device.opened != fake_line.opened;
		device.opened = fake_line.opened;
		r = numbered(++device.id % 100000);
		n = line_text_encode(&map, &r, line);
		fate = draw_fate();
		if (fate == FATE_LATE || fate == FATE_SILENCE)
			fate = FATE_WHOLE; /* nobody waits for a line */
		/* the first line after opening may have been cut for all the meter knows */
		if (device.first)
			fate = FATE_WHOLE;
		/* one bit at a time: the sum has eight, and says so in line_text.h */
		if (fate == FATE_FLIPPED) {
			/* (but not the case of its own hex digits, which means nothing) */
			unsigned at = random_below((unsigned)n - 2);

			line[at] ^= (char)(1u << random_below(at + 4 < n ? 8 : 5));
			device.out_ms = now_ms;
			send_bytes((uint8_t *)line, n);
			n_bad++;
		} else if (fate == FATE_NOISE_BEHIND || fate == FATE_NOISE_BEFORE) {
			/* garbage between lines, with its own end */
			device.out_ms = now_ms;
			send_bytes((const uint8_t *)"\x07?garbage\xff\r\n", 12);
			send_bytes((uint8_t *)line, n);
			expect(device.id % 100000, WHOLE);
		} else if (fate == FATE_CUT || fate == FATE_DROPPED || fate == FATE_INSERTED) {
			/* the line end stays: without it two lines would be one */
			(void)answer((uint8_t *)line, n - 2, fate, 0, true);
			send_bytes((const uint8_t *)"\r\n", 2);
			n_bad++;
		} else {
			(void)answer((uint8_t *)line, n, FATE_WHOLE, 0, true);
			expect(device.id % 100000, device.first ? LATE : WHOLE);
			if (fate == FATE_DOUBLED) {
				send_bytes((uint8_t *)line, n);
				expect(device.id % 100000, WHOLE);
			}
		}
	}
	trickle(fd);
	/* pulled out only between lines, and what was just sent has been heard */
	if (device.n_out == 0 && n_expected == 0)
		maybe_unplug();
}

/* ---- SCPI ---- */

/* Volts, amps and watts of one round carry the same number; a reading counts when all three
 * answers of one pass went through. */
static void scpi_device(int fd, int64_t now_ms)
{
	char text[64];
	int q = -1;
	uint8_t *end;
	enum worth worth;

	(void)now_ms;
	hear(fd);
	end = memchr(device.heard, '\n', device.n_heard);
	if (end) {
		size_t n = (size_t)(end - device.heard);

		for (int k = READING_VOLTS; k <= READING_WATTS; k++)
			if (n == strlen(scpi_map_default.query[k]) &&
			    memcmp(device.heard, scpi_map_default.query[k], n) == 0)
				q = k;
		device.n_heard -= n + 1;
		memmove(device.heard, end + 1, device.n_heard);
		device.n_out = 0;
		if (n == strlen("SYSTem:ERRor?")) {
			(void)answer((const uint8_t *)"0,\"No error\"\n", 13, FATE_WHOLE, 2, false);
		} else if (q >= 0) {
			device.id += q == READING_VOLTS;
			snprintf(text, sizeof text, "%u\n",
			         q == READING_VOLTS ? 100 + device.id % 100
			         : q == READING_AMPS ? 1000 : device.id % 100000);
			worth = answer((uint8_t *)text, strlen(text), draw_fate(),
			               1 + (int)random_below(10), false);
			if (q == READING_VOLTS || worth < device.round)
				device.round = worth;
			if (q == READING_WATTS)
				expect(device.id % 100000, device.round);
		}
	}
	trickle(fd);
	maybe_unplug();
}

/* ---- */

static int soak(enum meter_protocol protocol, fake_device *play, long seconds)
{
	struct meter_config config;
	struct meter *m;
	struct err err;
	struct mallinfo2 before, after;

	memset(&device, 0, sizeof device);
	first_expected = n_expected = 0;
	n_good = n_late = n_bad = n_readings = lost = made_up = 0;
	fake_line_init();
	fake_line.device = play;
	meter_config_default(&config, protocol);
	config.period_ms = 0;
	strcpy(config.wire.name, "fake");
	if (protocol == METER_MODBUS)
		for (int q = READING_VA; q < READING_QUANTITIES; q++)
			config.modbus.at[q].present = false;
	config.text.check_sum = true;
	config.scpi.scale[READING_WATTS] = 0.1;
	m = meter_open(&config, fake_line_open, fake_line.now_ms, &err);
	if (!m)
		return -1;
	fake_line_run(m, 100, take); /* what is allocated once is */
	before = mallinfo2();
	for (long ms = 0; ms < seconds * 1000; ms += 10) {
		if (device.replug_ms && fake_line.now_ms >= device.replug_ms) {
			/* what was under way went down with the line */
			device.replug_ms = 0;
			device.n_out = device.n_heard = 0;
			device.round = SPOILT;
			fake_line.plugged = true;
		}
		fake_line_run(m, 10, take);
	}
	after = mallinfo2();
	/* the last answer may still be under way */
	for (size_t i = 0; i + 1 < n_expected; i++)
		lost += expected[(first_expected + i) % EXPECT_MAX].worth == WHOLE;
	const struct meter_counters *c = &meter_health(m)->count;
	printf("%s: %ld s, %lu readings of %lu whole answers, %lu late, %lu spoilt; ",
	       meter_protocol_word(protocol), seconds, n_readings, n_good, n_late, n_bad);
	printf("lost %lu, made up %lu; time-outs %lu, CRC %lu, exceptions %lu, garbled %lu, ", lost,
	       made_up, c->timeouts, c->crc_errors, c->exceptions, c->garbled);
	printf("resyncs %lu, late %lu, unplugged %lu; memory %+ld bytes\n", c->resyncs, c->late,
	       c->unplugged, (long)after.uordblks - (long)before.uordblks);
	/* a wire is allocated anew at every plugging in; nothing else may grow */
	bool grown = after.uordblks > before.uordblks + 256;
	meter_close(m);
	return lost || made_up || grown || n_readings == 0 ? -1 : 0;
}

int main(int argc, char **argv)
{
	long seconds = 60;
	int bad = 0;

	state = 20260101;
	for (int i = 1; i + 1 < argc; i += 2) {
		if (strcmp(argv[i], "--seconds") == 0)
			seconds = strtol(argv[i + 1], NULL, 10);
		else if (strcmp(argv[i], "--seed") == 0)
			state = strtoull(argv[i + 1], NULL, 10) * 2 + 1;
	}
	bad |= soak(METER_MODBUS, modbus_device, seconds);
	bad |= soak(METER_TEXT, text_device, seconds);
	bad |= soak(METER_SCPI, scpi_device, seconds);
	return bad ? 1 : 0;
}
