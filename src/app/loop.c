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

	*ret = (struct loop){.signal_fd = -1, .woke_s = loop_monotonic_s()};
	sigemptyset(&set);
	sigaddset(&set, SIGWINCH);
	sigaddset(&set, SIGINT);
	sigaddset(&set, SIGTERM);
	sigaddset(&set, SIGHUP);
	sigaddset(&set, SIGQUIT);
	sigaddset(&set, SIGTSTP);
	sigaddset(&set, SIGCONT);
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

bool loop_may_draw(struct loop *l)
{
	l->held_back = !terminal_ready(l->terminal);
	return !l->held_back;
}

static void show(struct loop *l)
{
	l->partial = !terminal_show(l->terminal, &l->canvas, l->anew);
	l->anew = l->held_back = false;
}

int loop_draw(struct loop *l, const struct view *v)
{
	int more = screen_draw(v, &l->canvas);
	show(l);
	return more;
}

int loop_draw_sheet(struct loop *l, const struct sheet *s)
{
	int more = screen_sheet(s, &l->canvas);
	show(l);
	return more;
}

/* Ctrl-Z: stop as any program does.  Back when it goes on; at once where nobody could let it. */
static void stop(struct loop *l, double *ret_since_s)
{
	sigset_t set;

	terminal_suspend(l->terminal);
	*ret_since_s = loop_monotonic_s();
	sigemptyset(&set);
	sigaddset(&set, SIGTSTP);
	raise(SIGTSTP);
	sigprocmask(SIG_UNBLOCK, &set, NULL);
	sigprocmask(SIG_BLOCK, &set, NULL);
}

static void take_signals(struct loop *l, struct loop_wake *ret)
{
	struct signalfd_siginfo info;
	double since_s = l->woke_s;

	while (read(l->signal_fd, &info, sizeof info) == (ssize_t)sizeof info) {
		if (info.ssi_signo == (unsigned)SIGWINCH)
			ret->redraw = true;
		else if (info.ssi_signo == (unsigned)SIGTSTP)
			stop(l, &since_s);
		else if (info.ssi_signo != (unsigned)SIGCONT)
			ret->ended_by = (int)info.ssi_signo;
		ret->stopped |= info.ssi_signo == (unsigned)SIGTSTP ||
			info.ssi_signo == (unsigned)SIGCONT;
	}
	if (ret->stopped) {
		ret->stopped_s = loop_monotonic_s() - since_s;
		terminal_resume(l->terminal);
		ret->redraw = true;
	}
	if (ret->redraw) {
		(void)terminal_resize(l->terminal, &l->canvas); /* no memory: the old size stays */
		/* a window that was made smaller and larger again has lost what it showed */
		l->anew = true;
	}
	ret->redraw |= l->partial;
}

void loop_wait(struct loop *l, int feed_fd, int disk_fd, double wait_s, struct loop_wake *ret)
{
	double terminal_s;
	struct pollfd fds[] = {
		{STDIN_FILENO, POLLIN, 0}, {l->signal_fd, POLLIN, 0}, {feed_fd, POLLIN, 0},
		{disk_fd, POLLIN, 0},
		{terminal_poll(l->terminal, l->held_back, &terminal_s), POLLOUT, 0},
	};
	struct timespec wait, *timeout = NULL;

	*ret = (struct loop_wake){0};
	wait_s = fmin(wait_s, terminal_s);
	if (l->partial && !l->held_back)
		wait_s = 0; /* the caller only has to be told to go on drawing */
	if (isfinite(wait_s)) {
		wait_s = fmin(fmax(wait_s, 0), 1e6);
		wait.tv_sec = (time_t)wait_s;
		wait.tv_nsec = (long)((wait_s - floor(wait_s)) * 1e9);
		timeout = &wait;
	}
	/* EINTR: the program was stopped and goes on */
	bool ready = ppoll(fds, sizeof fds / sizeof *fds, timeout, NULL) > 0;
	take_signals(l, ret);
	l->woke_s = loop_monotonic_s();
	ret->revents = ready ? fds[2].revents : 0;
	ret->disk = ready && fds[3].revents != 0;
	ret->keys = ready && (fds[0].revents & POLLIN) != 0;
	/* The terminal has gone: without this poll() would return for ever. */
	if (!terminal_send(l->terminal) ||
	    (ready && (fds[0].revents & (POLLHUP | POLLERR | POLLNVAL))))
		ret->ended_by = SIGHUP;
}
