#include "io/record_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "mainstair/base/text.h"

enum {
	WINDOW = 256 << 10, /* bytes of the file in memory at a time; no line is longer */
	SHOWN_MAX = 200
};

struct record {
	int fd;
	char shown[SHOWN_MAX];
	struct record_head head;
	struct buf head_text; /* what the head borrows */
	size_t head_lines;
	struct record_faults faults;

	struct record_entry *entries;
	size_t n_entries, cap_entries;

	char *window; /* WINDOW bytes; which part of the file is in it: */
	uint64_t window_at;
	size_t window_len;
	struct buf scratch;
};

/* read() at an offset until `n` bytes or the end of the file. */
static ssize_t read_at(int fd, void *bytes, size_t n, uint64_t offset)
{
	size_t got = 0;

	while (got < n) {
		const ssize_t k = pread(fd, (char *)bytes + got, n - got, (off_t)(offset + got));

		if (k < 0 && errno == EINTR)
			continue;
		if (k < 0)
			return -1;
		if (k == 0)
			break;
		got += (size_t)k;
	}
	return (ssize_t)got;
}

static int cannot_read(const struct record *rec, int e, struct err *err)
{
	return err_set(err, ERR_SYSTEM, "cannot read the record %s: %s", rec->shown, strerror(e));
}

/* --- opening ---------------------------------------------------------------------------- */

/* Read the head.  Its length goes to *ret_size. */
static int read_head(struct record *rec, size_t file_size, size_t *ret_size, struct err *err)
{
	const size_t most = file_size < RECORD_HEAD_MAX ? file_size : RECORD_HEAD_MAX;
	struct err why;
	char *bytes = NULL;
	size_t n = 0, head = 0;
	int result = -1;

	for (size_t want = 64 << 10; head == 0 && n < most; want *= 4) {
		ssize_t got;
		char *more;

		want = want < most ? want : most;
		more = realloc(bytes, want);
		if (!more) {
			(void)err_set(err, ERR_NOMEM, "out of memory");
			goto out;
		}
		bytes = more;
		got = read_at(rec->fd, bytes + n, want - n, n);
		if (got < 0) {
			(void)cannot_read(rec, errno, err);
			goto out;
		}
		n += (size_t)got;
		head = record_text_head_size(bytes, n);
		if (n < want)
			break; /* shorter than it was a moment ago */
	}
	if (record_text_get_head(bytes, head ? head : n, &rec->head, &rec->head_text, &why) < 0) {
		(void)err_set(err, why.code, "%s: %s", rec->shown, why.text);
		goto out;
	}
	for (size_t i = 0; i < head; i++)
		rec->head_lines += bytes[i] == '\n';
	*ret_size = head;
	result = 0;
out:
	free(bytes);
	return result;
}

static int add_entry(struct record *rec, const struct record_line *line, uint64_t offset,
                     size_t len, struct err *err)
{
	const size_t n = rec->n_entries;
	double seconds = line->seconds;

	if (n == rec->cap_entries) {
		const size_t cap = n ? n + n / 2 : 1024;
		struct record_entry *more = realloc(rec->entries, cap * sizeof *more);

		if (!more)
			return err_set(err, ERR_NOMEM, "out of memory for the %zu events of %s", n,
			               rec->shown);
		rec->entries = more;
		rec->cap_entries = cap;
	}
	if (n > 0 && seconds < rec->entries[n - 1].seconds) {
		seconds = rec->entries[n - 1].seconds;
		rec->faults.backwards++;
	}
	rec->entries[n] = (struct record_entry){
		.offset = offset, .seconds = seconds, .len = (uint32_t)len,
		.stage = (int16_t)line->stage, .kind = (uint8_t)line->kind,
		.verdict = (uint8_t)line->verdict,
	};
	rec->n_entries++;
	return 0;
}

static void count_garbled(struct record *rec, size_t line_number)
{
	if (rec->faults.garbled++ == 0)
		rec->faults.first_garbled_line = line_number;
}

static int index_line(struct record *rec, const char *text, size_t len, uint64_t offset,
                      size_t line_number, struct err *err)
{
	struct record_line line;

	switch (record_text_scan(text, len, &line)) {
	case RECORD_LINE_EVENT:
		rec->faults.wider += line.extra_columns > 0;
		return add_entry(rec, &line, offset, len, err);
	case RECORD_LINE_UNKNOWN:
		rec->faults.unknown++;
		break;
	case RECORD_LINE_GARBLED:
		count_garbled(rec, line_number);
		break;
	}
	return 0;
}

/* Go through the file once, from the end of its head to `size`, and index its events.  A line
 * that fills the whole window is none of ours: it is passed over to its end. */
