/*
 * What to do now stands whole on the screen: every instruction of every shipped profile, of the
 * power-up and of the pages of the job, at 80 columns; in less room what is cut says so.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/page.h"
#include "app/page/overview.h"
#include "io/table_file.h"
#include "lib/text_unit.h"
#include "mainstair/core/plan.h"
#include "ui/screen/screen.h"
#include "ui/term_dump.h"

TestSuite(instructions, .timeout = 200);

enum { TEXT_MAX = 8192 };

static const struct {
	int cols, rows;
	bool whole; /* nothing may be cut */
} sizes[] = {{80, 24, true}, {45, 14, false}, {45, 24, false}, {160, 50, true}};

/* Without blanks, and without the title row. */
static void squeeze(const char *text, int skip_rows, char ret[TEXT_MAX])
{
	size_t n = 0;

	for (; *text && n + 1 < TEXT_MAX; text++) {
		if (*text == '\n' && skip_rows > 0)
			skip_rows--;
		else if (skip_rows == 0 && *text != ' ' && *text != '\n')
			ret[n++] = *text;
	}
	ret[n] = '\0';
}

/* Is `text` on the canvas, or, where that is allowed, its beginning with the sign that it was
 * cut? */
static bool stands(const struct canvas *c, const char *text, bool whole)
{
	char *all = term_dump_text(c), screen[TEXT_MAX], wanted[TEXT_MAX];

	squeeze(all, 1, screen);
	squeeze(text, 0, wanted);
	free(all);
	if (strstr(screen, wanted))
		return true;
	for (size_t n = strlen(wanted) - 1; !whole && n > 12; n--) {
		char begins[TEXT_MAX];

		(void)snprintf(begins, sizeof begins, "%.*s~", (int)n, wanted);
		if (strstr(screen, begins))
			return true;
	}
	return false;
}

static void look_at_view(const struct view *v, const char *whose)
{
	for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
		struct canvas c;
		char *text;

		canvas_init(&c, false, false);
		cr_assert(canvas_resize(&c, sizes[i].rows, sizes[i].cols) == 0);
		(void)screen_draw(v, &c);
		text = term_dump_text(&c);
		cr_assert(stands(&c, v->instruction, sizes[i].whole),
		          "%s, %dx%d: `%s` is not in\n%s", whose, sizes[i].cols, sizes[i].rows,
		          v->instruction, text);
		if (v->around.page == PAGE_DASHBOARD && sizes[i].rows >= 24)
			cr_assert(stands(&c, v->how, sizes[i].whole), "%s, %dx%d: `%s` is not in\n%s",
			          whose, sizes[i].cols, sizes[i].rows, v->how, text);
		free(text);
		canvas_release(&c);
	}
}

/* Every instruction there is, at every stage, with every look; typed, on a meter, on a bench. */
static void look_at_walk(const char *file, const struct text_unit *u, const struct plan *plan,
                         const struct abort_rule *rule)
{
	static struct session s;
	static struct view v;

	for (int way = 0; way < 3; way++) {
		struct surroundings around = {.title = file, .source = "typed", .typed_only = way == 0,
			.variac_volts = way == 2 ? 40 : (double)NAN, .series_lamp = way == 0,
			.contexts = IN_LIVE};

		for (int page = 0; page < PAGES; page++)
			for (int stage = 0; stage < plan->n_stages; stage++)
				for (int what = 0; what <= DO_NOTHING; what++) {
					const int looks = what == DO_LOOK
						? plan->stages[stage].n_looks : 1;

					for (int look = 0; look < 2 * looks; look++) {
						session_init(&s, &u->net, plan, rule,
						             &meter_accuracy_default, 0);
						s.phase = PHASE_STAGES;
						s.stage = stage;
						s.instruction = (enum instruction)what;
						s.instruction_volts = plan->stages[stage].volts;
						s.stages[stage].looks_answered = look < looks
							? ~(1u << look) : ~0u;
						s.stages[stage].looks_not_so =
							look < looks ? 0 : 1u << (look - looks);
						around.page = (enum page)page;
						view_build(&s, &around, &v);
						look_at_view(&v, file);
					}
				}
	}
}

Test(instructions, of_every_power_up_stand_whole)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *u = shipped_unit(file);
		struct plan *plan = malloc(sizeof *plan);

		cr_assert_not_null(plan);
		const struct abort_rule rule = abort_rule_of(&u->profile, &u->net);
		plan_make(plan, &u->net, &u->profile, &rule, &meter_accuracy_default, 0);
		look_at_walk(file, u, plan, &rule);
		free(plan);
		free(u);
	}
}

static void look_at_sheet(const struct sheet *s, const char *whose)
{
	for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
		struct canvas c;
		char *text;

		canvas_init(&c, false, false);
		cr_assert(canvas_resize(&c, sizes[i].rows, sizes[i].cols) == 0);
		(void)screen_sheet(s, &c);
		text = term_dump_text(&c);
		cr_assert(stands(&c, s->instruction, sizes[i].whole),
		          "%s, %dx%d: `%s` is not in\n%s", whose, sizes[i].cols, sizes[i].rows,
		          s->instruction, text);
		cr_assert(stands(&c, s->caution, sizes[i].whole), "%s, %dx%d: `%s` is not in\n%s",
		          whose, sizes[i].cols, sizes[i].rows, s->caution, text);
		if (sizes[i].rows >= 16)
			cr_assert(stands(&c, s->how, sizes[i].whole), "%s, %dx%d: `%s` is not in\n%s",
			          whose, sizes[i].cols, sizes[i].rows, s->how, text);
		free(text);
		canvas_release(&c);
	}
}

