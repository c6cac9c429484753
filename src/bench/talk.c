#include "bench/talk.h"

#include <math.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "mainstair/proto/line_text.h"
#include "mainstair/proto/modbus_map.h"

static const char identity[] = "MAINSTAIR,VIRTUAL BENCH,0,1";

/* Silence that ends a Modbus frame.  A pseudo-terminal has no bit rate; longer than any gap a
 * program leaves within a request, shorter than it waits for an answer. */
static const double frame_gap_s = 0.005;

static const char *const protocol_words[] = {
	[TALK_TEXT] = "text", [TALK_SCPI] = "scpi", [TALK_MODBUS] = "modbus"
};
enum { PROTOCOLS = 3 };

int talk_protocol_from_word(const char *word)
{
	for (int k = 0; k < PROTOCOLS; k++)
		if (text_same(word, protocol_words[k]))
			return k;
	return -1;
}

void talk_init(struct talk *t, enum talk_protocol protocol, uint8_t unit, double period_s,
               uint64_t seed, double now_s)
{
	memset(t, 0, sizeof *t);
	t->protocol = protocol;
	t->unit = unit;
	t->period_s = period_s;
	t->random.state = seed ^ 0x6c696e65;
	t->next_line_s = now_s + period_s;
	t->scpi.commands = scpi_commands_default;
	t->scpi.n_commands = scpi_n_commands_default;
	t->scpi.identity = identity;
	reading_clear(&t->now);
	t->held = t->now;
}

void talk_reading(struct talk *t, const struct reading *r)
{
	t->now = *r;
	if (!t->line.frozen)
		t->held = *r;
}

void talk_hang_up(struct talk *t)
{
	t->n_in = t->n_out = 0;
	t->scpi.n_line = 0;
	t->scpi.overlong = false;
}

static bool happens(struct talk *t, double share)
{
	return share > 0 && (random_even(&t->random) + 1) / 2 < share;
}

/* Queue bytes, as the line lets them through.  What a full queue cannot hold is lost, as it is
 * where nobody reads. */
static void say(struct talk *t, const uint8_t *bytes, size_t n, double now_s)
{
	double due_s = now_s + t->line.slow_s;

	if (t->line.mute)
		return;
	/* a line made quick again does not overtake what is still under way */
	if (t->n_out > 0)
		due_s = fmax(due_s, t->due_s[t->n_out - 1]);
	for (size_t k = 0; k < n; k++) {
		uint8_t byte = bytes[k];
		if (happens(t, t->line.drop_share) || t->n_out == TALK_OUT_MAX)
			continue;
		if (happens(t, t->line.noise_share))
			byte ^= (uint8_t)(1u << (random_bits(&t->random) & 7));
		t->out[t->n_out] = byte;
		t->due_s[t->n_out++] = due_s;
	}
}

static const struct reading *told(const struct talk *t)
{
	return t->line.frozen ? &t->held : &t->now;
}

/* A text line has no check sum of its own: its last character goes bad instead. */
static void spoil_last(char *text, size_t n)
{
	while (n > 0 && (text[n - 1] == '\n' || text[n - 1] == '\r'))
		n--;
	if (n > 0)
		text[n - 1] = '?';
}

static void say_lines(struct talk *t, double now_s)
{
	char line[LINE_TEXT_MAX];

	while (now_s >= t->next_line_s) {
		size_t n = line_text_encode(&line_text_map_default, told(t), line);
		if (t->line.bad_check)
			spoil_last(line, n);
		/* before its first reading a meter says nothing */
		if (told(t)->at[READING_WATTS].state != VALUE_NONE)
			say(t, (const uint8_t *)line, n, t->next_line_s);
		t->next_line_s += t->period_s;
		/* a program that slept does not get the night's lines */
		if (t->next_line_s < now_s - 10 * t->period_s)
			t->next_line_s = now_s;
	}
}

