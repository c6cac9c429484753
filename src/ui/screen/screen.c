/* Which screen is drawn, and what is left when there is hardly room for any. */
#include "ui/screen/screen.h"

#include "ui/widget/statusbar.h"
#include "ui/screen/frame.h"

static int too_small(const struct view *v, struct canvas *c)
{
	int row = 0;
	row += canvas_wrap(c, row, 0, c->rows, c->cols, v->instruction_role, v->instruction);
	if (v->have_reading && row < c->rows) {
		int used = frame_verdict(c, row, 0, c->cols, v->verdict) + 1;
		canvas_format(c, row++, used, c->cols - used, ROLE_STRONG, "%.2f W", v->watts);
	}
	if (row < c->rows)
		canvas_format(c, row++, 0, c->cols, ROLE_PLAIN, "needs %dx%d, has %dx%d",
			SCREEN_COLS_LEAST, SCREEN_ROWS_LEAST, c->cols, c->rows);
	if (row < c->rows - 1)
		frame_entry(v, c, c->rows - 2);
	if (row < c->rows)
		statusbar_keys(v, c);
	return 0;
}

int screen_draw(const struct view *v, struct canvas *c)
{
	static int (*const pages[PAGES])(const struct view *, struct canvas *) = {
		[PAGE_DASHBOARD] = screen_dashboard,
		[PAGE_STAGE] = screen_stage,
		[PAGE_RAILS] = screen_rails,
		[PAGE_RECORD] = screen_record,
	};

	canvas_fill(c, 0, 0, c->rows, c->cols, ROLE_PLAIN);
	if (v->screen == SCREEN_ABORT || v->screen == SCREEN_STOP)
		return screen_alarm(v, c);
	if (v->screen == SCREEN_CAUTIONS)
		return screen_cautions(v, c); /* scrolls, so it fits any size */
	if (c->rows < SCREEN_ROWS_LEAST || c->cols < SCREEN_COLS_LEAST)
		return too_small(v, c);
	if (v->screen == SCREEN_HELP)
		return screen_help(v, c);
	return pages[v->around.page](v, c);
}
