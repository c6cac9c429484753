/*
 * From the last byte of a reading on the serial line to the screen that shows it: the real program
 * in a pseudo-terminal, a meter of text lines behind another, ten readings a second.
 *
 *   bench_latency PROGRAM PROFILE SLOW_SYNC.so [PART OF A RUN'S NAME]
 *
 * Wanted: 5 ms at the median, 20 ms at the 99th percentile, the abort prompt included, and also on
 * a disk that takes 100 ms to sync; under 1 % of a core.
 *
 * A slow terminal takes so many bytes a second and no more, in each millisecond its share, and
 * answers what it is asked once it has taken the question, as a serial console does.  On a quiet
 * line two times are told: until the first byte of the new screen could be read, which is the
 * program's part unless the last picture is still on its way, and until the reading is among the
 * events.  Then readings come faster than the line can show them: how old is what is shown, and how
 * many bytes were taken between a reading and its picture, a key and its echo, the abort's reading
 * and its prompt.  Wanted: at the median no more than what is on its way and the new picture.
 */
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#include <vterm.h>

#include "lib/pty_pair.h"

enum {
	ROWS = 40, COLS = 120, READINGS = 300, ABORTS = 30,
	GIVE_UP_MS = 30000,
	/* on a slow terminal */
	QUIET_READINGS = 5, STREAM = 200, KEY_EVERY = 20, SLOW_ABORTS = 4,
	ABORT_BYTES = 3000
};

static VTerm *vt;
static VTermScreen *screen;
static int terminal = -1;
static pid_t program = -1;
static struct pty_pair line;
static double terminal_bytes_s;   /* INFINITY: as fast as it can */
static double terminal_paid_ms;   /* all that it may take up to now was taken at this time */
static long terminal_taken;       /* bytes */
static char folder[] = "/tmp/mainstair-latency-XXXXXX";

static double now_ms(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec * 1e3 + (double)t.tv_nsec * 1e-6;
}

/* What the terminal says by itself, to a question. */
static void answer(const char *bytes, size_t n, void *user)
{
	(void)user;
	if (write(terminal, bytes, n) < 0)
		perror("terminal");
}

/* Bytes that the terminal may take now, if it has been busy since it was paid. */
static size_t allowance(void)
{
	const double now = now_ms();

	if (!isfinite(terminal_bytes_s))
		return SIZE_MAX;
	return (size_t)((now - terminal_paid_ms) * terminal_bytes_s / 1e3);
}

static int waiting(void)
{
	int n = 0;

	return ioctl(terminal, FIONREAD, &n) == 0 ? n : 0;
}

/* Take what the program has drawn; wait for it at most wait_ms. */
static void take(int wait_ms)
{
	struct pollfd p = { terminal, POLLIN, 0 };
	char bytes[8192];
	ssize_t n;

	if (poll(&p, 1, 0) <= 0) {
		/* an idle line saves up nothing */
		if (now_ms() - terminal_paid_ms > 1.5)
			terminal_paid_ms = now_ms() - 1.5;
		if (poll(&p, 1, wait_ms) <= 0)
			return;
	}
	const size_t most = allowance();

	if (most == 0) {
		(void)poll(NULL, 0, 1);
		return;
	}
	n = read(terminal, bytes, most < sizeof bytes ? most : sizeof bytes);
	if (n <= 0)
		return;
	vterm_input_write(vt, bytes, (size_t)n);
	terminal_taken += n;
	if (isfinite(terminal_bytes_s))
		terminal_paid_ms += (double)n / terminal_bytes_s * 1e3;
}

static int shows(const char *token)
{
	char row[COLS * 4 + 1];

	for (int r = 0; r < ROWS; r++) {
		VTermRect rect = { r, r + 1, 0, COLS };
		size_t n = vterm_screen_get_text(screen, row, sizeof row - 1, rect);

		row[n] = 0;
		if (strstr(row, token))
			return 1;
	}
	return 0;
}

/* Milliseconds until the screen shows it, or -1; *ret_first: until there was a new byte of it. */
static double wait_for(const char *token, double since_ms, double *ret_first)
{
	const long before = terminal_taken + waiting();

	*ret_first = -1;
	while (!shows(token)) {
		if (now_ms() - since_ms > GIVE_UP_MS)
			return -1;
		take(isfinite(terminal_bytes_s) ? 1 : 10);
		if (*ret_first < 0 && terminal_taken + waiting() > before)
			*ret_first = now_ms() - since_ms;
	}
	return now_ms() - since_ms;
}