static void hear_scpi(struct talk *t, const uint8_t *bytes, size_t n, double now_s)
{
	char out[1024];
	size_t n_out = scpi_device_input(&t->scpi, bytes, n, told(t), out, sizeof out);

	if (t->line.bad_check)
		spoil_last(out, n_out);
	say(t, (const uint8_t *)out, n_out, now_s);
}

static void answer_query(struct talk *t, const struct modbus_query *query, bool refuse,
                         double now_s)
{
	uint16_t registers[2 * READING_QUANTITIES] = { 0 };
	struct modbus_bank bank = { 0, 2 * READING_QUANTITIES, registers };
	uint8_t frame[MODBUS_FRAME_MAX];
	size_t n;

	modbus_map_write(&modbus_map_default, &bank, registers, told(t));
	if (refuse)
		n = modbus_encode_exception(t->unit, query->function, MODBUS_ILLEGAL_FUNCTION,
		                            frame);
	else
		n = modbus_serve(query, &bank, frame);
	if (t->line.bad_check && n > 0)
		frame[n - 1] ^= 0xff;
	say(t, frame, n, now_s);
}

static void drop_heard(struct talk *t, size_t n)
{
	t->n_in -= n;
	memmove(t->in, t->in + n, t->n_in);
}

static void hear_modbus(struct talk *t, const uint8_t *bytes, size_t n, double now_s)
{
	bool quiet = n == 0 && now_s - t->heard_s >= frame_gap_s;

	if (n > 0) {
		/* longer than any frame: only noise, of which the newest may begin one */
		if (n > TALK_IN_MAX) {
			bytes += n - TALK_IN_MAX;
			n = TALK_IN_MAX;
		}
		if (t->n_in + n > TALK_IN_MAX)
			drop_heard(t, t->n_in + n - TALK_IN_MAX);
		memcpy(t->in + t->n_in, bytes, n);
		t->n_in += n;
		t->heard_s = now_s;
	}
	while (t->n_in > 0) {
		struct modbus_query query;
		size_t used = 0;
		enum modbus_slave_verdict v =
			modbus_slave_take(t->unit, t->in, t->n_in, quiet, &query, &used);
		if (v == MODBUS_SLAVE_MORE && !quiet)
			return;
		if (v == MODBUS_SLAVE_MORE || used == 0)
			used = t->n_in; /* cut short, and nothing more will come of it */
		if (v == MODBUS_SLAVE_SERVE || v == MODBUS_SLAVE_REFUSE)
			answer_query(t, &query, v == MODBUS_SLAVE_REFUSE, now_s);
		drop_heard(t, used);
	}
}

void talk_hear(struct talk *t, const uint8_t *bytes, size_t n, double now_s)
{
	switch (t->protocol) {
	case TALK_TEXT:
		say_lines(t, now_s);
		break;
	case TALK_SCPI:
		if (n > 0)
			hear_scpi(t, bytes, n, now_s);
		break;
	case TALK_MODBUS:
		hear_modbus(t, bytes, n, now_s);
		break;
	}
}

size_t talk_say(struct talk *t, double now_s, uint8_t *ret, size_t max)
{
	size_t n = 0;

	while (n < t->n_out && n < max && t->due_s[n] <= now_s)
		n++;
	memcpy(ret, t->out, n);
	t->n_out -= n;
	memmove(t->out, t->out + n, t->n_out);
	memmove(t->due_s, t->due_s + n, t->n_out * sizeof t->due_s[0]);
	return n;
}

double talk_due(const struct talk *t)
{
	double due_s = t->n_out > 0 ? t->due_s[0] : INFINITY;

	if (t->protocol == TALK_TEXT)
		due_s = fmin(due_s, t->next_line_s);
	if (t->protocol == TALK_MODBUS && t->n_in > 0)
		due_s = fmin(due_s, t->heard_s + frame_gap_s);
	return due_s;
}
