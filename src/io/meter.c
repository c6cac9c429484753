#include "io/meter_ops.h"

#include <assert.h>
#include <poll.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "mainstair/base/text.h"

enum {
	REOPEN_MS = 1000,
	UNSENT_MS = 20,        /* a full output queue: try again */
	FULL_MS = 20,          /* nobody takes our readings: look again */
	TIMEOUT_MAX_MS = 5000,
	ENDLESS_MS = 5000,     /* a drain that goes on for longer is worth a word */
	QUICK_ANSWERS = 8,     /* in a row: patience is no longer called for */
	FAILURES_SILENT = 3
};

static const struct meter_ops *const protocols[METER_PROTOCOLS] = {
	[METER_MODBUS] = &meter_modbus_ops,
	[METER_SCPI] = &meter_scpi_ops,
	[METER_TEXT] = &meter_text_ops,
};

const char *meter_protocol_word(enum meter_protocol protocol)
{
	assert((unsigned)protocol < METER_PROTOCOLS);
	return protocols[protocol]->word;
}

int meter_protocol_from_word(const char *word)
{
	for (int i = 0; i < METER_PROTOCOLS; i++)
		if (strcasecmp(word, protocols[i]->word) == 0)
			return i;
	return -1;
}

void meter_config_default(struct meter_config *config, enum meter_protocol protocol)
{
	*config = (struct meter_config){
		.protocol = protocol,
		.wire = { .baud = 9600, .data_bits = 8, .parity = 'N', .stop_bits = 1 },
		.period_ms = 500,
		.timeout_ms = protocol == METER_TEXT ? 5000 : 500,
		.watch_s = 5,
		.unit = 1,
		.modbus = modbus_map_default,
		.scpi = scpi_map_default,
		.text = line_text_map_default,
		.own_map = true,
		.accuracy = meter_accuracy_default,
	};
}

/* The next part of a spec up to a comma; false at the end or when it is too long. */
static bool next_part(const char **at, char *part, size_t size)
{
	size_t n = strcspn(*at, ",");

	if (n >= size)
		return false;
	memcpy(part, *at, n);
	part[n] = 0;
	*at += n;
	*at += **at == ',';
	return true;
}

int meter_parse_spec(const char *spec, struct meter_config *config, struct err *err)
{
	static const char form[] = "PROTOCOL:PORT,BAUD,FRAMING,UNIT as in "
	                           "modbus:/dev/ttyUSB0,9600,8N1,1";
	const char *colon = strchr(spec, ':'), *at;
	char word[16], part[WIRE_NAME_MAX], shown[64];
	struct meter_config c;
	int protocol = -1;

	text_show(shown, sizeof shown, spec, strlen(spec));
	if (colon && (size_t)(colon - spec) < sizeof word) {
		(void)snprintf(word, sizeof word, "%.*s", (int)(colon - spec), spec);
		protocol = meter_protocol_from_word(word);
	}
	if (protocol < 0)
		return err_set(err, ERR_INPUT, "'%s' is no meter; %s (modbus, scpi or text)", shown,
		               form);
	if (config->protocol == (enum meter_protocol)protocol)
		c = *config;
	else
		meter_config_default(&c, (enum meter_protocol)protocol);
	at = colon + 1;
	if (!next_part(&at, part, sizeof part) || !*part)
		return err_set(err, ERR_INPUT, "'%s' names no port; %s", shown, form);
	strcpy(c.wire.name, part);
	if (*at && next_part(&at, part, sizeof part) &&
	    wire_parse_baud(part, &c.wire.baud, err) < 0)
		return -1;
	if (*at && next_part(&at, part, sizeof part) && wire_parse_framing(part, &c.wire, err) < 0)
		return -1;
	if (*at && next_part(&at, part, sizeof part)) {
		long unit = strspn(part, "0123456789") == strlen(part) && strlen(part) <= 3
		            ? strtol(part, NULL, 10) : 0;

		if (protocol != METER_MODBUS)
			return err_set(err, ERR_INPUT,
			               "'%s': only Modbus meters have a unit address", shown);
		if (unit < 1 || unit > 247)
			return err_set(err, ERR_INPUT,
			               "'%s': a unit address is a number from 1 to 247", shown);
		c.unit = (uint8_t)unit;
	}
	if (*at)
		return err_set(err, ERR_INPUT, "'%s' goes on where nothing is expected; %s", shown,
		               form);
	*config = c;
	return 0;
}

