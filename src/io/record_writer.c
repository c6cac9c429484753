#include "io/record_file.h"

#include "io/append.h"
#include "io/disk_sync.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "mainstair/base/text.h"

enum { COPIES_MAX = 999, SLUG_MAX = 40, SHOWN_MAX = 200 };

/* A line is waiting, written, or on the disk, when it leaves the queue.  The first queue_written
 * bytes of the queue are the written ones. */
struct record_writer {
	int fd;
	char path[PATH_MAX], shown[SHOWN_MAX];
	off_t synced_end, written_end; /* file length on the disk, and as written */
	bool torn;                     /* a begun line could not be taken back */

	char *queue;                   /* RECORD_QUEUE_MAX bytes */
	size_t queue_len, queue_written;
	unsigned long n_written, n_waiting; /* events of the queue's two parts */

	/* what a sync in the background will have put on the disk when it ends */
	struct disk_sync *background;  /* NULL until it is first wanted */
	bool syncing;
	off_t begun_end;
	size_t begun_queue;
	unsigned long begun_events;

	struct record_health health;
	unsigned long lost_told;       /* of health.lost, told in the record */
	double last_s;
	struct buf line;
};

/* --- names ------------------------------------------------------------------------------ */

void record_name(char *out, size_t size, int64_t started_s, const char *instrument, int copy)
{
	char stamp[RECORD_STAMP_MAX], slug[SLUG_MAX + 1], number[16] = "";
	size_t n = 0, k = 0;

	record_stamp(stamp, started_s);
	for (const char *p = stamp; *p; p++)
		if (*p != '-' && *p != ':')
			stamp[k++] = *p;
	stamp[k] = '\0';
	for (const char *p = instrument; *p && n < SLUG_MAX; p++) {
		const char c = *p >= 'A' && *p <= 'Z' ? (char)(*p - 'A' + 'a') : *p;

		if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9'))
			slug[n++] = c;
		else if (n > 0 && slug[n - 1] != '-')
			slug[n++] = '-';
	}
	while (n > 0 && slug[n - 1] == '-')
		n--;
	slug[n] = '\0';
	if (copy > 1)
		(void)snprintf(number, sizeof number, "-%d", copy);
	(void)snprintf(out, size, "%s-%s%s.record", stamp, n ? slug : "unit", number);
}

/* --- the file --------------------------------------------------------------------------- */

/* One line, whole or not at all.  A full disk begins with a short write. */
static int write_line(struct record_writer *w, const char *line, size_t n)
{
	ssize_t done;
	int e;

	if (w->torn) {
		/* What could not be taken back is ended here, so that only it is garbled. */
		if (append_write(w->fd, "\n", 1) != 1)
			return -1;
		w->torn = false;
		w->written_end = lseek(w->fd, 0, SEEK_END);
	}
	done = append_write(w->fd, line, n);
	if (done > 0 && (size_t)done < n) {
		/* the rest tells why it was short, or goes through after all */
		const ssize_t rest = append_write(w->fd, line + done, n - (size_t)done);

		e = rest < 0 ? errno : ENOSPC;
		done += rest > 0 ? rest : 0;
	} else {
		e = errno;
	}
	if (done == (ssize_t)n) {
		w->written_end += done;
		return 0;
	}
	if (done > 0 && ftruncate(w->fd, w->written_end) < 0)
		w->torn = true;
	errno = e;
	return -1;
}

/* After a failed sync the system may have thrown the pages away and call the next sync a
 * success.  Nobody was told that these lines are recorded: take them back and write them
 * again. */
static int take_back(struct record_writer *w, int e)
{
	if (ftruncate(w->fd, w->synced_end) == 0) {
		w->written_end = w->synced_end;
		w->queue_written = 0;
		w->n_waiting += w->n_written;
		w->n_written = 0;
	}
	errno = e;
	return -1;
}

/* Someone removed the file: written, but to nowhere. */
static bool is_removed(const struct record_writer *w)
{
	struct stat st;

	return fstat(w->fd, &st) == 0 && st.st_nlink == 0;
}

static int sync_file(struct record_writer *w)
{
	int e;

	if (w->written_end == w->synced_end)
		return 0;
	if (is_removed(w)) {
		errno = ENOENT;
		return -1;
	}
	do
		e = fdatasync(w->fd) < 0 ? errno : 0;
	while (e == EINTR);
	if (e != 0)
		return take_back(w, e);
	w->synced_end = w->written_end;
	return 0;
}

/* The first n_queue bytes of the queue, n_events events, are on the disk: they need not be kept
 * any longer. */
static void forget_recorded(struct record_writer *w, size_t n_queue, unsigned long n_events)
{
	w->health.recorded += n_events;
	w->n_written -= n_events;
	memmove(w->queue, w->queue + n_queue, w->queue_len - n_queue);
	w->queue_len -= n_queue;
	w->queue_written -= n_queue;
}

