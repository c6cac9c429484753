/* ui/letter_key.c - see letter_key.h */
#include "ui/letter_key.h"

#include <string.h>

static bool is_letter(uint32_t code)
{
	return code >= 'a' && code <= 'z';
}

bool letter_key_begins(struct letter_key *k, unsigned contexts, enum request request,
                       struct stroke stroke, struct prompt *p, double now_s)
{
	if (request == REQUEST_NONE || !(contexts & IN_ENTRY) || (p->length > 0 && !p->offered) ||
	    stroke.kind != STROKE_CHAR || !is_letter(stroke.code) || !prompt_insert(p, stroke.code))
		return false;
	*k = (struct letter_key){stroke.code, now_s + LETTER_KEY_WAIT_S};
	return true;
}

/* No word goes on like this: another of the keys ("ny" is two answers, "sn", "sq" and "sy" begin
 * words), a reading, words of one's own. */
static bool ends_it(uint32_t letter, uint32_t next)
{
	const char *keys = letter == 'q' ? "ynq\"?" : letter == 's' ? "svz+-=\"?" : "ynsvzq+-=\"?";

	if (letter != 'q' && next >= '0' && next <= '9')
		return true;
	return next > 0 && next < 0x80 && strchr(keys, (int)next);
}

enum letter_key_turn letter_key_follow(const struct letter_key *k, struct stroke stroke)
{
	switch (stroke.kind) {
	case STROKE_CHAR:
		return ends_it(k->code, stroke.code) ? LETTER_KEY_ACTS : LETTER_KEY_TEXT;
	case STROKE_ENTER:
		return LETTER_KEY_ENTER;
	case STROKE_TAB:
	case STROKE_UP:
	case STROKE_DOWN:
	case STROKE_PAGE_UP:
	case STROKE_PAGE_DOWN:
		return LETTER_KEY_ACTS;
	case STROKE_NONE:
	case STROKE_ESCAPE:
	case STROKE_BACKSPACE:
	case STROKE_DELETE:
	case STROKE_LEFT:
	case STROKE_RIGHT:
	case STROKE_HOME:
	case STROKE_END:
	case STROKE_CONTROL:
		break;
	}
	return LETTER_KEY_TEXT;
}

struct stroke letter_key_take(struct letter_key *k, struct prompt *p)
{
	struct stroke stroke = {STROKE_CHAR, k->code};

	k->code = 0;
	prompt_request(p, REQUEST_ERASE);
	return stroke;
}
