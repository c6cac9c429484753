#include "cli/output.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cli/commands.h"
#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

static void line_out(const char *text, size_t n)
{
	char shown[2048];

	(void)text_show(shown, sizeof shown, text, n);
	(void)fprintf(stderr, "mainstair: %s\n", shown);
}

void complain(const char *format, ...)
{
	struct buf text = BUF_INIT;
	va_list ap;

	va_start(ap, format);
	buf_addv(&text, format, ap);
	va_end(ap);
	if (text.failed)
		line_out("out of memory", strlen("out of memory"));
	else
		line_out(text.data, text.len);
	buf_release(&text);
}

void complain_all(const struct complaints *c)
{
	struct buf text = BUF_INIT;

	complaints_print(c, &text);
	for (const char *at = text.data; *at;) {
		size_t n = strcspn(at, "\n");

		line_out(at, n);
		at += n + (at[n] == '\n');
	}
	if (text.failed)
		complain("out of memory");
	buf_release(&text);
}

int output_flush(const struct buf *out)
{
	if (out->failed) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	for (size_t at = 0; at < out->len;) {
		ssize_t n = write(STDOUT_FILENO, out->data + at, out->len - at);

		if (n > 0) {
			at += (size_t)n;
		} else if (n < 0 && errno != EINTR) {
			if (errno != EPIPE)
				complain("cannot write to standard output: %s", strerror(errno));
			return EXIT_USAGE;
		}
	}
	return EXIT_DONE;
}

int output_text(const char *text)
{
	struct buf out = BUF_INIT;
	int status;

	buf_adds(&out, text);
	status = output_flush(&out);
	buf_release(&out);
	return status;
}

void csv_cell(struct buf *out, const char *text)
{
	if (!strpbrk(text, ",\"\n\r")) {
		buf_adds(out, text);
		return;
	}
	buf_addc(out, '"');
	for (; *text; text++) {
		if (*text == '"')
			buf_addc(out, '"');
		buf_addc(out, *text);
	}
	buf_addc(out, '"');
}

void add_number(struct buf *out, double value, int decimals)
{
	char digits[64];
	size_t n;

	if (isnan(value))
		return;
	n = num_print(digits, sizeof digits, value, decimals);
	if (memchr(digits, '.', n)) {
		while (digits[n - 1] == '0')
			n--;
		if (digits[n - 1] == '.')
			n--;
	}
	buf_add(out, digits, n);
}

static void blanks(struct buf *out, size_t n)
{
	while (n-- > 0)
		buf_addc(out, ' ');
}

void number_cell(struct buf *out, double value, int decimals)
{
	char digits[64] = "-";
	if (isfinite(value))
		(void)num_print(digits, sizeof digits, value, decimals);
	buf_addf(out, "%s\t", digits);
}

void align_columns(struct buf *out, const struct buf *tabbed, const char *sides)
{
	enum { COLUMNS_MAX = 128 };
	size_t width[COLUMNS_MAX] = { 0 }, n_sides = strlen(sides);

	for (const char *at = tabbed->data; *at; at++) {
		for (size_t k = 0; k < COLUMNS_MAX; k++) {
			size_t n = strcspn(at, "\t\n");
			size_t wide = text_characters(at, n);

			if (wide > width[k])
				width[k] = wide;
			at += n;
			if (*at != '\t')
				break;
			at++;
		}
		at += strcspn(at, "\n");
		if (!*at)
			break;
	}
	for (const char *at = tabbed->data; *at;) {
		size_t owed = 0; /* blanks that only count when something follows */

		for (size_t k = 0;; k++) {
			size_t n = strcspn(at, "\t\n");
			size_t room = k < COLUMNS_MAX ? width[k] - text_characters(at, n) : 0;
			bool right = k >= n_sides || sides[k] == 'r';

			if (n > 0) {
				blanks(out, owed + (right ? room : 0));
				buf_add(out, at, n);
				owed = right ? 0 : room;
			} else {
				owed += room;
			}
			owed += 2;
			at += n;
			if (*at != '\t')
				break;
			at++;
		}
		buf_addc(out, '\n');
		at += *at == '\n';
	}
}
