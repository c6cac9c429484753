/*
 * tests/lib/vtdrive.h - a full-screen program in a pseudo-terminal, seen through an emulator
 *
 * forkpty + libvterm.  Wait for text, never sleep: every wait has a limit and ends as soon as
 * the text is there.
 */
#ifndef TESTS_LIB_VTDRIVE_H
#define TESTS_LIB_VTDRIVE_H

#include <stdbool.h>
#include <sys/types.h>
#include <vterm.h>

struct vt {
	VTerm *vterm;
	VTermScreen *screen;
	int fd, rows, cols;
	pid_t pid;
	bool gone;   /* the program has closed the terminal */
	int bells;
	bool alternate; /* the alternate screen is on */
	bool mute;      /* it answers no question */
	bool slow;      /* it takes what a line of 9600 baud carries */
	long taken;     /* bytes of the program's output so far */
};

/** Start argv in a terminal of this size.  `env`: "NAME=value" strings set for it, NULL at the
 *  end; a string without `=` is taken out of its environment. */
void vt_start(struct vt *v, int rows, int cols, char *const argv[], const char *const env[]);

/** Type bytes. */
void vt_type(struct vt *v, const char *text);

/** Let the program's output come in for at most ms.  1 something came, 0 quiet, -1 it is gone. */
int vt_pump(struct vt *v, int ms);

/** Wait until some row contains text; false after ms. */
bool vt_wait(struct vt *v, const char *text, int ms);
/** Wait until no row contains text; false after ms. */
bool vt_wait_gone(struct vt *v, const char *text, int ms);
/** Is it on the screen now? */
bool vt_has(struct vt *v, const char *text);

/** One row as UTF-8; ret: `size` bytes. */
void vt_row(struct vt *v, int row, char *ret, size_t size);

/** Change the size, as a terminal window does. */
void vt_resize(struct vt *v, int rows, int cols);

/** Is the cell drawn in reverse or on a coloured ground? */
bool vt_filled(struct vt *v, int row, int col);
/** Is any cell of the screen coloured? */
bool vt_coloured(struct vt *v);

/** Close the terminal under the program: what a lost connection does. */
void vt_hang_up(struct vt *v);

/** Wait for the end; its wait status, or -1 after ms (it is then killed).  Keeps reading. */
int vt_end(struct vt *v, int ms);

void vt_free(struct vt *v);

#endif
