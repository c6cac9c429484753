#include "io/wire_ends.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <termios.h>
#include <unistd.h>

#include "mainstair/base/text.h"

int wire_parse_framing(const char *text, struct wire_settings *ret, struct err *err)
{
	char shown[32];

	if (strlen(text) == 3 && strchr("78", text[0]) && strchr("NEOneo", text[1]) &&
	    strchr("12", text[2])) {
		ret->data_bits = text[0] - '0';
		ret->parity = (char)(text[1] & ~0x20);
		ret->stop_bits = text[2] - '0';
		return 0;
	}
	text_show(shown, sizeof shown, text, strlen(text));
	return err_set(err, ERR_INPUT,
	               "'%s' is no framing; data bits, parity (N, E, O) and stop bits "
	               "as in 8N1 or 8E1",
	               shown);
}

int wire_parse_baud(const char *text, int *ret, struct err *err)
{
	char shown[32];
	long baud;

	if (*text && strlen(text) < 9 && strspn(text, "0123456789") == strlen(text)) {
		baud = strtol(text, NULL, 10);
		if (baud >= WIRE_BAUD_MIN && baud <= WIRE_BAUD_MAX) {
			*ret = (int)baud;
			return 0;
		}
	}
	text_show(shown, sizeof shown, text, strlen(text));
	return err_set(err, ERR_INPUT, "'%s' is no baud rate; a whole number from %d to %d", shown,
	               WIRE_BAUD_MIN, WIRE_BAUD_MAX);
}

unsigned wire_bits(const struct wire_settings *settings)
{
	return 1u + (unsigned)settings->data_bits + (settings->parity != 'N') +
	       (unsigned)settings->stop_bits;
}

int wire_ms(const struct wire_settings *settings, size_t n_characters)
{
	unsigned long baud = (unsigned long)settings->baud;

	return (int)((1000 * n_characters * wire_bits(settings) + baud - 1) / baud);
}

int wire_lock(const char *name, struct err *err)
{
	char shown[WIRE_NAME_MAX];
	int fd = open(name, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);

	text_show(shown, sizeof shown, name, strlen(name));
	if (fd < 0) {
		switch (errno) {
		case ENOENT:
			return err_set(err, ERR_SYSTEM,
			               "there is no port %s; `mainstair ports` lists those "
			               "there are",
			               shown);
		case EACCES:
		case EPERM:
			return err_set(err, ERR_SYSTEM,
			               "no permission to use %s; is the user in the group "
			               "that owns it (on Debian: dialout)?",
			               shown);
		case ENXIO:
		case ENODEV:
		case EIO:
			return err_set(err, ERR_SYSTEM,
			               "%s is there, but nothing is behind it (%s)", shown,
			               strerror(errno));
		default:
			return err_set(err, ERR_SYSTEM, "cannot open %s: %s", shown,
			               strerror(errno));
		}
	}
	if (!isatty(fd)) {
		(void)close(fd);
		return err_set(err, ERR_SYSTEM, "%s is no serial port", shown);
	}
	if (flock(fd, LOCK_EX | LOCK_NB) < 0) {
		(void)close(fd);
		return err_set(err, ERR_SYSTEM, "%s is in use by another program", shown);
	}
	return fd;
}

int wire_tidy(int fd, bool handshake)
{
	struct termios t;
	int flags = fcntl(fd, F_GETFL);

	if (flags < 0 || fcntl(fd, F_SETFL, flags | O_NONBLOCK) < 0 ||
	    fcntl(fd, F_SETFD, FD_CLOEXEC) < 0 || tcgetattr(fd, &t) < 0)
		return -1;
	t.c_cflag &= ~(tcflag_t)(CRTSCTS | HUPCL);
	if (handshake)
		t.c_cflag |= CRTSCTS;
	t.c_iflag &= ~(tcflag_t)(IXON | IXOFF | IXANY);
	t.c_cc[VMIN] = 1;
	t.c_cc[VTIME] = 0;
	return tcsetattr(fd, TCSANOW, &t);
}

int wire_open(const struct wire_settings *settings, struct wire **ret, struct err *err)
{
	struct wire_settings resolved = *settings;
	char real[PATH_MAX], shown[WIRE_NAME_MAX];

	if (!realpath(settings->name, real)) {
		text_show(shown, sizeof shown, settings->name, strlen(settings->name));
		if (errno == ENOENT)
			return err_set(err, ERR_SYSTEM,
			               "there is no port %s; `mainstair ports` lists those "
			               "there are",
			               shown);
		return err_set(err, ERR_SYSTEM, "cannot open %s: %s", shown, strerror(errno));
	}
	if (strlen(real) >= sizeof resolved.name)
		return err_set(err, ERR_SYSTEM, "the port's name leads to a path that is too long");
	strcpy(resolved.name, real);
	return strncmp(real, "/dev/pts/", 9) == 0 ? wire_pty_open(&resolved, ret, err)
	                                          : wire_serial_open(&resolved, ret, err);
}

struct wire *wire_adopt(int fd)
{
	struct wire *w = calloc(1, sizeof *w);
	int flags = fcntl(fd, F_GETFL);

	if (!w)
		return NULL;
	if (flags >= 0)
		(void)fcntl(fd, F_SETFL, flags | O_NONBLOCK);
	w->fd = fd;
	w->lock = -1;
	return w;
}

void wire_close(struct wire *w)
{
	if (!w)
		return;
	if (w->close_end)
		w->close_end(w->end);
	else
		(void)close(w->fd);
	if (w->lock >= 0)
		(void)close(w->lock);
	free(w);
}

int wire_fd(const struct wire *w)
{
	return w->fd;
}

static bool is_later(int error)
{
	return error == EAGAIN || error == EWOULDBLOCK || error == EINTR;
}

ssize_t wire_read(struct wire *w, void *bytes, size_t max)
{
	ssize_t n = read(w->fd, bytes, max);

	if (n > 0)
		return n;
	return n < 0 && is_later(errno) ? 0 : WIRE_GONE;
}

ssize_t wire_write(struct wire *w, const void *bytes, size_t n)
{
	ssize_t put = write(w->fd, bytes, n);

	if (put >= 0)
		return put;
	return is_later(errno) ? 0 : WIRE_GONE;
}
