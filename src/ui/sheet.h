/*
 * ui/sheet.h - a page of the job: a list of things to do or read, one of them in hand
 *
 * Layer: ui; pure.  All phases but the power-up are shown by this one screen: rows with a cursor,
 * what there is to say about the row in hand, perhaps a plot, and the line that is typed.  The
 * application fills a sheet per pass; the screen reads nothing else.  Texts from outside may be
 * put in as they are: the canvas shows control characters as marks.
 */
#ifndef MAINSTAIR_UI_SHEET_H
#define MAINSTAIR_UI_SHEET_H

#include "ui/canvas.h"
#include "ui/theme.h"
#include "ui/widget/prompt.h"

enum {
	SHEET_COLUMNS_MAX = 8, SHEET_CELL_MAX = 64, SHEET_ROWS_MAX = 128,
	SHEET_DETAILS_MAX = 16, SHEET_DETAIL_MAX = 320,
	SHEET_POINTS_MAX = 512, SHEET_CURVE_MAX = 96, SHEET_LIMITS_MAX = 4
};

struct sheet_column {
	char title[24];
	bool right;   /* numbers: set to the right */
	int least;    /* cells it is given at least; 0: what its cells need */
	bool yields;  /* cut first, or left out, when the screen is narrow */
};

struct sheet_row {
	char cell[SHEET_COLUMNS_MAX][SHEET_CELL_MAX];
	enum role role;    /* of the row's mark and of the cell `verdict_column` */
	enum glyph mark;   /* GLYPH_UNKNOWN: nothing said yet */
};

/* Leakage over time, a null's indications, …: both axes logarithmic, or linear. */
struct sheet_plot {
	char x_title[32], y_title[32];
	bool log_x, log_y;
	struct { double x, y; } point[SHEET_POINTS_MAX];
	int n_points;
	struct { double x, low, middle, high; } curve[SHEET_CURVE_MAX]; /* a fit and its band */
	int n_curve;
	struct { double y; char name[24]; } limit[SHEET_LIMITS_MAX];    /* horizontal lines */
	int n_limits;
};

struct sheet {
	char unit[200];       /* whose job it is */
	char title[96];       /* of the page */
	char instruction[200];/* what to do now */
	char how[400];        /* how to type it, or why; may be "" */
	enum role instruction_role;
	char caution[200];    /* beside the step it belongs to; "" for none */

	struct sheet_column column[SHEET_COLUMNS_MAX];
	int n_columns, verdict_column; /* -1: none */
	struct sheet_row row[SHEET_ROWS_MAX];
	int n_rows;
	int in_hand;          /* row index; -1: none */

	struct { char text[SHEET_DETAIL_MAX]; enum role role; } detail[SHEET_DETAILS_MAX];
	int n_details;
	bool has_plot;
	struct sheet_plot plot;

	/* filled by the application's loop, not by a page */
	const struct prompt *prompt;
	char echo[200];
	enum role echo_role;
	char question[320];
	char kept[300];       /* where it is recorded, and how far */
	bool kept_failed;
	bool invented;        /* a demonstration: said on every screen */
	unsigned contexts;    /* IN_… bits, for the hints */
	int scroll;           /* rows of the details */
};

/** Cells and lines with printf(); what does not fit is cut.  A row or line beyond the room is
 *  dropped.  sheet_row() returns the row, for its mark and role, or NULL. */
void sheet_column(struct sheet *s, const char *title, bool right, bool yields);
struct sheet_row *sheet_row(struct sheet *s, enum role role, enum glyph mark);
void sheet_cell(struct sheet_row *row, int column, const char *format, ...)
	__attribute__((format(printf, 3, 4)));
void sheet_detail(struct sheet *s, enum role role, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

/** Draw it over the whole canvas.  Returns the rows of details that did not fit. */
int screen_sheet(const struct sheet *s, struct canvas *c);

#endif