static int index_events(struct record *rec, size_t head_size, uint64_t size, struct err *err)
{
	uint64_t at = head_size; /* of window[0] */
	uint64_t line_at = at;   /* of the line under way */
	size_t kept = 0, line_number = rec->head_lines;
	bool overlong = false;

	for (;;) {
		const uint64_t left = size - at - kept;
		const size_t want = left < WINDOW - kept ? (size_t)left : WINDOW - kept;
		const ssize_t got = read_at(rec->fd, rec->window + kept, want, at + kept);
		size_t done = 0, n;
		const char *end;

		if (got < 0)
			return cannot_read(rec, errno, err);
		n = kept + (size_t)got;
		while ((end = memchr(rec->window + done, '\n', n - done)) != NULL) {
			const size_t len = (size_t)(end - (rec->window + done));

			line_number++;
			if (overlong)
				count_garbled(rec, line_number);
			else if (index_line(rec, rec->window + done, len, at + done, line_number,
			                    err) < 0)
				return -1;
			overlong = false;
			done += len + 1;
			line_at = at + done;
		}
		if (got == 0 || (uint64_t)n + at >= size) {
			rec->faults.torn_bytes = (size_t)(at + n - line_at);
			return 0;
		}
		if (done == 0 && n == WINDOW) {
			overlong = true;
			done = n;
		}
		kept = n - done;
		memmove(rec->window, rec->window + done, kept);
		at += done;
	}
}

static int open_regular(struct record *rec, const char *path, uint64_t *ret_size, struct err *err)
{
	struct stat st;

	text_show(rec->shown, sizeof rec->shown, path, strlen(path));
	rec->fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
	if (rec->fd < 0 || fstat(rec->fd, &st) < 0)
		return err_set(err, ERR_SYSTEM, "cannot open the record %s: %s", rec->shown,
		               strerror(errno));
	if (!S_ISREG(st.st_mode))
		return err_set(err, ERR_INPUT, "%s: not a record: a record is a regular file",
		               rec->shown);
	*ret_size = (uint64_t)st.st_size;
	/* The writer holds an exclusive lock; this one is given up at once if it can be had. */
	if (flock(rec->fd, LOCK_SH | LOCK_NB) == 0)
		(void)flock(rec->fd, LOCK_UN);
	else
		rec->faults.still_open = errno == EWOULDBLOCK;
	return 0;
}

int record_open(const char *path, struct record **ret, struct err *err)
{
	struct record *rec = calloc(1, sizeof *rec);
	size_t head_size = 0;
	uint64_t size = 0;

	if (!rec)
		return err_set(err, ERR_NOMEM, "out of memory");
	rec->fd = -1;
	buf_init(&rec->head_text);
	buf_init(&rec->scratch);
	rec->window = malloc(WINDOW);
	if (!rec->window) {
		(void)err_set(err, ERR_NOMEM, "out of memory");
		goto fail;
	}
	if (open_regular(rec, path, &size, err) < 0 ||
	    read_head(rec, size < SIZE_MAX ? (size_t)size : SIZE_MAX, &head_size, err) < 0 ||
	    index_events(rec, head_size, size, err) < 0)
		goto fail;
	*ret = rec;
	return 0;
fail:
	record_close(rec);
	return -1;
}

void record_close(struct record *rec)
{
	if (!rec)
		return;
	if (rec->fd >= 0)
		(void)close(rec->fd);
	buf_release(&rec->head_text);
	buf_release(&rec->scratch);
	free(rec->entries);
	free(rec->window);
	free(rec);
}

/* --- reading ---------------------------------------------------------------------------- */

const struct record_head *record_head(const struct record *rec)
{
	return &rec->head;
}

const struct record_faults *record_faults(const struct record *rec)
{
	return &rec->faults;
}

size_t record_n_events(const struct record *rec)
{
	return rec->n_entries;
}

const struct record_entry *record_entries(const struct record *rec)
{
	return rec->entries;
}

int record_event(struct record *rec, size_t i, struct event *ret, struct err *err)
{
	const struct record_entry *entry = &rec->entries[i];
	struct record_line line;

	if (entry->offset < rec->window_at ||
	    entry->offset + entry->len > rec->window_at + rec->window_len) {
		const ssize_t got = read_at(rec->fd, rec->window, WINDOW, entry->offset);

		rec->window_at = entry->offset;
		rec->window_len = got < 0 ? 0 : (size_t)got;
		if (got < 0)
			return cannot_read(rec, errno, err);
	}
	if (entry->offset + entry->len > rec->window_at + rec->window_len ||
	    record_text_scan(rec->window + (entry->offset - rec->window_at), entry->len, &line) !=
	            RECORD_LINE_EVENT)
		return err_set(err, ERR_SYSTEM, "the record %s has changed while it was being read",
		               rec->shown);
	record_text_get_event(&line, &rec->scratch, ret);
	return 0;
}

size_t record_next(const struct record *rec, size_t from, enum event_kind kind)
{
	while (from < rec->n_entries && rec->entries[from].kind != kind)
		from++;
	return from;
}

static bool is_finding(const struct record_entry *entry)
{
	return entry->kind == EVENT_STOP ||
	       (entry->kind == EVENT_READING &&
	        (entry->verdict == VERDICT_OVER || entry->verdict == VERDICT_UNDER ||
	         entry->verdict == VERDICT_ABORT));
}

size_t record_next_finding(const struct record *rec, size_t from)
{
	while (from < rec->n_entries && !is_finding(&rec->entries[from]))
		from++;
	return from;
}