static void settle(int ms)
{
	for (double end = now_ms() + ms; now_ms() < end; )
		take(5);
}

static void type(const char *keys)
{
	if (write(terminal, keys, strlen(keys)) < 0)
		perror("terminal");
}

static double say_amps(double volts, double watts, double amps)
{
	char text[64];
	int n = snprintf(text, sizeof text, "%.1f,%.3f,%.2f\r\n", volts, amps, watts);

	if (write(line.master, text, (size_t)n) != n)
		perror("line");
	return now_ms();
}

static double say(double volts, double watts)
{
	return say_amps(volts, watts, volts > 0 ? watts / volts : 0);
}

static int start(const char *path, const char *profile, const char *preload, int sync_ms)
{
	struct winsize size = { .ws_row = ROWS, .ws_col = COLS };
	char spec[128], text[16];

	if (pty_pair_open(&line) < 0)
		return -1;
	snprintf(spec, sizeof spec, "text:%s", line.slave);
	snprintf(text, sizeof text, "%d", sync_ms);
	program = forkpty(&terminal, NULL, NULL, &size);
	if (program == 0) {
		setenv("TERM", "xterm-256color", 1);
		setenv("LC_ALL", "C.UTF-8", 1);
		setenv("XDG_DATA_HOME", folder, 1);
		setenv("XDG_CONFIG_HOME", folder, 1);
		setenv("SLOW_SYNC_MS", text, 1);
		if (sync_ms)
			setenv("LD_PRELOAD", preload, 1);
		execl(path, path, "run", "--override", "a benchmark", profile, "--meter", spec,
			(char *)NULL);
		_exit(127);
	}
	terminal_bytes_s = INFINITY; /* while it starts */
	vt = vterm_new(ROWS, COLS);
	vterm_set_utf8(vt, 1);
	vterm_output_set_callback(vt, answer, NULL);
	screen = vterm_obtain_screen(vt);
	vterm_screen_reset(screen, 1);
	double first;

	if (wait_for("STOP", now_ms(), &first) < 0)
		return -1;
	settle(1500); /* the plan and the plots' curve are worked out */
	type("a");
	settle(300);
	(void)say(0, 0); /* the first line is passed over */
	settle(100);
	return 0;
}

static void stop(void)
{
	kill(program, SIGTERM);
	for (double end = now_ms() + 2000; now_ms() < end && waitpid(program, NULL, WNOHANG) == 0; )
		take(10);
	close(terminal);
	vterm_free(vt);
	pty_pair_close(&line);
}

static double processor_s(void)
{
	unsigned long user, system;
	char path[64], text[512];
	int fd, n;

	snprintf(path, sizeof path, "/proc/%d/stat", (int)program);
	fd = open(path, O_RDONLY);
	n = (int)read(fd, text, sizeof text - 1);
	close(fd);
	text[n > 0 ? n : 0] = 0;
	if (sscanf(strrchr(text, ')') + 2, "%*c %*d %*d %*d %*d %*d %*u %*u %*u %*u %*u %lu %lu",
	           &user, &system) != 2)
		return 0;
	return (double)(user + system) / (double)sysconf(_SC_CLK_TCK);
}

