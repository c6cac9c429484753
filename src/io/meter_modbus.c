/*
 * A Modbus RTU master: one block of registers after the other, as fast as asked for.
 */
#include "io/meter_ops.h"

#include <string.h>

enum {
	/* Between two bytes of one answer; the standard allows 1.5 characters, but USB adapters
	 * hand over in lumps up to 16 ms apart. */
	LUMP_MS = 50,
	SHORT_ANSWER = 5, /* bytes of an answer without data */
	NOISE_MS = 1000,  /* a question waits so long for noise to end */
	TRIES = 3         /* of one question, before the next period */
};

static int check(const struct meter_config *config, struct err *err)
{
	struct modbus_query block[MODBUS_BLOCKS_MAX];

	if (modbus_map_blocks(&config->modbus, config->unit, config->span, block) == 0)
		return err_set(err, ERR_INPUT,
		               "the Modbus meter has no register to read: give volts and "
		               "watts a register in the bench file");
	return 0;
}

/* The silence between frames, in whole ticks of the loop's clock; one more because a byte may
 * have come at the very end of its tick. */
static int gap_ms(const struct meter *m)
{
	return (int)((modbus_gap_us((uint32_t)m->config.wire.baud, wire_bits(&m->config.wire)) +
	              999) / 1000) + 1;
}

static void start(struct meter *m, int64_t now_ms)
{
	m->n_blocks = modbus_map_blocks(&m->config.modbus, m->config.unit, m->config.span,
	                                m->block);
	m->asking = ASK_IDLE;
	m->began_ms = now_ms;
	m->due_ms = now_ms;
}

static void ask(struct meter *m, int64_t now_ms)
{
	const struct modbus_query *block = &m->block[m->question];
	uint8_t request[MODBUS_REQUEST_SIZE];
	size_t answer = SHORT_ANSWER + 2u * block->count;

	m->n_in = 0;
	m->drained = false;
	meter_send(m, request, modbus_encode_request(block, request));
	m->asking = ASK_ANSWER;
	m->asked_ms = now_ms;
	m->deadline_ms = now_ms + wire_ms(&m->config.wire, MODBUS_REQUEST_SIZE + answer) +
	                 m->health.timeout_ms;
	m->due_ms = m->deadline_ms;
}

static void begin(struct meter *m, int64_t now_ms)
{
	m->began_ms = now_ms;
	m->question = 0;
	m->answered = false;
	reading_clear(&m->next);
}

static void pause(struct meter *m, int64_t now_ms)
{
	m->asking = ASK_PAUSE;
	m->due_ms = now_ms + gap_ms(m);
}

/* The question brought nothing usable: once more soon, but not for ever. */
static void again(struct meter *m, int64_t now_ms)
{
	meter_failed(m);
	if (m->failures % TRIES)
		pause(m, now_ms);
	else
		meter_rest(m, now_ms + gap_ms(m));
}

static void next_block(struct meter *m, bool answered, int64_t now_ms)
{
	m->answered |= answered;
	if (++m->question < m->n_blocks) {
		pause(m, now_ms);
		return;
	}
	if (m->answered)
		meter_publish(m, now_ms);
	else
		meter_failed(m);
	meter_rest(m, now_ms + gap_ms(m));
}

static void take_answer(struct meter *m, const struct modbus_answer *answer, int64_t now_ms)
{
	const struct modbus_query *block = &m->block[m->question];
	char why[READING_WHY_MAX];

	meter_raw_hex(m->next.raw, m->in + answer->skipped, SHORT_ANSWER + 2u * block->count);
	modbus_map_read(&m->config.modbus, block, answer->registers, &m->next);
	modbus_map_suspect(&m->config.modbus, block, answer->registers, why);
	/* what one block gave rise to, the next does not take away */
	if (why[0] || m->question == 0)
		strcpy(m->health.suspicion, why);
	if (why[0])
		meter_trouble(m, "%s", why);
	next_block(m, true, now_ms);
}

static void take_exception(struct meter *m, uint8_t code, int64_t now_ms)
{
	const struct modbus_query *block = &m->block[m->question];

	m->health.count.exceptions++;
	m->health.exception = code;
	meter_trouble(m, "exception %u (%s) to function %02u, register 0x%04X, %u register%s", code,
	              modbus_exception_text(code), block->function, block->address, block->count,
	              block->count == 1 ? "" : "s");
	strcpy(m->health.refusal, m->health.trouble);
	if (code == MODBUS_BUSY || code == MODBUS_ACKNOWLEDGE) {
		meter_failed(m);
		meter_rest(m, now_ms + gap_ms(m));
	} else {
		next_block(m, false, now_ms);
	}
}

/* Some adapters hear what they send. */
static void drop_echo(struct meter *m)
{
	uint8_t request[MODBUS_REQUEST_SIZE];

	modbus_encode_request(&m->block[m->question], request);
	if (m->n_in >= sizeof request && memcmp(m->in, request, sizeof request) == 0)
		meter_drop(m, sizeof request);
}

