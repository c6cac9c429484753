/*
 * cli/pty_port.h - a pseudo-terminal that stands for a serial port
 *
 * Layer: cli.  The program under test opens the far end by its name, or by a link with a name
 * of the user's choice.
 */
#ifndef MAINSTAIR_CLI_PTY_PORT_H
#define MAINSTAIR_CLI_PTY_PORT_H

#include <limits.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

#include "mainstair/base/err.h"

struct pty_port {
	int master, far;     /* -1 when closed; far is kept open, so that the line stays raw and
	                        up whoever comes and goes */
	char name[64];       /* /dev/pts/7 */
	char link[PATH_MAX]; /* "": none made */
};

/** Open: raw, non-blocking, closed on exec.  0, or -1 with ERR_SYSTEM and nothing to close. */
int pty_port_open(struct pty_port *p, struct err *err);

/** Make `path` a symbolic link to it, in place of an older symbolic link; anything else there is
 *  left alone.  0, or -1 with ERR_INPUT or ERR_SYSTEM. */
int pty_port_link(struct pty_port *p, const char *path, struct err *err);

/** Bytes read, 0: none now. */
size_t pty_port_read(struct pty_port *p, uint8_t *ret, size_t max);

/** Write what fits; the rest is lost, as it is on a line where nobody listens.  What has lain
 *  unread at the far end for long is thrown away first. */
void pty_port_write(struct pty_port *p, const uint8_t *bytes, size_t n);

/** Close, and remove the link if it still leads here.  Closed already: fine. */
void pty_port_close(struct pty_port *p);

#endif
