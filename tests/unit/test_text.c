/* Text from outside, the byte buffer and lists of complaints. */
#include <criterion/criterion.h>
#include <string.h>

#include "mainstair/base/buf.h"
#include "mainstair/base/complaints.h"
#include "mainstair/base/text.h"

TestSuite(text, .timeout = 20);

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

Test(text, buf_grows_and_is_released)
{
	struct buf b = BUF_INIT;

	cr_assert_str_eq(b.data, "");
	buf_adds(&b, "watts");
	buf_addc(&b, '\0');
	buf_addf(&b, "%d/%s", 7, "x");
	cr_assert(b.len == 9 && memcmp(b.data, "watts\0007/x", 10) == 0);
	buf_cut(&b, 5);
	cr_assert_str_eq(b.data, "watts");
	for (int i = 0; i < 10000; i++)
		buf_adds(&b, "0123456789");
	cr_assert(b.len == 100005 && strlen(b.data) == 100005 && !b.failed);
	buf_clear(&b);
	cr_assert(b.len == 0 && b.data[0] == '\0');
	buf_release(&b);
	cr_assert(b.len == 0 && b.cap == 0 && b.data[0] == '\0');
	buf_release(&b);
}

/* Out of memory is sticky and loses nothing that was there. */
Test(text, buf_fails_once)
{
	struct buf b = BUF_INIT;

	buf_adds(&b, "kept");
	buf_add(&b, "", (size_t)-1 - 2);
	cr_assert(b.failed);
	buf_adds(&b, " not");
	cr_assert_str_eq(b.data, "kept");
	buf_release(&b);
	cr_assert(!b.failed);
}

/* Well-formed and ill-formed sequences after The Unicode Standard, table 3-7. */
Test(text, knows_utf8)
{
	static const struct {
		const char *bytes;
		size_t len;
		uint32_t code;
	} rows[] = {
	        {"A", 1, 'A'},
	        {"\xc2\x80", 2, 0x80},
	        {"\xdf\xbf", 2, 0x7ff},
	        {"\xe0\xa0\x80", 3, 0x800},
	        {"\xe2\x84\xa6", 3, 0x2126},
	        {"\xef\xbf\xbf", 3, 0xffff},
	        {"\xf0\x90\x80\x80", 4, 0x10000},
	        {"\xf4\x8f\xbf\xbf", 4, 0x10ffff},
	        {"\x80", 0, 0},
	        {"\xbf", 0, 0},
	        {"\xc0\xaf", 0, 0},
	        {"\xc1\xbf", 0, 0},
	        {"\xe0\x9f\xbf", 0, 0},
	        {"\xed\xa0\x80", 0, 0},
	        {"\xf0\x8f\xbf\xbf", 0, 0},
	        {"\xf4\x90\x80\x80", 0, 0},
	        {"\xf5\x80\x80\x80", 0, 0},
	        {"\xff", 0, 0},
	        {"\xc2", 0, 0},
	        {"\xe2\x84", 0, 0},
	        {"\xf0\x90\x80", 0, 0},
	        {"\xc2"
	         "A",
	         0, 0},
	};

	for (size_t i = 0; i < COUNT(rows); i++) {
		uint32_t code = 0;

		cr_assert(text_next(rows[i].bytes, strlen(rows[i].bytes), &code) == rows[i].len,
		          "row %zu", i);
		cr_assert(rows[i].len == 0 || code == rows[i].code, "row %zu", i);
	}
	cr_assert(text_is_clean("22 \u03a9", strlen("22 \u03a9")));
	cr_assert(!text_is_clean("a\tb", 3));
	cr_assert(!text_is_clean("a\0b", 3));
	cr_assert(!text_is_clean("\u202e", 3)); /* turns what follows around */
	cr_assert(!text_is_clean("\xc2\x9b", 2)); /* a terminal takes it for ESC [ */
}

Test(text, escapes_for_a_record)
{
	static const struct {
		const char *raw;
		size_t n;
		const char *escaped;
	} rows[] = {
	        {"hum, then smoke", 15, "hum, then smoke"},
	        {"a\tb\nc\rd\\e", 9, "a\\tb\\nc\\rd\\\\e"},
	        {"\x1b[2J", 4, "\\x1b[2J"},
	        {"\0", 1, "\\x00"},
	        {"\x7f", 1, "\\x7f"},
	        {"\u03a9", 2, "\u03a9"},
	        {"\xff\xfe", 2, "\\xff\\xfe"},
	        {"\xc2\x9b", 2, "\\xc2\\x9b"},
	        {"\xe2\x84", 2, "\\xe2\\x84"},
	        {"", 0, ""},
	};

	for (size_t i = 0; i < COUNT(rows); i++) {
		struct buf out = BUF_INIT, back = BUF_INIT;
		struct err err;

		text_escape(&out, rows[i].raw, rows[i].n);
		cr_assert_str_eq(out.data, rows[i].escaped);
		cr_assert(text_unescape(&back, out.data, out.len, &err) == 0);
		cr_assert(back.len == rows[i].n && memcmp(back.data, rows[i].raw, back.len) == 0);
		buf_release(&out);
		buf_release(&back);
	}
}

/* Every pair of bytes there is comes back as it was, on one line without a tab. */
Test(text, escaping_goes_round)
{
	for (int i = 0; i < 65536; i++) {
		char raw[3] = {(char)(i >> 8), (char)i, '.'};
		struct buf out = BUF_INIT, back = BUF_INIT;
		struct err err;

		text_escape(&out, raw, sizeof raw);
		cr_assert(!strpbrk(out.data, "\t\n\r") && text_is_clean(out.data, out.len));
		cr_assert(text_unescape(&back, out.data, out.len, &err) == 0);
		cr_assert(back.len == 3 && memcmp(back.data, raw, 3) == 0, "%04x", (unsigned)i);
		buf_release(&out);
		buf_release(&back);
	}
}