/* ---- what the protocols use ---- */

void meter_drop(struct meter *m, size_t n)
{
	assert(n <= m->n_in);
	m->n_in -= n;
	memmove(m->in, m->in + n, m->n_in);
}

void meter_send(struct meter *m, const void *bytes, size_t n)
{
	assert(n <= sizeof m->out);
	memcpy(m->out, bytes, n);
	m->n_out = n;
}

void meter_trouble(struct meter *m, const char *format, ...)
{
	char text[METER_TROUBLE_MAX];
	va_list ap;

	va_start(ap, format);
	(void)vsnprintf(text, sizeof text, format, ap);
	va_end(ap);
	text_show(m->health.trouble, sizeof m->health.trouble, text, strlen(text));
}

void meter_failed(struct meter *m)
{
	if (++m->failures >= FAILURES_SILENT)
		m->health.state = METER_SILENT;
}

void meter_raw_hex(char raw[READING_RAW_MAX], const uint8_t *bytes, size_t n)
{
	size_t at = strlen(raw);

	for (size_t i = 0; i < n && at + 4 < READING_RAW_MAX; i++)
		at += (size_t)snprintf(raw + at, READING_RAW_MAX - at, at ? " %02x" : "%02x",
		                       bytes[i]);
}

void meter_raw_text(char raw[READING_RAW_MAX], const char *text, size_t n)
{
	size_t at = strlen(raw);

	if (at > 0 && at + 3 < READING_RAW_MAX)
		at += (size_t)snprintf(raw + at, READING_RAW_MAX - at, " | ");
	text_show(raw + at, READING_RAW_MAX - at, text, n);
}

void meter_be_patient(struct meter *m)
{
	m->health.count.late++;
	m->quick = 0;
	m->health.timeout_ms *= 2;
	if (m->health.timeout_ms > TIMEOUT_MAX_MS)
		m->health.timeout_ms = TIMEOUT_MAX_MS;
}

void meter_in_time(struct meter *m, int64_t now_ms)
{
	bool quick = 2 * (now_ms - m->asked_ms) <= m->deadline_ms - m->asked_ms;

	m->quick = quick ? m->quick + 1 : 0;
	if (m->quick < QUICK_ANSWERS || m->health.timeout_ms <= m->config.timeout_ms)
		return;
	m->quick = 0;
	m->health.timeout_ms /= 2;
	if (m->health.timeout_ms < m->config.timeout_ms)
		m->health.timeout_ms = m->config.timeout_ms;
}

void meter_drain(struct meter *m, bool timed_out, int64_t now_ms)
{
	m->asking = ASK_DRAIN;
	m->timed_out = timed_out;
	m->drained = false;
	m->drain_ms = now_ms;
	m->quiet_ms = m->health.timeout_ms;
	m->due_ms = now_ms + m->quiet_ms;
}

void meter_drain_heard(struct meter *m, bool whole, int64_t now_ms)
{
	if (!m->drained)
		m->health.count.resyncs++;
	m->drained = true;
	if (whole || m->n_in == sizeof m->in)
		m->n_in = 0;
	m->due_ms = now_ms + m->quiet_ms;
	if (now_ms - m->drain_ms > ENDLESS_MS) {
		m->drain_ms = now_ms;
		meter_trouble(m, "the line never falls quiet: does something else talk on it?");
		meter_failed(m);
	}
}

void meter_rest(struct meter *m, int64_t not_before_ms)
{
	m->asking = ASK_IDLE;
	m->due_ms = m->began_ms + m->config.period_ms;
	if (m->due_ms < not_before_ms)
		m->due_ms = not_before_ms;
}

