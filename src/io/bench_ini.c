#include "io/bench_ini.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/profile_ini.h"
#include "io/profile_values.h"

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* What is gathered while [meter] is read: keys that mean something only together. */
struct bench_reader {
	const struct ini_doc *doc;
	struct bench_setup *bench;
	struct complaints *c;
	unsigned first_register;
	double range_watts, resolution_watts; /* NAN: not given */
	const struct ini_entry *accuracy;
	const struct ini_entry *lamp; /* the last that gave the lamp's watts or volts */
	bool lamp_twice;
	bool mapped; /* a register, a query, a label or fields have been given */
};

/* Reads one entry.  -1 with err: one complaint at the entry. */
typedef int read_fn(struct bench_reader *r, const struct ini_entry *e, struct err *err);

enum {
	FOR_MODBUS = 1 << METER_MODBUS, FOR_SCPI = 1 << METER_SCPI, FOR_TEXT = 1 << METER_TEXT,
	FOR_ALL = FOR_MODBUS | FOR_SCPI | FOR_TEXT
};

struct meter_key {
	const char *key;
	int protocols;
	read_fn *read;
};

/* ---- values ---- */

static int read_number(const struct ini_entry *e, enum unit unit, double least, double most,
                       double *ret, struct err *err)
{
	struct quantity q;

	if (num_parse(e->value, unit, &q, err) < 0)
		return -1;
	if (q.tol >= 0)
		return err_set(err, ERR_INPUT, "a tolerance means nothing here");
	if (q.value < least || q.value > most) {
		char low[40], high[40];

		num_print_unit(low, sizeof low, least, unit, 4);
		num_print_unit(high, sizeof high, most, unit, 4);
		return err_set(err, ERR_RANGE, "outside %s to %s", low, high);
	}
	*ret = q.value;
	return 0;
}

static int read_whole(const struct ini_entry *e, int least, int most, int *ret, struct err *err)
{
	double value;

	if (read_number(e, UNIT_NONE, least, most, &value, err) < 0)
		return -1;
	if (fabs(value - round(value)) > 0)
		return err_set(err, ERR_INPUT, "a whole number from %d to %d", least, most);
	*ret = (int)value;
	return 0;
}

/* Index of the value among n words. */
static int read_word(const struct ini_entry *e, const char *const *words, size_t n, int *ret,
                     struct err *err)
{
	char list[160] = "";
	size_t at = 0;

	for (size_t i = 0; i < n; i++)
		if (text_same(e->value, words[i])) {
			*ret = (int)i;
			return 0;
		}
	for (size_t i = 0; i < n && at < sizeof list; i++)
		at += (size_t)snprintf(list + at, sizeof list - at, "%s%s", i ? ", " : "",
		                       words[i]);
	return err_set(err, ERR_INPUT, "'%.60s' is none of: %s", e->value, list);
}

/* ---- [meter], whatever the protocol ---- */

static int read_port(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	if (strlen(e->value) >= WIRE_NAME_MAX)
		return err_set(err, ERR_RANGE, "a name of more than %d bytes", WIRE_NAME_MAX - 1);
	if (e->value[0] != '/')
		return err_set(err, ERR_INPUT,
		               "a port is named by its whole path, as in /dev/ttyUSB0 or "
		               "/dev/serial/by-id/...");
	strcpy(r->bench->meter.wire.name, e->value);
	return 0;
}

static int read_baud(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	return wire_parse_baud(e->value, &r->bench->meter.wire.baud, err);
}

static int read_framing(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	return wire_parse_framing(e->value, &r->bench->meter.wire, err);
}

static int read_handshake(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	static const char *const words[] = { "none", "rts-cts" };
	int i;

	if (read_word(e, words, COUNT(words), &i, err) < 0)
		return -1;
	r->bench->meter.wire.handshake = i == 1;
	return 0;
}

static int read_ms(const struct ini_entry *e, double least_s, double most_s, int *ret,
                   struct err *err)
{
	double seconds;

	if (read_number(e, UNIT_SECOND, least_s, most_s, &seconds, err) < 0)
		return -1;
	*ret = (int)lround(seconds * 1000);
	return 0;
}

static int read_period(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	return read_ms(e, 0, 60, &r->bench->meter.period_ms, err);
}

