/*
 * base/err.h - an error as a value, with a message a user can act on
 *
 * Layer: base; libc only.  Libraries never print and never exit: a function that can fail
 * returns 0 or -1 and takes `struct err *` last.  `err` is untouched on success and may not
 * be NULL.  Three kinds of trouble are kept apart: our own bug is an assert(); an expected
 * outcome (over range, stale, unknown) is an enum value; a failure is this.
 */
#ifndef MAINSTAIR_BASE_ERR_H
#define MAINSTAIR_BASE_ERR_H

enum err_code {
	ERR_NONE = 0,
	ERR_INPUT,       /* a file, option or reading from outside is wrong: the user can mend it */
	ERR_RANGE,       /* well formed, but outside what is allowed */
	ERR_SYSTEM,      /* the operating system said no: file, port, terminal */
	ERR_NOMEM,
	ERR_UNSUPPORTED
};

struct err {
	enum err_code code;
	char text[512]; /* one line: what was found, what is allowed, what to do */
};

/** Fill *err (text cut to fit, control characters from outside are shown escaped by the
 *  caller beforehand).  Returns -1, so `return err_set(err, …)` reads as one sentence. */
int err_set(struct err *err, enum err_code code, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

#endif
