#include "lib/pty_pair.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

static void make_raw(int fd)
{
	struct termios t;

	if (tcgetattr(fd, &t) == 0) {
		cfmakeraw(&t);
		(void)tcsetattr(fd, TCSANOW, &t);
	}
}

int pty_pair_open(struct pty_pair *p)
{
	*p = (struct pty_pair){ .master = -1, .held = -1 };
	p->master = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
	if (p->master < 0 || grantpt(p->master) < 0 || unlockpt(p->master) < 0 ||
	    ptsname_r(p->master, p->slave, sizeof p->slave) != 0)
		return -1;
	p->held = open(p->slave, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
	if (p->held < 0)
		return -1;
	make_raw(p->held);
	strcpy(p->folder, "/tmp/mainstair-line-XXXXXX");
	if (!mkdtemp(p->folder))
		return -1;
	(void)snprintf(p->link, sizeof p->link, "%s/meter", p->folder);
	(void)snprintf(p->serial_name, sizeof p->serial_name, "/dev/../../..%s", p->link);
	return symlink(p->slave, p->link);
}

int pty_pair_relink(struct pty_pair *p, const struct pty_pair *to)
{
	(void)unlink(p->link);
	return symlink(to->slave, p->link);
}

void pty_pair_unplug(struct pty_pair *p)
{
	if (p->held >= 0)
		(void)close(p->held);
	if (p->master >= 0)
		(void)close(p->master);
	p->held = p->master = -1;
}

void pty_pair_close(struct pty_pair *p)
{
	pty_pair_unplug(p);
	if (p->link[0])
		(void)unlink(p->link);
	if (p->folder[0])
		(void)rmdir(p->folder);
}
