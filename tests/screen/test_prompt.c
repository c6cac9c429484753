/* The entry line: editing, history, and that nothing typed is lost. */
#include <criterion/criterion.h>
#include <string.h>

#include "ui/widget/prompt.h"

TestSuite(prompt, .timeout = 10);

static void type(struct prompt *p, const char *text)
{
	for (; *text; text++)
		cr_assert(prompt_insert(p, (unsigned char)*text));
}

Test(prompt, editing)
{
	struct prompt p = {0};
	type(&p, "50 5.2");
	prompt_request(&p, REQUEST_ERASE);
	type(&p, "3");
	cr_assert_str_eq(p.text, "50 5.3");
	prompt_request(&p, REQUEST_LINE_START);
	prompt_request(&p, REQUEST_DELETE);
	type(&p, "7");
	cr_assert_str_eq(p.text, "70 5.3");
	prompt_request(&p, REQUEST_RIGHT);
	prompt_request(&p, REQUEST_RIGHT);
	prompt_request(&p, REQUEST_LEFT);
	type(&p, ".5");
	cr_assert_str_eq(p.text, "70.5 5.3");
	prompt_request(&p, REQUEST_LINE_END);
	prompt_request(&p, REQUEST_DELETE);
	prompt_request(&p, REQUEST_RIGHT);
	cr_assert_str_eq(p.text, "70.5 5.3");
}

Test(prompt, characters_of_several_bytes_go_as_one)
{
	struct prompt p = {0};
	type(&p, "\"");
	cr_assert(prompt_insert(&p, 0x3a9) && prompt_insert(&p, 0x65e5));
	cr_assert_str_eq(p.text, "\"\xce\xa9\xe6\x97\xa5");
	prompt_request(&p, REQUEST_LEFT);
	prompt_request(&p, REQUEST_ERASE);
	cr_assert_str_eq(p.text, "\"\xe6\x97\xa5");
	prompt_request(&p, REQUEST_DELETE);
	cr_assert_str_eq(p.text, "\"");
}

Test(prompt, history_goes_both_ways_and_keeps_the_line_being_typed)
{
	struct prompt p = {0};
	char line[PROMPT_BYTES_MAX];
	type(&p, "30 2.1");
	prompt_take(&p, line);
	cr_assert_str_eq(line, "30 2.1");
	type(&p, "50 5.2");
	prompt_take(&p, line);
	type(&p, "70");
	prompt_request(&p, REQUEST_OLDER);
	cr_assert_str_eq(p.text, "50 5.2");
	prompt_request(&p, REQUEST_OLDER);
	prompt_request(&p, REQUEST_OLDER);
	cr_assert_str_eq(p.text, "30 2.1");
	prompt_request(&p, REQUEST_NEWER);
	prompt_request(&p, REQUEST_NEWER);
	prompt_request(&p, REQUEST_NEWER);
	cr_assert_str_eq(p.text, "70");
}

Test(prompt, a_dropped_line_can_be_had_back)
{
	struct prompt p = {0};
	type(&p, "rail main 21");
	prompt_request(&p, REQUEST_CLEAR);
	cr_assert(p.length == 0);
	prompt_request(&p, REQUEST_OLDER);
	cr_assert_str_eq(p.text, "rail main 21");
}

Test(prompt, what_was_being_typed_outlives_the_use_of_an_older_line)
{
	struct prompt p = {0};
	char line[PROMPT_BYTES_MAX];
	type(&p, "30 2.1");
	prompt_take(&p, line);
	type(&p, "\"hums");
	prompt_request(&p, REQUEST_OLDER);
	prompt_take(&p, line);
	cr_assert_str_eq(line, "30 2.1");
	prompt_request(&p, REQUEST_OLDER);
	cr_assert_str_eq(p.text, "30 2.1");
	prompt_request(&p, REQUEST_OLDER);
	cr_assert_str_eq(p.text, "\"hums");
}

Test(prompt, an_older_line_that_was_edited_is_there_both_ways)
{
	struct prompt p = {0};
	char line[PROMPT_BYTES_MAX];
	type(&p, "30 2.1");
	prompt_take(&p, line);
	type(&p, "50 5.2");
	prompt_take(&p, line);
	prompt_request(&p, REQUEST_OLDER);
	type(&p, "7");
	prompt_request(&p, REQUEST_OLDER);
	cr_assert_str_eq(p.text, "30 2.1");
	prompt_request(&p, REQUEST_NEWER);
	cr_assert_str_eq(p.text, "50 5.2");
	prompt_request(&p, REQUEST_NEWER);
	cr_assert_str_eq(p.text, "50 5.27");
	prompt_request(&p, REQUEST_NEWER);
	cr_assert(p.length == 0);
}

Test(prompt, full_line_and_full_history_stay_in_bounds)
{
	struct prompt p = {0};
	char line[PROMPT_BYTES_MAX];
	for (int i = 0; i < PROMPT_BYTES_MAX - 1; i++)
		cr_assert(prompt_insert(&p, '1'));
	cr_assert(!prompt_insert(&p, '2'));
	cr_assert(!prompt_insert(&p, 0x3a9));
	cr_assert(p.length == PROMPT_BYTES_MAX - 1);
	prompt_take(&p, line);
	for (int i = 0; i < 3 * PROMPT_LINES_MAX; i++) {
		type(&p, i % 2 ? "1 1" : "2 2");
		prompt_take(&p, line);
	}
	for (int i = 0; i < 3 * PROMPT_LINES_MAX; i++)
		prompt_request(&p, REQUEST_OLDER);
	cr_assert(p.length == 3 && p.back == PROMPT_LINES_MAX);
}

Test(prompt, a_long_line_is_shown_around_its_cursor)
{
	struct prompt p = {0};
	struct canvas c;
	canvas_init(&c, true, true);
	cr_assert(canvas_resize(&c, 1, 20) == 0);
	for (int i = 0; i < 100; i++)
		prompt_insert(&p, (uint32_t)('0' + i % 10));
	prompt_draw(&p, &c, 0, 0, 20);
	cr_assert(c.cells[0].code == '>' && c.cells[18].code == '9' &&
	          c.cells[19].role == ROLE_CURSOR);
	prompt_request(&p, REQUEST_LINE_START);
	canvas_fill(&c, 0, 0, 1, 20, ROLE_PLAIN);
	prompt_draw(&p, &c, 0, 0, 20);
	cr_assert(c.cells[2].code == '0' && c.cells[2].role == ROLE_CURSOR &&
	          c.cells[19].code == 0x2026);
	canvas_release(&c);
}

/* A line that was not understood comes back: to be mended, or to make way for a new one. */
Test(prompt, a_line_put_back_makes_way_for_a_new_one)
{
	struct prompt p = {0};

	prompt_set(&p, "40 5,1");
	cr_assert(prompt_insert(&p, '7'));
	cr_assert_str_eq(p.text, "7");
	prompt_request(&p, REQUEST_OLDER);
	cr_assert_str_eq(p.text, "40 5,1", "it is not lost");

	prompt_set(&p, "40 5,1");
	prompt_request(&p, REQUEST_ERASE);
	prompt_request(&p, REQUEST_ERASE);
	cr_assert(prompt_insert(&p, '.') && prompt_insert(&p, '1'));
	cr_assert_str_eq(p.text, "40 5.1");
}
