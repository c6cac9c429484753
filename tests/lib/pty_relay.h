/*
 * tests/lib/pty_relay.h - a cable between two pseudo-terminals, as slow as a real one if asked
 *
 * A child process carries the bytes, so that peers which block can be used at both ends.  With
 * a baud rate every byte arrives when its last bit would: one character time after the one
 * before it, in each direction by itself.  The child ends with its parent.
 */
#ifndef MAINSTAIR_TESTS_PTY_RELAY_H
#define MAINSTAIR_TESTS_PTY_RELAY_H

#include <sys/types.h>

#include "lib/pty_pair.h"

struct pty_relay {
	struct pty_pair a, b; /* open their slaves */
	pid_t child;
};

/** baud 0: at once; else bits_per_character on the line.  0, or -1 with errno. */
int pty_relay_open(struct pty_relay *r, int baud, int bits_per_character);

void pty_relay_close(struct pty_relay *r);

#endif
