#include "mainstair/base/complaints.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/text.h"

void complaints_init(struct complaints *c, const char *file)
{
	*c = (struct complaints){0};
	(void)text_show(c->file, sizeof c->file, file, strlen(file));
}

void complaints_release(struct complaints *c)
{
	free(c->list);
	c->list = NULL;
	c->n = c->cap = c->beyond = 0;
}

size_t complaints_count(const struct complaints *c)
{
	return c->n + c->beyond;
}

/* A place for one more that keeps the list in the order of lines, or NULL. */
static struct complaint *make_place(struct complaints *c, int line)
{
	size_t at;

	if (c->n == c->cap) {
		size_t cap = c->cap > 0 ? c->cap * 2 : 8;
		struct complaint *grown;

		if (c->n >= COMPLAINTS_MAX)
			return NULL;
		grown = realloc(c->list, cap * sizeof *grown);
		if (!grown)
			return NULL;
		c->list = grown;
		c->cap = cap;
	}
	if (c->n >= COMPLAINTS_MAX)
		return NULL;
	for (at = c->n; at > 0 && c->list[at - 1].line > line; at--)
		continue;
	memmove(&c->list[at + 1], &c->list[at], (c->n - at) * sizeof c->list[0]);
	c->n++;
	return &c->list[at];
}

void complaints_add(struct complaints *c, int line, const char *section, const char *key,
                    const char *format, ...)
{
	struct complaint *place = make_place(c, line);
	char raw[2 * COMPLAINT_TEXT_MAX];
	size_t at = 0;
	va_list ap;

	if (!place) {
		c->beyond++;
		return;
	}
	place->line = line;
	raw[0] = '\0';
	if (section && *section)
		at += (size_t)snprintf(raw, sizeof raw, "[%.80s] ", section);
	if (key && *key)
		at += (size_t)snprintf(raw + at, sizeof raw - at, "%.80s: ", key);
	va_start(ap, format);
	(void)vsnprintf(raw + at, sizeof raw - at, format, ap);
	va_end(ap);
	(void)text_show(place->text, sizeof place->text, raw, strlen(raw));
}

void complaints_print(const struct complaints *c, struct buf *out)
{
	for (size_t i = 0; i < c->n; i++) {
		if (c->list[i].line > 0)
			buf_addf(out, "%s:%d: %s\n", c->file, c->list[i].line, c->list[i].text);
		else if (c->list[i].line == COMPLAINT_WHOLE_FILE)
			buf_addf(out, "%s: %s\n", c->file, c->list[i].text);
		else
			buf_addf(out, "%s\n", c->list[i].text);
	}
	if (c->beyond > 0)
		buf_addf(out, "%s: and %zu more faults\n", c->file, c->beyond);
}
