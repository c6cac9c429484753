#include "io/logbook_file.h"

#include "io/append.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "io/whole_file.h"
#include "mainstair/base/text.h"

enum { SHOWN_MAX = 200, LOCK_WAIT_S = 5, LOCK_TRIES_A_SECOND = 50 };

/* Days of readings, one a second, are some tens of megabytes. */
static const size_t bytes_max = (size_t)1 << 30;
static const char ending[] = ".unit";

/* Where an entry's texts are: the buffer moves when it grows. */
struct place {
	size_t at[3];
};

struct logbook {
	int fd; /* -1: read only */
	char path[PATH_MAX], shown[SHOWN_MAX], label[LOGBOOK_LABEL_MAX];
	off_t end;
	bool torn;
	struct logbook_faults faults;

	struct entry *entries; /* point into texts, as it stood when `pointed` was set */
	struct place *places;
	size_t n, room;
	struct buf texts, line;
	const char *pointed;
};

/* --- names -------------------------------------------------------------------------------- */

static bool is_path(const char *unit)
{
	const size_t n = strlen(unit), tail = sizeof ending - 1;

	return strchr(unit, '/') || (n > tail && strcmp(unit + n - tail, ending) == 0);
}

static bool is_label(const char *unit)
{
	for (const char *p = unit; *p; p++)
		if (!(*p >= 'a' && *p <= 'z') && !(*p >= 'A' && *p <= 'Z') &&
		    !(*p >= '0' && *p <= '9') && !strchr("-_. ", *p))
			return false;
	return unit[0] && unit[0] != '.' && unit[0] != ' ';
}

int logbook_path_of(const char *unit, bool make, char *ret, size_t size, struct err *err)
{
	char folder[PATH_MAX];
	int n;

	if (is_path(unit)) {
		n = snprintf(ret, size, "%s", unit);
	} else if (!is_label(unit) || strlen(unit) >= LOGBOOK_LABEL_MAX) {
		char shown[100];
		(void)text_show(shown, sizeof shown, unit, strlen(unit));
		return err_set(err, ERR_INPUT, "`%s` cannot be a unit's label: up to %d letters, "
			"digits, `-`, `_`, `.` and blanks, please; or a path", shown,
			LOGBOOK_LABEL_MAX - 1);
	} else {
		if (append_data_folder(folder, err) != 0)
			return -1;
		if (strlen(folder) + sizeof "/units" > sizeof folder)
			return err_set(err, ERR_INPUT, "the path of the folder for units is too long");
		strcat(folder, "/units");
		if (make && append_make_folders(folder, err) != 0)
			return -1;
		n = snprintf(ret, size, "%s/%s%s", folder, unit, ending);
	}
	if (n < 0 || (size_t)n >= size)
		return err_set(err, ERR_INPUT, "the path of the unit's file is too long");
	return 0;
}

/* A label of the file's own name. */
static void label_of(const char *path, char label[LOGBOOK_LABEL_MAX])
{
	const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path;
	size_t n = strlen(name);

	if (n > sizeof ending - 1 && strcmp(name + n - (sizeof ending - 1), ending) == 0)
		n -= sizeof ending - 1;
	if (n >= LOGBOOK_LABEL_MAX)
		n = LOGBOOK_LABEL_MAX - 1;
	memcpy(label, name, n);
	label[n] = '\0';
}

/* --- the list in memory ------------------------------------------------------------------- */

static bool more_room(struct logbook *b)
{
	if (b->n < b->room)
		return true;
	const size_t room = b->room ? 2 * b->room : 64;
	struct entry *entries = realloc(b->entries, room * sizeof *entries);
	if (!entries)
		return false;
	b->entries = entries;
	struct place *places = realloc(b->places, room * sizeof *places);
	if (!places)
		return false;
	b->places = places;
	b->room = room;
	return true;
}

static void point(struct logbook *b, size_t i)
{
	b->entries[i].subject = b->texts.data + b->places[i].at[0];
	b->entries[i].word = b->texts.data + b->places[i].at[1];
	b->entries[i].note = b->texts.data + b->places[i].at[2];
}

