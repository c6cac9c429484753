/* What to type, and every key, from the table that the look-up uses. */
#include "ui/screen/screen.h"

#include <math.h>

#include "ui/widget/pager.h"
#include "ui/widget/statusbar.h"

static const struct {
	unsigned where;
	const char *title;
} groups[] = {
	{IN_LIVE, "always"},
	{IN_ENTRY | IN_LINE, "the line"},
	{IN_LOOK, "look-prompts"},
	{IN_VARIAC, "the virtual variac, while the line is empty"},
	{IN_REPLAY, "replay"},
	{IN_SHEET | IN_PHASE, "pages of the job"},
	{IN_DASHBOARD | IN_HELP | IN_SCROLL | IN_EVERYWHERE, "screens"},
	{IN_CAUTIONS | IN_QUESTION | IN_QUIT, "when asked"},
};

static const struct typed_form lines[] = {
	{"50 5.2", "volts and watts as read; amps third if you have them: 50 5.2 0.09"},
	{"rail NAME 210", "a voltmeter on a rail"},
	{"heater NAME 6.1", "a voltmeter on a heater winding"},
	{"measured ...", "a number measured on this unit: measured primary 21.4 ohm"},
	{"stage 3", "go to this stage next; one may be left out, and the record says so"},
	{"\"words", "your own words, for the record"},
	{"off", "acknowledges an abort or a stop; nothing else does"},
};

/* Does the help of this run speak of keys that act there? */
static bool concerns(const struct view *v, unsigned where)
{
	if (where & IN_SHEET)
		return v->around.forms != NULL;
	if (where & (IN_LOOK | IN_VARIAC) && v->around.forms)
		return false;
	if (where & IN_REPLAY)
		return v->around.replay;
	if (where & (IN_LIVE | IN_ENTRY | IN_LOOK | IN_CAUTIONS))
		return !v->around.replay;
	if (where & IN_VARIAC)
		return isfinite(v->around.variac_volts);
	return true;
}

/* One longer than its column has rows of its own. */
static void entry(struct pager *p, int col, const char *key, const char *meaning)
{
	int row = p->n - p->scroll;
	if (canvas_width(p->c, key) > col - 3)
		pager_text(p, 2, ROLE_KEY, key);
	else if (row >= 0 && row < p->rows)
		canvas_text(p->c, p->top + row, p->col + 2, col - 3, ROLE_KEY, key);
	pager_text(p, col, ROLE_PLAIN, meaning);
}

int screen_help(const struct view *v, struct canvas *c)
{
	statusbar_title(v, c);
	statusbar_keys(v, c);
	struct pager p = {.c = c, .top = 1, .col = 1, .rows = c->rows - 2, .cols = c->cols - 3,
		.scroll = v->around.scroll};

	static const char alone[] = "a letter that is a key acts when nothing follows it for half a "
		"second, or with Enter; with more letters behind it, it begins a line";

	if (v->around.forms) {
		pager_text(&p, 0, ROLE_DIM, "what to type, then Enter");
		for (size_t i = 0; v->around.forms[i].form; i++)
			entry(&p, c->cols < 60 ? 14 : 22, v->around.forms[i].form,
				v->around.forms[i].meaning);
		entry(&p, c->cols < 60 ? 14 : 22, "q alone", alone);
	} else if (!v->around.replay) {
		pager_text(&p, 0, ROLE_DIM, "what to type, then Enter");
		for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
			entry(&p, c->cols < 60 ? 14 : 18, lines[i].form, lines[i].meaning);
		entry(&p, c->cols < 60 ? 14 : 18, "y n q alone", alone);
	}
	for (size_t g = 0; g < sizeof groups / sizeof *groups; g++) {
		if (!concerns(v, groups[g].where))
			continue;
		pager_text(&p, 0, ROLE_DIM, groups[g].title);
		for (size_t i = 0; i < keymap_rows; i++) {
			const struct key_row *k = &keymap[i];
			/* a key that acts in several places stands in the first group shown that
			 * has it */
			size_t first = 0;
			while (first < g && !((groups[first].where & k->where) &&
					concerns(v, groups[first].where)))
				first++;
			if (first == g && (groups[g].where & k->where) && k->help)
				entry(&p, 12, k->key, k->help);
		}
	}
	return pager_more(&p);
}
