/* Cells, clipping, and text that comes from anywhere. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include "ui/canvas.h"
#include "ui/term_dump.h"
#include "ui/utf8.h"

TestSuite(canvas, .timeout = 10);

static struct canvas make(int rows, int cols, bool utf8)
{
	struct canvas c;
	canvas_init(&c, utf8, utf8);
	cr_assert(canvas_resize(&c, rows, cols) == 0);
	return c;
}

static void shows(const struct canvas *c, const char *expected)
{
	char *text = term_dump_text(c);
	cr_assert_str_eq(text, expected);
	free(text);
}

Test(canvas, text_is_clipped_and_says_that_it_was_cut)
{
	struct canvas c = make(2, 8, true);
	cr_assert(canvas_text(&c, 0, 0, 8, ROLE_PLAIN, "12345678") == 8);
	cr_assert(canvas_text(&c, 1, 2, 6, ROLE_PLAIN, "123456789") == 6);
	canvas_text(&c, 7, 0, 8, ROLE_PLAIN, "below");
	canvas_text(&c, -1, 0, 8, ROLE_PLAIN, "above");
	canvas_text(&c, 1, -5, 3, ROLE_PLAIN, "left");
	shows(&c, "12345678\n  12345\xe2\x80\xa6\n");
	canvas_release(&c);
}

Test(canvas, what_a_terminal_would_obey_becomes_a_mark)
{
	struct canvas c = make(1, 20, true), a = make(1, 20, false);
	static const char hostile[] = "a\x1b[2Jb\r\n\x07\x7f\xc2\x9b" "c\xe2\x80\xae" "d\xff" "e";
	canvas_text(&c, 0, 0, 20, ROLE_PLAIN, hostile);
	canvas_text(&a, 0, 0, 20, ROLE_PLAIN, hostile);
	for (int i = 0; i < 20; i++) {
		cr_assert(utf8_columns(c.cells[i].code) == 1);
		cr_assert(a.cells[i].code >= 0x20 && a.cells[i].code < 0x7f);
	}
	shows(&a, "a?[2Jb?????c?d?e\n");
	canvas_release(&c);
	canvas_release(&a);
}

Test(canvas, plain_ascii_spells_what_it_can)
{
	struct canvas c = make(1, 30, false);
	canvas_text(&c, 0, 0, 30, ROLE_PLAIN, "22 \xce\xa9 \xc2\xb1 2 \xc2\xb5""F \xc3\xa9");
	shows(&c, "22 ohm +- 2 uF ?\n");
	canvas_release(&c);
}

Test(canvas, wide_characters_take_two_cells_and_are_never_halved)
{
	struct canvas c = make(1, 5, true);
	cr_assert(canvas_text(&c, 0, 0, 5, ROLE_PLAIN, "\xe6\x97\xa5\xe6\x9c\xac\xe8\xaa\x9e") ==
	          5);
	cr_assert(c.cells[1].code == 0 && c.cells[3].code == 0 && c.cells[4].code == 0x2026);
	canvas_release(&c);
}

Test(canvas, wrapping_breaks_at_blanks_and_breaks_what_is_too_long)
{
	struct canvas c = make(4, 10, true);
	cr_assert(canvas_wrap(&c, 0, 0, 4, 10, ROLE_PLAIN, "one two three fourteenthousand x") ==
	          4);
	shows(&c, "one two\nthree\nfourteenth\nousand x\n");
	cr_assert(canvas_wrap(NULL, 0, 0, 99, 10, ROLE_PLAIN, "one two three") == 2);
	canvas_fill(&c, 0, 0, 4, 10, ROLE_PLAIN);
	cr_assert(canvas_wrap(&c, 0, 0, 1, 10, ROLE_PLAIN, "one two three") == 1);
	shows(&c, "one two t\xe2\x80\xa6\n\n\n\n");
	canvas_release(&c);
}

/* Unicode 15, table 3-7: what is and what is not well-formed UTF-8. */
Test(canvas, broken_utf8_is_told_byte_by_byte)
{
	static const struct {
		const char *bytes;
		int characters, bad;
	} rows[] = {
	        {"\xc3\xa9", 1, 0},
	        {"\xe2\x82\xac", 1, 0},
	        {"\xf0\x9f\x98\x80", 1, 0},
	        {"\xc0\x80", 2, 2},
	        {"\xc1\xbf", 2, 2},
	        {"\xe0\x80\x80", 3, 3},
	        {"\xed\xa0\x80", 3, 3},
	        {"\xf4\x90\x80\x80", 4, 4},
	        {"\xf5", 1, 1},
	        {"\xe2\x82", 2, 2},
	        {"\x80"
	         "a",
	         2, 1},
	        {"\xc3", 1, 1},
	};
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		const char *p = rows[i].bytes, *end = p + strlen(p);
		int characters = 0, bad = 0;
		for (; p < end; characters++)
			bad += utf8_next(&p, end) == UTF8_BAD;
		cr_assert(characters == rows[i].characters && bad == rows[i].bad, "row %zu", i);
	}
}

Test(canvas, every_character_survives_there_and_back)
{
	for (uint32_t code = 0; code <= 0x10ffff; code += code < 0x3000 ? 1 : 257) {
		char bytes[UTF8_BYTES_MAX];
		if (code >= 0xd800 && code <= 0xdfff)
			continue;
		size_t n = utf8_put(code, bytes);
		const char *p = bytes;
		cr_assert(utf8_next(&p, bytes + n) == code && p == bytes + n);
	}
}
