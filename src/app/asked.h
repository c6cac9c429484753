/*
 * app/asked.h - what y and n mean of a typed line that is asked about
 *
 * Layer: app.
 */
#ifndef APP_ASKED_H
#define APP_ASKED_H

#include <stddef.h>

/** The question with what either answer does: "330 V, 2.60 W? … did you mean 33.0 V?  y keeps
 *  `330 2.6`, n lets you type again".  A long line is not repeated. */
void asked_words(char *out, size_t size, const char *question, const char *line);

#endif
