#include "cli/pty_port.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include "mainstair/base/text.h"

/* More than a program lets pile up that reads at all. */
enum { UNREAD_MOST = 2048 };

static int make_raw(int fd)
{
	struct termios t;

	if (tcgetattr(fd, &t) != 0)
		return -1;
	cfmakeraw(&t);
	return tcsetattr(fd, TCSANOW, &t);
}

int pty_port_open(struct pty_port *p, struct err *err)
{
	*p = (struct pty_port){ .master = -1, .far = -1 };
	p->master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
	if (p->master < 0 || grantpt(p->master) != 0 || unlockpt(p->master) != 0 ||
	    ptsname_r(p->master, p->name, sizeof p->name) != 0)
		goto fail;
	p->far = open(p->name, O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
	if (p->far < 0 || make_raw(p->far) != 0)
		goto fail;
	return 0;
fail:
	err_set(err, ERR_SYSTEM, "cannot open a pseudo-terminal: %s", strerror(errno));
	pty_port_close(p);
	return -1;
}

int pty_port_link(struct pty_port *p, const char *path, struct err *err)
{
	char shown[160], fresh[PATH_MAX];
	struct stat st;

	text_show(shown, sizeof shown, path, strlen(path));
	if (strlen(path) + 32 > sizeof fresh)
		return err_set(err, ERR_INPUT, "the link's name is too long: %s", shown);
	if (lstat(path, &st) == 0 && !S_ISLNK(st.st_mode))
		return err_set(err, ERR_INPUT,
		               "%s is there and is no symbolic link; it is left alone", shown);
	/* made aside and moved into place, so that the name always leads somewhere */
	snprintf(fresh, sizeof fresh, "%s.%ld", path, (long)getpid());
	if (symlink(p->name, fresh) != 0)
		return err_set(err, ERR_SYSTEM, "cannot make the link %s: %s", shown,
		               strerror(errno));
	if (rename(fresh, path) != 0) {
		err_set(err, ERR_SYSTEM, "cannot make the link %s: %s", shown, strerror(errno));
		(void)unlink(fresh);
		return -1;
	}
	snprintf(p->link, sizeof p->link, "%s", path);
	return 0;
}

size_t pty_port_read(struct pty_port *p, uint8_t *ret, size_t max)
{
	ssize_t n = p->master < 0 ? 0 : read(p->master, ret, max);

	return n > 0 ? (size_t)n : 0;
}

void pty_port_write(struct pty_port *p, const uint8_t *bytes, size_t n)
{
	int unread = 0;

	if (p->master < 0 || n == 0)
		return;
	if (ioctl(p->far, FIONREAD, &unread) == 0 && unread > UNREAD_MOST)
		(void)tcflush(p->far, TCIFLUSH);
	if (write(p->master, bytes, n) < 0)
		return; /* full: lost, see the header */
}

void pty_port_close(struct pty_port *p)
{
	char leads_to[sizeof p->name];
	ssize_t n = p->link[0] ? readlink(p->link, leads_to, sizeof leads_to) : -1;

	if (n > 0 && (size_t)n == strlen(p->name) && memcmp(leads_to, p->name, (size_t)n) == 0)
		(void)unlink(p->link);
	p->link[0] = 0;
	if (p->far >= 0)
		close(p->far);
	if (p->master >= 0)
		close(p->master);
	p->master = p->far = -1;
}
