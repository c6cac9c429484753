/* ui/widget/prompt.c - see prompt.h */
#include "ui/widget/prompt.h"

#include <string.h>

#include "ui/utf8.h"

static int char_before(const struct prompt *p, int at)
{
	do
		at--;
	while (at > 0 && ((unsigned char)p->text[at] & 0xc0) == 0x80);
	return at;
}

static int char_after(const struct prompt *p, int at)
{
	do
		at++;
	while (at < p->length && ((unsigned char)p->text[at] & 0xc0) == 0x80);
	return at;
}

bool prompt_insert(struct prompt *p, uint32_t code)
{
	char bytes[UTF8_BYTES_MAX], dropped[PROMPT_BYTES_MAX];
	int n = (int)utf8_put(code, bytes);
	if (p->offered)
		prompt_take(p, dropped);
	if (p->length + n >= PROMPT_BYTES_MAX)
		return false;
	memmove(p->text + p->cursor + n, p->text + p->cursor, (size_t)(p->length - p->cursor) + 1);
	memcpy(p->text + p->cursor, bytes, (size_t)n);
	p->length += n;
	p->cursor += n;
	return true;
}

static void cut(struct prompt *p, int from, int to)
{
	memmove(p->text + from, p->text + to, (size_t)(p->length - to) + 1);
	p->length -= to - from;
	p->cursor = from;
}

static void load(struct prompt *p, const char *text)
{
	size_t n = strnlen(text, PROMPT_BYTES_MAX - 1);
	memmove(p->text, text, n);
	p->text[n] = '\0';
	p->length = p->cursor = (int)n;
}

void prompt_set(struct prompt *p, const char *text)
{
	load(p, text);
	p->back = 0;
	p->offered = true;
}

/* Line `back` lines ago; 1 is the newest. */
static const char *line_back(const struct prompt *p, int back)
{
	return p->lines[(p->lines_next + PROMPT_LINES_MAX - back) % PROMPT_LINES_MAX];
}

/* Keep a line in the history unless it is empty or the newest there already: then false. */
static bool remember(struct prompt *p, const char *text)
{
	if (!text[0] || (p->n_lines > 0 && strcmp(line_back(p, 1), text) == 0))
		return false;
	memcpy(p->lines[p->lines_next], text, strlen(text) + 1);
	p->lines_next = (p->lines_next + 1) % PROMPT_LINES_MAX;
	if (p->n_lines < PROMPT_LINES_MAX)
		p->n_lines++;
	return true;
}

void prompt_take(struct prompt *p, char *ret)
{
	memcpy(ret, p->text, (size_t)p->length + 1);
	if (p->back > 0) /* what was being typed when the history was opened */
		(void)remember(p, p->kept);
	(void)remember(p, p->text);
	load(p, "");
	p->back = 0;
	p->offered = false;
}

static void walk_history(struct prompt *p, int back)
{
	if (back < 0 || back > p->n_lines)
		return;
	if (p->back == 0)
		memcpy(p->kept, p->text, (size_t)p->length + 1);
	else if (strcmp(line_back(p, p->back), p->text) != 0 && remember(p, p->text) && back > 0 &&
		back < p->n_lines)
		back++; /* an older line that was edited is the newest now, and stays as it was
		           too */
	p->back = back;
	load(p, back == 0 ? p->kept : line_back(p, back));
}

void prompt_request(struct prompt *p, enum request request)
{
	char dropped[PROMPT_BYTES_MAX];

	p->offered = false;
	if (request == REQUEST_ERASE && p->cursor > 0)
		cut(p, char_before(p, p->cursor), p->cursor);
	else if (request == REQUEST_DELETE && p->cursor < p->length)
		cut(p, p->cursor, char_after(p, p->cursor));
	else if (request == REQUEST_LEFT && p->cursor > 0)
		p->cursor = char_before(p, p->cursor);
	else if (request == REQUEST_RIGHT && p->cursor < p->length)
		p->cursor = char_after(p, p->cursor);
	else if (request == REQUEST_LINE_START)
		p->cursor = 0;
	else if (request == REQUEST_LINE_END)
		p->cursor = p->length;
	else if (request == REQUEST_OLDER)
		walk_history(p, p->back + 1);
	else if (request == REQUEST_NEWER)
		walk_history(p, p->back - 1);
	else if (request == REQUEST_CLEAR)
		prompt_take(p, dropped);
}

void prompt_draw(const struct prompt *p, struct canvas *c, int row, int col, int cols)
{
	int room = cols - 3; /* "> " and the cursor behind the last character */
	int from = p->cursor, at = 0;

	if (room < 1)
		return;
	/* Start so far left of the cursor as fits before it. */
	while (from > 0) {
		int q = char_before(p, from);
		const char *s = p->text + q;
		int w = canvas_char_width(c, utf8_next(&s, p->text + from));
		if (at + w > room)
			break;
		at += w;
		from = q;
	}
	canvas_text(c, row, col, 2, ROLE_KEY, "> ");
	canvas_text(c, row, col + 2, room + 1, ROLE_INPUT, p->text + from);
	if (row >= 0 && row < c->rows && col + 2 + at < c->cols)
		c->cells[row * c->cols + col + 2 + at].role = ROLE_CURSOR;
}
