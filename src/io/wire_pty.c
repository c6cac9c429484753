/*
 * The plain opener for pseudo-terminals: bridges (socat, ser2net) and the virtual bench.
 */
#include "io/wire_ends.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

int wire_pty_open(const struct wire_settings *settings, struct wire **ret, struct err *err)
{
	int lock = wire_lock(settings->name, err), fd;
	struct termios t;
	struct wire *w;

	if (lock < 0)
		return -1;
	fd = open(settings->name, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
	if (fd < 0 || tcgetattr(fd, &t) < 0)
		goto fail;
	/* fresh ones echo, edit lines and eat 0x11 and 0x13 */
	cfmakeraw(&t);
	t.c_cflag |= CLOCAL | CREAD;
	if (tcsetattr(fd, TCSANOW, &t) < 0 || wire_tidy(fd, false) < 0 ||
	    tcflush(fd, TCIOFLUSH) < 0)
		goto fail;
	w = wire_adopt(fd);
	if (!w) {
		(void)close(fd);
		(void)close(lock);
		return err_set(err, ERR_NOMEM, "out of memory");
	}
	w->lock = lock;
	*ret = w;
	return 0;
fail:
	(void)err_set(err, ERR_SYSTEM, "cannot set up %s: %s", settings->name, strerror(errno));
	if (fd >= 0)
		(void)close(fd);
	(void)close(lock);
	return -1;
}