void meter_publish(struct meter *m, int64_t now_ms)
{
	struct reading *r = &m->queue[(m->queue_first + m->n_queue) % METER_QUEUE_MAX];

	assert(m->n_queue < METER_QUEUE_MAX);
	*r = m->next;
	r->from = m->ops->from;
	r->t_ms = now_ms;
	reading_complete(r);
	m->n_queue++;
	m->failures = 0;
	m->health.state = METER_READING;
	m->health.count.readings++;
	m->health.have_reading = true;
	m->health.last_ms = now_ms;
}

/* ---- the wire ---- */

static void lose(struct meter *m, int64_t now_ms)
{
	wire_close(m->wire);
	m->wire = NULL;
	m->health.count.unplugged++;
	m->health.state = METER_LOST;
	meter_trouble(m, "%s went away", m->config.wire.name);
	m->due_ms = now_ms + REOPEN_MS;
}

static void try_open(struct meter *m, int64_t now_ms)
{
	struct err err;

	if (m->opener(&m->config.wire, &m->wire, &err) < 0) {
		m->wire = NULL;
		m->health.state = METER_LOST;
		meter_trouble(m, "%s", err.text);
		m->due_ms = now_ms + REOPEN_MS;
		return;
	}
	m->health.count.reopened += m->was_open;
	m->was_open = true;
	m->health.state = METER_STARTING;
	m->failures = 0;
	m->n_in = m->n_out = 0;
	m->look_again = false;
	m->health.timeout_ms = m->config.timeout_ms;
	m->ops->start(m, now_ms);
}

static void flush_out(struct meter *m, int64_t now_ms)
{
	ssize_t put;

	if (!m->wire || m->n_out == 0)
		return;
	put = wire_write(m->wire, m->out, m->n_out);
	if (put == WIRE_GONE) {
		lose(m, now_ms);
		return;
	}
	m->n_out -= (size_t)put;
	memmove(m->out, m->out + put, m->n_out);
	m->unsent_ms = now_ms + UNSENT_MS;
}

static bool is_text(uint8_t byte)
{
	return (byte >= 0x20 && byte < 0x7f) || byte == '\r' || byte == '\n' || byte == '\t';
}

static void hear(struct meter *m, int64_t now_ms)
{
	bool again = m->look_again;

	m->look_again = false;
	/* a sender faster than we are must not hold the loop up */
	for (int rounds = 0; rounds < 4 && m->wire && m->n_queue < METER_QUEUE_MAX; rounds++) {
		ssize_t n = 0;

		if (m->n_in < sizeof m->in) {
			n = wire_read(m->wire, m->in + m->n_in, sizeof m->in - m->n_in);
			if (n == WIRE_GONE) {
				lose(m, now_ms);
				return;
			}
		}
		if (n == 0 && !again)
			return;
		again = false;
		if (n > 0) {
			const uint8_t *from = m->in + m->n_in;
			size_t shown = (size_t)n > 32 ? 32 : (size_t)n;

			m->health.heard[0] = 0;
			if (m->config.protocol == METER_MODBUS)
				meter_raw_hex(m->health.heard, from, shown);
			else
				meter_raw_text(m->health.heard, (const char *)from, shown);
			for (ssize_t i = 0; i < n; i++)
				m->health.heard_text += is_text(from[i]);
			m->health.heard_bytes += (unsigned long)n;
			m->n_in += (size_t)n;
			m->heard_ms = now_ms;
		}
		if (m->n_in > 0)
			m->ops->heard(m, now_ms);
	}
}

void meter_step(struct meter *m, int revents, int64_t now_ms)
{
	if (m->wire) {
		hear(m, now_ms);
		/* what was still to be read has been; poll alone tells of an adapter pulled out */
		if (m->wire && (revents & (POLLHUP | POLLERR | POLLNVAL)))
			lose(m, now_ms);
		flush_out(m, now_ms);
	}
	if (now_ms >= m->due_ms) {
		if (!m->wire)
			try_open(m, now_ms);
		else if (m->n_queue >= METER_QUEUE_MAX)
			m->due_ms = now_ms + FULL_MS;
		else
			m->ops->due(m, now_ms);
		flush_out(m, now_ms);
	}
}