Test(text, refuses_foreign_escapes)
{
	static const char *const bad[] = {"\\",   "a\\",   "\\q",   "\\x",
	                                  "\\x1", "\\x1G", "\\xFF", "\\0"};

	for (size_t i = 0; i < COUNT(bad); i++) {
		struct buf out = BUF_INIT;
		struct err err = {0};

		cr_assert(text_unescape(&out, bad[i], strlen(bad[i]), &err) == -1, "%s", bad[i]);
		cr_assert(err.code == ERR_INPUT);
		buf_release(&out);
	}
}

Test(text, shows_without_control)
{
	char dst[16];

	cr_assert(text_show(dst, sizeof dst, "a\x1b]0;b\a", 7) == 13);
	cr_assert_str_eq(dst, "a\\x1b]0;b\\x07");
	(void)text_show(dst, sizeof dst, "0123456789abcdef", 16);
	cr_assert_str_eq(dst, "0123456789ab...");
	(void)text_show(dst, sizeof dst, "0123456789abcde", 15);
	cr_assert_str_eq(dst, "0123456789abcde");
	/* never within a character */
	(void)text_show(dst, sizeof dst, "0123456789a\u03a9\u03a9\u03a9", 17);
	cr_assert_str_eq(dst, "0123456789a...");
	cr_assert(text_show(dst, 1, "abc", 3) == 0 && dst[0] == '\0');
	(void)text_show(dst, 3, "abcdef", 6);
	cr_assert_str_eq(dst, "..");
}

/* Cut anywhere, it stays whole characters within its room. */
Test(text, shows_in_any_room)
{
	static const char raw[] = "\u03a9\x1b\u20acx\xff\xf0\x90\x80\x80y";

	for (size_t size = 1; size < 40; size++) {
		char dst[64];
		size_t n;

		memset(dst, '#', sizeof dst);
		n = text_show(dst, size, raw, sizeof raw - 1);
		cr_assert(n < size && dst[n] == '\0' && dst[size] == '#' && text_is_clean(dst, n));
	}
}

/* Known distances: "kitten"/"sitting" is 3 in every textbook; "ca"/"abc" tells the restricted
 * distance with swaps (3) from the full one (2). */
Test(text, measures_edits)
{
	cr_assert(text_distance("kitten", "sitting") == 3);
	cr_assert(text_distance("ca", "abc") == 3);
	cr_assert(text_distance("rial", "rail") == 1);
	cr_assert(text_distance("", "abc") == 3 && text_distance("abc", "") == 3);
	cr_assert(text_distance("V1", "v1") == 0);
	cr_assert(text_same("Heater", "hEATER") && !text_same("heat", "heater"));
}

Test(text, wraps_at_blanks_by_characters)
{
	struct buf out = BUF_INIT;

	text_wrap(&out, "aa  bbb µµµ cccccccccccc d", 0, 2, 10);
	cr_assert_str_eq(out.data, "aa bbb µµµ\n  cccccccccccc\n  d\n");
	buf_clear(&out);
	text_wrap(&out, "aa bbb", 5, 0, 10);
	cr_assert_str_eq(out.data, "aa\nbbb\n");
	buf_clear(&out);
	text_wrap(&out, "", 0, 4, 10);
	cr_assert_str_eq(out.data, "\n");
	buf_release(&out);
	cr_assert(text_characters("1 Ω", 4) == 3);
}

Test(text, suggests_the_nearest)
{
	static const char *const words[] = {"winding", "rectifier", "reservoir", "rail"};

	cr_assert_str_eq(text_nearest("rectifer", words, 4), "rectifier");
	cr_assert_str_eq(text_nearest("windign", words, 4), "winding");
	cr_assert_str_eq(text_nearest("Resevoir", words, 4), "reservoir");
	cr_assert(text_nearest("bleeder", words, 4) == NULL);
	cr_assert(text_nearest("V9", words, 4) == NULL);
	cr_assert(text_nearest("x", words, 0) == NULL);
}

Test(text, complaints_in_the_order_of_the_file)
{
	struct complaints c;
	struct buf out = BUF_INIT;

	complaints_init(&c, "a\tb.ini");
	complaints_add(&c, 9, "rail main", "form", "late");
	complaints_add(&c, 2, NULL, NULL, "early %s", "\x1b[1m");
	complaints_add(&c, 9, "tubes", "", "later");
	complaints_add(&c, COMPLAINT_WHOLE_FILE, NULL, NULL, "whole");
	complaints_print(&c, &out);
	cr_assert_str_eq(out.data, "a\\x09b.ini: whole\n"
	                           "a\\x09b.ini:2: early \\x1b[1m\n"
	                           "a\\x09b.ini:9: [rail main] form: late\n"
	                           "a\\x09b.ini:9: [tubes] later\n");
	buf_release(&out);
	complaints_release(&c);
	cr_assert(complaints_count(&c) == 0);
}

Test(text, complaints_are_bounded)
{
	struct complaints c;
	struct buf out = BUF_INIT;
	char longest[2000];

	complaints_init(&c, "x");
	memset(longest, 'y', sizeof longest - 1);
	longest[sizeof longest - 1] = '\0';
	for (int i = 0; i < 250; i++)
		complaints_add(&c, i, "s", longest, "%s", longest);
	cr_assert(complaints_count(&c) == 250 && c.n == COMPLAINTS_MAX);
	complaints_print(&c, &out);
	cr_assert(strstr(out.data, "x: and 150 more faults\n"));
	buf_release(&out);
	complaints_release(&c);
}
