/*
 * A controller that asks one query after the other and reads the error queue when an answer
 * does not come.
 */
#include "io/meter_ops.h"

#include <stdio.h>
#include <string.h>

enum {
	SETUP_MS = 100,       /* after the setup command, which has no answer */
	ANSWER_CHARACTERS = 64, /* allowed for on the line */
	ERRORS_READ_MAX = 8,
	STRIKES = 3,          /* so often an unknown command in a row: not asked again */
	ALL = -1              /* in place of a quantity: map->query_all */
};

static int check(const struct meter_config *config, struct err *err)
{
	if (config->scpi.query_all[0])
		return 0;
	for (int q = 0; q < READING_QUANTITIES; q++)
		if (config->scpi.query[q][0])
			return 0;
	return err_set(err, ERR_INPUT,
	               "the SCPI meter has no query: give volts and watts one in the "
	               "bench file");
}

static void start(struct meter *m, int64_t now_ms)
{
	memset(m->scpi_strikes, 0, sizeof m->scpi_strikes);
	m->scpi_setup_due = m->config.scpi.setup[0] != 0;
	m->scpi_errors_due = false;
	m->asking = ASK_IDLE;
	m->due_ms = now_ms;
}

/* The quantity that question n asks for, ALL, or READING_QUANTITIES behind the last one. */
static int quantity_of(const struct meter *m, size_t n)
{
	if (m->config.scpi.query_all[0])
		return n == 0 ? ALL : READING_QUANTITIES;
	for (int q = 0; q < READING_QUANTITIES; q++)
		if (m->config.scpi.query[q][0] && m->scpi_strikes[q] < STRIKES && n-- == 0)
			return q;
	return READING_QUANTITIES;
}

static const char *query_of(const struct meter *m)
{
	int q = quantity_of(m, m->question);

	if (m->scpi_errors_due)
		return m->config.scpi.error_query;
	if (q == READING_QUANTITIES) /* the last one has just been given up */
		return "";
	return q == ALL ? m->config.scpi.query_all : m->config.scpi.query[q];
}

static void send_line(struct meter *m, const char *text)
{
	char line[METER_OUT_MAX];
	int n = snprintf(line, sizeof line, "%s\n", text);

	meter_send(m, line, (size_t)n);
}

static void ask(struct meter *m, int64_t now_ms)
{
	const char *query = query_of(m);

	m->n_in = 0;
	send_line(m, query);
	m->asking = ASK_ANSWER;
	m->asked_ms = now_ms;
	m->deadline_ms = now_ms + m->health.timeout_ms +
	                 wire_ms(&m->config.wire, strlen(query) + ANSWER_CHARACTERS);
	m->due_ms = m->deadline_ms;
}

static void next_question(struct meter *m, int64_t now_ms)
{
	m->question++;
	if (quantity_of(m, m->question) != READING_QUANTITIES) {
		ask(m, now_ms);
		return;
	}
	if (m->answered)
		meter_publish(m, now_ms);
	meter_rest(m, now_ms);
}

/* What is left of this reading is given up; what the device has to say about it comes first. */
static void ask_errors(struct meter *m, int64_t now_ms)
{
	m->scpi_errors_due = m->config.scpi.error_query[0] != 0;
	m->scpi_errors_read = 0;
	if (m->scpi_errors_due)
		ask(m, now_ms);
	else
		meter_rest(m, now_ms);
}

static void take_error(struct meter *m, const char *line, size_t n, int64_t now_ms)
{
	char text[SCPI_ERROR_MAX];
	int code, q = quantity_of(m, m->question);

	if (scpi_decode_error(line, n, &code, text) < 0) {
		m->health.count.garbled++;
		m->scpi_errors_due = false;
		meter_drain(m, false, now_ms);
		return;
	}
	if (code == 0 || ++m->scpi_errors_read > ERRORS_READ_MAX) {
		m->scpi_errors_due = false;
		meter_rest(m, now_ms);
		return;
	}
	m->health.count.exceptions++;
	m->health.scpi_error = code;
	meter_trouble(m, "the device says %d, \"%s\" (after %s)", code, text,
	              q == ALL ? m->config.scpi.query_all
	                       : q < READING_QUANTITIES ? m->config.scpi.query[q] : "a query");
	strcpy(m->health.refusal, m->health.trouble);
	/* an unknown command stays unknown: do without, rather than time out on it for ever; but
	 * once may be noise on the line */
	if (code <= -100 && code > -200 && q >= 0 && q < READING_QUANTITIES)
		m->scpi_strikes[q] += m->scpi_errors_read == 1;
	ask(m, now_ms);
}

