/* A disk that takes its time, or refuses: nobody waits, nothing is called recorded too early, and
 * what was refused is written again. */
#include <criterion/criterion.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#include "io/disk_sync.h"
#include "io/record_file.h"

/* Stands before libc's: the disk of these tests. */
static atomic_bool busy; /* until it is told otherwise */
static atomic_int slow_ms, refuse;

int fdatasync(int fd)
{
	struct timespec t = { slow_ms / 1000, slow_ms % 1000 * 1000000L };
	const struct timespec moment = { 0, 1000000 };

	(void)nanosleep(&t, NULL);
	while (busy)
		(void)nanosleep(&moment, NULL);
	if (refuse > 0) {
		refuse--;
		errno = EIO;
		return -1;
	}
	return (int)syscall(SYS_fdatasync, fd);
}

static char path[64];

static void begin(void)
{
	strcpy(path, "/tmp/mainstair-sync-XXXXXX");
	cr_assert(mkdtemp(path) != NULL);
	strcat(path, "/r");
}

static void end(void)
{
	(void)unlink(path);
	path[strlen(path) - 2] = 0;
	(void)rmdir(path);
}

TestSuite(disk_sync, .timeout = 30, .init = begin, .fini = end);

static bool readable(int fd, int ms)
{
	struct pollfd p = { fd, POLLIN, 0 };

	return poll(&p, 1, ms) > 0;
}

Test(disk_sync, nobody_waits)
{
	struct disk_sync *s = disk_sync_new();
	int fd = open(path, O_WRONLY | O_CREAT, 0600), e = 99;

	cr_assert(s != NULL && fd >= 0);
	busy = true;
	disk_sync_begin(s, fd); /* would never return if it waited */
	cr_assert(!disk_sync_take(s, false, &e));
	cr_assert(!readable(disk_sync_fd(s), 0));
	busy = false;
	cr_assert(readable(disk_sync_fd(s), 5000));
	cr_assert(disk_sync_take(s, false, &e) && e == 0);
	cr_assert(!readable(disk_sync_fd(s), 0));
	refuse = 1;
	disk_sync_begin(s, fd);
	cr_assert(disk_sync_take(s, true, &e) && e == EIO);
	disk_sync_begin(s, fd); /* freed while under way */
	disk_sync_free(s);
	disk_sync_free(NULL);
	close(fd);
}

static struct record_writer *create(void)
{
	struct record_head head = { .program = "test", .profile = { .name = "p", .text = "" },
		.bench = { .name = "", .text = "" } };
	struct record_writer *w = NULL;
	struct err err;

	slow_ms = 0;
	refuse = 0;
	cr_assert(record_create(path, "unit", &head, &w, &err) == 0, "%s", err.text);
	return w;
}

static struct event reading(double seconds)
{
	return (struct event){ .seconds = seconds, .kind = EVENT_READING, .stage = 0, .volts = 50,
		.watts = 5, .amps = (double)NAN, .power_factor = (double)NAN };
}

static size_t events_on_file(void)
{
	struct record *r;
	struct err err;
	size_t n;

	cr_assert(record_open(path, &r, &err) == 0, "%s", err.text);
	n = record_n_events(r);
	record_close(r);
	return n;
}

Test(disk_sync, recorded_only_when_it_is)
{
	struct record_writer *w = create();
	struct err err;
	struct event ev;

	cr_assert(!record_syncing(w) && record_sync_fd(w) == -1);
	cr_assert(record_sync_begin(w, &err) == 0 && !record_syncing(w)); /* nothing to do */
	ev = reading(1);
	cr_assert(record_append(w, &ev, false, &err) == 0);
	busy = true;
	cr_assert(record_sync_begin(w, &err) == 0 && record_syncing(w));
	/* readings go on meanwhile, and are not covered by it */
	for (int i = 2; i <= 4; i++) {
		ev = reading(i);
		cr_assert(record_append(w, &ev, false, &err) == 0);
	}
	cr_assert(record_sync_end(w, &err) == 0 && record_syncing(w));
	cr_assert(record_health(w).recorded == 0 && record_health(w).waiting == 4);
	busy = false;
	cr_assert(readable(record_sync_fd(w), 5000));
	cr_assert(record_sync_end(w, &err) == 0 && !record_syncing(w));
	cr_assert(record_health(w).recorded == 1 && record_health(w).waiting == 3);
	cr_assert(record_sync(w, &err) == 0);
	cr_assert(record_health(w).recorded == 4 && record_health(w).waiting == 0);
	cr_assert(record_finish(w, &err) == 0);
	cr_assert(events_on_file() == 4);
}

Test(disk_sync, what_the_disk_refuses_is_written_again)
{
	struct record_writer *w = create();
	struct err err;
	struct event ev = reading(1);

	cr_assert(record_append(w, &ev, false, &err) == 0);
	busy = true;
	refuse = 1;
	cr_assert(record_sync_begin(w, &err) == 0);
	ev = reading(2);
	cr_assert(record_append(w, &ev, false, &err) == 0);
	busy = false;
	cr_assert(readable(record_sync_fd(w), 5000));
	cr_assert(record_sync_end(w, &err) == -1);
	cr_assert(strstr(err.text, "2 events wait in memory, 0 are lost"), "%s", err.text);
	cr_assert(record_health(w).recorded == 0);
	ev = reading(3);
	cr_assert(record_append(w, &ev, true, &err) == 0, "%s", err.text);
	cr_assert(record_health(w).recorded == 3 && record_health(w).waiting == 0);
	cr_assert(record_finish(w, &err) == 0);
	cr_assert(events_on_file() == 3);
}

Test(disk_sync, a_sync_that_waits_comes_after_one_that_does_not)
{
	struct record_writer *w = create();
	struct err err;
	struct event ev = reading(1);

	cr_assert(record_append(w, &ev, false, &err) == 0);
	slow_ms = 200;
	cr_assert(record_sync_begin(w, &err) == 0);
	ev = reading(2);
	cr_assert(record_append(w, &ev, true, &err) == 0);
	cr_assert(!record_syncing(w));
	cr_assert(record_health(w).recorded == 2);
	ev = reading(3);
	cr_assert(record_append(w, &ev, false, &err) == 0);
	cr_assert(record_sync_begin(w, &err) == 0);
	cr_assert(record_finish(w, &err) == 0); /* waits, too */
	cr_assert(events_on_file() == 3);
}

Test(disk_sync, a_record_removed_under_way_is_told)
{
	struct record_writer *w = create();
	struct err err;
	struct event ev = reading(1);

	cr_assert(record_append(w, &ev, false, &err) == 0);
	cr_assert(unlink(path) == 0);
	cr_assert(record_sync_begin(w, &err) == -1);
	cr_assert(!record_syncing(w) && record_health(w).recorded == 0);
	(void)record_finish(w, &err);
}
