#include "app/asked.h"

#include <stdio.h>
#include <string.h>

/* Bytes of a line that are still repeated in the question about it. */
enum { REPEATED_MAX = 24 };

void asked_words(char *out, size_t size, const char *question, const char *line)
{
	const size_t n = strlen(question);
	const char *stop = n > 0 && strchr(".?", question[n - 1]) ? "" : ".";

	if (strlen(line) <= REPEATED_MAX)
		(void)snprintf(out, size, "%s%s y keeps `%s`, n lets you type again", question, stop,
		               line);
	else
		(void)snprintf(out, size, "%s%s y keeps what you typed, n lets you type again",
		               question, stop);
}
