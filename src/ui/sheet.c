#include "ui/sheet.h"

#include <stdarg.h>
#include <stdio.h>

void sheet_column(struct sheet *s, const char *title, bool right, bool yields)
{
	if (s->n_columns == SHEET_COLUMNS_MAX)
		return;
	struct sheet_column *column = &s->column[s->n_columns++];
	*column = (struct sheet_column){.right = right, .yields = yields};
	snprintf(column->title, sizeof column->title, "%s", title);
}

struct sheet_row *sheet_row(struct sheet *s, enum role role, enum glyph mark)
{
	if (s->n_rows == SHEET_ROWS_MAX)
		return NULL;
	struct sheet_row *row = &s->row[s->n_rows++];
	*row = (struct sheet_row){.role = role, .mark = mark};
	return row;
}

void sheet_cell(struct sheet_row *row, int column, const char *format, ...)
{
	va_list ap;

	if (!row || column < 0 || column >= SHEET_COLUMNS_MAX)
		return;
	va_start(ap, format);
	vsnprintf(row->cell[column], sizeof row->cell[column], format, ap);
	va_end(ap);
}

void sheet_detail(struct sheet *s, enum role role, const char *format, ...)
{
	va_list ap;

	if (s->n_details == SHEET_DETAILS_MAX)
		return;
	va_start(ap, format);
	vsnprintf(s->detail[s->n_details].text, sizeof s->detail[0].text, format, ap);
	va_end(ap);
	s->detail[s->n_details++].role = role;
}
