#include "bench/order.h"

#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

const char order_help[] =
	"  50 | 50 V              variac to 50 V\n"
	"  up [5] | down [5]      variac up or down by so many volts\n"
	"  fault WORDS | mend     put a fault in | take all out\n"
	"  line noise 1 %         so many of the meter's bytes have a bit turned\n"
	"  line drop 1 %          so many are lost\n"
	"  line slow 0.5 s        answers and lines come late\n"
	"  line check             check sums are wrong (text, SCPI: the last character)\n"
	"  line freeze            the same values again and again\n"
	"  line mute              no answers, no lines\n"
	"  line good              all well again\n"
	"  line cut | line join   the adapter is pulled out | put back\n"
	"  slew 20 | speed 10     variac volts a second | simulated seconds a second\n"
	"  status                 variac, meter, rails, regulators\n"
	"  quit\n";

static const double default_up_volts = 5;

/* What stands behind an order's words. */
enum operand { OPERAND_NONE, OPERAND_NEEDED, OPERAND_OPTIONAL };

struct order_row {
	const char *word, *second; /* second: NULL for none */
	enum order_kind kind;
	enum operand operand;
	enum unit unit;
	double least, most, otherwise; /* otherwise: without the optional operand */
};

static const struct order_row rows[] = {
	{ "up", NULL, ORDER_UP, OPERAND_OPTIONAL, UNIT_VOLT, 0, 300, default_up_volts },
	{ "down", NULL, ORDER_UP, OPERAND_OPTIONAL, UNIT_VOLT, 0, 300, default_up_volts },
	{ "mend", NULL, ORDER_MEND, OPERAND_NONE, UNIT_NONE, 0, 0, 0 },
	{ "line", "noise", ORDER_LINE_NOISE, OPERAND_NEEDED, UNIT_PERCENT, 0, 1, 0 },
	{ "line", "drop", ORDER_LINE_DROP, OPERAND_NEEDED, UNIT_PERCENT, 0, 1, 0 },
	{ "line", "slow", ORDER_LINE_SLOW, OPERAND_NEEDED, UNIT_SECOND, 0, 60, 0 },
	{ "line", "check", ORDER_LINE_CHECK, OPERAND_NONE, UNIT_NONE, 0, 0, 0 },
	{ "line", "freeze", ORDER_LINE_FREEZE, OPERAND_NONE, UNIT_NONE, 0, 0, 0 },
	{ "line", "mute", ORDER_LINE_MUTE, OPERAND_NONE, UNIT_NONE, 0, 0, 0 },
	{ "line", "good", ORDER_LINE_GOOD, OPERAND_NONE, UNIT_NONE, 0, 0, 0 },
	{ "line", "cut", ORDER_LINE_CUT, OPERAND_NONE, UNIT_NONE, 0, 0, 0 },
	{ "line", "join", ORDER_LINE_JOIN, OPERAND_NONE, UNIT_NONE, 0, 0, 0 },
	{ "slew", NULL, ORDER_SLEW, OPERAND_NEEDED, UNIT_NONE, 0.1, 1000, 0 },
	{ "speed", NULL, ORDER_SPEED, OPERAND_NEEDED, UNIT_NONE, 0.01, 100, 0 },
	{ "status", NULL, ORDER_STATUS, OPERAND_NONE, UNIT_NONE, 0, 0, 0 },
	{ "quit", NULL, ORDER_QUIT, OPERAND_NONE, UNIT_NONE, 0, 0, 0 },
};

static const char blanks[] = " \t\r\n";

/* The word at `at`, copied (cut to fit); returns what follows, blanks passed over. */
static const char *take_word(const char *at, char *ret, size_t size)
{
	size_t n = strcspn(at, blanks), kept = n < size ? n : size - 1;

	memcpy(ret, at, kept);
	ret[kept] = 0;
	at += n;
	return at + strspn(at, blanks);
}

