/*
 * tests/lib/pty_pair.h - a pseudo-terminal that two ends can open by name, and a link to it
 *
 * The master end stays with the test (or with a child that plays the meter); the slave end is what
 * the program opens.  Raw from the start, because a fresh one echoes.
 */
#ifndef MAINSTAIR_TESTS_PTY_PAIR_H
#define MAINSTAIR_TESTS_PTY_PAIR_H

struct pty_pair {
	int master;
	int held;              /* an open slave end, so that the master does not hang up; or -1 */
	char slave[64];        /* /dev/pts/N */
	char folder[64];       /* private and temporary */
	char link[128];        /* symbolic link to it, in the folder */
	char serial_name[160]; /* what makes libserialport take the link for a port */
};

/** 0, or -1 with errno. */
int pty_pair_open(struct pty_pair *p);

/** Point the link to another pair's slave, as udev does when an adapter comes back under another
 *  number.  0, or -1 with errno. */
int pty_pair_relink(struct pty_pair *p, const struct pty_pair *to);

/** The adapter is pulled out: master and held end are closed, the link stays. */
void pty_pair_unplug(struct pty_pair *p);

/** Close what is open and remove link and folder. */
void pty_pair_close(struct pty_pair *p);

#endif