/* The sync in the background has ended, or is waited for.  0 (also while it is under way), or -1
 * with errno. */
static int end_background(struct record_writer *w, bool wait)
{
	int e;

	if (!w->syncing || !disk_sync_take(w->background, wait, &e))
		return 0;
	w->syncing = false;
	if (e != 0)
		return take_back(w, e);
	w->synced_end = w->begun_end;
	forget_recorded(w, w->begun_queue, w->begun_events);
	return 0;
}

/* Put what was written on the disk. */
static int settle_written(struct record_writer *w)
{
	if (end_background(w, true) < 0 || sync_file(w) < 0)
		return -1;
	forget_recorded(w, w->queue_written, w->n_written);
	return 0;
}

/* Write all that waits.  0, or -1 with errno; what got as far as the file is synced even then. */
static int flush_queue(struct record_writer *w, bool sync_now)
{
	int e = 0;

	while (e == 0 && w->queue_written < w->queue_len) {
		const char *line = w->queue + w->queue_written;
		const char *end = memchr(line, '\n', w->queue_len - w->queue_written);
		const size_t n = (size_t)(end - line) + 1;

		if (write_line(w, line, n) < 0) {
			e = errno;
		} else {
			w->queue_written += n;
			w->n_written++;
			w->n_waiting--;
		}
	}
	if ((sync_now || e != 0) && settle_written(w) < 0 && e == 0)
		e = errno;
	errno = e;
	return e ? -1 : 0;
}

static int failed(const struct record_writer *w, int e, struct err *err)
{
	return err_set(err, ERR_SYSTEM, "record %s: %s; %lu events wait in memory, %lu are lost",
	               w->shown, strerror(e), w->n_written + w->n_waiting, w->health.lost);
}

/* Append an event's line to the queue, leaving `reserve` bytes free. */
static bool enqueue(struct record_writer *w, const struct event *ev, size_t reserve)
{
	buf_clear(&w->line);
	record_text_put_event(&w->line, ev);
	if (w->line.failed || w->queue_len + w->line.len + reserve > RECORD_QUEUE_MAX)
		return false;
	memcpy(w->queue + w->queue_len, w->line.data, w->line.len);
	w->queue_len += w->line.len;
	w->n_waiting++;
	return true;
}

/* The record itself says that it is not whole. */
static void tell_lost(struct record_writer *w)
{
	struct event ev = { .seconds = w->last_s, .kind = EVENT_NOTE, .stage = -1,
		            .volts = NAN, .watts = NAN, .amps = NAN, .power_factor = NAN };

	(void)snprintf(ev.note, sizeof ev.note,
	               "record: %lu events are missing here, the disk refused them",
	               w->health.lost - w->lost_told);
	if (enqueue(w, &ev, 0))
		w->lost_told = w->health.lost;
}

int record_append(struct record_writer *w, const struct event *ev, bool sync_now,
                  struct err *err)
{
	const size_t reserve = ev->kind == EVENT_READING ? RECORD_RESERVE : 0;

	if (w->queue_len + RECORD_LINE_MAX + RECORD_RESERVE > RECORD_QUEUE_MAX)
		(void)flush_queue(w, true); /* make room; its failure shows below */
	if (w->lost_told != w->health.lost)
		tell_lost(w);
	if (ev->seconds > w->last_s)
		w->last_s = ev->seconds;
	if (!enqueue(w, ev, reserve)) {
		w->health.lost++;
		return failed(w, w->line.failed ? ENOMEM : ENOBUFS, err);
	}
	if (flush_queue(w, sync_now) < 0)
		return failed(w, errno, err);
	return 0;
}

int record_sync(struct record_writer *w, struct err *err)
{
	if (flush_queue(w, true) < 0)
		return failed(w, errno, err);
	return 0;
}

int record_sync_begin(struct record_writer *w, struct err *err)
{
	if (w->syncing)
		return 0;
	if (flush_queue(w, false) < 0)
		return failed(w, errno, err);
	if (w->written_end == w->synced_end)
		return 0;
	if (is_removed(w))
		return failed(w, ENOENT, err);
	if (!w->background)
		w->background = disk_sync_new();
	if (!w->background) /* no thread to be had: then it is waited for */
		return record_sync(w, err);
	w->begun_end = w->written_end;
	w->begun_queue = w->queue_written;
	w->begun_events = w->n_written;
	w->syncing = true;
	disk_sync_begin(w->background, w->fd);
	return 0;
}

bool record_syncing(const struct record_writer *w)
{
	return w->syncing;
}

int record_sync_fd(const struct record_writer *w)
{
	return w->syncing ? disk_sync_fd(w->background) : -1;
}

int record_sync_end(struct record_writer *w, struct err *err)
{
	if (end_background(w, false) < 0)
		return failed(w, errno, err);
	return 0;
}

struct record_health record_health(const struct record_writer *w)
{
	struct record_health health = w->health;