static int read_timeout(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	return read_ms(e, 0.02, 60, &r->bench->meter.timeout_ms, err);
}

static int read_watch(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	return read_number(e, UNIT_SECOND, 1, 600, &r->bench->meter.watch_s, err);
}

static int read_range(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	return read_number(e, UNIT_WATT, 1, 100000, &r->range_watts, err);
}

static int read_resolution(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	return read_number(e, UNIT_WATT, 1e-6, 100, &r->resolution_watts, err);
}

static int read_accuracy(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	(void)err;
	r->accuracy = e; /* judged when range and resolution are known, too */
	return 0;
}

/* One term of an accuracy: `1 %`, `0.1 % of range`, `2 counts`, `0.2 W`. */
static int accuracy_term(const struct bench_reader *r, const char *text, bool first,
                         struct meter_accuracy *ret, struct err *err)
{
	static const char *const counts[] = { "count", "counts", "digit", "digits" };
	struct quantity q;
	const char *rest = num_scan(text, UNIT_PERCENT, &q, err);
	bool percent = rest && strchr(text, '%');
	struct words words;

	if (percent && q.value >= 0 && q.value <= 0.5) {
		if (text_same(rest, "of reading") || (*rest == 0 && first)) {
			ret->reading_share += q.value;
			return 0;
		}
		if (text_same(rest, "of range")) {
			if (isnan(r->range_watts))
				return err_set(err, ERR_INPUT,
				               "`%% of range` needs the key range, in watts");
			ret->offset_watts += q.value * r->range_watts;
			return 0;
		}
		return err_set(err, ERR_INPUT, "'%.40s': say of what: `of reading` or `of range`",
		               text);
	}
	for (size_t i = 0; i < COUNT(counts); i++) {
		if (words_of(text, &words, err) < 0 || words.n != 2 ||
		    !text_same(words.word[1], counts[i]) ||
		    num_parse(words.word[0], UNIT_NONE, &q, err) < 0 || q.value < 0 ||
		    q.value > 1000)
			continue;
		if (isnan(r->resolution_watts))
			return err_set(err, ERR_INPUT,
			               "counts need the key resolution, in watts a count");
		ret->offset_watts += q.value * r->resolution_watts;
		return 0;
	}
	if (num_parse(text, UNIT_WATT, &q, err) == 0 && strpbrk(text, "wW") && q.value >= 0 &&
	    q.value <= 1000) {
		ret->offset_watts += q.value;
		return 0;
	}
	return err_set(err, ERR_INPUT, "'%.40s' is no accuracy; as in `1 %% of reading + 0.1 %% of "
	               "range`, `0.5 %% + 2 counts` or `1 %% + 0.2 W`", text);
}

static int finish_accuracy(struct bench_reader *r, struct err *err)
{
	struct meter_accuracy a = { 0 };
	char copy[VALUE_MAX], *term, *plus;
	bool first = true;
	size_t n;

	if (!r->accuracy) {
		a = meter_accuracy_default;
	} else {
		(void)snprintf(copy, sizeof copy, "%s", r->accuracy->value);
		for (term = copy; term; term = plus) {
			plus = strchr(term, '+');
			if (plus)
				*plus++ = 0;
			while (*term == ' ' || *term == '\t')
				term++;
			for (n = strlen(term);
			     n > 0 && (term[n - 1] == ' ' || term[n - 1] == '\t');)
				term[--n] = 0;
			if (accuracy_term(r, term, first, &a, err) < 0)
				return -1;
			first = false;
		}
	}
	/* between two steps of its last digit a meter shows either */
	if (!isnan(r->resolution_watts))
		a.offset_watts += 0.5 * r->resolution_watts;
	r->bench->meter.accuracy_given = r->accuracy || !isnan(r->resolution_watts);
	r->bench->meter.accuracy = a;
	return 0;
}

/* ---- by protocol ---- */

static int read_address(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	int unit;

	if (read_whole(e, 1, 247, &unit, err) < 0)
		return -1;
	r->bench->meter.unit = (uint8_t)unit;
	return 0;
}

static int read_first_register(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	int first;

	if (read_whole(e, 0, 1, &first, err) < 0)
		return -1;
	r->first_register = (unsigned)first;
	return 0;
}