static void heard_answer(struct meter *m, int64_t now_ms)
{
	const struct modbus_query *block = &m->block[m->question];
	struct modbus_answer answer;

	drop_echo(m);
	switch (modbus_decode_answer(block, m->in, m->n_in, &answer)) {
	case MODBUS_ANSWER:
		m->health.count.resyncs += answer.skipped + answer.trailing > 0;
		meter_in_time(m, now_ms);
		take_answer(m, &answer, now_ms);
		m->n_in = 0;
		return;
	case MODBUS_EXCEPTION:
		take_exception(m, answer.exception, now_ms);
		m->n_in = 0;
		return;
	case MODBUS_DOUBLED:
		meter_trouble(m, "two answers to one question: neither is believed");
		meter_drain(m, false, now_ms);
		meter_drain_heard(m, true, now_ms);
		return;
	case MODBUS_MORE:
	case MODBUS_BAD_CRC:
		/* believed once the line has fallen quiet */
		m->due_ms = m->n_in >= SHORT_ANSWER && now_ms + LUMP_MS < m->deadline_ms
		            ? now_ms + LUMP_MS : m->deadline_ms;
		break;
	case MODBUS_FOREIGN:
		m->due_ms = m->deadline_ms;
		break;
	}
	if (m->n_in == sizeof m->in) {
		meter_trouble(m, "noise without end instead of an answer");
		m->health.count.garbled++;
		meter_drain(m, false, now_ms);
		meter_drain_heard(m, true, now_ms);
	}
}

/* Nobody asked: a glitch of the line driver, noise, or an answer from long ago. */
static void heard_unasked(struct meter *m, int64_t now_ms)
{
	struct modbus_answer answer;
	int64_t quiet = now_ms + gap_ms(m);
	enum modbus_verdict verdict = modbus_decode_answer(&m->block[m->question % m->n_blocks],
	                                                   m->in, m->n_in, &answer);

	if (verdict == MODBUS_ANSWER || verdict == MODBUS_DOUBLED) {
		/* then the one before it may have been an old one, too: give this reading up */
		meter_trouble(m, "an answer that nobody asked for");
		begin(m, now_ms);
		meter_drain(m, false, now_ms);
		meter_drain_heard(m, true, now_ms);
		return;
	}
	m->health.count.resyncs += !m->drained;
	m->drained = true;
	if (m->n_in == sizeof m->in)
		m->n_in = 0;
	/* let it pass, but ask into a line that never falls quiet, too */
	if (m->due_ms < quiet && quiet < m->began_ms + m->config.period_ms + NOISE_MS)
		m->due_ms = quiet;
}

static void heard(struct meter *m, int64_t now_ms)
{
	struct modbus_answer answer;

	switch (m->asking) {
	case ASK_ANSWER:
		heard_answer(m, now_ms);
		break;
	case ASK_DRAIN:
		if (m->timed_out && modbus_decode_answer(&m->block[m->question], m->in, m->n_in,
		                                         &answer) == MODBUS_ANSWER) {
			meter_be_patient(m);
			meter_trouble(m, "the answer came after its time-out: %d ms from now on",
			              m->health.timeout_ms);
			m->timed_out = false;
			meter_drain_heard(m, true, now_ms);
		} else {
			meter_drain_heard(m, false, now_ms);
		}
		break;
	case ASK_IDLE:
	case ASK_PAUSE:
		heard_unasked(m, now_ms);
		break;
	}
}

/* The line is quiet, or the time for an answer is up. */
static void give_up(struct meter *m, int64_t now_ms)
{
	const struct modbus_query *block = &m->block[m->question];
	struct modbus_answer answer;
	enum modbus_verdict verdict = modbus_decode_answer(block, m->in, m->n_in, &answer);
	bool in_time = now_ms < m->deadline_ms;

	if (m->n_in == 0) {
		m->health.count.timeouts++;
		meter_trouble(m, "no answer from unit %u within %d ms", block->unit,
		              m->health.timeout_ms);
	} else if (verdict == MODBUS_BAD_CRC) {
		m->health.count.crc_errors++;
		meter_trouble(m, "CRC error: %s", m->health.heard);
	} else if (verdict == MODBUS_MORE) {
		m->health.count.garbled++;
		meter_trouble(m, "an answer cut short: %s", m->health.heard);
	} else if (m->in[0] != block->unit && m->n_in >= SHORT_ANSWER &&
	           modbus_crc(m->in, m->n_in) == 0) {
		m->health.count.garbled++;
		m->health.other_unit = m->in[0];
		meter_trouble(m, "unit %u answers, and unit %u was asked", m->in[0], block->unit);
	} else {
		m->health.count.garbled++;
		meter_trouble(m, "bytes came, but no answer from unit %u: %s", block->unit,
		              m->health.heard);
	}
	m->n_in = 0;
	if (in_time)
		again(m, now_ms); /* its answer has come, such as it was: none is under way */
	else
		meter_drain(m, true, now_ms);
}

static void due(struct meter *m, int64_t now_ms)
{
	switch (m->asking) {
	case ASK_IDLE:
		begin(m, now_ms);
		ask(m, now_ms);
		break;
	case ASK_PAUSE:
		ask(m, now_ms);
		break;
	case ASK_ANSWER:
		give_up(m, now_ms);
		break;
	case ASK_DRAIN:
		m->n_in = 0;
		again(m, now_ms);
		break;
	}
}

const struct meter_ops meter_modbus_ops = {
	.word = "modbus",
	.from = FROM_MODBUS,
	.check = check,
	.start = start,
	.heard = heard,
	.due = due,
};
