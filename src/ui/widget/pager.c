/* ui/widget/pager.c - see pager.h */
#include "ui/widget/pager.h"

#include <limits.h>

int pager_row(struct pager *p)
{
	int row = p->n++ - p->scroll;
	return row >= 0 && row < p->rows ? p->top + row : -1;
}

void pager_blank(struct pager *p)
{
	p->n++;
}

void pager_text(struct pager *p, int indent, enum role role, const char *text)
{
	int from = p->n - p->scroll; /* may begin above the window: draw into a clip of it */
	int used = canvas_wrap(NULL, 0, 0, INT_MAX, p->cols - indent, role, text);
	if (from >= 0 && from < p->rows) {
		canvas_wrap(p->c, p->top + from, p->col + indent, p->rows - from, p->cols - indent,
			role, text);
	} else if (from < 0 && from + used > 0) {
		struct canvas clip = *p->c;
		clip.rows = p->rows;
		clip.cells = p->c->cells + p->top * p->c->cols;
		canvas_wrap(&clip, from, p->col + indent, used, p->cols - indent, role, text);
	}
	p->n += used > 0 ? used : 1;
}

void pager_marked(struct pager *p, enum glyph mark, enum role mark_role, enum role role,
                  const char *text)
{
	int row = p->n - p->scroll;
	if (row >= 0 && row < p->rows)
		canvas_glyph(p->c, p->top + row, p->col, mark_role, mark);
	pager_text(p, 2, role, text);
}

int pager_more(const struct pager *p)
{
	int more = p->n - p->scroll - p->rows;
	return more > 0 ? more : 0;
}