	health.waiting = w->n_written + w->n_waiting;
	return health;
}

const char *record_path(const struct record_writer *w)
{
	return w->path;
}

/* --- begin and end ---------------------------------------------------------------------- */

static void free_writer(struct record_writer *w)
{
	if (!w)
		return;
	disk_sync_free(w->background);
	if (w->fd >= 0)
		(void)close(w->fd);
	free(w->queue);
	buf_release(&w->line);
	free(w);
}

static struct record_writer *new_writer(void)
{
	struct record_writer *w = calloc(1, sizeof *w);

	if (!w)
		return NULL;
	w->fd = -1;
	buf_init(&w->line);
	w->queue = malloc(RECORD_QUEUE_MAX);
	if (!w->queue) {
		free_writer(w);
		return NULL;
	}
	return w;
}

static int create_file(struct record_writer *w)
{
	w->fd = open(w->path, O_WRONLY | O_CREAT | O_EXCL | O_APPEND | O_NOFOLLOW | O_CLOEXEC,
	             0644);
	text_show(w->shown, sizeof w->shown, w->path, strlen(w->path));
	return w->fd;
}

static int create_named(struct record_writer *w, const char *path, struct err *err)
{
	if (strlen(path) >= sizeof w->path)
		return err_set(err, ERR_INPUT, "the path of the record is too long");
	strcpy(w->path, path);
	if (create_file(w) >= 0)
		return 0;
	if (errno == EEXIST)
		return err_set(err, ERR_INPUT,
		               "record %s: it is there already; a record is never overwritten, "
		               "choose another name", w->shown);
	return err_set(err, ERR_SYSTEM, "cannot create the record %s: %s", w->shown,
	               strerror(errno));
}

static int create_next(struct record_writer *w, int64_t started_s, const char *instrument,
                       struct err *err)
{
	char folder[PATH_MAX], name[128];
	int n;

	if (append_data_folder(folder, err) < 0)
		return -1;
	for (int copy = 1; copy <= COPIES_MAX; copy++) {
		record_name(name, sizeof name, started_s, instrument, copy);
		n = snprintf(w->path, sizeof w->path, "%s/%s", folder, name);
		if (n < 0 || (size_t)n >= sizeof w->path)
			return err_set(err, ERR_INPUT, "the path of the record is too long");
		if (create_file(w) >= 0)
			return 0;
		if (errno != EEXIST)
			return err_set(err, ERR_SYSTEM, "cannot create the record %s: %s", w->shown,
			               strerror(errno));
	}
	return err_set(err, ERR_SYSTEM, "record %s: so many of the same second are there already",
	               w->shown);
}

static int write_head(struct record_writer *w, const struct record_head *head, struct err *err)
{
	struct buf text = BUF_INIT;
	int result = -1;

	record_text_put_head(&text, head);
	if (text.failed) {
		(void)err_set(err, ERR_NOMEM, "out of memory");
		goto out;
	}
	if (text.len > RECORD_HEAD_MAX) {
		(void)err_set(err, ERR_INPUT, "record %s: profile and bench are too long to embed",
		              w->shown);
		goto out;
	}
	/* Only tells others that it is being written: no lock on this file system, no harm. */
	(void)flock(w->fd, LOCK_EX | LOCK_NB);
	if (write_line(w, text.data, text.len) < 0 || sync_file(w) < 0 ||
	    append_sync_folder(w->path) < 0) {
		(void)err_set(err, ERR_SYSTEM, "cannot write the record %s: %s", w->shown,
		              strerror(errno));
		goto out;
	}
	result = 0;
out:
	buf_release(&text);
	return result;
}

int record_create(const char *path, const char *instrument, const struct record_head *head,
                  struct record_writer **ret, struct err *err)
{
	struct record_writer *w = new_writer();
	int created;

	if (!w)
		return err_set(err, ERR_NOMEM, "out of memory");
	created = path ? create_named(w, path, err) :
	                 create_next(w, head->started_s, instrument, err);
	if (created < 0) {
		free_writer(w);
		return -1;
	}
	if (write_head(w, head, err) < 0) {
		(void)unlink(w->path); /* made by this very call, and holds nothing */
		free_writer(w);
		return -1;
	}
	*ret = w;
	return 0;
}

int record_finish(struct record_writer *w, struct err *err)
{
	int result = 0;

	if (!w)
		return 0;
	if (w->lost_told != w->health.lost)
		tell_lost(w);
	if (flush_queue(w, true) < 0) /* what waited until now is lost with the program */
		result = err_set(err, ERR_SYSTEM, "record %s: %s; its last %lu events are lost",
		                 w->shown, strerror(errno),
		                 w->n_written + w->n_waiting + w->health.lost);
	else if (w->health.lost > 0)
		result = err_set(err, ERR_SYSTEM, "record %s: %lu events are lost: the disk "
		                 "refused them for too long", w->shown, w->health.lost);
	free_writer(w);
	return result;
}
