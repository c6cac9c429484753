#include "app/job_loop.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <time.h>

#include "app/asked.h"
#include "app/page/overview.h"
#include "ui/letter_key.h"

enum { ON_OVERVIEW = -1, PAGES_OPEN_MAX = 16 };

/* A typed line that was asked about before it is believed. */
struct asked {
	bool is;
	struct entry_draft draft;
	char line[PROMPT_BYTES_MAX];
};

struct work {
	struct loop *loop;
	struct job_setup *setup;
	struct job job;
	struct bench_desk desk;
	int page;                       /* index into job_pages, or ON_OVERVIEW */
	int in_hand[PAGES_OPEN_MAX];    /* of each page */
	void *self[PAGES_OPEN_MAX];     /* state of the pages opened so far */
	int phase_in_hand;
	struct feed feed;               /* the bench's meter, while a page wants it */
	struct sheet sheet;
	struct prompt prompt;
	struct letter_key letter;       /* on the empty line: a key, or the beginning of a line? */
	struct asked asked;
	char echo[PAGE_ECHO_MAX];
	enum role echo_role;
	char trouble[256];              /* the file fails: how */
	int scroll, more;
	bool help, stopped, cautions_seen;
	double stopped_utc_s;
	bool quitting, dirty, ended;
	bool urgent;                    /* the next picture waits for no terminal */
	enum job_end end;
	struct view view;               /* for the screens that are not sheets */
	double start_s;
};

