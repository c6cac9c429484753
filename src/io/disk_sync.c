#include "io/disk_sync.h"

#include <assert.h>
#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <unistd.h>

/* The two event descriptors carry a turn each; what lies in `fd` and `result` belongs to the side
 * whose turn it is, so that nothing needs a lock. */
struct disk_sync {
	pthread_t thread;
	int ask, done;
	int fd;     /* -1: the thread is to end */
	int result; /* errno */
	bool busy;
};

static void signal_event(int fd)
{
	const uint64_t one = 1;

	while (write(fd, &one, sizeof one) < 0 && errno == EINTR)
		;
}

static void wait_event(int fd)
{
	struct pollfd p = { .fd = fd, .events = POLLIN };
	uint64_t count;

	while (poll(&p, 1, -1) < 0 || read(fd, &count, sizeof count) < 0)
		if (errno != EINTR && errno != EAGAIN)
			return;
}

static void *work(void *arg)
{
	struct disk_sync *s = arg;

	for (;;) {
		wait_event(s->ask);
		if (s->fd < 0)
			return NULL;
		do
			s->result = fdatasync(s->fd) < 0 ? errno : 0;
		while (s->result == EINTR);
		signal_event(s->done);
	}
}

struct disk_sync *disk_sync_new(void)
{
	struct disk_sync *s = calloc(1, sizeof *s);
	sigset_t all, before;
	int e;

	if (!s)
		return NULL;
	s->ask = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	s->done = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	if (s->ask < 0 || s->done < 0) {
		e = errno;
	} else {
		/* every signal is for the other threads */
		sigfillset(&all);
		pthread_sigmask(SIG_SETMASK, &all, &before);
		e = pthread_create(&s->thread, NULL, work, s);
		pthread_sigmask(SIG_SETMASK, &before, NULL);
	}
	if (e == 0)
		return s;
	if (s->ask >= 0)
		(void)close(s->ask);
	if (s->done >= 0)
		(void)close(s->done);
	free(s);
	errno = e;
	return NULL;
}

void disk_sync_free(struct disk_sync *s)
{
	int ignored;

	if (!s)
		return;
	if (s->busy)
		(void)disk_sync_take(s, true, &ignored);
	s->fd = -1;
	signal_event(s->ask);
	(void)pthread_join(s->thread, NULL);
	(void)close(s->ask);
	(void)close(s->done);
	free(s);
}

int disk_sync_fd(const struct disk_sync *s)
{
	return s->done;
}

void disk_sync_begin(struct disk_sync *s, int fd)
{
	assert(!s->busy && fd >= 0);
	s->fd = fd;
	s->busy = true;
	signal_event(s->ask);
}

bool disk_sync_take(struct disk_sync *s, bool wait, int *ret_errno)
{
	uint64_t count;

	assert(s->busy);
	if (wait)
		wait_event(s->done);
	else if (read(s->done, &count, sizeof count) < 0)
		return false;
	s->busy = false;
	*ret_errno = s->result;
	return true;
}
