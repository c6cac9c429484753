/*
 * core/care/typed_line.h - words and echoes that the lines of all pages have in common
 *
 * Layer: core; private to core/care/ and core/after/.
 */
#ifndef CORE_CARE_TYPED_LINE_H
#define CORE_CARE_TYPED_LINE_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/num.h"
#include "mainstair/core/entry_line.h"

/** The line without blanks at either end.  false when it is too long: nothing was copied. */
bool typed_copy(char out[ENTRY_LINE_MAX], const char *line);

/** What follows when the line begins with one of the words (whole words, letter case ignored, a
 *  blank in a word stands for any number of them), blanks and one colon skipped; NULL when with
 *  none.  words ends in NULL.  Borrowed from line. */
const char *typed_after(const char *line, const char *const *words);

/** Write the echo (ENTRY_ECHO_MAX bytes), control characters made visible.  Returns is. */
enum entry_line typed_say(char *echo, enum entry_line is, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

/** Copy text into a field of a draft, cut at a character when it does not fit. */
void typed_put(char *dst, size_t size, const char *text);

/** Print a quantity for people, three digits: "4.7 kohm"; INFINITY of ohms as "over-range".
 *  Returns out. */
const char *typed_number(char out[32], double value, enum unit unit);

#endif
