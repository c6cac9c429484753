/*
 * A meter that sends lines by itself: listen, and notice when it falls silent.
 */
#include "io/meter_ops.h"

#include <string.h>

static int check(const struct meter_config *config, struct err *err)
{
	const struct line_text_map *map = &config->text;

	for (size_t i = 0; !map->labelled && i < map->n_fields; i++)
		if (map->fields[i] >= 0)
			return 0;
	for (int q = 0; map->labelled && q < READING_QUANTITIES; q++)
		if (map->label[q][0])
			return 0;
	return err_set(err, ERR_INPUT,
	               "the text meter has no field to read: give fields, or labels of "
	               "volts and watts, in the bench file");
}

static void start(struct meter *m, int64_t now_ms)
{
	memset(&m->stream, 0, sizeof m->stream);
	m->deadline_ms = m->due_ms = now_ms + m->health.timeout_ms;
}

static void take_line(struct meter *m, int64_t now_ms)
{
	char why[READING_WHY_MAX];

	reading_clear(&m->next);
	meter_raw_text(m->next.raw, m->stream.line, m->stream.n);
	switch (line_text_decode(&m->config.text, m->stream.line, m->stream.n, &m->next, why)) {
	case LINE_TEXT_READING:
		meter_publish(m, now_ms);
		m->deadline_ms = m->due_ms = now_ms + m->health.timeout_ms;
		return;
	case LINE_TEXT_EMPTY:
	case LINE_TEXT_COMMENT:
		return;
	case LINE_TEXT_GARBLED:
		m->health.count.garbled++;
		break;
	case LINE_TEXT_BAD_SUM:
		m->health.count.crc_errors++;
		break;
	}
	meter_trouble(m, "%s: %s", why, m->next.raw);
	meter_failed(m);
}

static void heard(struct meter *m, int64_t now_ms)
{
	while (m->n_in > 0 && m->n_queue < METER_QUEUE_MAX) {
		bool in_step = m->stream.in_step;
		size_t used;
		enum line_text_event event = line_text_take(&m->stream, m->in, m->n_in, &used);

		meter_drop(m, used);
		if (event == LINE_TEXT_LINE) {
			take_line(m, now_ms);
		} else if (event == LINE_TEXT_LOST && in_step) {
			/* the first line after opening is expected to be cut; this one is not */
			m->health.count.resyncs++;
			meter_trouble(m, "a line without end was passed over");
			meter_failed(m);
		}
	}
}

static void due(struct meter *m, int64_t now_ms)
{
	if (now_ms < m->deadline_ms) { /* called early, because our readings were not taken */
		m->due_ms = m->deadline_ms;
		return;
	}
	m->health.count.timeouts++;
	meter_trouble(m, m->stream.n > 0 && !m->stream.complete
	              ? "characters, but no whole line within %d ms"
	              : "no line within %d ms", m->health.timeout_ms);
	meter_failed(m);
	m->deadline_ms = m->due_ms = now_ms + m->health.timeout_ms;
}

const struct meter_ops meter_text_ops = {
	.word = "text",
	.from = FROM_TEXT,
	.check = check,
	.start = start,
	.heard = heard,
	.due = due,
};