/* Texts may have moved. */
static void point_all(struct logbook *b)
{
	for (size_t i = b->texts.data == b->pointed && b->n > 0 ? b->n - 1 : 0; i < b->n; i++)
		point(b, i);
	b->pointed = b->texts.data;
}

/* Take a line into the list.  -1: out of memory. */
static int take_line(struct logbook *b, const char *line, size_t n, size_t number)
{
	struct entry found;
	struct place at;

	switch (logbook_text_get(line, n, &found, &b->texts, at.at)) {
	case LOGBOOK_LINE_ENTRY:
		if (b->texts.failed || !more_room(b))
			return -1;
		b->entries[b->n] = found;
		b->places[b->n++] = at;
		break;
	case LOGBOOK_LINE_UNKNOWN:
		b->faults.unknown++;
		break;
	case LOGBOOK_LINE_GARBLED:
		b->faults.garbled++;
		if (b->faults.first_garbled_line == 0)
			b->faults.first_garbled_line = number;
		break;
	}
	return 0;
}

static int take_all(struct logbook *b, const char *bytes, size_t n, struct err *err)
{
	struct err why;
	size_t number = 3, at = logbook_text_get_head(bytes, n, b->label, &why);

	if (at == 0)
		return err_set(err, why.code, "%s: %s", b->shown, why.text);
	while (at < n) {
		const char *end = memchr(bytes + at, '\n', n - at);
		if (!end) {
			b->faults.torn_bytes = n - at;
			b->torn = true;
			break;
		}
		const size_t len = (size_t)(end - (bytes + at));
		if (take_line(b, bytes + at, len, number++) != 0)
			return err_set(err, ERR_NOMEM, "out of memory reading %s", b->shown);
		at += len + 1;
	}
	point_all(b);
	return 0;
}

/* --- the file ----------------------------------------------------------------------------- */

static int failed(const struct logbook *b, int e, struct err *err)
{
	/* what is wrong stands first: a line of the screen may end within the path */
	return err_set(err, ERR_SYSTEM, "%s: unit's file %s", strerror(e), b->shown);
}

/* Bytes at the end, whole or not at all. */
static int write_end(struct logbook *b, const char *bytes, size_t n, bool sync, struct err *err)
{
	size_t done = 0;
	int e = 0;

	while (done < n && e == 0) {
		const ssize_t part = append_write(b->fd, bytes + done, n - done);
		if (part > 0)
			done += (size_t)part;
		else
			e = part < 0 ? errno : ENOSPC;
	}
	struct stat st;
	if (e == 0 && fstat(b->fd, &st) == 0 && st.st_nlink == 0)
		e = ENOENT; /* someone removed it: written, but to nowhere */
	if (e == 0 && sync && fdatasync(b->fd) != 0)
		e = errno;
	if (e == 0) {
		b->end += (off_t)n;
		return 0;
	}
	if (done > 0 && ftruncate(b->fd, b->end) != 0)
		b->torn = true;
	return failed(b, e, err);
}

static int begin_file(struct logbook *b, const char *label, struct err *err)
{
	if (label)
		(void)snprintf(b->label, sizeof b->label, "%s", label);
	else
		label_of(b->path, b->label);
	buf_clear(&b->line);
	logbook_text_put_head(&b->line, b->label);
	if (b->line.failed)
		return err_set(err, ERR_NOMEM, "out of memory");
	if (write_end(b, b->line.data, b->line.len, true, err) != 0)
		return -1;
	return append_sync_folder(b->path) == 0 ? 0 : failed(b, errno, err);
}

/* Another program may just be keeping a line. */
static int lock(struct logbook *b, struct err *err)
{
	const struct timespec pause = {0, 1000000000L / LOCK_TRIES_A_SECOND};

	for (int tries = LOCK_WAIT_S * LOCK_TRIES_A_SECOND; flock(b->fd, LOCK_EX | LOCK_NB) != 0;) {
		if (errno == EINTR)
			continue;
		if (errno != EWOULDBLOCK)
			return 0; /* where nothing can be locked one goes without */
		if (tries-- == 0)
			return err_set(err, ERR_SYSTEM,
			               "unit's file %s: another mainstair has had it open for %d s; "
			               "end that one first",
			               b->shown, LOCK_WAIT_S);
		(void)nanosleep(&pause, NULL);
	}
	return 0;
}