static int read_span(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	int span;

	if (read_whole(e, 0, MODBUS_REGISTERS_MAX, &span, err) < 0)
		return -1;
	r->bench->meter.span = (unsigned)span;
	return 0;
}

/* Take ` x SCALE` off the end of text, in place; 1 when there is none. */
static int take_scale(char *text, double *ret, struct err *err)
{
	char *number = strrchr(text, ' '), *x;
	struct quantity q;

	*ret = 1;
	if (!number)
		return 0;
	for (x = number; x > text && (x[-1] == ' ' || x[-1] == '\t'); )
		x--;
	if (x - text < 2 || (x[-1] != 'x' && x[-1] != 'X') || (x[-2] != ' ' && x[-2] != '\t'))
		return 0;
	if (num_parse(number + 1, UNIT_NONE, &q, err) < 0)
		return -1;
	if (!(fabs(q.value) >= 1e-9 && fabs(q.value) <= 1e9) || q.tol >= 0)
		return err_set(err, ERR_RANGE, "a scale is between 1e-9 and 1e9");
	*ret = q.value;
	for (x--; x > text && (x[-1] == ' ' || x[-1] == '\t'); )
		x--;
	*x = 0;
	return 0;
}

static int copy_command(char ret[SCPI_QUERY_MAX], const char *text, struct err *err)
{
	if (strlen(text) >= SCPI_QUERY_MAX)
		return err_set(err, ERR_RANGE, "a command of more than %d characters",
		               SCPI_QUERY_MAX - 1);
	for (const char *c = text; *c; c++)
		if (*c < 0x20 || *c > 0x7e)
			return err_set(err, ERR_INPUT, "a command is written in plain ASCII");
	strcpy(ret, text);
	return 0;
}

/* A quantity's own key: a register, a query or a label. */
static int read_quantity(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	struct meter_config *m = &r->bench->meter;
	enum reading_quantity q = (enum reading_quantity)reading_quantity_from_word(e->key,
	                                                                           strlen(e->key));
	char copy[VALUE_MAX];

	r->mapped = true;
	if (m->protocol == METER_MODBUS)
		return modbus_register_parse(e->value, r->first_register, &m->modbus.at[q], err);
	(void)snprintf(copy, sizeof copy, "%s", e->value);
	if (m->protocol == METER_SCPI)
		return take_scale(copy, &m->scpi.scale[q], err) < 0
		       ? -1 : copy_command(m->scpi.query[q], copy, err);
	if (take_scale(copy, &m->text.scale[q], err) < 0)
		return -1;
	if (strlen(copy) >= LINE_TEXT_LABEL_MAX)
		return err_set(err, ERR_RANGE, "a label of more than %d characters",
		               LINE_TEXT_LABEL_MAX - 1);
	if (strpbrk(copy, " \t"))
		return err_set(err, ERR_INPUT,
		               "'%.40s' is no label: one word, and ` x SCALE` behind it "
		               "if the number is not in %s",
		               copy, reading_quantity_word(q));
	strcpy(m->text.label[q], copy);
	m->text.labelled = true;
	return 0;
}

/* `volts, amps x 0.001, -, watts` */
static int read_fields(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	struct meter_config *m = &r->bench->meter;
	bool scpi = m->protocol == METER_SCPI;
	size_t max = scpi ? SCPI_FIELDS_MAX : LINE_TEXT_FIELDS_MAX;
	int *fields = scpi ? m->scpi.fields : m->text.fields;
	double *scale = scpi ? m->scpi.scale : m->text.scale;
	char copy[VALUE_MAX], *items[LINE_TEXT_FIELDS_MAX];
	int n;

	r->mapped = true;
	(void)snprintf(copy, sizeof copy, "%s", e->value);
	n = value_list(copy, true, items, (int)max, err);
	if (n < 0)
		return -1;
	for (int i = 0; i < n; i++) {
		double factor;
		int q;

		fields[i] = -1;
		if (strcmp(items[i], "-") == 0)
			continue;
		if (take_scale(items[i], &factor, err) < 0)
			return -1;
		q = reading_quantity_from_word(items[i], strlen(items[i]));
		if (q < 0)
			return err_set(err, ERR_INPUT,
			               "'%.40s' is no field: volts, amps, watts, va, "
			               "power_factor, hertz, or - for one to pass over",
			               items[i]);
		for (int k = 0; k < i; k++)
			if (fields[k] == q)
				return err_set(err, ERR_INPUT, "%s twice", items[i]);
		fields[i] = q;
		scale[q] = factor;
	}
	if (scpi)
		m->scpi.n_fields = (size_t)n;
	else
		m->text.n_fields = (size_t)n;
	return 0;
}