static int by_size(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

/* True when the figures are as wanted. */
static int tell(const char *what, double *ms, int n, int missed)
{
	double median, most;

	if (n == 0) {
		printf("%s: nothing shown, %d missed\n", what, missed);
		return 0;
	}
	qsort(ms, (size_t)n, sizeof *ms, by_size);
	median = ms[n / 2];
	most = ms[(n * 99 + 99) / 100 - 1];
	printf("%s: median %.2f ms, 99th percentile %.2f ms, most %.2f ms (%d, %d missed)\n", what,
	       median, most, ms[n - 1], n, missed);
	fflush(stdout);
	return missed == 0 && median < 5 && most < 20;
}

/* The variac goes to zero, or `off` would be asked twice. */
static void acknowledge(void)
{
	double first;

	(void)say(0, 0);
	settle(50);
	type("off\r");
	if (wait_for("abort-acknowledged", now_ms(), &first) < 0)
		fprintf(stderr, "the prompt does not go away\n");
}

/* Readings and abort prompts on a terminal that takes all at once. */
static int measure(const char *how)
{
	static const char prompt[] = "VARIAC TO ZERO.  PLUG OUT.";
	static double ms[READINGS];
	char token[32], what[96];
	int n = 0, missed = 0, good;
	long bytes = terminal_taken;
	double begun = now_ms(), processor = processor_s(), first;

	/* within the first stage's band, never the same twice in a row */
	for (int i = 0; i < READINGS; i++) {
		double watts = 1.00 + 0.01 * (i % 20), next = begun + 100 * (i + 1), took;

		snprintf(token, sizeof token, "20.0 V %.2f W", watts);
		took = wait_for(token, say(20, watts), &first);
		if (took < 0)
			missed++;
		else
			ms[n++] = took;
		while (now_ms() < next)
			take((int)(next - now_ms()) + 1);
	}
	processor = (processor_s() - processor) / (now_ms() - begun) * 1000;
	bytes = terminal_taken - bytes;
	snprintf(what, sizeof what, "readings, %s", how);
	good = tell(what, ms, n, missed);
	printf("    %.2f %% of a core at ten readings a second; %ld bytes a reading\n",
	       100 * processor, bytes / READINGS);

	n = missed = 0;
	for (int i = 0; i < ABORTS; i++) {
		double took = wait_for(prompt, say(20, 60 + i), &first);

		if (took < 0)
			missed++;
		else
			ms[n++] = took;
		settle(150);
		acknowledge();
		(void)say(20, 1.05);
		settle(137);
	}
	snprintf(what, sizeof what, "abort prompt, %s", how);
	return tell(what, ms, n, missed) && good && processor < 0.01;
}

/* ---- a slow terminal ---- */

/* One of the stream's readings: when it was said, and how much the terminal had taken then. */
static struct said {
	double ms;
	long taken;
} said[STREAM];
static int n_said, newest_shown;
static double age_ms[STREAM];
static double ahead[STREAM];
static int n_shown;

/* They are told by their amps, which stand beside the verdict; at volts that are met nowhere
 * else. */
static void say_next(void)
{
	said[n_said].taken = terminal_taken;
	said[n_said].ms = say_amps(30, 3.00 + 0.01 * (n_said % 20), 0.2 + 0.001 * n_said);
	n_said++;
}

/* The newest of them that is on the screen, if it is another than before. */
static void see(void)
{
	static char text[ROWS * (COLS * 4 + 1) + 1];
	VTermRect all = { 0, ROWS, 0, COLS };
	const char *p;
	double amps;

	text[vterm_screen_get_text(screen, text, sizeof text - 1, all)] = 0;
	p = strstr(text, "30.0 V   ");
	if (!p || sscanf(p, "30.0 V   %lf A", &amps) != 1)
		return;
	long i = lround((amps - 0.2) * 1000);
	if (i <= newest_shown || i >= n_said)
		return;
	newest_shown = (int)i;
	age_ms[n_shown] = now_ms() - said[i].ms;
	ahead[n_shown++] = (double)(terminal_taken - said[i].taken);
}

static void tell_two(const char *what, const char *unit, double *of, int n)
{
	if (n == 0) {
		printf("    %s: none seen\n", what);
		return;
	}
	qsort(of, (size_t)n, sizeof *of, by_size);
	printf("    %s: median %.0f %s, most %.0f %s (%d)\n", what, of[n / 2], unit, of[n - 1], unit,
	       n);
	fflush(stdout);
}

/* Ten readings a second for the whole of STREAM; in between keys are typed and looked for. */
static void stream(void)
{
	static double echo_ms[STREAM / KEY_EVERY], echo_ahead[STREAM / KEY_EVERY];
	const double begun = now_ms();
	double typed_ms = -1;
	long typed_taken = 0;
	int n_echoes = 0, n_keys = 0;

	n_said = n_shown = 0;
	newest_shown = -1;
	while (n_said < STREAM || (typed_ms >= 0 && now_ms() - typed_ms < GIVE_UP_MS)) {
		if (n_said < STREAM && now_ms() >= begun + 100 * n_said)
			say_next();
		if (typed_ms < 0 && n_said < STREAM && n_said / KEY_EVERY > n_keys) {
			type(n_keys % 2 ? "\x15" : "7"); /* Ctrl-U */
			typed_ms = now_ms();
			typed_taken = terminal_taken;
			n_keys++;
		}
		long before = terminal_taken;
		take(1);
		if (terminal_taken == before)
			continue;
		see();
		if (typed_ms >= 0 && shows("> 7") == n_keys % 2) {
			echo_ms[n_echoes] = now_ms() - typed_ms;
			echo_ahead[n_echoes++] = (double)(terminal_taken - typed_taken);
			typed_ms = -1;
		}
	}
	tell_two("stream: age of a reading when it is shown", "ms", age_ms, n_shown);
	tell_two("stream: bytes from a reading to its picture", "bytes", ahead, n_shown);
	tell_two("stream: key to echo", "ms", echo_ms, n_echoes);
	tell_two("stream: bytes from a key to its echo", "bytes", echo_ahead, n_echoes);
}

/* The prompt in the midst of a stream. */
static int abort_in_stream(double *ret_ms, double *ret_bytes)
{
	double begun = now_ms(), crossed;
	long taken;

	for (n_said = 0; n_said < 30; ) {
		if (now_ms() >= begun + 100 * n_said)
			say_next();
		take(1);
	}
	crossed = say(30, 60);
	taken = terminal_taken;
	while (!shows("PLUG OUT.")) {
		if (now_ms() - crossed > GIVE_UP_MS)
			return 0;
		take(1);
	}
	*ret_ms = now_ms() - crossed;
	*ret_bytes = (double)(terminal_taken - taken);
	return 1;
}

static int measure_slow(const char *how)
{
	double ms[QUIET_READINGS], first_ms[QUIET_READINGS], bytes[SLOW_ABORTS];
	char token[32], what[96];
	int n = 0, missed = 0;

	settle(4000);
	for (int i = 0; i < QUIET_READINGS; i++) {
		double watts = 1.02 + 0.01 * i, took;

		snprintf(token, sizeof token, "20.0 V %.2f W", watts);
		took = wait_for(token, say(20, watts), &first_ms[n]);
		if (took < 0)
			missed++;
		else
			ms[n++] = took;
		settle(2537);
	}
	snprintf(what, sizeof what, "quiet line, shown, %s", how);
	(void)tell(what, ms, n, missed);
	snprintf(what, sizeof what, "quiet line, first byte, %s", how);
	(void)tell(what, first_ms, n, missed);
	stream();
	n = missed = 0;
	for (int i = 0; i < SLOW_ABORTS; i++) {
		if (abort_in_stream(&ms[n], &bytes[n]))
			n++;
		else
			missed++;
		settle(200);
		acknowledge();
	}
	tell_two("stream: the abort's reading to its prompt", "ms", ms, n);
	tell_two("stream: bytes from the abort's reading to its prompt", "bytes", bytes, n);
	/* tell_two() has sorted them */
	return missed == 0 && n > 0 && bytes[n / 2] < ABORT_BYTES;
}

int main(int argc, char **argv)
{
	int good = 1;

	if (argc < 4 || argc > 5 || !mkdtemp(folder)) {
		fprintf(stderr, "usage: bench_latency PROGRAM PROFILE SLOW_SYNC.so [NAME]\n");
		return 2;
	}
	static const struct {
		const char *how;
		int sync_ms;
		double bytes_s;
	} runs[] = {
		{ "this disk", 0, INFINITY },
		{ "100 ms disk", 100, INFINITY },
		/* a byte is ten bits on a serial console */
		{ "100 ms disk, 115200 baud terminal", 100, 11520 },
		{ "100 ms disk, 38400 baud terminal", 100, 3840 },
		{ "100 ms disk, 9600 baud terminal", 100, 960 },
	};
	for (size_t i = 0; i < sizeof runs / sizeof *runs; i++) {
		if (argc == 5 && !strstr(runs[i].how, argv[4]))
			continue;
		if (start(argv[1], argv[2], argv[3], runs[i].sync_ms) < 0) {
			fprintf(stderr, "the dashboard did not come up\n");
			good = 0;
		} else {
			terminal_bytes_s = runs[i].bytes_s;
			terminal_paid_ms = now_ms();
			good &= isfinite(runs[i].bytes_s) ? measure_slow(runs[i].how)
			                                  : measure(runs[i].how);
		}
		terminal_bytes_s = INFINITY;
		stop();
	}
	/* the records were only for this */
	char command[128];
	snprintf(command, sizeof command, "rm -r '%s'", folder);
	return system(command) == 0 && good ? 0 : 1;
}