static void clear(struct sheet *s)
{
	memset(s, 0, sizeof *s);
	s->in_hand = s->verdict_column = -1;
	s->instruction_role = ROLE_MUST;
}

/* Of every row of every page, nothing entered yet. */
static void look_at_pages(const char *file, const struct bench_desk *desk)
{
	static struct sheet s;

	clear(&s);
	overview_fill(desk, 0, &s);
	look_at_sheet(&s, file);
	for (int p = 0; job_pages[p]; p++) {
		void *self = job_pages[p]->open(desk);
		int rows = 1;

		cr_assert_not_null(self);
		for (int row = 0; row < rows; row++) {
			int in_hand = row;

			/* opening takes its first row in hand; the next drawing keeps what is
			 * given */
			clear(&s);
			job_pages[p]->fill(self, desk, &in_hand, &s);
			in_hand = row;
			clear(&s);
			job_pages[p]->fill(self, desk, &in_hand, &s);
			rows = s.n_rows;
			s.in_hand = s.n_rows > 0 ? in_hand : -1;
			look_at_sheet(&s, file);
		}
		job_pages[p]->close(self);
	}
}

Test(instructions, of_every_page_of_the_job_stand_whole)
{
	const char *file;
	struct tables tables;
	struct err err = {0};

	cr_assert(table_file_load(&tables, &err) == 0, "%s", err.text);
	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *u = shipped_unit(file);
		struct job *job = malloc(sizeof *job);

		cr_assert_not_null(job);
		job_make(job, &u->profile, &u->net, &tables, NULL, 0);
		look_at_pages(file, &(struct bench_desk){.profile = &u->profile, .network = &u->net,
			.tables = &tables, .job = job, .utc_s = 1e9});
		free(job);
		free(u);
	}
	tables_release(&tables);
}

/* All of the help, however long, on one tall screen. */
static void help_shows(const struct typed_form *forms, int cols)
{
	static struct view v;
	struct canvas c;

	v = (struct view){.screen = SCREEN_HELP, .around = {.title = "a unit", .forms = forms,
		.contexts = IN_LIVE | IN_HELP, .variac_volts = (double)NAN}};
	canvas_init(&c, true, true);
	cr_assert(canvas_resize(&c, 200, cols) == 0);
	cr_assert(screen_draw(&v, &c) == 0);
	for (int i = 0; forms[i].form; i++) {
		cr_assert(stands(&c, forms[i].form, true), "%d: `%s`", cols, forms[i].form);
		cr_assert(stands(&c, forms[i].meaning, true), "%d: `%s`", cols, forms[i].meaning);
	}
	canvas_release(&c);
}

/* What can be typed on a page is told whole, whatever its length. */
Test(instructions, the_help_cuts_no_form)
{
	for (int cols = 45; cols <= 160; cols += 35) {
		help_shows(overview_forms, cols);
		for (int p = 0; job_pages[p]; p++)
			help_shows(job_pages[p]->forms, cols);
	}
}

/* The words of each instruction, where a reading is typed, on a meter, or from the virtual
 * bench. */
Test(instructions, say_what_to_do_and_how)
{
	enum way { TYPED, METER, BENCH };
	static const struct {
		enum instruction what;
		enum way way;
		bool blind;
		const char *instruction, *how;
	} rows[] = {
		{DO_ACKNOWLEDGE, TYPED, false, "Read the cautions, then press a", ""},
		{DO_SET_VARIAC, TYPED, false, "Set the variac to 50 V",
		 "then type what the meter reads, as in: 50 5.2"},
		{DO_SET_VARIAC, METER, false, "Set the variac to 50 V", "the meter follows"},
		{DO_SET_VARIAC, BENCH, false, "Set the variac to 50 V",
		 "key s takes the virtual variac there, + and - move it"},
		{DO_READ, TYPED, false, "Read volts and watts", "type them, as in: 50 5.2"},
		{DO_READ, METER, false, "Read volts and watts", "waiting for the meter"},
		{DO_HOLD, TYPED, false, "Hold, settling: 1:15 left", "then type volts and watts again"},
		{DO_STEP_DOWN, METER, false, "Too long at this stage: go to 50 V",
		 "half-warm cathodes suffer when plate current flows for long"},
		{DO_ZERO_VARIAC, METER, true, "No reading: variac to zero",
		 "no reading is never a good reading: mend the meter first"},
		{DO_ABORT, TYPED, false, "ABORT: variac to zero, plug out", ""},
		{DO_NOTHING, TYPED, false, "The run has ended", ""},
	};
	static struct session s;
	static struct view v;
	struct text_unit *u = shipped_unit("bench-oscillator.ini");
	struct plan *plan = malloc(sizeof *plan);
	const struct abort_rule rule = abort_rule_of(&u->profile, &u->net);

	cr_assert_not_null(plan);
	plan_make(plan, &u->net, &u->profile, &rule, &meter_accuracy_default, 0);
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct surroundings around = {.title = "a unit", .source = "typed",
			.typed_only = rows[i].way == TYPED,
			.variac_volts = rows[i].way == BENCH ? 40 : (double)NAN};

		session_init(&s, &u->net, plan, &rule, &meter_accuracy_default, 0);
		s.phase = PHASE_STAGES;
		s.stage = 1;
		s.blind = rows[i].blind;
		s.instruction = rows[i].what;
		s.instruction_volts = 50;
		s.instruction_s = 75;
		view_build(&s, &around, &v);
		cr_assert_str_eq(v.instruction, rows[i].instruction);
		cr_assert_str_eq(v.how, rows[i].how, "%s: %s", v.instruction, v.how);
	}
	free(plan);
	free(u);
}
