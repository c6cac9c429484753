#include "ui/term_out.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <math.h>
#include <poll.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

enum {
	ASKED_MAX = 8,
	/* So much may still be on its way when the next picture is drawn: an echo or two, so that
	 * a long way (200 ms over ssh) does not double what a key takes; a quarter of a second at
	 * 9600 baud.  The kernel's serial lines are ready for more at the same mark. */
	NEARLY_BYTES = 256,
	/* An answer is given up when a terminal of 9600 baud would have given it: it was lost. */
	ANSWER_MS = 2000, SLOW_BYTES_S = 960,
	LOST_MAX = 3, /* in a row: it answers no more */
	/* Fewer bytes tell how far it is to the terminal, not how fast it is. */
	TELLING_BYTES = 1000,
	ROOM_MS = 250, ROOM_LEAST = 200, ROOM_FOR_ALL = 16384,
	PICTURE_BYTES = 1024 * 1024, /* the largest that anybody's terminal takes, with room */
};

static const char status_request[] = "\033[5n";

struct asked {
	int64_t bytes;    /* all that was ever written, when it was asked */
	int64_t asked_ms, until_ms; /* then it is given up */
};

struct term_out {
	int sink, tty;
	off_t sent;            /* of what is in the sink */
	int64_t written;       /* all in all */
	int64_t taken;         /* all in all, as the last answer told */
	struct asked asked[ASKED_MAX]; /* not answered yet, oldest first */
	int n_asked;
	double bytes_ms;       /* how fast it is; 0: not known, or faster than we write */
	int n_lost;            /* answers, since the last one that came */
	bool asks, answers;    /* it can be asked; it does answer */
	bool gone;
};

