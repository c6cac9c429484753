/* The entry line: editing, history, and that nothing typed is lost. */
#include <criterion/criterion.h>
#include <string.h>

#include "ui/letter_key.h"
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

static struct stroke key(enum stroke_kind kind, uint32_t code)
{
	return (struct stroke){kind, code};
}

static void act(struct letter_key *k, struct prompt *p, char *acted)
{
	const size_t n = strlen(acted);

	acted[n] = (char)letter_key_take(k, p).code;
	acted[n + 1] = '\0';
}

/* Type as the loops do; what acted as a key goes to `acted`, what was entered to `entered`. */
static void strike(const char *keys, unsigned contexts, struct prompt *p, char *acted, char *entered)
{
	struct letter_key k = {0};

	*acted = *entered = '\0';
	for (; *keys; keys++) {
		const struct stroke stroke = *keys == '\r' ? key(STROKE_ENTER, 0)
			: *keys == '\b' ? key(STROKE_BACKSPACE, 0) : *keys == '\t' ? key(STROKE_TAB, 0)
			: key(STROKE_CHAR, (unsigned char)*keys);
		enum letter_key_turn turn = LETTER_KEY_TEXT;
		if (k.code)
			turn = letter_key_follow(&k, stroke);
		if (turn != LETTER_KEY_TEXT)
			act(&k, p, acted);
		if (turn == LETTER_KEY_ENTER)
			continue;
		k.code = 0;
		enum request request = keymap_request(p->length > 0 ? IN_ENTRY | IN_LINE : contexts,
			stroke);
		if (letter_key_begins(&k, contexts, request, stroke, p, 0))
			continue;
		if (request == REQUEST_ENTER)
			prompt_take(p, entered);
		else if (request != REQUEST_NONE)
			prompt_request(p, request);
		else if (stroke.kind == STROKE_CHAR)
			cr_assert(prompt_insert(p, stroke.code));
	}
	if (k.code) /* time passes */
		act(&k, p, acted);
}

Test(prompt, a_letter_alone_is_a_key_and_begins_a_line_otherwise)
{
	static const struct {
		const char *keys, *acted, *entered;
	} rows[] = {
		{"y", "y", ""}, {"n", "n", ""}, {"yyy", "yyy", ""}, {"yn", "yn", ""}, {"yvs", "yvs", ""},
		{"snap\r", "", "snap"}, {"system hums\r", "", "system hums"}, {"y\r", "y", ""},
		{"noise from V3\r", "", "noise from V3"}, {"yellow glow in V4\r", "", "yellow glow in V4"},
		{"stage 3\r", "", "stage 3"}, {"squeal\r", "", "squeal"}, {"very loud\r", "", "very loud"},
		{"zap\r", "", "zap"}, {"quiet now\r", "", "quiet now"}, {"no 50\r", "", "no 50"},
		{"y50 5.2\r", "y", "50 5.2"}, {"n\"hums\r", "n", "\"hums"}, {"s50 5.2\r", "s", "50 5.2"},
		{"q1: 5\r", "", "q1: 5"}, {"n\b50 5.2\r", "", "50 5.2"}, {"rail main 5\r", "", "rail main 5"},
	};
	char acted[16], entered[PROMPT_BYTES_MAX];

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct prompt p = {0};
		strike(rows[i].keys, IN_LIVE | IN_ENTRY | IN_DASHBOARD | IN_LOOK | IN_VARIAC, &p, acted,
			entered);
		cr_assert_str_eq(acted, rows[i].acted, "%s: %s", rows[i].keys, acted);
		cr_assert_str_eq(entered, rows[i].entered, "%s: %s", rows[i].keys, entered);
		cr_assert(p.length == 0, "%s leaves %s", rows[i].keys, p.text);
	}
}
