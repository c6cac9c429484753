/*
 * tests/lib/pty_modem_shim.c - lets the real libserialport open a pseudo-terminal
 *
 * For tests only.  Linux pseudo-terminals answer TIOCMGET, TIOCMBIS, TIOCMBIC and TIOCMSET with
 * ENOTTY, which sp_open() takes for fatal.  This gives each such descriptor fake modem lines and
 * passes everything else through; the library itself is the real one.  Link the object into
 * the test executable: it stands before libc's ioctl().
 *
 * The name to hand to wire_serial_open() is "/dev/../../.." and the absolute path of a symbolic
 * link to the pseudo-terminal: from /dev and from the kernel's folder of tty devices alike that
 * leads to the link, which is what the library looks at.
 */
#include <errno.h>
#include <stdarg.h>
#include <sys/ioctl.h>
#include <sys/syscall.h>
#include <unistd.h>

enum { DESCRIPTORS = 1024 };
#define ALL_UP (TIOCM_DTR | TIOCM_RTS | TIOCM_CTS | TIOCM_DSR | TIOCM_CAR)

/* Inverted, so that all zero is all up. */
static int lines_down[DESCRIPTORS];

int ioctl(int fd, unsigned long request, ...)
{
	va_list ap;
	void *arg;
	int rc, *bits;

	va_start(ap, request);
	arg = va_arg(ap, void *);
	va_end(ap);
	rc = (int)syscall(SYS_ioctl, fd, request, arg);
	if (rc >= 0 || errno != ENOTTY || fd < 0 || fd >= DESCRIPTORS || !isatty(fd))
		return rc;
	bits = arg;
	switch (request) {
	case TIOCMGET:
		*bits = lines_down[fd] ^ ALL_UP;
		break;
	case TIOCMSET:
		lines_down[fd] = *bits ^ ALL_UP;
		break;
	case TIOCMBIS:
		lines_down[fd] &= ~*bits;
		break;
	case TIOCMBIC:
		lines_down[fd] |= *bits & ALL_UP;
		break;
	default:
		return rc;
	}
	errno = 0;
	return 0;
}
