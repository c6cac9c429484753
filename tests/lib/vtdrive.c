#include "lib/vtdrive.h"

#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { SLOW_BYTES = 19, SLOW_MS = 20 }; /* 9600 baud */

static long now_ms(void)
{
	struct timespec t;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static int on_bell(void *user)
{
	((struct vt *)user)->bells++;
	return 1;
}

static int on_property(VTermProp property, VTermValue *value, void *user)
{
	if (property == VTERM_PROP_ALTSCREEN)
		((struct vt *)user)->alternate = value->boolean;
	return 1;
}

/* What a terminal says by itself, when it is asked. */
static void on_answer(const char *bytes, size_t n, void *user)
{
	struct vt *v = user;
	if (!v->mute)
		(void)!write(v->fd, bytes, n);
}

static const VTermScreenCallbacks callbacks = {.bell = on_bell, .settermprop = on_property};

void vt_start(struct vt *v, int rows, int cols, char *const argv[], const char *const env[])
{
	struct winsize size = {(unsigned short)rows, (unsigned short)cols, 0, 0};

	*v = (struct vt){.rows = rows, .cols = cols, .vterm = vterm_new(rows, cols)};
	vterm_set_utf8(v->vterm, 1);
	vterm_output_set_callback(v->vterm, on_answer, v);
	v->screen = vterm_obtain_screen(v->vterm);
	vterm_screen_set_callbacks(v->screen, &callbacks, v);
	vterm_screen_enable_altscreen(v->screen, 1);
	vterm_screen_reset(v->screen, 1);
	v->pid = forkpty(&v->fd, NULL, NULL, &size);
	if (v->pid == 0) {
		prctl(PR_SET_PDEATHSIG, SIGKILL);
		for (; *env; env++) {
			if (strchr(*env, '='))
				putenv(strdup(*env));
			else
				unsetenv(*env);
		}
		execvp(argv[0], argv);
		_exit(127);
	}
}

void vt_type(struct vt *v, const char *text)
{
	(void)!write(v->fd, text, strlen(text));
}

int vt_pump(struct vt *v, int ms)
{
	struct pollfd p = {v->fd, POLLIN, 0};
	char bytes[4096];

	if (v->gone)
		return -1;
	if (poll(&p, 1, ms) <= 0)
		return 0;
	ssize_t n = read(v->fd, bytes, v->slow ? SLOW_BYTES : sizeof bytes); /* EIO on Linux when
	                                                                        the last slave
	                                                                        closes */
	if (n <= 0) {
		v->gone = true;
		return -1;
	}
	vterm_input_write(v->vterm, bytes, (size_t)n);
	v->taken += n;
	if (v->slow)
		poll(NULL, 0, SLOW_MS);
	return 1;
}

void vt_row(struct vt *v, int row, char *ret, size_t size)
{
	VTermRect rect = {row, row + 1, 0, v->cols};
	ret[vterm_screen_get_text(v->screen, ret, size - 1, rect)] = '\0';
}

bool vt_has(struct vt *v, const char *text)
{
	char line[4096];
	for (int r = 0; r < v->rows; r++) {
		vt_row(v, r, line, sizeof line);
		if (strstr(line, text))
			return true;
	}
	return false;
}

static bool wait_for(struct vt *v, const char *text, int ms, bool wanted)
{
	long until = now_ms() + ms;
	for (;;) {
		if (vt_has(v, text) == wanted)
			return true;
		long left = until - now_ms();
		if (left <= 0 || vt_pump(v, (int)left) < 0)
			return vt_has(v, text) == wanted;
	}
}

bool vt_wait(struct vt *v, const char *text, int ms)
{
	return wait_for(v, text, ms, true);
}

bool vt_wait_gone(struct vt *v, const char *text, int ms)
{
	return wait_for(v, text, ms, false);
}

void vt_resize(struct vt *v, int rows, int cols)
{
	struct winsize size = {(unsigned short)rows, (unsigned short)cols, 0, 0};
	v->rows = rows;
	v->cols = cols;
	vterm_set_size(v->vterm, rows, cols);
	ioctl(v->fd, TIOCSWINSZ, &size);
}

static bool plain_ground(struct vt *v, VTermColor ground)
{
	VTermColor ink, none;
	vterm_state_get_default_colors(vterm_obtain_state(v->vterm), &ink, &none);
	vterm_state_convert_color_to_rgb(vterm_obtain_state(v->vterm), &none);
	vterm_state_convert_color_to_rgb(vterm_obtain_state(v->vterm), &ground);
	return none.rgb.red == ground.rgb.red && none.rgb.green == ground.rgb.green &&
		none.rgb.blue == ground.rgb.blue;
}

bool vt_filled(struct vt *v, int row, int col)
{
	VTermScreenCell cell;
	vterm_screen_get_cell(v->screen, (VTermPos){row, col}, &cell);
	return cell.attrs.reverse || !plain_ground(v, cell.bg);
}

bool vt_coloured(struct vt *v)
{
	VTermScreenCell cell;
	for (int r = 0; r < v->rows; r++)
		for (int c = 0; c < v->cols; c++) {
			vterm_screen_get_cell(v->screen, (VTermPos){r, c}, &cell);
			vterm_screen_convert_color_to_rgb(v->screen, &cell.fg);
			if (!plain_ground(v, cell.bg) || cell.fg.rgb.red != cell.fg.rgb.green ||
					cell.fg.rgb.green != cell.fg.rgb.blue)
				return true;
		}
	return false;
}

void vt_hang_up(struct vt *v)
{
	close(v->fd);
	v->fd = -1;
	v->gone = true;
}

int vt_end(struct vt *v, int ms)
{
	long until = now_ms() + ms;
	int status;
	do {
		if (!v->gone)
			(void)vt_pump(v, 10);
		else
			poll(NULL, 0, 5);
		if (waitpid(v->pid, &status, WNOHANG) == v->pid) {
			while (!v->gone && vt_pump(v, 0) > 0)
				;
			v->pid = 0;
			return status;
		}
	} while (now_ms() < until);
	kill(v->pid, SIGKILL);
	waitpid(v->pid, &status, 0);
	v->pid = 0;
	return -1;
}

void vt_free(struct vt *v)
{
	if (v->pid > 0)
		(void)vt_end(v, 0);
	if (v->fd >= 0)
		close(v->fd);
	vterm_free(v->vterm);
}
