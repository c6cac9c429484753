/*
 * io/wire_ends.h - what the two openers share with wire.c
 *
 * Layer: io; private to wire*.c and to the tests that exercise one opener by itself.
 */
#ifndef MAINSTAIR_IO_WIRE_ENDS_H
#define MAINSTAIR_IO_WIRE_ENDS_H

#include "io/wire.h"

struct wire {
	int fd;
	int lock;  /* descriptor that holds the lock, or -1 */
	void *end; /* what the opener needs to close, or NULL */
	void (*close_end)(void *end); /* closes fd, too; NULL: fd is closed plainly */
};

/** Through libserialport: `settings->name` as it stands (no links followed). */
wire_opener wire_serial_open;

/** Through termios: for pseudo-terminals, which have no baud rate and no modem lines. */
wire_opener wire_pty_open;

/** Open `name` for its lock and take it.  The descriptor, or -1 with err in words that tell a
 *  user what to do. */
int wire_lock(const char *name, struct err *err);

/** Make reads tell "nothing now" (EAGAIN) from "gone" (0 bytes), which libserialport's own
 *  settings do not; clear what it leaves set: CRTSCTS unless wanted, HUPCL, XON/XOFF.  0, or -1
 *  with errno. */
int wire_tidy(int fd, bool handshake);

#endif