static void take_line(struct meter *m, const char *line, size_t n, int64_t now_ms)
{
	int q = quantity_of(m, m->question);
	struct err err;

	if (m->scpi_errors_due) {
		take_error(m, line, n, now_ms);
		return;
	}
	meter_raw_text(m->next.raw, line, n);
	if (scpi_decode(&m->config.scpi, q, line, n, &m->next, &err) < 0) {
		m->health.count.garbled++;
		meter_trouble(m, "%s: %s", query_of(m), err.text);
		meter_drain(m, false, now_ms);
		return;
	}
	m->answered = true;
	meter_in_time(m, now_ms);
	if (q != ALL)
		m->scpi_strikes[q] = 0;
	next_question(m, now_ms);
}

/* The next line that says something; lines that are empty or the echo of the query are passed
 * over.  False: none whole yet. */
static bool next_line(struct meter *m, char line[METER_IN_MAX], size_t *ret_n)
{
	const char *query = query_of(m);
	size_t used, n;

	while ((used = scpi_line(m->in, m->n_in, &n)) > 0) {
		memcpy(line, m->in, n);
		meter_drop(m, used);
		if (n > 0 && !(n == strlen(query) && memcmp(line, query, n) == 0)) {
			*ret_n = n;
			return true;
		}
	}
	return false;
}

static bool only_line_ends(const struct meter *m)
{
	for (size_t i = 0; i < m->n_in; i++)
		if (m->in[i] != '\r' && m->in[i] != '\n')
			return false;
	return true;
}

static void heard(struct meter *m, int64_t now_ms)
{
	char line[METER_IN_MAX];
	struct reading scratch;
	struct err err;
	size_t n;

	switch (m->asking) {
	case ASK_ANSWER:
		if (!next_line(m, line, &n)) {
			if (m->n_in == sizeof m->in) {
				m->health.count.garbled++;
				meter_trouble(m, "an answer without end");
				meter_drain(m, false, now_ms);
				meter_drain_heard(m, true, now_ms);
			}
		} else if (!only_line_ends(m)) {
			/* more than was asked for: whose answer is whose? */
			meter_trouble(m, "two answers to one question: neither is believed");
			meter_drain(m, false, now_ms);
			meter_drain_heard(m, true, now_ms);
		} else {
			m->n_in = 0;
			take_line(m, line, n, now_ms);
		}
		break;
	case ASK_DRAIN:
		reading_clear(&scratch);
		if (m->timed_out && next_line(m, line, &n) && !m->scpi_errors_due &&
		    scpi_decode(&m->config.scpi, quantity_of(m, m->question), line, n, &scratch,
		                &err) == 0) {
			meter_be_patient(m);
			meter_trouble(m, "the answer came after its time-out: %d ms from now on",
			              m->health.timeout_ms);
			m->timed_out = false;
		}
		meter_drain_heard(m, false, now_ms);
		break;
	case ASK_IDLE:
	case ASK_PAUSE:
		if (!only_line_ends(m))
			m->health.count.resyncs++;
		m->n_in = 0;
		break;
	}
}

static void give_up(struct meter *m, int64_t now_ms)
{
	if (m->n_in == 0) {
		m->health.count.timeouts++;
		meter_trouble(m, "no answer to %s within %d ms", query_of(m), m->health.timeout_ms);
	} else {
		m->health.count.garbled++;
		meter_trouble(m, "an answer to %s without a line end: %s", query_of(m),
		              m->health.heard);
	}
	m->n_in = 0;
	meter_drain(m, true, now_ms);
}

static void begin(struct meter *m, int64_t now_ms)
{
	m->began_ms = now_ms;
	m->question = 0;
	m->answered = false;
	reading_clear(&m->next);
	if (quantity_of(m, 0) == READING_QUANTITIES) {
		/* it knows none of our queries: ask again from the beginning, at leisure */
		memset(m->scpi_strikes, 0, sizeof m->scpi_strikes);
		meter_failed(m);
		meter_rest(m, now_ms + 10 * m->health.timeout_ms);
	} else if (m->scpi_setup_due) {
		m->scpi_setup_due = false;
		send_line(m, m->config.scpi.setup);
		m->asking = ASK_PAUSE;
		m->due_ms = now_ms + SETUP_MS;
	} else {
		ask(m, now_ms);
	}
}

static void due(struct meter *m, int64_t now_ms)
{
	switch (m->asking) {
	case ASK_IDLE:
		begin(m, now_ms);
		break;
	case ASK_PAUSE:
		ask(m, now_ms);
		break;
	case ASK_ANSWER:
		give_up(m, now_ms);
		break;
	case ASK_DRAIN:
		m->n_in = 0;
		meter_failed(m);
		if (m->scpi_errors_due) {
			/* not even the error queue answers */
			m->scpi_errors_due = false;
			meter_rest(m, now_ms);
		} else {
			ask_errors(m, now_ms);
		}
		break;
	}
}

const struct meter_ops meter_scpi_ops = {
	.word = "scpi",
	.from = FROM_SCPI,
	.check = check,
	.start = start,
	.heard = heard,
	.due = due,
};
