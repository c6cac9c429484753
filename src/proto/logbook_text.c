#include "mainstair/proto/logbook_text.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/text.h"
#include "mainstair/proto/record_text.h"
#include "proto/columns.h"

enum {
	COLUMNS = 9, /* check sum not counted */
	SUM = 9      /* the check sum and its tab, at the end of a line */
};

static const char magic[] = "mainstair unit ";

static void put_stamp(char out[LOGBOOK_STAMP_MAX], double utc_s)
{
	const double ms = floor(utc_s * 1000 + 0.5);
	const double whole = floor(ms / 1000);
	char second[RECORD_STAMP_MAX];

	record_stamp(second, (int64_t)whole);
	(void)snprintf(out, LOGBOOK_STAMP_MAX, "%.19s.%03dZ", second, (int)(ms - whole * 1000));
}

int logbook_stamp_parse(const char *text, size_t n, double *ret)
{
	char second[RECORD_STAMP_MAX];
	size_t ms;
	int64_t utc_s;

	if (n != LOGBOOK_STAMP_MAX - 4 || text[19] != '.' || text[n - 1] != 'Z' ||
	    !columns_count((struct slice){text + 20, 3}, 999, &ms))
		return -1;
	(void)snprintf(second, sizeof second, "%.19sZ", text);
	if (record_stamp_parse(second, 20, &utc_s) != 0)
		return -1;
	*ret = (double)utc_s + (double)ms / 1000;
	return 0;
}

static void put_sum(struct buf *out, size_t from)
{
	if (!out->failed)
		buf_addf(out, "\t%08" PRIx32 "\n",
			record_crc32(0, out->data + from, out->len - from));
}

/* Does the line end in the check sum of what stands before it? */
static bool sum_agrees(struct slice line)
{
	uint32_t crc;

	return line.n >= SUM && line.at[line.n - SUM] == '\t' &&
		columns_crc((struct slice){line.at + line.n - SUM + 1, SUM - 1}, &crc) &&
		record_crc32(0, line.at, line.n - SUM) == crc;
}

void logbook_text_put_head(struct buf *out, const char *label)
{
	buf_addf(out, "%s%d\n", magic, LOGBOOK_VERSION);
	const size_t from = out->len;
	buf_adds(out, "label\t");
	text_escape(out, label, strnlen(label, LOGBOOK_LABEL_MAX - 1));
	put_sum(out, from);
}

static int get_label(struct slice line, char *label, struct err *err)
{
	struct buf text = BUF_INIT;
	int status = -1;

	if (sum_agrees(line)) {
		struct slice rest = {line.at, line.n - SUM};
		if (slice_is(columns_next(&rest), "label") &&
		    text_unescape(&text, rest.at, rest.n, err) == 0 && !text.failed &&
		    text.len < LOGBOOK_LABEL_MAX) {
			memcpy(label, text.data, text.len + 1);
			status = 0;
		}
	}
	buf_release(&text);
	if (status != 0)
		return err_set(err, ERR_INPUT, "the line with the unit's label is garbled");
	return 0;
}

size_t logbook_text_get_head(const char *bytes, size_t n, char *label, struct err *err)
{
	struct slice rest = {bytes, n}, line;
	size_t version;

	if (!columns_next_line(&rest, &line) || line.n < sizeof magic ||
	    memcmp(line.at, magic, sizeof magic - 1) != 0 ||
	    !columns_count((struct slice){line.at + sizeof magic - 1, line.n - sizeof magic + 1},
			SIZE_MAX, &version)) {
		(void)err_set(err, ERR_INPUT, "not a unit's file: its first line is not `%s%d`",
			magic, LOGBOOK_VERSION);
		return 0;
	}
	if (version != LOGBOOK_VERSION) {
		(void)err_set(err, ERR_UNSUPPORTED,
			"a unit's file of version %zu; this program reads version %d", version,
			LOGBOOK_VERSION);
		return 0;
	}
	if (!columns_next_line(&rest, &line)) {
		(void)err_set(err, ERR_INPUT, "a unit's file that ends before its label");
		return 0;
	}
	return get_label(line, label, err) == 0 ? n - rest.n : 0;
}

/* No longer than an entry's text may be; cut at a character. */
static void put_text(struct buf *out, const char *text, size_t max)
{
	size_t n = strlen(text);

	if (n >= max)
		for (n = max - 1; n > 0 && ((unsigned char)text[n] & 0xc0) == 0x80;)
			n--;
	text_escape(out, text, n);
	buf_addc(out, '\t');
}

void logbook_text_put(struct buf *out, const struct entry *entry)
{
	const size_t from = out->len;
	char stamp[LOGBOOK_STAMP_MAX];

	put_stamp(stamp, entry->utc_s);
	buf_addf(out, "%s\t%s\t", stamp, entry_kind_word(entry->kind));
	put_text(out, entry->subject,
		entry->kind == ENTRY_POWER ? ENTRY_PATH_MAX : ENTRY_SUBJECT_MAX);
	put_text(out, entry->word, ENTRY_WORD_MAX);
	for (int i = 0; i < ENTRY_NUMBERS; i++) {
		columns_put_number(out, entry->number[i]);
		buf_addc(out, '\t');
	}
	put_text(out, entry->note,
		entry->kind == ENTRY_PROFILE ? LOGBOOK_LINE_MAX / 8 : ENTRY_NOTE_MAX);
	if (!out->failed)
		buf_cut(out, out->len - 1); /* the tab comes with the check sum */
	put_sum(out, from);
}

/* Where a text of a column now stands in texts; false when its escapes are wrong. */
static bool get_text(struct slice column, struct buf *texts, size_t *ret_at)
{
	struct err err;

	*ret_at = texts->len;
	if (text_unescape(texts, column.at, column.n, &err) != 0 ||
	    (texts->len > *ret_at && memchr(texts->data + *ret_at, '\0', texts->len - *ret_at)))
		return false;
	buf_addc(texts, '\0');
	return true;
}

enum logbook_line_is logbook_text_get(const char *line, size_t n, struct entry *ret,
                                      struct buf *texts, size_t ret_at[3])
{
	const size_t before = texts->len;
	struct slice column[COLUMNS], rest = {line, n};
	struct entry found = {0};
	char word[32] = "";
	int tabs = 0;

	if (!sum_agrees(rest))
		return LOGBOOK_LINE_GARBLED;
	rest.n -= SUM;
	for (size_t i = 0; i < rest.n; i++)
		tabs += line[i] == '\t';
	if (tabs < COLUMNS - 1)
		return LOGBOOK_LINE_GARBLED;
	for (int i = 0; i < COLUMNS; i++)
		column[i] = columns_next(&rest);
	if (logbook_stamp_parse(column[0].at, column[0].n, &found.utc_s) != 0)
		return LOGBOOK_LINE_GARBLED;
	if (column[1].n < sizeof word)
		memcpy(word, column[1].at, column[1].n);
	const int kind = entry_kind_from_word(word);
	if (kind < 0)
		return LOGBOOK_LINE_UNKNOWN;
	found.kind = (enum entry_kind)kind;
	for (int i = 0; i < ENTRY_NUMBERS; i++)
		if (!columns_number(column[4 + i], &found.number[i]))
			return LOGBOOK_LINE_GARBLED;
	if (!get_text(column[2], texts, &ret_at[0]) || !get_text(column[3], texts, &ret_at[1]) ||
	    !get_text(column[8], texts, &ret_at[2])) {
		buf_cut(texts, before);
		return LOGBOOK_LINE_GARBLED;
	}
	*ret = found;
	return LOGBOOK_LINE_ENTRY;
}