void meter_missed(struct meter *m, int64_t now_ms)
{
	ssize_t n = 1;

	/* a sender faster than we are must not hold the loop up */
	for (int rounds = 0; rounds < 64 && m->wire && n > 0; rounds++)
		n = wire_read(m->wire, m->in, sizeof m->in);
	m->n_in = m->n_out = 0;
	m->look_again = false;
	memset(&m->stream, 0, sizeof m->stream);
	reading_clear(&m->next);
	m->question = 0;
	m->answered = false;
	if (n == WIRE_GONE)
		lose(m, now_ms);
	else if (m->wire && m->asking != ASK_IDLE)
		meter_drain(m, false, now_ms);
	m->deadline_ms = now_ms + m->health.timeout_ms;
}

int meter_fd(const struct meter *m)
{
	/* while nobody takes our readings, input waits in the kernel */
	return m->wire && m->n_queue < METER_QUEUE_MAX ? wire_fd(m->wire) : -1;
}

int64_t meter_due(const struct meter *m)
{
	if (m->wire && m->look_again)
		return 0;
	if (m->wire && m->n_out > 0 && m->unsent_ms < m->due_ms)
		return m->unsent_ms;
	return m->due_ms;
}

bool meter_next(struct meter *m, struct reading *ret)
{
	if (m->n_queue == 0)
		return false;
	m->look_again = m->n_queue == METER_QUEUE_MAX;
	*ret = m->queue[m->queue_first];
	m->queue_first = (m->queue_first + 1) % METER_QUEUE_MAX;
	m->n_queue--;
	return true;
}

struct meter *meter_open(const struct meter_config *config, wire_opener *opener, int64_t now_ms,
                         struct err *err)
{
	const struct meter_ops *ops = protocols[config->protocol];
	struct meter *m;

	if (ops->check(config, err) < 0)
		return NULL;
	m = calloc(1, sizeof *m);
	if (!m) {
		(void)err_set(err, ERR_NOMEM, "out of memory");
		return NULL;
	}
	m->config = *config;
	m->ops = ops;
	m->opener = opener ? opener : wire_open;
	try_open(m, now_ms);
	return m;
}

void meter_close(struct meter *m)
{
	if (!m)
		return;
	wire_close(m->wire);
	free(m);
}

const struct meter_health *meter_health(const struct meter *m)
{
	return &m->health;
}

const struct meter_config *meter_config(const struct meter *m)
{
	return &m->config;
}

void meter_describe(const struct meter *m, int64_t now_ms, char ret[METER_TROUBLE_MAX])
{
	static const char *const states[] = {
		[METER_LOST] = "port lost", [METER_SILENT] = "no readings",
		[METER_STARTING] = "no reading yet", [METER_READING] = "reading",
	};
	const struct meter_counters *c = &m->health.count;
	const struct {
		unsigned long n;
		const char *what;
	} counts[] = {
		{ c->timeouts, "time-outs" },
		{ c->crc_errors, "CRC errors" },
		{ c->exceptions, "exceptions" },
		{ c->garbled, "garbled" },
		{ c->resyncs, "resyncs" },
		{ c->late, "late" },
		{ c->unplugged, "unplugged" },
	};
	size_t n = (size_t)snprintf(ret, METER_TROUBLE_MAX, "%s", states[m->health.state]);

	if (m->health.have_reading)
		n += (size_t)snprintf(ret + n, METER_TROUBLE_MAX - n, ", last %.1f s ago",
		                      (double)(now_ms - m->health.last_ms) / 1000);
	for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++)
		if (counts[i].n > 0)
			n += (size_t)snprintf(ret + n, METER_TROUBLE_MAX - n, ", %s %lu",
			                      counts[i].what, counts[i].n);
}