static int read_query(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	r->mapped = true;
	return copy_command(r->bench->meter.scpi.query_all, e->value, err);
}

/* `none` where a command may be left out. */
static int read_command(const struct ini_entry *e, char ret[SCPI_QUERY_MAX], struct err *err)
{
	if (text_same(e->value, "none")) {
		ret[0] = 0;
		return 0;
	}
	return copy_command(ret, e->value, err);
}

static int read_setup(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	return read_command(e, r->bench->meter.scpi.setup, err);
}

static int read_error_query(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	return read_command(e, r->bench->meter.scpi.error_query, err);
}

static int read_separator(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	static const char *const words[] = { "comma", "semicolon", "tab", "blank" };
	int i;

	if (read_word(e, words, COUNT(words), &i, err) < 0)
		return -1;
	r->bench->meter.text.separator = ",;\t "[i];
	return 0;
}

static int read_decimal(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	static const char *const words[] = { "point", "comma" };
	int i;

	if (read_word(e, words, COUNT(words), &i, err) < 0)
		return -1;
	r->bench->meter.text.decimal_comma = i == 1;
	return 0;
}

static int read_check_sum(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	static const char *const words[] = { "none", "xor" };
	int i;

	if (read_word(e, words, COUNT(words), &i, err) < 0)
		return -1;
	r->bench->meter.text.check_sum = i == 1;
	return 0;
}

/* `protocol` and `first_register` are read before all others. */
static const struct meter_key meter_keys[] = {
	{ "protocol", FOR_ALL, NULL },
	{ "port", FOR_ALL, read_port },
	{ "baud", FOR_ALL, read_baud },
	{ "framing", FOR_ALL, read_framing },
	{ "handshake", FOR_ALL, read_handshake },
	{ "period", FOR_MODBUS | FOR_SCPI, read_period },
	{ "timeout", FOR_ALL, read_timeout },
	{ "watch", FOR_ALL, read_watch },
	{ "accuracy", FOR_ALL, read_accuracy },
	{ "range", FOR_ALL, read_range },
	{ "resolution", FOR_ALL, read_resolution },
	{ "address", FOR_MODBUS, read_address },
	{ "first_register", FOR_MODBUS, NULL },
	{ "span", FOR_MODBUS, read_span },
	{ "volts", FOR_ALL, read_quantity },
	{ "amps", FOR_ALL, read_quantity },
	{ "watts", FOR_ALL, read_quantity },
	{ "va", FOR_ALL, read_quantity },
	{ "power_factor", FOR_ALL, read_quantity },
	{ "hertz", FOR_ALL, read_quantity },
	{ "fields", FOR_SCPI | FOR_TEXT, read_fields },
	{ "query", FOR_SCPI, read_query },
	{ "setup", FOR_SCPI, read_setup },
	{ "error_query", FOR_SCPI, read_error_query },
	{ "separator", FOR_TEXT, read_separator },
	{ "decimal", FOR_TEXT, read_decimal },
	{ "check_sum", FOR_TEXT, read_check_sum },
};

static void complain(struct bench_reader *r, const struct ini_entry *e, const struct err *err)
{
	complaints_add(r->c, e->line, r->doc->sections[e->section].title, e->key, "%s", err->text);
}

/* Nothing of the default maps may stand beside what the file gives. */
static void clear_maps(struct meter_config *m)
{
	m->modbus = (struct modbus_map){ 0 };
	memset(m->scpi.query, 0, sizeof m->scpi.query);
	m->text.n_fields = 0;
	m->own_map = false;
}

