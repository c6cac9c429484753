/* ui/term_dump.c - see term_dump.h */
#include "ui/term_dump.h"

#include <stdlib.h>

#include "ui/utf8.h"

static const char role_letters[ROLES] = {
	[ROLE_PLAIN] = '.', [ROLE_STRONG] = 's', [ROLE_DIM] = 'd', [ROLE_TITLE] = 't',
	[ROLE_MUST] = 'm', [ROLE_GOOD] = 'g', [ROLE_CAUTION] = 'c', [ROLE_DANGER] = 'D',
	[ROLE_ALARM] = 'A', [ROLE_BAND] = 'b', [ROLE_KEY] = 'k', [ROLE_INPUT] = 'i',
	[ROLE_CURSOR] = '_',
};

static char *dump(const struct canvas *c, bool roles, char blank)
{
	char *text = malloc((size_t)c->rows * ((size_t)c->cols * UTF8_BYTES_MAX + 1) + 1);
	if (!text)
		return NULL;
	char *p = text;
	for (int row = 0; row < c->rows; row++) {
		char *end = p;
		for (int col = 0; col < c->cols; col++) {
			const struct cell *cell = &c->cells[row * c->cols + col];
			if (roles)
				*p++ = role_letters[cell->role];
			else if (cell->code)
				p += utf8_put(cell->code, p);
			if (p > text && p[-1] != blank)
				end = p;
		}
		p = end;
		*p++ = '\n';
	}
	*p = '\0';
	return text;
}

char *term_dump_text(const struct canvas *c)
{
	return dump(c, false, ' ');
}

char *term_dump_roles(const struct canvas *c)
{
	return dump(c, true, '.');
}
