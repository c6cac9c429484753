/*
 * tests/screen/page_bench.h - a page of the job with a logbook in memory, typed on as the loop does
 *
 * Included by a test program once; everything in it is used there.
 */
#ifndef TESTS_SCREEN_PAGE_BENCH_H
#define TESTS_SCREEN_PAGE_BENCH_H

#include <criterion/criterion.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/page.h"
#include "io/table_file.h"
#include "lib/text_unit.h"
#include "ui/term_dump.h"
#include "unit/written_book.h"

struct line {
	int row; /* -1: the row that the page has in hand */
	const char *text;
};

struct bench {
	struct text_unit *unit;
	struct tables tables;
	struct written_book book;
	struct job job;
	struct bench_desk desk;
	const struct page_ops *page;
	void *self;
	int in_hand;
	struct sheet sheet;
	char echo[PAGE_ECHO_MAX];
};

static void look_at_book(struct bench *b)
{
	b->desk = (struct bench_desk){.profile = &b->unit->profile,
	                              .network = &b->unit->net,
	                              .tables = &b->tables,
	                              .entries = b->book.entry,
	                              .n_entries = b->book.n,
	                              .job = &b->job,
	                              .utc_s = 1e9 + 60.0 * (double)b->book.n};
	job_make(&b->job, b->desk.profile, b->desk.network, b->desk.tables, b->desk.entries,
	         b->desk.n_entries);
}

static void fill(struct bench *b)
{
	memset(&b->sheet, 0, sizeof b->sheet);
	b->sheet.in_hand = b->sheet.verdict_column = -1;
	b->sheet.instruction_role = ROLE_MUST;
	(void)snprintf(b->sheet.unit, sizeof b->sheet.unit, "SN 17: %.60s", b->unit->profile.name);
	b->page->fill(b->self, &b->desk, &b->in_hand, &b->sheet);
	b->sheet.in_hand = b->sheet.n_rows > 0 ? b->in_hand : -1;
}

/* powered: half an hour at full line was kept, and it was left on. */
static struct bench *bench_open(const char *profile, const struct page_ops *page, bool powered)
{
	struct bench *b = calloc(1, sizeof *b);
	struct err err = {0};

	cr_assert_not_null(b);
	b->unit = text_unit(profile);
	cr_assert(table_file_load(&b->tables, &err) == 0, "%s", err.text);
	if (powered) {
		book_put(&b->book, ENTRY_POWER, "a.record", "full-line", "", 117);
		b->book.entry[0].number[1] = 1740;
	}
	look_at_book(b);
	b->page = page;
	b->self = page->open(&b->desk);
	cr_assert_not_null(b->self);
	fill(b);
	return b;
}

static void bench_free(struct bench *b)
{
	b->page->close(b->self);
	tables_release(&b->tables);
	free(b->unit);
	free(b);
}

/* As the loop does it: an entry is kept, the row moves on; a question is answered with yes. */
static enum page_answer type(struct bench *b, int row, const char *text)
{
	enum page_answer answer;

	if (row >= 0)
		b->in_hand = row;
	fill(b);
	answer = b->page->enter(b->self, &b->desk, b->in_hand, text, book_next(&b->book), b->echo);
	if (answer == PAGE_WRONG)
		return answer;
	if (answer != PAGE_DONE_HERE)
		book_keep(&b->book);
	look_at_book(b);
	if (answer == PAGE_TAKEN || answer == PAGE_ASK)
		b->in_hand++;
	fill(b);
	return answer;
}

static char *draw(const struct sheet *s, int cols, int rows)
{
	struct canvas c;
	char *text;

	canvas_init(&c, true, true);
	cr_assert(canvas_resize(&c, rows, cols) == 0);
	(void)screen_sheet(s, &c);
	text = term_dump_text(&c);
	cr_assert_not_null(text);
	canvas_release(&c);
	return text;
}

struct scene {
	const char *name, *profile;
	const struct page_ops *page;
	struct line lines[10];
	int in_hand; /* afterwards; -1: where it came to stand */
};

static struct bench *play(const struct scene *scene, bool powered)
{
	struct bench *b = bench_open(scene->profile, scene->page, powered);

	for (int i = 0; i < 10 && scene->lines[i].text; i++)
		cr_assert(type(b, scene->lines[i].row, scene->lines[i].text) != PAGE_WRONG,
		          "%s: %s: %s", scene->name, scene->lines[i].text, b->echo);
	if (scene->in_hand >= 0)
		b->in_hand = scene->in_hand;
	fill(b);
	return b;
}

/* Each against its golden files; GOLDEN_UPDATE=1 rewrites them. */
static void scenes_golden(const struct scene *scenes, int n, bool powered)
{
	static const struct {
		int cols, rows;
	} forms[] = {{80, 24}, {40, 12}, {160, 50}};
	const char *dir = getenv("GOLDEN_DIR");
	int wrong = 0;

	cr_assert_not_null(dir, "GOLDEN_DIR is not set");
	for (int s = 0; s < n; s++) {
		struct bench *b = play(&scenes[s], powered);

		for (size_t f = 0; f < sizeof forms / sizeof *forms; f++) {
			char *text = draw(&b->sheet, forms[f].cols, forms[f].rows);
			char *expected = calloc(1, 60000);
			char path[512];
			FILE *file;

			(void)snprintf(path, sizeof path, "%s/%s-%dx%d-utf8.screen", dir,
			               scenes[s].name, forms[f].cols, forms[f].rows);
			file = fopen(path, getenv("GOLDEN_UPDATE") ? "wb" : "rb");
			if (getenv("GOLDEN_UPDATE")) {
				cr_assert_not_null(file, "%s", path);
				(void)fputs(text, file);
			} else if (!file || !fread(expected, 1, 59999, file) ||
			           strcmp(text, expected) != 0) {
				wrong++;
				(void)fprintf(stderr, "%s differs; now:\n%s\n", path, text);
			}
			if (file)
				(void)fclose(file);
			free(expected);
			free(text);
		}
		bench_free(b);
	}
	cr_assert(wrong == 0, "%d sheets differ", wrong);
}

/* Left and taken up again, the same is shown, with nothing but the entries. */
static void scenes_come_back(const struct scene *scenes, int n, bool powered)
{
	for (int s = 0; s < n; s++) {
		struct bench *b = play(&scenes[s], powered);
		char *before = draw(&b->sheet, 80, 24), *after;
		const int in_hand = b->in_hand;

		b->page->close(b->self);
		b->self = b->page->open(&b->desk);
		cr_assert_not_null(b->self);
		fill(b);
		b->in_hand = in_hand;
		fill(b);
		after = draw(&b->sheet, 80, 24);
		cr_assert_str_eq(before, after, "%s", scenes[s].name);
		free(before);
		free(after);
		bench_free(b);
	}
}

#endif