double job_utc_s(void)
{
	struct timespec now;
	clock_gettime(CLOCK_REALTIME, &now);
	return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

__attribute__((format(printf, 3, 4)))
static void say(struct work *w, enum role role, const char *format, ...)
{
	va_list ap;
	va_start(ap, format);
	vsnprintf(w->echo, sizeof w->echo, format, ap);
	va_end(ap);
	w->echo_role = role;
}

static const struct page_ops *page(const struct work *w)
{
	return w->page == ON_OVERVIEW ? NULL : job_pages[w->page];
}

static void *self(const struct work *w)
{
	return w->page < 0 ? NULL : w->self[w->page];
}

/* The row in hand of the page, or of the job's page: a phase. */
static int *row(struct work *w)
{
	return w->page < 0 ? &w->phase_in_hand : &w->in_hand[w->page];
}

static void look_at_book(struct work *w)
{
	const struct job_setup *s = w->setup;
	struct bench_desk *d = &w->desk;

	*d = (struct bench_desk){.profile = s->profile, .network = s->network, .tables = s->tables,
		.job = &w->job, .utc_s = job_utc_s()};
	d->entries = logbook_entries(s->book, &d->n_entries);
	job_make(&w->job, d->profile, d->network, d->tables, d->entries, d->n_entries);
}

/* --- drawing ------------------------------------------------------------------------------ */

static unsigned contexts(const struct work *w)
{
	unsigned in = IN_LIVE;
	/* a letter that waits is no line yet */
	const bool empty = w->prompt.length == 0 || w->letter.code != 0;

	if (w->stopped)
		return in | IN_ALARM | IN_ENTRY | (empty ? 0 : IN_LINE);
	if (w->asked.is)
		return in | IN_QUESTION;
	if (w->quitting)
		return in | IN_QUIT;
	if (w->more > 0 || w->scroll > 0)
		in |= IN_SCROLL;
	if (w->help)
		return in | IN_HELP;
	if (!w->setup->cautions_read)
		return in | IN_CAUTIONS;
	in |= IN_ENTRY;
	if (!empty)
		return in | IN_LINE;
	return in | IN_SHEET | (page(w) ? IN_PHASE : 0);
}

/* What is asked; "": nothing. */
static void put_question(const struct work *w, char *out, size_t size)
{
	out[0] = '\0';
	if (w->asked.is)
		asked_words(out, size, w->echo, w->asked.line);
	else if (w->quitting && w->job.charged[0])
		snprintf(out, size, "UNDER VOLTS OR CHARGED: %s. Leave the job all the same? y leaves, "
			"n goes on", w->job.charged);
	else if (w->quitting)
		snprintf(out, size, "Leave the job? All of it is kept.");
}

static int draw_view(struct work *w, enum screen screen)
{
	struct surroundings *a = &w->view.around;

	w->view = (struct view){.screen = screen, .seconds = loop_monotonic_s() - w->start_s};
	a->title = w->setup->title;
	a->chassis = w->setup->profile->chassis;
	a->not_isolated = w->setup->not_isolated;
	a->source = logbook_label(w->setup->book);
	a->invented = w->setup->invented;
	a->contexts = contexts(w);
	a->variac_volts = (double)NAN;
	a->scroll = w->scroll;
	a->forms = page(w) ? page(w)->forms : overview_forms;
	put_question(w, a->question, sizeof a->question);
	if (screen == SCREEN_STOP) {
		a->prompt = &w->prompt;
		snprintf(a->echo, sizeof a->echo, "%s", w->echo);
		a->echo_role = w->echo_role;
		w->view.alarm.kind = EVENT_STOP;
		w->view.alarm.seconds = w->stopped_utc_s;
		snprintf(w->view.alarm.note, sizeof w->view.alarm.note,
			"Supply for re-forming to zero as well.");
	}
	return loop_draw(w->loop, &w->view);
}

static int draw_sheet(struct work *w)
{
	struct sheet *s = &w->sheet;

	memset(s, 0, sizeof *s);
	s->in_hand = s->verdict_column = -1;
	s->instruction_role = ROLE_MUST;
	snprintf(s->unit, sizeof s->unit, "%.63s: %.120s", logbook_label(w->setup->book),
		w->setup->title);
	w->desk.utc_s = job_utc_s();
	if (page(w)) {
		page(w)->fill(self(w), &w->desk, row(w), s);
		s->in_hand = s->n_rows > 0 ? *row(w) : -1;
	} else {
		overview_fill(&w->desk, w->phase_in_hand, s);
	}
	s->prompt = w->asked.is || w->quitting ? NULL : &w->prompt;
	snprintf(s->echo, sizeof s->echo, "%s", w->asked.is ? "" : w->echo);
	s->echo_role = w->echo_role;
	put_question(w, s->question, sizeof s->question);
	s->kept_failed = w->trouble[0] != '\0';
	if (s->kept_failed)
		snprintf(s->kept, sizeof s->kept, "%s", w->trouble);
	else
		snprintf(s->kept, sizeof s->kept, "%zu entries kept in %s", w->desk.n_entries,
			logbook_path(w->setup->book));
	s->invented = w->setup->invented;
	s->contexts = contexts(w);
	s->scroll = w->scroll;
	return loop_draw_sheet(w->loop, s);
}

static int draw_once(struct work *w)
{
	if (w->stopped)
		return draw_view(w, SCREEN_STOP);
	if (!w->setup->cautions_read && !w->help)
		return draw_view(w, SCREEN_CAUTIONS);
	return w->help ? draw_view(w, SCREEN_HELP) : draw_sheet(w);
}

static void draw(struct work *w)
{
	unsigned before = contexts(w);

	w->more = draw_once(w);
	if (contexts(w) != before) /* it turned out longer, or shorter, than before */
		w->more = draw_once(w);
	if (!w->setup->cautions_read && !w->help && w->more == 0)
		w->cautions_seen = true;
	w->dirty = w->urgent = false;
}

/* --- keeping -------------------------------------------------------------------------------- */

/* 0, or -1 with the trouble shown. */
static int keep(struct work *w, struct entry *entry, bool sync)
{
	struct err err;

	entry->utc_s = job_utc_s();
	if (logbook_append(w->setup->book, entry, sync, &err) != 0) {
		snprintf(w->trouble, sizeof w->trouble, "%.250s", err.text);
		look_at_book(w); /* the list may have moved all the same */
		w->dirty = true;
		return -1;
	}
	w->trouble[0] = '\0';
	const bool measured = entry->kind == ENTRY_OHMS;
	look_at_book(w);
	if (measured && w->setup->measured &&
	    w->setup->measured(w->setup->measured_self, &err) != 0)
		say(w, ROLE_CAUTION, "kept, but not in the load model: %.140s", err.text);
	w->dirty = true;
	return 0;
}

static int keep_words(struct work *w, enum entry_kind kind, const char *subject, const char *note)
{
	struct entry_draft d;

	entry_draft_init(&d, kind);
	snprintf(d.subject, sizeof d.subject, "%s", subject);
	snprintf(d.note, sizeof d.note, "%.500s", note);
	return keep(w, &d.entry, true);
}

/* What stands on the line when a signal ends the program: nobody entered it, nobody loses it. */
static void keep_unfinished(struct work *w)
{
	if (w->prompt.length > 0)
		(void)keep_words(w, ENTRY_DROPPED, page(w) ? page(w)->word : "", w->prompt.text);
}

/* A believed line's entry; when the disk refuses, the line comes back. */
static void keep_draft(struct work *w, struct entry_draft *draft, const char *line, bool moves_on)
{
	if (keep(w, &draft->entry, true) != 0) {
		prompt_set(&w->prompt, line);
		say(w, ROLE_CAUTION, "not recorded: try again");
	} else if (moves_on && page(w)) {
		++*row(w); /* the page sees to it that the row exists */
	}
}

/* --- moving about --------------------------------------------------------------------------- */

static void close_meter(struct work *w)
{
	feed_close(&w->feed);
	w->feed = (struct feed){0};
}

static void go_to(struct work *w, int target)
{
	struct err err;

	w->page = target;
	w->scroll = w->more = 0;
	w->dirty = true;
	close_meter(w);
	if (target == ON_OVERVIEW)
		return;
	w->phase_in_hand = (int)job_pages[target]->phase;
	if (job_pages[target]->open && !w->self[target]) {
		w->self[target] = job_pages[target]->open(&w->desk);
		if (!w->self[target]) {
			say(w, ROLE_CAUTION, "out of memory");
			w->page = ON_OVERVIEW;
			return;
		}
	}
	if (job_pages[target]->reading && w->setup->open_meter &&
	    w->setup->open_meter(w->setup->meter_self, &w->feed, &err) != 0) {
		w->feed = (struct feed){0};
		say(w, ROLE_CAUTION, "no meter: %.160s", err.text);
	}
}

static void open_power(struct work *w)
{
	if (overview_blocked(&w->job, w->echo)) {
		w->echo_role = ROLE_DANGER;
		return;
	}
	w->ended = true;
	w->end = JOB_TO_POWER;
}

static void open_phase(struct work *w, enum job_phase phase)
{
	if (phase == JOB_POWER) {
		open_power(w);
		return;
	}
	for (int i = 0; job_pages[i]; i++)
		if (job_pages[i]->phase == phase) {
			go_to(w, i);
			return;
		}
}

static void next_page(struct work *w)
{
	int next = w->page + 1;
	go_to(w, job_pages[next] ? next : ON_OVERVIEW);
}

static void move_row(struct work *w, int by)
{
	int last = w->page == ON_OVERVIEW ? JOB_PHASES - 1 : w->sheet.n_rows - 1;
	int at = *row(w) + by;

	if (at > last)
		at = last;
	*row(w) = at < 0 ? 0 : at;
	w->scroll = w->more = 0;
}

/* --- the line --------------------------------------------------------------------------------- */

static void acknowledge_stop(struct work *w, const char *line)
{
	if (strcasecmp(line, "off") == 0) {
		w->stopped = false;
		if (keep_words(w, ENTRY_STOP, "", "acknowledged: off") == 0)
			say(w, ROLE_PLAIN, "stop acknowledged, recorded");
		else
			say(w, ROLE_CAUTION, "stop acknowledged, but not recorded");
	} else {
		say(w, ROLE_CAUTION, "off, and nothing else, acknowledges it");
		prompt_set(&w->prompt, line);
	}
}

static void enter_overview(struct work *w, const char *line)
{
	struct entry_draft draft;
	int target;

	switch (overview_enter(&w->desk, line, &draft, &target, w->echo)) {
	case OVERVIEW_KEEPS:
		w->echo_role = ROLE_CAUTION;
		keep_draft(w, &draft, line, false);
		break;
	case OVERVIEW_OPENS:
		if (target < 0)
			open_power(w);
		else
			go_to(w, target);
		break;
	case OVERVIEW_WRONG:
		w->echo_role = ROLE_CAUTION;
		prompt_set(&w->prompt, line);
		break;
	}
}

static void enter_page(struct work *w, const char *line)
{
	struct entry_draft *draft = &w->asked.draft;

	w->desk.utc_s = job_utc_s();
	w->echo_role = ROLE_PLAIN;
	switch (page(w)->enter(self(w), &w->desk, *row(w), line, draft, w->echo)) {
	case PAGE_TAKEN:
		keep_draft(w, draft, line, true);
		break;
	case PAGE_STAY:
		keep_draft(w, draft, line, false);
		break;
	case PAGE_ASK:
		w->asked.is = true;
		snprintf(w->asked.line, sizeof w->asked.line, "%s", line);
		(void)keep_words(w, ENTRY_DROPPED, page(w)->word, line);
		break;
	case PAGE_WRONG:
		w->echo_role = ROLE_CAUTION;
		prompt_set(&w->prompt, line);
		break;
	case PAGE_DONE_HERE:
		break;
	}
}

static void enter(struct work *w)
{
	char line[PROMPT_BYTES_MAX];

	prompt_take(&w->prompt, line);
	size_t n = strlen(line);
	while (n > 0 && line[n - 1] == ' ')
		line[--n] = '\0';
	const char *start = line + strspn(line, " ");

	if (w->stopped)
		acknowledge_stop(w, start);
	else if (start[0] == '"' && keep_words(w, ENTRY_NOTE,
			page(w) ? page(w)->word : "", start + 1) == 0)
		say(w, ROLE_PLAIN, "noted");
	else if (start[0] == '"')
		prompt_set(&w->prompt, start);
	else if (start[0] == '\0' && w->page == ON_OVERVIEW)
		open_phase(w, (enum job_phase)w->phase_in_hand);
	else if (start[0] != '\0' && w->page == ON_OVERVIEW)
		enter_overview(w, start);
	else if (start[0] != '\0')
		enter_page(w, start);
}

static void answer(struct work *w, bool yes)
{
	if (w->asked.is) {
		w->asked.is = false;
		if (yes) {
			say(w, ROLE_PLAIN, "believed");
			keep_draft(w, &w->asked.draft, w->asked.line, true);
		} else {
			prompt_set(&w->prompt, w->asked.line);
			say(w, ROLE_PLAIN, "not believed; edit it");
		}
	} else if (w->quitting) {
		w->quitting = false;
		w->ended = yes;
		w->end = JOB_LEFT;
	}
}

static void stop_now(struct work *w)
{
	w->stopped = true;
	w->stopped_utc_s = loop_monotonic_s() - w->start_s;
	w->asked.is = w->quitting = w->help = false;
	w->letter.code = 0;
	prompt_request(&w->prompt, REQUEST_CLEAR);
	say(w, ROLE_PLAIN, "%s", "");
	w->urgent = true;
	terminal_alarm(w->loop->terminal);
	if (keep_words(w, ENTRY_STOP, page(w) ? page(w)->word : "",
			"smoke, smell, hum or arcing: the stop key") != 0)
		say(w, ROLE_CAUTION, "not recorded: %.180s", w->trouble);
}

static void obey(struct work *w, enum request request)
{
	int half = w->loop->canvas.rows / 3;

	if (request == REQUEST_STOP)
		stop_now(w);
	else if (request == REQUEST_ACKNOWLEDGE && w->cautions_seen) {
		w->setup->cautions_read = true;
		(void)keep_words(w, ENTRY_CAUTIONS, "", "acknowledged");
		w->scroll = 0;
	} else if (request == REQUEST_HELP || (request == REQUEST_BACK && w->help)) {
		w->help = request == REQUEST_HELP;
		w->scroll = w->more = 0;
	} else if (request == REQUEST_BACK)
		go_to(w, ON_OVERVIEW);
	else if (request == REQUEST_QUIT && w->page != ON_OVERVIEW)
		go_to(w, ON_OVERVIEW);
	else if (request == REQUEST_QUIT)
		w->quitting = true;
	else if (request == REQUEST_NEXT_PAGE)
		next_page(w);
	else if (request == REQUEST_SCROLL_DOWN)
		w->scroll += w->more < half ? w->more : half;
	else if (request == REQUEST_SCROLL_UP)
		w->scroll -= w->scroll < half ? w->scroll : half;
	else if (request == REQUEST_ROW_UP || request == REQUEST_ROW_DOWN)
		move_row(w, request == REQUEST_ROW_DOWN ? 1 : -1);
	else if (request == REQUEST_ROW_UP_FAR || request == REQUEST_ROW_DOWN_FAR)
		move_row(w, request == REQUEST_ROW_DOWN_FAR ? 10 : -10);
	else if (request == REQUEST_REDRAW)
		w->loop->anew = true;
	else if (request == REQUEST_YES || request == REQUEST_NO)
		answer(w, request == REQUEST_YES);
	else if (request == REQUEST_ENTER)
		enter(w);
	else
		prompt_request(&w->prompt, request);
}

/* The letter that waited is a key. */
static void obey_letter(struct work *w)
{
	const struct stroke stroke = letter_key_take(&w->letter, &w->prompt);

	w->dirty = true;
	say(w, ROLE_PLAIN, "%s", "");
	obey(w, keymap_request(contexts(w), stroke));
}

static void take_key(struct work *w, struct stroke stroke)
{
	enum letter_key_turn turn = LETTER_KEY_TEXT;

	w->dirty = true;
	if (w->letter.code)
		turn = letter_key_follow(&w->letter, stroke);
	if (turn != LETTER_KEY_TEXT)
		obey_letter(w);
	if (turn == LETTER_KEY_ENTER)
		return;
	w->letter.code = 0;

	unsigned in = contexts(w);
	enum request request = keymap_request(in, stroke);
	if (letter_key_begins(&w->letter, in, request, stroke, &w->prompt, loop_monotonic_s()))
		return;
	if (request != REQUEST_NONE) {
		if (!w->asked.is) /* a question stays until it is answered */
			say(w, ROLE_PLAIN, "%s", "");
		obey(w, request);
	} else if (stroke.kind == STROKE_CHAR && (in & IN_ENTRY)) {
		if (!prompt_insert(&w->prompt, stroke.code))
			say(w, ROLE_CAUTION, "the line is full");
	} else if (stroke.kind == STROKE_CHAR && (in & (IN_QUESTION | IN_QUIT)) &&
	           stroke.code != ' ' && stroke.code != 'q') {
		/* a new line is begun: the questioned one stays in the history */
		say(w, ROLE_PLAIN, "%s", w->quitting ? "the job goes on" : "not believed");
		w->asked.is = w->quitting = false;
		(void)prompt_insert(&w->prompt, stroke.code);
	}
}

/* --- the loop ---------------------------------------------------------------------------------- */

static void take_feed(struct work *w, short revents)
{
	struct entry_draft draft;
	struct event ev;

	if (!w->feed.ops || !page(w) || !page(w)->reading)
		return;
	w->feed.ops->step(w->feed.self, revents, loop_monotonic_s() - w->start_s);
	while (w->feed.ops->next(w->feed.self, &ev)) {
		w->desk.utc_s = job_utc_s();
		if (ev.kind == EVENT_READING &&
		    page(w)->reading(self(w), &w->desk, *row(w), &ev, &draft))
			(void)keep(w, &draft.entry, true);
		w->dirty = true;
	}
}

static double next_due(const struct work *w)
{
	double due = w->letter.code ? w->letter.until_s - loop_monotonic_s() : (double)INFINITY;

	if (w->feed.ops) {
		double at = w->feed.ops->due(w->feed.self);
		due = fmin(due, at - (loop_monotonic_s() - w->start_s));
	}
	if (page(w) && page(w)->due && !w->stopped && !w->help)
		due = fmin(due, page(w)->due(self(w), &w->desk));
	return due;
}

static int run_pages(struct work *w)
{
	struct loop_wake wake;
	struct stroke stroke;

	while (!w->ended) {
		if (w->dirty && (w->urgent || loop_may_draw(w->loop)))
			draw(w);
		double wait = next_due(w);
		loop_wait(w->loop, w->feed.ops ? w->feed.ops->fd(w->feed.self) : -1, -1, wait, &wake);
		if (wake.ended_by) {
			keep_unfinished(w);
			return wake.ended_by;
		}
		if (wake.redraw || (page(w) && page(w)->due && wait <= 0))
			w->dirty = true;
		if (isfinite(wait) && !wake.keys && !wake.revents)
			w->dirty = true; /* its time has come */
		if (wake.stopped && w->feed.ops && w->feed.ops->missed)
			w->feed.ops->missed(w->feed.self);
		take_feed(w, wake.revents);
		while (!w->ended && terminal_key(w->loop->terminal, &stroke))
			take_key(w, stroke);
		if (!w->ended && w->letter.code && loop_monotonic_s() >= w->letter.until_s)
			obey_letter(w);
	}
	return 0;
}

int job_loop(struct loop *l, struct job_setup *setup, enum job_phase *in_hand, enum job_end *ret,
             int *ret_signal, struct err *err)
{
	struct work *w = calloc(1, sizeof *w);

	if (!w)
		return err_set(err, ERR_NOMEM, "out of memory");
	w->loop = l;
	w->setup = setup;
	w->page = ON_OVERVIEW;
	w->start_s = loop_monotonic_s();
	w->dirty = true;
	look_at_book(w);
	w->phase_in_hand = (int)(*in_hand < JOB_PHASES ? *in_hand
		: w->job.next < JOB_PHASES ? w->job.next : JOB_LOOK);
	*ret_signal = run_pages(w);
	*ret = *ret_signal ? JOB_SIGNAL : w->end;
	*in_hand = (enum job_phase)w->phase_in_hand;
	close_meter(w);
	for (int i = 0; job_pages[i]; i++)
		if (job_pages[i]->close && w->self[i])
			job_pages[i]->close(w->self[i]);
	free(w);
	return 0;
}