static int64_t now_ms(void)
{
	struct timespec t;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* Another description of the same terminal: O_NONBLOCK belongs to the description, and ours is
 * shared with the shell.  Only the second way is open when the terminal is another user's. */
static int open_anew(int tty_fd)
{
	static const int flags = O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC;
	char path[32];

	snprintf(path, sizeof path, "/proc/self/fd/%d", tty_fd);
	int fd = open(path, flags);
	return fd >= 0 ? fd : open("/dev/tty", flags);
}

int term_out_open(struct term_out **ret, int tty_fd, bool asks, struct err *err)
{
	struct rlimit limit;

	if (getrlimit(RLIMIT_FSIZE, &limit) == 0 && limit.rlim_cur < PICTURE_BYTES)
		return err_set(err, ERR_SYSTEM, "files may have %lu bytes here (ulimit -f): too "
			"few for pictures", (unsigned long)limit.rlim_cur);
	struct term_out *o = calloc(1, sizeof *o);
	if (!o)
		return err_set(err, ERR_NOMEM, "out of memory");
	*o = (struct term_out){.asks = asks, .sink = memfd_create("picture", MFD_CLOEXEC),
		.tty = open_anew(tty_fd)};
	if (o->sink < 0 || o->tty < 0) {
		err_set(err, ERR_SYSTEM, "the terminal cannot be opened: %s", strerror(errno));
		term_out_close(o);
		return -1;
	}
	*ret = o;
	return 0;
}

void term_out_close(struct term_out *o)
{
	if (!o)
		return;
	if (o->sink >= 0)
		close(o->sink);
	if (o->tty >= 0)
		close(o->tty);
	free(o);
}

int term_out_sink(const struct term_out *o)
{
	return o->sink;
}

int term_out_fd(const struct term_out *o)
{
	return o->tty;
}

long term_out_waiting(const struct term_out *o)
{
	return (long)(lseek(o->sink, 0, SEEK_CUR) - o->sent);
}

static void empty_sink(struct term_out *o)
{
	(void)!ftruncate(o->sink, 0);
	(void)lseek(o->sink, 0, SEEK_SET);
	o->sent = 0;
}

bool term_out_send(struct term_out *o)
{
	char bytes[4096];

	while (!o->gone && term_out_waiting(o) > 0) {
		ssize_t n = pread(o->sink, bytes, sizeof bytes, o->sent);
		ssize_t put = n > 0 ? write(o->tty, bytes, (size_t)n) : -1;
		if (put >= 0)
			o->sent += put;
		else if (n > 0 && errno == EAGAIN)
			return true;
		else if (n <= 0 || errno != EINTR)
			o->gone = true;
	}
	empty_sink(o);
	return !o->gone;
}

void term_out_drain(struct term_out *o, int wait_ms)
{
	const int64_t until = now_ms() + wait_ms;

	while (term_out_send(o) && term_out_waiting(o) > 0 && now_ms() < until)
		(void)poll(&(struct pollfd){o->tty, POLLOUT, 0}, 1, (int)(until - now_ms()));
}

void term_out_picture(struct term_out *o)
{
	const long bytes = term_out_waiting(o);

	if (bytes == 0)
		return;
	o->written += bytes;
	/* one that has lost them all is only asked now and then */
	if (o->asks && o->n_asked < (o->n_lost < LOST_MAX ? ASKED_MAX : 1)) {
		ssize_t put = write(o->sink, status_request, strlen(status_request));
		o->written += put > 0 ? put : 0;
		o->asked[o->n_asked++] = (struct asked){o->written, now_ms(), now_ms() +
			ANSWER_MS + (o->written - o->taken) * 1000 / SLOW_BYTES_S};
	}
	(void)term_out_send(o); /* that it has gone is told by the next one */
}

/* ---- answers ---- */

void term_out_answered(struct term_out *o)
{
	if (o->n_asked == 0)
		return;
	const double bytes = (double)(o->asked[0].bytes - o->taken);
	const double bytes_ms = bytes / fmax((double)(now_ms() - o->asked[0].asked_ms), 1);

	if (bytes >= TELLING_BYTES || bytes_ms > o->bytes_ms)
		o->bytes_ms = bytes_ms;
	o->answers = true;
	o->n_lost = 0;
	o->taken = o->asked[0].bytes;
	o->n_asked--;
	memmove(o->asked, o->asked + 1, (size_t)o->n_asked * sizeof *o->asked);
}

void term_out_forget(struct term_out *o)
{
	o->taken = o->written;
	o->n_asked = 0;
}

static void give_up_late(struct term_out *o)
{
	if (o->n_asked == 0 || now_ms() < o->asked[0].until_ms)
		return;
	if (++o->n_lost >= LOST_MAX)
		o->answers = false;
	term_out_forget(o);
}

long term_out_room(const struct term_out *o)
{
	const double room = o->bytes_ms * ROOM_MS;

	return !o->answers || o->bytes_ms <= 0 || room > ROOM_FOR_ALL ? LONG_MAX
		: room < ROOM_LEAST ? ROOM_LEAST : (long)room;
}

bool term_out_owed(struct term_out *o)
{
	give_up_late(o);
	return o->answers && o->n_asked > 0;
}

bool term_out_may_answer(struct term_out *o)
{
	give_up_late(o);
	return o->n_asked > 0 && o->n_lost < LOST_MAX;
}

static bool far_behind(struct term_out *o)
{
	return term_out_owed(o) && (o->n_asked == ASKED_MAX || o->written - o->taken > NEARLY_BYTES);
}

bool term_out_ready(struct term_out *o)
{
	struct pollfd p = {o->tty, POLLOUT, 0};

	return !far_behind(o) && term_out_waiting(o) == 0 && poll(&p, 1, 0) > 0;
}

bool term_out_wants_poll(struct term_out *o, bool ready_waited_for, double *ret_s)
{
	*ret_s = term_out_owed(o) ? fmax((double)(o->asked[0].until_ms - now_ms()) / 1e3, 0.001)
	                          : (double)INFINITY;
	return !o->gone && (term_out_waiting(o) > 0 || (ready_waited_for && !far_behind(o)));
}
