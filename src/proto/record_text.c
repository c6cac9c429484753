#include "mainstair/proto/record_text.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "proto/columns.h"

enum { COLUMNS = 9 }; /* check sum not counted */

static const char magic[] = "mainstair record ";
static const char columns[] =
	"seconds\tkind\tstage\tvolts\twatts\tamps\tpower_factor\tverdict\tnote\tcrc32\n";

/* --- times ------------------------------------------------------------------------------ */

static const int64_t day_s = 86400;

static bool is_leap(int64_t year)
{
	return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

static int days_in(int64_t year, int month)
{
	static const int days[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };

	return days[month - 1] + (month == 2 && is_leap(year) ? 1 : 0);
}

/* Days from 1970-01-01 to the first of January of a year > 0. */
static int64_t days_to_year(int64_t year)
{
	const int64_t y = year - 1;

	return 365 * (year - 1970) + (y / 4 - y / 100 + y / 400) -
	       (1969 / 4 - 1969 / 100 + 1969 / 400);
}

void record_stamp(char out[RECORD_STAMP_MAX], int64_t utc_s)
{
	const int64_t first = days_to_year(1) * day_s, last = days_to_year(10000) * day_s - 1;
	char text[96]; /* more than any seven integers need */
	int64_t days, rest, year;
	int month = 1;

	utc_s = utc_s < first ? first : utc_s > last ? last : utc_s;
	days = utc_s / day_s;
	rest = utc_s % day_s;
	if (rest < 0) {
		rest += day_s;
		days--;
	}
	year = 1970 + (days < 0 ? days / 365 - 1 : days / 366); /* never after the one meant */
	while (days >= days_to_year(year + 1))
		year++;
	days -= days_to_year(year);
	while (days >= days_in(year, month))
		days -= days_in(year, month++);
	(void)snprintf(text, sizeof text, "%04d-%02d-%02dT%02d:%02d:%02dZ", (int)year, month,
	               (int)days + 1, (int)(rest / 3600), (int)(rest / 60 % 60), (int)(rest % 60));
	(void)snprintf(out, RECORD_STAMP_MAX, "%.20s", text);
}

int record_stamp_parse(const char *text, size_t n, int64_t *ret)
{
	static const char shape[] = "dddd-dd-ddTdd:dd:ddZ";
	int part[6] = { 0 }, k = 0;

	if (n != sizeof shape - 1)
		return -1;
	for (size_t i = 0; i < n; i++) {
		if (shape[i] != 'd') {
			if (text[i] != shape[i])
				return -1;
			k++;
		} else if (text[i] >= '0' && text[i] <= '9') {
			part[k] = 10 * part[k] + (text[i] - '0');
		} else {
			return -1;
		}
	}
	if (part[0] < 1 || part[1] < 1 || part[1] > 12 || part[2] < 1 ||
	    part[2] > days_in(part[0], part[1]) || part[3] > 23 || part[4] > 59 || part[5] > 59)
		return -1;
	*ret = days_to_year(part[0]);
	for (int m = 1; m < part[1]; m++)
		*ret += days_in(part[0], m);
	*ret = (*ret + part[2] - 1) * day_s + part[3] * 3600 + part[4] * 60 + part[5];
	return 0;
}

/* --- the head --------------------------------------------------------------------------- */

static void put_block(struct buf *out, const char *key, const struct record_block *block)
{
	struct slice rest = { block->text, block->len }, line;

	buf_addf(out, "%s\t", key);
	text_escape(out, block->name, strnlen(block->name, RECORD_NAME_MAX));
	buf_addf(out, "\t%zu\t%08" PRIx32 "\n", block->len,
	         record_crc32(0, block->text, block->len));
	while (rest.n > 0) {
		if (!columns_next_line(&rest, &line)) {
			line = rest;
			rest.n = 0;
		}
		buf_addc(out, '|');
		text_escape(out, line.at, line.n);
		buf_addc(out, '\n');
	}
}

void record_text_put_head(struct buf *out, const struct record_head *head)
{
	const size_t from = out->len;
	char stamp[RECORD_STAMP_MAX];

	record_stamp(stamp, head->started_s);
	buf_addf(out, "%s%d\nstarted\t%s\nprogram\t", magic, RECORD_VERSION, stamp);
	text_escape(out, head->program, strnlen(head->program, RECORD_NAME_MAX));
	buf_addc(out, '\n');
	put_block(out, "profile", &head->profile);
	put_block(out, "bench", &head->bench);
	buf_addf(out, "head\t%08" PRIx32 "\n",
	         record_crc32(0, out->data + from, out->len - from));
	buf_adds(out, columns);
}

/* The line of columns begins so in every version 1, whatever columns come to stand in it. */
static bool is_columns(struct slice line)
{
	static const char begin[] = "seconds\tkind\t";

	return line.n >= sizeof begin - 1 && memcmp(line.at, begin, sizeof begin - 1) == 0;
}

size_t record_text_head_size(const char *bytes, size_t n)
{
	struct slice rest = { bytes, n }, line;

	while (columns_next_line(&rest, &line))
		if (is_columns(line))
			return n - rest.n;
	return 0;
}

static int check_magic(struct slice *rest, struct err *err)
{
	struct slice line = *rest;
	char shown[60];
	size_t version;

	if (rest->n == 0)
		return err_set(err, ERR_INPUT, "it is empty, not a record");
	if (!columns_next_line(rest, &line))
		line.n = line.n < sizeof magic ? line.n : sizeof magic;
	if (line.n < sizeof magic || memcmp(line.at, magic, sizeof magic - 1) != 0 ||
	    !columns_count((struct slice){ line.at + sizeof magic - 1, line.n - sizeof magic + 1 },
	               SIZE_MAX, &version)) {
		text_show(shown, sizeof shown, line.at, line.n < 200 ? line.n : 200);
		return err_set(err, ERR_INPUT,
		               "not a record: it begins with `%s`, a record with `%s%d`", shown,
		               magic, RECORD_VERSION);
	}
	if (version != RECORD_VERSION)
		return err_set(err, ERR_UNSUPPORTED,
		               "a record of version %zu; this program reads version %d", version,
		               RECORD_VERSION);
	return 0;
}

/* Where decoded texts lie in the store, until it moves no more. */
struct stored {
	size_t name, text, len;
	bool given, damaged;
};

static size_t store_text(struct buf *store, struct slice s)
{
	const size_t at = store->len;
	struct err err;

	if (text_unescape(store, s.at, s.n, &err) < 0) {
		buf_cut(store, at); /* as another program wrote it: shown as it stands */
		buf_add(store, s.at, s.n);
	}
	buf_addc(store, '\0');
	return at;
}

static bool get_block(struct slice line, struct slice *rest, struct buf *store, struct stored *ret)
{
	const struct slice name = columns_next(&line), bytes = columns_next(&line);
	size_t wanted, end;
	uint32_t crc;
	struct err err;

	if (!columns_count(bytes, RECORD_HEAD_MAX, &wanted) || !columns_crc(columns_next(&line), &crc))
		return false;
	*ret = (struct stored){ .given = true };
	ret->name = store_text(store, name);
	ret->text = store->len;
	while (rest->n > 0 && rest->at[0] == '|' && columns_next_line(rest, &line)) {
		if (text_unescape(store, line.at + 1, line.n - 1, &err) < 0)
			ret->damaged = true;
		buf_addc(store, '\n');
	}
	end = store->len;
	if (end - ret->text == wanted + 1) /* its last line had no end */
		buf_cut(store, --end);
	ret->len = end - ret->text;
	if (ret->len != wanted || record_crc32(0, store->data + ret->text, ret->len) != crc)
		ret->damaged = true;
	buf_addc(store, '\0');
	return true;
}

static struct record_block block_of(const struct buf *store, const struct stored *at)
{
	if (!at->given)
		return (struct record_block){ "", "", 0, false };
	return (struct record_block){ store->data + at->name, store->data + at->text, at->len,
		                      at->damaged };
}

int record_text_get_head(const char *bytes, size_t n, struct record_head *ret, struct buf *store,
                         struct err *err)
{
	struct slice rest = { bytes, n }, line;
	struct stored profile = { 0 }, bench = { 0 };
	struct record_head head = { .damaged = true };
	size_t program = SIZE_MAX;
	bool ended = false, dated = false;

	buf_clear(store);
	if (check_magic(&rest, err) < 0)
		return -1;
	while (!ended && columns_next_line(&rest, &line)) {
		struct slice values = line;
		const struct slice key = columns_next(&values);
		uint32_t crc;

		if (is_columns(line))
			ended = true;
		else if (slice_is(key, "started"))
			dated = record_stamp_parse(values.at, values.n, &head.started_s) == 0;
		else if (slice_is(key, "program"))
			program = store_text(store, values);
		else if (slice_is(key, "profile") && get_block(values, &rest, store, &profile))
			continue;
		else if (slice_is(key, "bench") && get_block(values, &rest, store, &bench))
			continue;
		else if (slice_is(key, "head"))
			head.damaged = !columns_crc(values, &crc) ||
			               crc != record_crc32(0, bytes, (size_t)(line.at - bytes));
		else
			head.passed_over++;
	}
	if (store->failed)
		return err_set(err, ERR_NOMEM, "out of memory");
	if (!ended)
		return err_set(err, ERR_INPUT,
		               "the record's head is cut short: it holds no events");
	if (!profile.given)
		return err_set(err, ERR_INPUT, "the record's head holds no profile");
	head.damaged |= !dated;
	head.program = program == SIZE_MAX ? "" : store->data + program;
	head.profile = block_of(store, &profile);
	head.bench = block_of(store, &bench);
	*ret = head;
	return 0;
}

/* --- events ----------------------------------------------------------------------------- */

void record_text_put_event(struct buf *out, const struct event *ev)
{
	const size_t from = out->len;
	const bool judged = ev->kind == EVENT_READING || ev->verdict != VERDICT_UNKNOWN;

	columns_put_number(out, ev->seconds);
	buf_addf(out, "\t%s\t", event_word(ev->kind));
	if (ev->stage >= 0)
		buf_addf(out, "%d\t", ev->stage + 1);
	else
		buf_adds(out, "-\t");
	columns_put_number(out, ev->volts);
	buf_addc(out, '\t');
	columns_put_number(out, ev->watts);
	buf_addc(out, '\t');
	columns_put_number(out, ev->amps);
	buf_addc(out, '\t');
	columns_put_number(out, ev->power_factor);
	buf_addf(out, "\t%s\t", judged ? verdict_word(ev->verdict) : "-");
	text_escape(out, ev->note, strnlen(ev->note, sizeof ev->note - 1));
	buf_addf(out, "\t%08" PRIx32 "\n", record_crc32(0, out->data + from, out->len - from));
}

/* A word of a column as a string; "" when it is too long to be one. */
static const char *word_of(struct slice s, char out[32])
{
	out[0] = '\0';
	if (s.n < 32) {
		memcpy(out, s.at, s.n);
		out[s.n] = '\0';
	}
	return out;
}

enum record_line_is record_text_scan(const char *line, size_t n, struct record_line *ret)
{
	enum { SUM = 9 }; /* the check sum and its tab */
	struct slice column[COLUMNS], rest;
	struct record_line found = { 0 };
	char word[32];
	uint32_t crc;
	size_t stage = 0, tabs = 0;
	int kind, verdict;

	if (n < SUM || line[n - SUM] != '\t' ||
	    !columns_crc((struct slice){ line + n - SUM + 1, SUM - 1 }, &crc) ||
	    record_crc32(0, line, n - SUM) != crc)
		return RECORD_LINE_GARBLED;
	rest = (struct slice){ line, n - SUM };
	for (size_t i = 0; i < rest.n; i++)
		tabs += line[i] == '\t';
	if (tabs < COLUMNS - 1)
		return RECORD_LINE_GARBLED;
	for (int i = 0; i < COLUMNS; i++)
		column[i] = columns_next(&rest);

	kind = event_from_word(word_of(column[1], word));
	if (kind < 0)
		return RECORD_LINE_UNKNOWN;
	verdict = slice_is(column[7], "-") ? VERDICT_UNKNOWN :
	                                     verdict_from_word(word_of(column[7], word));
	if (verdict < 0 || !columns_number(column[0], &found.seconds) || !isfinite(found.seconds) ||
	    (!slice_is(column[2], "-") && (!columns_count(column[2], 1000, &stage) || stage < 1)) ||
	    !columns_number(column[3], &found.volts) || !columns_number(column[4], &found.watts) ||
	    !columns_number(column[5], &found.amps) || !columns_number(column[6], &found.power_factor))
		return RECORD_LINE_GARBLED;
	found.kind = (enum event_kind)kind;
	found.verdict = (enum verdict)verdict;
	found.stage = (int)stage - 1;
	found.note = column[8].at;
	found.note_len = column[8].n;
	found.extra_columns = (unsigned)(tabs - (COLUMNS - 1));
	*ret = found;
	return RECORD_LINE_EVENT;
}

void record_text_get_event(const struct record_line *line, struct buf *scratch, struct event *ret)
{
	size_t n, len;
	uint32_t c;

	*ret = (struct event){
		.seconds = line->seconds, .kind = line->kind, .stage = line->stage,
		.volts = line->volts, .watts = line->watts, .amps = line->amps,
		.power_factor = line->power_factor, .verdict = line->verdict,
	};
	if (line->note_len == 0)
		return;
	buf_clear(scratch);
	(void)store_text(scratch, (struct slice){ line->note, line->note_len });
	n = strnlen(scratch->data, scratch->len);
	if (n >= sizeof ret->note) {
		const size_t all = n;

		for (n = 0; n < all; n += len) {
			len = text_next(scratch->data + n, all - n, &c);
			if (len == 0)
				len = 1;
			if (n + len >= sizeof ret->note)
				break;
		}
	}
	memcpy(ret->note, scratch->data, n);
}