static void check_meter(struct bench_reader *r, int section)
{
	struct meter_config *m = &r->bench->meter;
	const struct ini_section *s = &r->doc->sections[section];
	const struct ini_entry *fields = ini_find(r->doc, section, "fields");
	bool single = false;

	if (!r->mapped)
		complaints_add(
		        r->c, s->line, s->title, NULL, "nothing says where the readings are: %s",
		        m->protocol == METER_MODBUS ? "give volts and watts a register"
		        : m->protocol == METER_SCPI ? "give volts and watts a query"
		                                    : "give fields, or volts and watts a label");
	for (int q = 0; q < READING_QUANTITIES; q++)
		single |= m->protocol == METER_SCPI ? m->scpi.query[q][0] != 0
		        : m->protocol == METER_TEXT && m->text.label[q][0] != 0;
	if (m->protocol == METER_SCPI && (m->scpi.query_all[0] != 0) != (fields != NULL))
		complaints_add(
		        r->c, s->line, s->title, NULL,
		        "query and fields belong together: the one asks, the other says what the "
		        "answer holds");
	if (single && (fields || m->scpi.query_all[0]))
		complaints_add(r->c, s->line, s->title, NULL,
		               "either fields, or each quantity by itself; not both");
	if (m->protocol == METER_TEXT && m->text.decimal_comma && m->text.separator == ',')
		complaints_add(r->c, s->line, s->title, "decimal",
		               "a decimal comma needs another separator than the comma");
}

static void read_meter(struct bench_reader *r, int section)
{
	const struct ini_section *s = &r->doc->sections[section];
	const struct ini_entry *protocol = ini_find(r->doc, section, "protocol");
	const struct ini_entry *first = ini_find(r->doc, section, "first_register");
	const char *known[COUNT(meter_keys)];
	struct err err;
	int p;

	if (!protocol) {
		complaints_add(r->c, s->line, s->title, "protocol",
		               "is missing: modbus, scpi or text");
		return;
	}
	p = meter_protocol_from_word(protocol->value);
	if (p < 0) {
		complaints_add(r->c, protocol->line, s->title, protocol->key,
		               "'%.40s' is none of: modbus, scpi, text", protocol->value);
		return;
	}
	meter_config_default(&r->bench->meter, (enum meter_protocol)p);
	clear_maps(&r->bench->meter);
	r->bench->has_meter = true;
	if (first && p == METER_MODBUS && read_first_register(r, first, &err) < 0)
		complain(r, first, &err);
	for (size_t k = 0; k < COUNT(meter_keys); k++)
		known[k] = meter_keys[k].key;
	for (int i = 0; i < r->doc->n_entries; i++) {
		const struct ini_entry *e = &r->doc->entries[i];
		const struct meter_key *key = NULL;

		if (e->section != section)
			continue;
		for (size_t k = 0; k < COUNT(meter_keys) && !key; k++)
			if (text_same(e->key, meter_keys[k].key))
				key = &meter_keys[k];
		if (!key)
			ini_unknown_key(r->doc, e, known, COUNT(meter_keys), r->c);
		else if (!(key->protocols & 1 << p))
			complaints_add(r->c, e->line, s->title, e->key,
			               "means nothing to a %s meter",
			               meter_protocol_word((enum meter_protocol)p));
		else if (key->read && key->read(r, e, &err) < 0)
			complain(r, e, &err);
	}
	if (finish_accuracy(r, &err) < 0)
		complain(r, r->accuracy, &err);
	check_meter(r, section);
}

/* ---- [line] and [lamp] ---- */

int bench_parse_lamp(const char *text, double *ret_watts, double *ret_volts, struct err *err)
{
	char number[2][16], unit[2][16], part[2][40], rest[2];
	struct quantity watts, volts;
	struct err ignored;

	if (sscanf(text, "%15s %15s %15s %15s %1s", number[0], unit[0], number[1], unit[1],
	           rest) == 4) {
		for (int i = 0; i < 2; i++)
			(void)snprintf(part[i], sizeof part[i], "%s %s", number[i], unit[i]);
		for (int i = 0; i < 2; i++)
			if (num_parse(part[i], UNIT_WATT, &watts, &ignored) == 0 &&
			    num_parse(part[1 - i], UNIT_VOLT, &volts, &ignored) == 0 &&
			    watts.value >= 5.0 && watts.value <= 2000.0 && volts.value >= 80.0 &&
			    volts.value <= 300.0) {
				*ret_watts = watts.value;
				*ret_volts = volts.value;
				return 0;
			}
	}
	return err_set(err, ERR_INPUT, "a lamp's rating, please, as 60 W 120 V "
	               "(5 to 2000 W, 80 to 300 V)");
}