static int open_to_add(struct logbook *b, bool make, struct err *err)
{
	struct stat st;

	b->fd = open(b->path, O_RDWR | O_APPEND | O_CLOEXEC | O_NOCTTY | O_NONBLOCK |
		(make ? O_CREAT : 0), 0600);
	if (b->fd < 0)
		return failed(b, errno, err);
	if (fstat(b->fd, &st) != 0)
		return failed(b, errno, err);
	if (!S_ISREG(st.st_mode))
		return err_set(err, ERR_INPUT, "%s: not a regular file", b->shown);
	return lock(b, err);
}

int logbook_open(const char *path, const char *label, enum logbook_open_for open_for,
                 struct logbook **ret, struct err *err)
{
	struct logbook *b = calloc(1, sizeof *b);
	struct buf bytes = BUF_INIT;
	int status = -1;

	if (!b)
		return err_set(err, ERR_NOMEM, "out of memory");
	b->fd = -1;
	buf_init(&b->texts);
	buf_init(&b->line);
	if (strlen(path) >= sizeof b->path) {
		(void)err_set(err, ERR_INPUT, "the path of the unit's file is too long");
		goto out;
	}
	strcpy(b->path, path);
	(void)text_show(b->shown, sizeof b->shown, path, strlen(path));
	if (open_for != LOGBOOK_TO_READ && open_to_add(b, open_for == LOGBOOK_TO_WRITE, err) != 0)
		goto out;
	if (whole_file_read(path, bytes_max, &bytes, err) != 0)
		goto out;
	b->end = (off_t)bytes.len;
	if (bytes.len == 0 && open_for == LOGBOOK_TO_WRITE) {
		status = begin_file(b, label, err);
		if (status != 0 && b->end == 0)
			(void)unlink(path); /* holds nothing, and would be refused for that */
	} else {
		status = take_all(b, bytes.data, bytes.len, err);
	}
out:
	buf_release(&bytes);
	if (status == 0)
		*ret = b;
	else
		logbook_close(b);
	return status;
}

/* The entry into the file, and into the list behind its end. */
static int append(struct logbook *b, const struct entry *entry, bool sync, struct err *err)
{
	const bool was_torn = b->torn;

	buf_clear(&b->line);
	if (was_torn) /* what was torn is ended where it stands, so that only it is garbled */
		buf_addc(&b->line, '\n');
	logbook_text_put(&b->line, entry);
	if (b->line.failed || !more_room(b))
		return err_set(err, ERR_NOMEM, "out of memory");
	const size_t skip = was_torn ? 1 : 0, texts = b->texts.len;
	/* As it will be read again, so that what is shown is what is kept. */
	if (logbook_text_get(b->line.data + skip, b->line.len - skip - 1, &b->entries[b->n],
			&b->texts, b->places[b->n].at) != LOGBOOK_LINE_ENTRY || b->texts.failed)
		return err_set(err, ERR_NOMEM, "out of memory");
	b->torn = false;
	if (write_end(b, b->line.data, b->line.len, sync, err) != 0) {
		b->torn |= was_torn;
		buf_cut(&b->texts, texts);
		return -1;
	}
	b->n++;
	return 0;
}

int logbook_append(struct logbook *b, const struct entry *entry, bool sync, struct err *err)
{
	const int status = append(b, entry, sync, err);

	point_all(b); /* the texts may have moved for an entry that then was refused */
	return status;
}

const char *logbook_path(const struct logbook *b)
{
	return b->path;
}

const char *logbook_label(const struct logbook *b)
{
	return b->label;
}

const struct logbook_faults *logbook_faults(const struct logbook *b)
{
	return &b->faults;
}

const struct entry *logbook_entries(const struct logbook *b, size_t *ret_n)
{
	*ret_n = b->n;
	return b->entries;
}

void logbook_close(struct logbook *b)
{
	if (!b)
		return;
	if (b->fd >= 0)
		(void)close(b->fd);
	free(b->entries);
	free(b->places);
	buf_release(&b->texts);
	buf_release(&b->line);
	free(b);
}
