/* The first screen: what kills.  It can be acknowledged once its end has been seen. */
#include "ui/screen/screen.h"

#include "ui/cautions.h"
#include "ui/screen/frame.h"
#include "ui/widget/pager.h"
#include "ui/widget/statusbar.h"

static void write_cautions(const struct view *v, struct pager *p, bool spread)
{
	pager_text(p, 0, ROLE_DANGER, "BEFORE YOU PLUG IN");
	if (v->around.chassis == CHASSIS_LIVE)
		pager_marked(p, GLYPH_ABORT, ROLE_DANGER, ROLE_DANGER, caution_live_chassis);
	if (v->around.chassis == CHASSIS_LIVE && v->around.not_isolated)
		pager_marked(p, GLYPH_ABORT, ROLE_DANGER, ROLE_DANGER, caution_not_isolated);
	for (size_t i = 0; i < n_cautions; i++) {
		if (spread)
			pager_blank(p);
		pager_marked(p, GLYPH_OVER, ROLE_CAUTION, ROLE_PLAIN, cautions[i]);
	}
	if (v->around.invented) {
		if (spread)
			pager_blank(p);
		pager_text(p, 0, ROLE_STRONG,
		           "This is a demonstration: the unit and its readings are "
		           "computed, nothing is measured.");
	}
}

int screen_cautions(const struct view *v, struct canvas *c)
{
	/* Blank rows between them where they all fit even so: tried on no rows at all. */
	struct pager trial = {.c = c, .cols = c->cols - 4};
	write_cautions(v, &trial, true);

	statusbar_title(v, c);
	statusbar_keys(v, c);
	struct pager p = {.c = c, .top = 1, .col = 2, .rows = c->rows - 3, .cols = c->cols - 4,
		.scroll = v->around.scroll};
	write_cautions(v, &p, trial.n <= p.rows);
	int more = pager_more(&p);
	if (v->around.question[0])
		frame_entry(v, c, c->rows - 2);
	else
		canvas_text(c, c->rows - 2, 2, c->cols - 4, ROLE_MUST,
			more > 0 ? "more below: PgDn" : "press a when you have read them");
	return more;
}