static int read_series_lamp(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	r->lamp_twice |= r->lamp != NULL;
	r->lamp = e;
	return bench_parse_lamp(e->value, &r->bench->lamp_watts, &r->bench->lamp_volts, err);
}

static int read_lamp_meter(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	static const char *const words[] = { "behind", "ahead" };
	int i;

	if (read_word(e, words, COUNT(words), &i, err) < 0)
		return -1;
	r->bench->meter_ahead = i == 1;
	return 0;
}

/* Half a lamp is none, and two are a slip. */
static void check_lamp(struct bench_reader *r)
{
	const bool watts = isfinite(r->bench->lamp_watts), volts = isfinite(r->bench->lamp_volts);
	struct err err;

	if (!r->lamp)
		return;
	if (r->lamp_twice)
		(void)err_set(&err, ERR_INPUT, "the lamp is given twice: either series_lamp, or "
		              "watts and volts");
	else if (watts != volts)
		(void)err_set(&err, ERR_INPUT, "%s missing: a lamp has both, as in series_lamp = "
		              "60 W 120 V", watts ? "volts are" : "watts are");
	else
		return;
	complain(r, r->lamp, &err);
}

static int read_line_entry(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	static const char *const words[] = { "yes", "no" };
	int i;

	if (text_same(e->key, "volts"))
		return read_number(e, UNIT_VOLT, 80, 300, &r->bench->line_volts, err);
	if (text_same(e->key, "hertz"))
		return read_number(e, UNIT_HERTZ, 15, 450, &r->bench->line_hertz, err);
	if (text_same(e->key, "series_lamp"))
		return read_series_lamp(r, e, err);
	if (read_word(e, words, COUNT(words), &i, err) < 0)
		return -1;
	r->bench->isolation = i == 0 ? BENCH_YES : BENCH_NO;
	return 0;
}

static int read_lamp_entry(struct bench_reader *r, const struct ini_entry *e, struct err *err)
{
	if (text_same(e->key, "series_lamp"))
		return read_series_lamp(r, e, err);
	if (text_same(e->key, "meter"))
		return read_lamp_meter(r, e, err);
	r->lamp_twice |= r->lamp && text_same(r->lamp->key, "series_lamp");
	r->lamp = e;
	if (text_same(e->key, "watts"))
		return read_number(e, UNIT_WATT, 5, 2000, &r->bench->lamp_watts, err);
	return read_number(e, UNIT_VOLT, 80, 300, &r->bench->lamp_volts, err);
}

/* Every entry of a section whose keys are `known`, through `read`. */
static void read_section(struct bench_reader *r, int section, const char *const *known, size_t n,
                         read_fn *read)
{
	for (int i = 0; i < r->doc->n_entries; i++) {
		const struct ini_entry *e = &r->doc->entries[i];
		bool found = false;
		struct err err;

		if (e->section != section)
			continue;
		for (size_t k = 0; k < n; k++)
			found |= text_same(e->key, known[k]);
		if (!found)
			ini_unknown_key(r->doc, e, known, n, r->c);
		else if (read(r, e, &err) < 0)
			complain(r, e, &err);
	}
}

void bench_clear(struct bench_setup *ret)
{
	*ret = (struct bench_setup){
		.line_volts = (double)NAN, .line_hertz = (double)NAN,
		.lamp_watts = (double)NAN, .lamp_volts = (double)NAN,
	};
	meter_config_default(&ret->meter, METER_MODBUS);
}

