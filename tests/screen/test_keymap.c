/* One table makes the look-up, the hints and the help: what must hold of it. */
#include <criterion/criterion.h>
#include <string.h>

#include "ui/keymap.h"

TestSuite(keymap, .timeout = 10);

static struct stroke character(uint32_t code)
{
	return (struct stroke){STROKE_CHAR, code};
}

Test(keymap, stop_works_wherever_a_live_run_is)
{
	static const unsigned places[] = {IN_CAUTIONS, IN_DASHBOARD | IN_ENTRY, IN_LINE | IN_ENTRY,
		IN_QUESTION, IN_LOOK | IN_DASHBOARD, IN_QUIT, IN_HELP | IN_SCROLL,
		IN_VARIAC | IN_DASHBOARD, IN_ALARM | IN_ENTRY | IN_LINE, 0};
	for (size_t i = 0; i < sizeof places / sizeof *places; i++)
		cr_assert(keymap_request(IN_LIVE | places[i], character('!')) == REQUEST_STOP);
	cr_assert(keymap_request(IN_REPLAY, character('!')) == REQUEST_NONE);
}

/* What belongs to a reading, a rail or a heater must reach the line. */
Test(keymap, no_key_of_a_reading_is_taken_while_typing)
{
	for (const char *p = "0123456789. VWAvwamrailheater_-offstage\"+"; *p; p++)
		cr_assert(keymap_request(IN_LIVE | IN_ENTRY | IN_LINE, character((uint32_t)*p)) ==
			REQUEST_NONE, "%c", *p);
	for (const char *p = "0123456789.rho\""; *p; p++)
		cr_assert(keymap_request(IN_LIVE | IN_ENTRY | IN_DASHBOARD | IN_VARIAC | IN_LOOK,
			character((uint32_t)*p)) == REQUEST_NONE, "%c begins a line", *p);
}

/* An Enter or a Space left over from typing decides nothing. */
Test(keymap, enter_and_space_answer_no_question)
{
	static const unsigned places[] = {IN_CAUTIONS, IN_QUESTION, IN_QUIT};
	for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
		cr_assert(keymap_request(IN_LIVE | places[i], character(' ')) == REQUEST_NONE);
		cr_assert(keymap_request(IN_LIVE | places[i], (struct stroke){STROKE_ENTER, 0}) ==
			REQUEST_NONE);
	}
}

/* On the page of the job there is nowhere to go back to, and no hint says so. */
Test(keymap, escape_leads_back_from_a_phase_alone)
{
	const struct stroke escape = {STROKE_ESCAPE, 0};

	cr_assert(keymap_request(IN_LIVE | IN_ENTRY | IN_SHEET, escape) == REQUEST_NONE);
	cr_assert(keymap_request(IN_LIVE | IN_ENTRY | IN_SHEET | IN_PHASE, escape) == REQUEST_BACK);
}

Test(keymap, rows_are_whole_and_none_is_hidden_by_another)
{
	for (size_t i = 0; i < keymap_rows; i++) {
		const struct key_row *k = &keymap[i];
		cr_assert(k->stroke.kind != STROKE_NONE && k->where != 0 &&
		          k->request != REQUEST_NONE);
		cr_assert(k->key && k->key[0]);
		cr_assert(!k->hint || strlen(k->hint) < 40);
		unsigned reached = 0;
		for (unsigned bit = 1; bit <= IN_EVERYWHERE; bit <<= 1)
			if ((k->where & bit) && keymap_request(bit, k->stroke) == k->request)
				reached |= bit;
		cr_assert(reached == k->where, "row %zu (%s) is hidden somewhere", i, k->key);
	}
}
