/* Preloaded by bench_latency: a disk that takes SLOW_SYNC_MS for every fdatasync(), like a memory
 * card.  The data still reach the disk. */
#include <stdlib.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

int fdatasync(int fd)
{
	const char *text = getenv("SLOW_SYNC_MS");
	long ms = text ? strtol(text, NULL, 10) : 0;
	struct timespec t = { ms / 1000, ms % 1000 * 1000000 };

	(void)nanosleep(&t, NULL);
	return (int)syscall(SYS_fdatasync, fd);
}