static int refuse(struct err *err, const char *line)
{
	char shown[80];

	text_show(shown, sizeof shown, line, strcspn(line, "\r\n"));
	return err_set(err, ERR_INPUT, "\"%s\" is no order; one of: VOLTS, up, down, fault WORDS, "
	               "mend, line noise|drop|slow|check|freeze|mute|good|cut|join, slew, speed, "
	               "status, quit", shown);
}

/* A quantity within limits, blanks at its end passed over. */
static int read_operand(const char *text, enum unit unit, double least, double most, double *ret,
                        struct err *err)
{
	char own[64], low[32], high[32];
	struct quantity q;
	size_t n = strlen(text);

	while (n > 0 && strchr(blanks, text[n - 1]))
		n--;
	if (n >= sizeof own)
		return err_set(err, ERR_INPUT, "the value is too long");
	memcpy(own, text, n);
	own[n] = 0;
	if (num_parse(own, unit, &q, err) != 0)
		return -1;
	if (!(q.value >= least && q.value <= most)) {
		num_print_unit(low, sizeof low, least, unit, 4);
		num_print_unit(high, sizeof high, most, unit, 4);
		return err_set(err, ERR_RANGE, "%s is outside %s to %s", own, low, high);
	}
	*ret = q.value;
	return 0;
}

static int parse_fault(const char *words, struct order *ret, struct err *err)
{
	size_t n = strlen(words);

	while (n > 0 && strchr(blanks, words[n - 1]))
		n--;
	if (n == 0 || n >= sizeof ret->words)
		return err_set(err, ERR_INPUT,
		               "fault: say which one, as \"fault rail main short\"");
	ret->kind = ORDER_FAULT;
	memcpy(ret->words, words, n);
	ret->words[n] = 0;
	return 0;
}

static int parse_row(const struct order_row *row, const char *rest, struct order *ret,
                     struct err *err)
{
	ret->kind = row->kind;
	ret->value = row->otherwise;
	if (*rest && row->operand == OPERAND_NONE)
		return err_set(err, ERR_INPUT, "nothing may stand behind \"%s%s%s\"", row->word,
		               row->second ? " " : "", row->second ? row->second : "");
	if (!*rest && row->operand == OPERAND_NEEDED)
		return err_set(err, ERR_INPUT, "\"%s%s%s\" needs a value", row->word,
		               row->second ? " " : "", row->second ? row->second : "");
	if (*rest && read_operand(rest, row->unit, row->least, row->most, &ret->value, err) != 0)
		return -1;
	if (text_same(row->word, "down"))
		ret->value = -ret->value;
	return 0;
}

int order_parse(const char *line, struct order *ret, struct err *err)
{
	char word[16], second[16];
	const char *at = line + strspn(line, blanks), *rest, *after;

	memset(ret, 0, sizeof *ret);
	ret->kind = ORDER_NOTHING;
	if (!*at || *at == ';' || *at == '#')
		return 0;
	rest = take_word(at, word, sizeof word);
	after = take_word(rest, second, sizeof second);
	if (text_same(word, "fault"))
		return parse_fault(rest, ret, err);
	for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
		const struct order_row *row = &rows[k];
		if (!text_same(word, row->word))
			continue;
		if (!row->second)
			return parse_row(row, rest, ret, err);
		if (text_same(second, row->second))
			return parse_row(row, after, ret, err);
	}
	if (!strchr("0123456789.", *at))
		return refuse(err, at);
	ret->kind = ORDER_VARIAC;
	return read_operand(at, UNIT_VOLT, 0, 300, &ret->value, err);
}

int order_parse_timed(const char *line, double *ret_s, struct order *ret, struct err *err)
{
	char seconds[32];
	const char *at = line + strspn(line, blanks), *rest;

	*ret_s = 0;
	memset(ret, 0, sizeof *ret);
	ret->kind = ORDER_NOTHING;
	if (!*at || *at == ';' || *at == '#')
		return 0;
	rest = take_word(at, seconds, sizeof seconds);
	if (read_operand(seconds, UNIT_SECOND, 0, 1e6, ret_s, err) != 0)
		return -1;
	if (!*rest)
		return err_set(err, ERR_INPUT, "an order must stand behind the seconds");
	return order_parse(rest, ret, err);
}
