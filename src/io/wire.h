/*
 * io/wire.h - a serial line: bytes in, bytes out, and whether it is still there
 *
 * Layer: io; includes base/ only.
 * Real ports are opened through libserialport (wire_serial.c); names that resolve to /dev/pts/ by
 * a plain termios opener (wire_pty.c), because that library refuses pseudo-terminals, and people
 * do bridge meters through them.  From there on both are one descriptor and one path.
 * Nothing here blocks.  A lost line (adapter pulled out) shows as WIRE_GONE, never as "no data".
 * Ownership: wire_open() and wire_adopt() make a wire, wire_close() ends it.
 */
#ifndef MAINSTAIR_IO_WIRE_H
#define MAINSTAIR_IO_WIRE_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#include "mainstair/base/err.h"

enum { WIRE_NAME_MAX = 256, WIRE_TEXT_MAX = 128 };

struct wire_settings {
	char name[WIRE_NAME_MAX]; /* /dev/ttyUSB0, /dev/serial/by-id/…, a link to either */
	int baud;
	int data_bits;  /* 7 or 8 */
	char parity;    /* 'N', 'E', 'O' */
	int stop_bits;  /* 1 or 2 */
	bool handshake; /* RTS/CTS; else no flow control of any kind */
};

enum { WIRE_BAUD_MIN = 50, WIRE_BAUD_MAX = 4000000 };

/** Parse "8N1", "7E1", "8O2", … into *ret's framing.  0, or -1 with ERR_INPUT. */
int wire_parse_framing(const char *text, struct wire_settings *ret, struct err *err);

/** Parse a baud rate.  0, or -1 with ERR_INPUT. */
int wire_parse_baud(const char *text, int *ret, struct err *err);

/** Bits on the line per character: start, data, parity, stop. */
unsigned wire_bits(const struct wire_settings *settings);

/** Milliseconds, rounded up, that n characters take on the line. */
int wire_ms(const struct wire_settings *settings, size_t n_characters);

struct wire; /* opaque */

/** Open a port by its name, symbolic links followed anew each time: the adapter that was
 *  ttyUSB0 may come back as ttyUSB1 under the same /dev/serial/by-id name.  Raw, non-blocking,
 *  stale input thrown away, locked against a second program.  0 with *ret set, or -1 with err:
 *  ERR_SYSTEM (not there, no permission, in use) or ERR_RANGE (settings the port refuses). */
int wire_open(const struct wire_settings *settings, struct wire **ret, struct err *err);

/** Any opener of that shape; tests choose theirs. */
typedef int wire_opener(const struct wire_settings *settings, struct wire **ret, struct err *err);

/** A wire around a descriptor that is open already (a socket, the master end of a pseudo-terminal);
 *  taken: wire_close() closes it.  NULL: out of memory (fd stays the caller's). */
struct wire *wire_adopt(int fd);

void wire_close(struct wire *w); /**< NULL is fine. */

int wire_fd(const struct wire *w); /**< To poll for input; borrowed. */

enum { WIRE_GONE = -1 };

/** Read what is there, at most max bytes.  Bytes read, 0: nothing now, WIRE_GONE. */
ssize_t wire_read(struct wire *w, void *bytes, size_t max);

/** Write what fits now.  Bytes written, 0: later, WIRE_GONE. */
ssize_t wire_write(struct wire *w, const void *bytes, size_t n);

struct wire_port {
	char name[WIRE_NAME_MAX];        /* /dev/ttyUSB0 */
	char by_id[WIRE_NAME_MAX];       /* /dev/serial/by-id/… that leads to it; "" if none */
	char description[WIRE_TEXT_MAX]; /* safe to print; "" if the system knows none */
};

/** The serial ports that the system knows (pseudo-terminals are not among them), in its order.
 *  Returns how many were written to ret, at most max; -1 with ERR_SYSTEM. */
int wire_ports(struct wire_port *ret, size_t max, struct err *err);

#endif
