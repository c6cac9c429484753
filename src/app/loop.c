#include "app/loop.h"

#include <math.h>
#include <poll.h>
#include <sys/signalfd.h>
#include <time.h>
#include <unistd.h>

#include "ui/screen/screen.h"

int64_t loop_monotonic_ms(void)
{
	struct timespec t;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

double loop_monotonic_s(void)
{
	struct timespec t;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

int loop_open(struct loop *ret, struct err *err)
{
	sigset_t set;

	*ret = (struct loop){.signal_fd = -1};
	sigemptyset(&set);
	sigaddset(&set, SIGWINCH);
	sigaddset(&set, SIGINT);
	sigaddset(&set, SIGTERM);
	sigaddset(&set, SIGHUP);
	sigaddset(&set, SIGQUIT);
	sigprocmask(SIG_BLOCK, &set, &ret->before);
	ret->signal_fd = signalfd(-1, &set, SFD_CLOEXEC | SFD_NONBLOCK);
	if (ret->signal_fd < 0) {
		sigprocmask(SIG_SETMASK, &ret->before, NULL);
		return err_set(err, ERR_SYSTEM, "signalfd: out of descriptors?");
	}
	if (terminal_open(&ret->terminal, err) != 0 ||
	    terminal_canvas(ret->terminal, &ret->canvas, err) != 0) {
		loop_close(ret);
		loop_release(ret);
		return -1;
	}
	return 0;
}

void loop_close(struct loop *l)
{
	terminal_close(l->terminal);
	l->terminal = NULL;
	canvas_release(&l->canvas);
}

void loop_release(struct loop *l)
{
	struct signalfd_siginfo info;
	if (l->signal_fd <= 0)
		return;
	/* A second Ctrl-C while the first one was obeyed asks for nothing new. */
	while (read(l->signal_fd, &info, sizeof info) == (ssize_t)sizeof info)
		;
	close(l->signal_fd);
	l->signal_fd = -1;
	sigprocmask(SIG_SETMASK, &l->before, NULL);
}

int loop_draw(struct loop *l, const struct view *v)
{
	int more = screen_draw(v, &l->canvas);
	terminal_show(l->terminal, &l->canvas, l->anew);
	l->anew = false;
	return more;
}

int loop_draw_sheet(struct loop *l, const struct sheet *s)
{
	int more = screen_sheet(s, &l->canvas);
	terminal_show(l->terminal, &l->canvas, l->anew);
	l->anew = false;
	return more;
}

static void take_signals(struct loop *l, struct loop_wake *ret)
{
	struct signalfd_siginfo info;
	while (read(l->signal_fd, &info, sizeof info) == (ssize_t)sizeof info) {
		if (info.ssi_signo == (unsigned)SIGWINCH)
			ret->resized = true;
		else
			ret->ended_by = (int)info.ssi_signo;
	}
	if (ret->resized)
		(void)terminal_resize(l->terminal, &l->canvas); /* no memory: the old size stays */
}

void loop_wait(struct loop *l, int feed_fd, int disk_fd, double wait_s, struct loop_wake *ret)
{
	struct pollfd fds[] = {
		{STDIN_FILENO, POLLIN, 0}, {l->signal_fd, POLLIN, 0}, {feed_fd, POLLIN, 0},
		{disk_fd, POLLIN, 0},
	};
	struct timespec wait, *timeout = NULL;

	*ret = (struct loop_wake){0};
	if (isfinite(wait_s)) {
		wait_s = fmin(fmax(wait_s, 0), 1e6);
		wait.tv_sec = (time_t)wait_s;
		wait.tv_nsec = (long)((wait_s - floor(wait_s)) * 1e9);
		timeout = &wait;
	}
	if (ppoll(fds, sizeof fds / sizeof *fds, timeout, NULL) < 0)
		return; /* EINTR: a signal that is not ours, such as a stop and its end */
	take_signals(l, ret);
	ret->revents = fds[2].revents;
	ret->disk = fds[3].revents != 0;
	ret->keys = (fds[0].revents & POLLIN) != 0;
	/* The terminal has gone: without this poll() would return for ever. */
	if (fds[0].revents & (POLLHUP | POLLERR | POLLNVAL))
		ret->ended_by = SIGHUP;
}
