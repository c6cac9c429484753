#include "lib/pty_relay.h"

#include <poll.h>
#include <signal.h>
#include <stdint.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { BUFFER = 4096 };

/* One direction: bytes with the moment each is to arrive. */
struct way {
	int from, to;
	int64_t character_ns, free_ns; /* when the line is free for the next byte */
	uint8_t byte[BUFFER];
	int64_t due_ns[BUFFER];
	size_t n;
};

static int64_t now_ns(void)
{
	struct timespec t;

	(void)clock_gettime(CLOCK_MONOTONIC, &t);
	return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

static void take(struct way *w)
{
	uint8_t in[512];
	size_t room = BUFFER - w->n;
	ssize_t n = read(w->from, in, room < sizeof in ? room : sizeof in);
	int64_t now = now_ns();

	for (ssize_t i = 0; i < n; i++) {
		w->free_ns = (w->free_ns > now ? w->free_ns : now) + w->character_ns;
		w->byte[w->n] = in[i];
		w->due_ns[w->n++] = w->free_ns;
	}
}

static void give(struct way *w)
{
	int64_t now = now_ns();
	size_t n = 0;
	ssize_t put;

	while (n < w->n && w->due_ns[n] <= now)
		n++;
	if (n == 0)
		return;
	put = write(w->to, w->byte, n);
	if (put <= 0)
		return;
	w->n -= (size_t)put;
	memmove(w->byte, w->byte + put, w->n);
	memmove(w->due_ns, w->due_ns + put, w->n * sizeof w->due_ns[0]);
}

static void carry(int a, int b, int64_t character_ns)
{
	static struct way way[2];

	way[0] = (struct way){ .from = a, .to = b, .character_ns = character_ns };
	way[1] = (struct way){ .from = b, .to = a, .character_ns = character_ns };
	for (;;) {
		struct pollfd p[2] = { { a, POLLIN, 0 }, { b, POLLIN, 0 } };
		int64_t wait = INT64_MAX, now = now_ns();
		struct timespec t;

		for (int i = 0; i < 2; i++)
			if (way[i].n > 0 && way[i].due_ns[0] - now < wait)
				wait = way[i].due_ns[0] - now;
		if (wait < 0)
			wait = 0;
		t = (struct timespec){ wait / 1000000000, wait % 1000000000 };
		(void)ppoll(p, 2, wait == INT64_MAX ? NULL : &t, NULL);
		for (int i = 0; i < 2; i++) {
			if (p[i].revents & POLLIN)
				take(&way[i]);
			give(&way[i]);
		}
	}
}

int pty_relay_open(struct pty_relay *r, int baud, int bits_per_character)
{
	*r = (struct pty_relay){ .child = -1 };
	r->a.master = r->a.held = r->b.master = r->b.held = -1;
	if (pty_pair_open(&r->a) < 0 || pty_pair_open(&r->b) < 0)
		return -1;
	r->child = fork();
	if (r->child == 0) {
		(void)prctl(PR_SET_PDEATHSIG, SIGKILL);
		/* a timer slack of 50 us would be a twentieth of a character at 9600 */
		(void)prctl(PR_SET_TIMERSLACK, 1000UL);
		carry(r->a.master, r->b.master,
		      baud ? (int64_t)bits_per_character * 1000000000 / baud : 0);
		_exit(0);
	}
	return r->child < 0 ? -1 : 0;
}

void pty_relay_close(struct pty_relay *r)
{
	if (r->child > 0) {
		(void)kill(r->child, SIGKILL);
		(void)waitpid(r->child, NULL, 0);
	}
	pty_pair_close(&r->a);
	pty_pair_close(&r->b);
}