int bench_parse_text(const char *text, size_t n, struct bench_setup *ret, struct complaints *c)
{
	static const char *const sections[] = { "meter", "line", "lamp" };
	static const char *const line_keys[] = { "volts", "hertz", "isolation", "series_lamp" };
	static const char *const lamp_keys[] = { "watts", "volts", "series_lamp", "meter" };
	size_t before = complaints_count(c);
	struct ini_doc doc;
	struct bench_reader r = { .doc = &doc, .bench = ret, .c = c,
		.range_watts = (double)NAN, .resolution_watts = (double)NAN };

	bench_clear(ret);
	/* faults of form do not hide faults of meaning: whatever was understood is judged too */
	(void)ini_load(text, n, &doc, c);
	for (int s = 0; s < doc.n_sections; s++) {
		if (doc.sections[s].name[0])
			ini_unknown_section(&doc, s, sections, COUNT(sections), c);
		else if (text_same(doc.sections[s].kind, "meter"))
			read_meter(&r, s);
		else if (text_same(doc.sections[s].kind, "line"))
			read_section(&r, s, line_keys, COUNT(line_keys), read_line_entry);
		else if (text_same(doc.sections[s].kind, "lamp"))
			read_section(&r, s, lamp_keys, COUNT(lamp_keys), read_lamp_entry);
		else
			ini_unknown_section(&doc, s, sections, COUNT(sections), c);
	}
	if (complaints_count(c) == before)
		check_lamp(&r);
	ini_release(&doc);
	return complaints_count(c) == before ? 0 : -1;
}

int bench_ini_read(const char *path, struct bench_setup *ret, struct buf *ret_text,
               struct complaints *c)
{
	struct buf text = BUF_INIT;
	int rc = ini_read_file(path, &text, c);

	if (rc == 0)
		rc = bench_parse_text(text.data, text.len, ret, c);
	if (rc == 0 && ret_text)
		buf_add(ret_text, text.data, text.len);
	buf_release(&text);
	return rc;
}

int bench_path(char *ret, size_t size, struct err *err)
{
	const char *config = getenv("XDG_CONFIG_HOME"), *home = getenv("HOME");
	int n;

	/* the XDG specification: a relative path there is to be ignored */
	if (config && config[0] == '/')
		n = snprintf(ret, size, "%s/mainstair/bench.ini", config);
	else if (home && home[0])
		n = snprintf(ret, size, "%s/.config/mainstair/bench.ini", home);
	else
		return err_set(err, ERR_SYSTEM, "neither XDG_CONFIG_HOME nor HOME is set");
	if (n < 0 || (size_t)n >= size)
		return err_set(err, ERR_RANGE, "the path of the bench file is too long");
	return 0;
}

/* A file in place of all that was read before. */
static int replace(const char *path, struct bench_setup *ret, struct buf *ret_text,
                   struct complaints *c)
{
	complaints_release(c);
	complaints_init(c, path);
	if (ret_text)
		buf_clear(ret_text);
	return bench_ini_read(path, ret, ret_text, c);
}

static bool is_file(const char *text)
{
	size_t n = strlen(text);

	return n > 4 && text_same(text + n - 4, ".ini");
}

int bench_gather(const char *const *meters, size_t n, struct bench_setup *ret,
                 struct buf *ret_text, struct complaints *c)
{
	char path[4096];
	struct err err;

	bench_clear(ret);
	/* without a home there is no file of one's own, which is no fault */
	if (bench_path(path, sizeof path, &err) == 0 && access(path, F_OK) == 0 &&
	    replace(path, ret, ret_text, c) < 0)
		return -1;
	for (size_t i = 0; i < n; i++) {
		if (text_same(meters[i], "none")) {
			ret->has_meter = false;
		} else if (is_file(meters[i])) {
			if (replace(meters[i], ret, ret_text, c) < 0)
				return -1;
			if (!ret->has_meter) {
				complaints_add(c, COMPLAINT_WHOLE_FILE, "meter", NULL,
				               "is missing: there is no meter in this bench file");
				return -1;
			}
		} else if (meter_parse_spec(meters[i], &ret->meter, &err) < 0) {
			complaints_add(c, COMPLAINT_NAMES_FILE, NULL, NULL, "--meter: %s",
			               err.text);
			return -1;
		} else {
			ret->has_meter = true;
		}
	}
	return 0;
}

int bench_find(const char *const *meters, size_t n, struct bench_setup *ret, struct buf *ret_text,
               struct complaints *c)
{
	if (bench_gather(meters, n, ret, ret_text, c) < 0)
		return -1;
	if (!ret->has_meter || ret->meter.wire.name[0])
		return 0;
	complaints_add(c, COMPLAINT_WHOLE_FILE, "meter", "port",
	               "is missing, and no --meter names one, "
	               "as in --meter %s:/dev/ttyUSB0",
	               meter_protocol_word(ret->meter.protocol));
	return -1;
}
