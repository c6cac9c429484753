#include "proto/csv_cells.h"

#include <string.h>

static bool is_blank(char c)
{
	return c == ' ' || c == '\t';
}

static bool at_line_end(const struct csv_cursor *c)
{
	if (c->at < c->end && *c->at == '\r')
		return c->at + 1 == c->end || c->at[1] == '\n';
	return c->at == c->end || *c->at == '\n';
}

void csv_skip_line_end(struct csv_cursor *c)
{
	if (c->at < c->end && *c->at == '\r')
		c->at++;
	if (c->at < c->end && *c->at == '\n')
		c->at++;
	c->line++;
}

void csv_skip_line(struct csv_cursor *c)
{
	while (!at_line_end(c))
		c->at++;
	csv_skip_line_end(c);
}

enum csv_end csv_next(struct csv_cursor *c, struct csv_cell *ret)
{
	const char *begin = c->at;

	while (begin < c->end && is_blank(*begin))
		begin++;
	if (begin < c->end && *begin == '"') {
		c->at = begin + 1;
		*ret = (struct csv_cell){.at = c->at, .quoted = true};
		for (;; c->at++) {
			if (c->at == c->end)
				return CSV_BROKEN;
			if (*c->at == '\n')
				c->line++;
			if (*c->at != '"')
				continue;
			if (c->at + 1 == c->end || c->at[1] != '"')
				break;
			c->at++;
		}
		ret->n = (size_t)(c->at - ret->at);
		c->at++;
		while (c->at < c->end && is_blank(*c->at))
			c->at++;
		if (!at_line_end(c) && *c->at != ',')
			return CSV_BROKEN;
	} else {
		while (!at_line_end(c) && *c->at != ',')
			c->at++;
		*ret = (struct csv_cell){.at = begin,
		                         .n = c->at > begin ? (size_t)(c->at - begin) : 0};
		while (ret->n > 0 && is_blank(ret->at[ret->n - 1]))
			ret->n--;
	}
	if (at_line_end(c))
		return CSV_LINE;
	c->at++;
	return CSV_COMMA;
}

void csv_add_text(struct buf *out, const struct csv_cell *cell)
{
	for (size_t i = 0; i < cell->n; i++) {
		buf_addc(out, cell->at[i]);
		if (cell->quoted && cell->at[i] == '"')
			i++;
	}
}

bool csv_skip_blank_line(struct csv_cursor *c)
{
	const char *p = c->at;

	while (p < c->end && is_blank(*p))
		p++;
	if (p < c->end && *p != '\n' && *p != '\r')
		return false;
	c->at = p;
	if (!at_line_end(c))
		return false;
	csv_skip_line_end(c);
	return true;
}

bool csv_begin(struct csv_cursor *c, const char *text, size_t n)
{
	static const char mark[] = "\xef\xbb\xbf";

	*c = (struct csv_cursor){text, text + n, 1};
	if (n >= sizeof mark - 1 && memcmp(text, mark, sizeof mark - 1) == 0)
		c->at += sizeof mark - 1;
	while (c->at < c->end && csv_skip_blank_line(c))
		;
	return c->at < c->end;
}
