#include "app/live.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "app/advice.h"
#include "app/asked.h"
#include "app/curve.h"
#include "app/fits.h"
#include "app/like.h"
#include "ui/letter_key.h"

/* A line was understood, but asked about before it is believed. */
struct question {
	bool asked;
	struct event event;
	char line[PROMPT_BYTES_MAX];
};

/* Less of nameplate volts than this is as good as off: a meter's noise (common practice). */
static const double off_share = 0.03;

struct live {
	const struct live_setup *setup;
	struct loop *loop;
	struct feed feed;
	struct run run;
	struct curve curve;
	struct fits fits;
	struct advice advice;
	struct lamp lamp;
	struct prompt prompt;
	struct letter_key letter; /* on the empty line: a key, or the beginning of a line? */
	int letter_stage, letter_look; /* what was asked when it was pressed */
	struct surroundings around;
	struct question question;
	struct view view;
	double start_s;          /* monotonic, at run time 0 */
	bool refining;           /* the plots' curve, while there is nothing better to do */
	int more;                /* rows below the end of the screen, at the last drawing */
	bool cautions_seen;      /* to their end */
	bool quitting;           /* "end the run?" is asked */
	bool off_asked;          /* `off` was gainsaid by the meter, in this alarm */
	bool done, dirty;
	bool urgent;             /* the next picture waits for no terminal */
	enum session_phase phase; /* at the last look: a change to an alarm rings the bell */
	bool blind;
	struct live_end end;
	double full_line_s;
};

static double now_s(const struct live *l)
{
	return (loop_monotonic_s() - l->start_s) * l->setup->speed;
}

static bool in_alarm(const struct live *l)
{
	return l->run.session->phase == PHASE_ABORT || l->run.session->phase == PHASE_STOPPED;
}

/* What the entry line answers; cut to fit. */
__attribute__((format(printf, 3, 4)))
static void say(struct live *l, enum role role, const char *format, ...)
{
	va_list ap;
	va_start(ap, format);
	vsnprintf(l->around.echo, sizeof l->around.echo, format, ap);
	va_end(ap);
	l->around.echo_role = role;
}

/* --- drawing ------------------------------------------------------------------------------ */

/* `empty`: nothing stands on the line, or as if. */
static unsigned contexts_when(const struct live *l, bool empty)
{
	const struct session *s = l->run.session;
	unsigned in = IN_LIVE;

	if (in_alarm(l)) {
		in |= IN_ALARM | IN_ENTRY | (empty ? 0 : IN_LINE);
		if (empty && l->feed.ops->turn)
			in |= IN_VARIAC;
		return in;
	}
	if (l->question.asked)
		return in | IN_QUESTION;
	if (l->quitting)
		return in | IN_QUIT;
	if (l->more > 0 || l->around.scroll > 0)
		in |= IN_SCROLL;
	if (l->around.help)
		return in | IN_HELP;
	if (s->phase == PHASE_CAUTIONS)
		return in | IN_CAUTIONS;
	in |= IN_ENTRY;
	if (!empty)
		return in | IN_LINE | IN_PAGES;
	in |= IN_DASHBOARD;
	if (s->instruction == DO_LOOK)
		in |= IN_LOOK;
	if (l->feed.ops->turn)
		in |= IN_VARIAC;
	return in;
}

static unsigned contexts(const struct live *l)
{
	/* a letter that waits is no line yet */
	return contexts_when(l, l->prompt.length == 0 || l->letter.code != 0);
}

static void gather(struct live *l)
{
	const struct session *s = l->run.session;
	struct surroundings *a = &l->around;

	a->contexts = contexts(l);
	a->curve = l->curve.points;
	a->n_curve = l->curve.n;
	a->prompt =
	        s->phase == PHASE_CAUTIONS || l->question.asked || l->quitting ? NULL : &l->prompt;
	a->variac_volts = l->feed.ops->variac ? l->feed.ops->variac(l->feed.self) : (double)NAN;
	bool well = l->feed.ops->describe(l->feed.self, s->now_s, a->meter, sizeof a->meter);
	a->meter_role = well ? ROLE_DIM : ROLE_CAUTION;
	a->recorded = run_recorded(&l->run);
	a->record_failed = l->run.trouble[0] != '\0';
	snprintf(a->record, sizeof a->record, "%s", a->record_failed ? l->run.trouble
		: l->run.record ? record_path(l->run.record) : "");
	fits_show(&l->fits, s, a);
	advice_show(&l->advice, s, a);
	lamp_show(&l->lamp, s, a);
	view_build(s, a, &l->view);
}

static void draw(struct live *l)
{
	gather(l);
	l->more = loop_draw(l->loop, &l->view);
	if (contexts(l) != l->around.contexts) { /* it turned out longer, or shorter, than before */
		gather(l);
		l->more = loop_draw(l->loop, &l->view);
	}
	if (l->view.screen == SCREEN_CAUTIONS && l->more == 0)
		l->cautions_seen = true;
	l->dirty = l->urgent = false;
}

void live_first_frame(struct loop *loop, const struct live_setup *setup, const struct feed *feed)
{
	struct view v = {.screen = SCREEN_CAUTIONS, .around = {.title = setup->title,
		.chassis = setup->chassis, .not_isolated = setup->not_isolated,
		.source = feed->source, .invented = feed->invented,
		.contexts = IN_LIVE | IN_CAUTIONS, .variac_volts = (double)NAN}};
	(void)loop_draw(loop, &v);
}

/* --- what the user wants ------------------------------------------------------------------- */

static void put(struct live *l, struct event *ev)
{
	ev->seconds = now_s(l);
	run_put(&l->run, ev);
	l->dirty = true;
}

static void note(struct live *l, enum event_kind kind, const char *text)
{
	run_note(&l->run, now_s(l), kind, text);
	l->dirty = true;
}

/* A reading or a voltmeter's, believed: into the run, and how it was understood to the screen. */
static void believe(struct live *l, const struct event *understood, const char *echo)
{
	struct event ev = *understood;

	put(l, &ev);
	if (ev.kind == EVENT_READING)
		say(l, theme_verdict_role(ev.verdict), "%s: %s", echo, verdict_word(ev.verdict));
	else if (ev.kind == EVENT_IMPOSSIBLE)
		say(l, ROLE_CAUTION, "recorded, not believed: %s", ev.note);
	else
		say(l, ROLE_PLAIN, "%s", echo);
}

static void ask(struct live *l, const struct typed *typed, const char *line)
{
	l->question.asked = true;
	l->question.event = typed->event;
	snprintf(l->question.line, sizeof l->question.line, "%s", line);
	asked_words(l->around.question, sizeof l->around.question, typed->echo, line);
	note(l, EVENT_QUESTIONED, line);
}

static void drop_question(struct live *l)
{
	l->question.asked = false;
	l->around.question[0] = '\0';
}

/* "stage 3": where to go next, by the number that the table of stages has. */
static bool choose_stage(struct live *l, const char *line)
{
	const struct plan *plan = l->setup->unit.plan;
	int number = 0, end = 0;

	if (strncasecmp(line, "stage", 5) != 0)
		return false;
	if (sscanf(line + 5, " %3d %n", &number, &end) != 1 || line[5 + end] != '\0' ||
	    number < 1 || number > plan->n_stages) {
		say(l, ROLE_CAUTION, "stage 1 to %d, as in: stage 3", plan->n_stages);
		prompt_set(&l->prompt, line);
		return true;
	}
	if (!session_may_choose(l->run.session, number - 1)) {
		say(l, ROLE_CAUTION, "after an abort or a stop the walk begins at the first stage, %.0f V",
		    plan->stages[0].volts);
		return true;
	}
	struct event ev = {.kind = EVENT_STAGE, .stage = number - 1,
		.volts = plan->stages[number - 1].volts, .watts = (double)NAN, .amps = (double)NAN,
		.power_factor = (double)NAN, .note = "chosen"};
	put(l, &ev);
	say(l, ROLE_PLAIN, "next: stage %d, %.0f V", number, ev.volts);
	return true;
}

static double half_width(const struct plan *plan)
{
	const struct band *full = &plan->stages[plan->n_stages - 1].band;
	return (full->high - full->low) / 2;
}

/* "measured primary 21.4 ohm": the band follows at once. */
static bool measure(struct live *l, const char *line)
{
	const struct run_unit *unit = &l->setup->unit;
	struct err err;

	if (strncasecmp(line, "measured", 8) != 0 || (line[8] != ' ' && line[8] != '\0'))
		return false;
	const char *words = line + 8 + strspn(line + 8, " ");
	struct plan *before = malloc(sizeof *before);
	if (before)
		*before = *unit->plan;
	else
		err_set(&err, ERR_NOMEM, "out of memory");
	if (!before || l->setup->measure(l->setup->measure_self, words, &err) != 0) {
		say(l, ROLE_CAUTION, "measured: %s", err.text);
		prompt_set(&l->prompt, line);
		free(before);
		return true;
	}
	band_cache_clear(l->run.bands);
	session_carry_looks(l->run.session, before);
	curve_init(&l->curve, unit);
	l->refining = true;
	l->fits.ranked = false;
	l->advice.known = false;
	lamp_init(&l->lamp, l->setup->lamp, l->setup->line_volts);
	note(l, EVENT_MEASURED, words);
	double was = half_width(before), is = half_width(unit->plan);
	say(l, ROLE_PLAIN, "measured, %s: at full line +/- %.2f W now, +/- %.2f W before: %.0f %% %s",
		l->setup->measure_kept ? "kept in the unit's file" : "for this run", is, was,
		100 * fabs(1 - is / was), is < was ? "narrower" : "wider");
	free(before);
	return true;
}

/* A meter on a line that still reads volts gainsays `off`, once. */
static bool still_on(struct live *l)
{
	const struct session *s = l->run.session;

	if (l->around.typed_only || !in_alarm(l) || l->off_asked || !s->have_reading || s->blind ||
	    s->last.volts < off_share * s->net->line_volts)
		return false;
	l->off_asked = true;
	say(l, ROLE_CAUTION, "the meter still reads %.1f V: to zero first; off again if it is there",
		s->last.volts);
	return true;
}

static void acknowledge_alarm(struct live *l)
{
	if (still_on(l))
		return;
	if (l->run.session->phase == PHASE_STOPPED) {
		note(l, EVENT_STOP_ACKNOWLEDGED, "off");
		say(l, ROLE_PLAIN, "stop acknowledged, recorded");
	} else if (l->run.session->phase == PHASE_ABORT) {
		note(l, EVENT_ABORT_ACKNOWLEDGED, "off");
		say(l, ROLE_PLAIN, "abort acknowledged, recorded");
	} else {
		say(l, ROLE_CAUTION, "off: there is no abort or stop to acknowledge");
	}
}

static void answer_look(struct live *l, bool yes)
{
	char text[EVENT_NOTE_MAX];
	gather(l); /* several answers may have come in one go */
	if (l->run.session->instruction != DO_LOOK || l->view.look < 0) {
		say(l, ROLE_PLAIN, "nothing is asked now");
		return;
	}
	snprintf(text, sizeof text, "%s: %s", yes ? "yes" : "no",
		l->view.plan_stage->looks[l->view.look]);
	note(l, EVENT_LOOK, text);
	if (yes)
		say(l, ROLE_PLAIN, "recorded, %.190s", text);
	else
		say(l, ROLE_CAUTION, "not as expected: recorded; find out why before you step up");
}

/* "y" or "yes", alone or with a line of its own behind it: answered.  Returns what is left of the
 * line. */
static const char *answer_first(struct live *l, const char *line)
{
	static const char *const forms[] = {"\"", "measured ", "stage "};
	struct typed typed;
	const bool yes = line[0] == 'y' || line[0] == 'Y';
	const size_t word = strncasecmp(line, "yes", 3) == 0 ? 3 : strncasecmp(line, "no", 2) == 0
		? 2 : strncasecmp(line, "y", 1) == 0 || strncasecmp(line, "n", 1) == 0 ? 1 : 0;
	const char *rest = line + word + strspn(line + word, " ,.");
	bool own = rest[0] == '\0';

	if (word == 0)
		return line;
	for (size_t i = 0; i < sizeof forms / sizeof *forms; i++)
		own |= strncasecmp(rest, forms[i], strlen(forms[i])) == 0;
	if (!own)
		session_understand(l->run.session, rest, &typed);
	if (!own && typed.kind == TYPED_WRONG)
		return line;
	answer_look(l, yes);
	return rest;
}

static void enter(struct live *l)
{
	char line[PROMPT_BYTES_MAX];
	struct typed typed;

	prompt_take(&l->prompt, line);
	size_t n = strlen(line);
	while (n > 0 && line[n - 1] == ' ')
		line[--n] = '\0';
	const char *start = line + strspn(line, " ");
	if (!in_alarm(l))
		start = answer_first(l, start);

	if (start[0] == '\0') {
		return;
	} else if (strcasecmp(start, "off") == 0) {
		acknowledge_alarm(l);
	} else if (start[0] == '"') {
		note(l, EVENT_NOTE, start + 1);
		say(l, ROLE_PLAIN, "noted");
	} else if (!choose_stage(l, start) && !measure(l, start)) {
		session_understand(l->run.session, start, &typed);
		switch (typed.kind) {
		case TYPED_READING:
		case TYPED_RAIL:
			believe(l, &typed.event, typed.echo);
			break;
		case TYPED_QUESTION:
			ask(l, &typed, start);
			break;
		case TYPED_WRONG: /* back to the line, to be mended */
			say(l, ROLE_CAUTION, "%s", in_alarm(l) ?
				"not understood: off, once it is at zero and unplugged" : typed.echo);
			prompt_set(&l->prompt, start);
			break;
		}
	}
}

static void answer(struct live *l, bool yes)
{
	if (l->question.asked) {
		struct question q = l->question;
		drop_question(l);
		if (yes) {
			believe(l, &q.event, "believed");
		} else {
			prompt_set(&l->prompt, q.line);
			say(l, ROLE_PLAIN, "not believed; edit it");
		}
	} else if (l->quitting) {
		l->quitting = false;
		l->around.question[0] = '\0';
		l->done = yes;
	} else {
		answer_look(l, yes);
	}
}

static void ask_to_quit(struct live *l)
{
	const struct session *s = l->run.session;
	l->quitting = true;
	if (s->have_reading && s->last.volts > 1)
		snprintf(l->around.question, sizeof l->around.question,
			"The line was at %.0f V. End the run? Its record stays.", s->last.volts);
	else
		snprintf(l->around.question, sizeof l->around.question,
			"End the run? Its record stays.");
}

static void turn_variac(struct live *l, enum request request)
{
	double volts = l->feed.ops->variac(l->feed.self);
	if (request == REQUEST_VARIAC_UP)
		volts += 1;
	else if (request == REQUEST_VARIAC_DOWN)
		volts -= 1;
	else if (request == REQUEST_VARIAC_UP_FAR)
		volts += 10;
	else if (request == REQUEST_VARIAC_DOWN_FAR)
		volts -= 10;
	else if (request == REQUEST_VARIAC_ZERO)
		volts = 0;
	else
		volts = l->run.session->instruction_volts;
	l->feed.ops->turn(l->feed.self, fmax(volts, 0));
}

static void probe_rails(struct live *l)
{
	struct event ev;
	for (int i = 0; l->feed.ops->probe(l->feed.self, i, &ev); i++)
		put(l, &ev);
	say(l, ROLE_PLAIN, "rails read with the virtual voltmeter");
}

static void scroll(struct live *l, int rows)
{
	int page = l->loop->canvas.rows / 2;
	rows *= page > 1 ? page : 1;
	if (rows > l->more)
		rows = l->more;
	if (rows < -l->around.scroll)
		rows = -l->around.scroll;
	l->around.scroll += rows;
	l->more -= rows; /* the next key may come before the next picture */
}

static void stop_now(struct live *l)
{
	gather(l); /* the picture may be old */
	struct event ev = {.kind = EVENT_STOP, .stage = l->run.session->stage,
		.volts = l->view.have_reading ? l->view.volts : (double)NAN,
		.watts = l->view.have_reading ? l->view.watts : (double)NAN,
		.amps = (double)NAN, .power_factor = (double)NAN};
	put(l, &ev);
}

static void obey(struct live *l, enum request request)
{
	switch (request) {
	case REQUEST_STOP:
		stop_now(l);
		break;
	case REQUEST_ACKNOWLEDGE:
		if (l->cautions_seen) {
			note(l, EVENT_CAUTIONS, "acknowledged");
			l->around.scroll = 0;
		}
		break;
	case REQUEST_HELP:
	case REQUEST_BACK:
		l->around.help = request == REQUEST_HELP;
		l->around.scroll = l->more = 0;
		break;
	case REQUEST_NEXT_PAGE:
		l->around.page = (l->around.page + 1) % PAGES;
		l->around.scroll = l->more = 0; /* not known before it is drawn */
		break;
	case REQUEST_SCROLL_UP:
	case REQUEST_SCROLL_DOWN:
		scroll(l, request == REQUEST_SCROLL_DOWN ? 1 : -1);
		break;
	case REQUEST_QUIT:
		ask_to_quit(l);
		break;
	case REQUEST_REDRAW:
		l->loop->anew = true;
		break;
	case REQUEST_YES:
	case REQUEST_NO:
		answer(l, request == REQUEST_YES);
		break;
	case REQUEST_ENTER:
		enter(l);
		break;
	case REQUEST_CLEAR:
	case REQUEST_ERASE:
	case REQUEST_DELETE:
	case REQUEST_LEFT:
	case REQUEST_RIGHT:
	case REQUEST_LINE_START:
	case REQUEST_LINE_END:
	case REQUEST_OLDER:
	case REQUEST_NEWER:
		prompt_request(&l->prompt, request);
		break;
	case REQUEST_VARIAC_UP:
	case REQUEST_VARIAC_DOWN:
	case REQUEST_VARIAC_UP_FAR:
	case REQUEST_VARIAC_DOWN_FAR:
	case REQUEST_VARIAC_ZERO:
	case REQUEST_VARIAC_FOLLOW:
		turn_variac(l, request);
		break;
	case REQUEST_PROBE:
		probe_rails(l);
		break;
	case REQUEST_NONE:
	case REQUEST_PAUSE:
	case REQUEST_FASTER:
	case REQUEST_SLOWER:
	case REQUEST_NEXT_EVENT:
	case REQUEST_PREVIOUS_EVENT:
	case REQUEST_NEXT_STAGE:
	case REQUEST_PREVIOUS_STAGE:
	case REQUEST_FIRST_FINDING:
	case REQUEST_FIRST_EVENT:
	case REQUEST_LAST_EVENT:
	case REQUEST_ROW_UP:
	case REQUEST_ROW_DOWN:
	case REQUEST_ROW_UP_FAR:
	case REQUEST_ROW_DOWN_FAR:
		break; /* of replay and of sheets: no key makes them here */
	}
}

void live_end_follow(struct live_end *end, const struct session *s, double *full_line_s)
{
	if (s->have_reading && !(end->top_volts >= s->last.volts))
		end->top_volts = s->last.volts;
	if (s->phase == PHASE_ABORT || s->phase == PHASE_STOPPED) {
		end->word = s->phase == PHASE_ABORT ? "abort" : "stop";
		*full_line_s = (double)NAN;
	} else if (s->plan->n_stages > 0 && s->stages[s->plan->n_stages - 1].passed &&
	           (s->phase == PHASE_SOAK || !isnan(*full_line_s))) {
		/* what was passed before an alarm is no answer to it: it is begun anew */
		if (isnan(*full_line_s))
			*full_line_s = s->now_s;
		end->word = "full-line";
		end->soak_s = s->now_s - *full_line_s;
	}
}

/* An alarm has come up or gone: nothing half done may stand in its way or outlive it. */
static void look_at_phase(struct live *l)
{
	const struct session *s = l->run.session;
	bool alarm = s->phase != l->phase && in_alarm(l);

	if (alarm) {
		l->off_asked = false;
		l->letter.code = 0;
		prompt_request(&l->prompt, REQUEST_CLEAR);
		drop_question(l);
		l->quitting = false;
		l->around.help = false;
		l->around.scroll = 0;
		say(l, ROLE_PLAIN, "%s", "");
	}
	alarm |= s->blind && !l->blind;
	l->urgent |= alarm;
	if (alarm)
		terminal_alarm(l->loop->terminal);
	l->phase = s->phase;
	l->blind = s->blind;
	live_end_follow(&l->end, s, &l->full_line_s);
}

/* The letter that waited is a key. */
static void obey_letter(struct live *l)
{
	const struct stroke stroke = letter_key_take(&l->letter, &l->prompt);
	const enum request request = keymap_request(contexts(l), stroke);

	l->dirty = true;
	say(l, ROLE_PLAIN, "%s", "");
	if (request == REQUEST_YES || request == REQUEST_NO)
		gather(l); /* time has passed, several answers may have come in one go */
	if ((request == REQUEST_YES || request == REQUEST_NO) && l->letter_look >= 0 &&
	    (l->view.plan_stage_index != l->letter_stage || l->view.look != l->letter_look))
		say(l, ROLE_CAUTION, "not taken: it is no longer asked");
	else
		obey(l, request);
	look_at_phase(l);
}

static void take_key(struct live *l, struct stroke stroke)
{
	enum letter_key_turn turn = LETTER_KEY_TEXT;

	l->dirty = true;
	if (l->letter.code)
		turn = letter_key_follow(&l->letter, stroke);
	if (turn != LETTER_KEY_TEXT)
		obey_letter(l);
	if (turn == LETTER_KEY_ENTER)
		return;
	l->letter.code = 0;

	unsigned in = contexts(l);
	enum request request = keymap_request(in, stroke), letter = request;
	/* a line that was not understood gives way to a new one, so a letter may be a key there
	 * too */
	if (l->prompt.offered && request == REQUEST_NONE)
		letter = keymap_request(contexts_when(l, true), stroke);
	if (letter_key_begins(&l->letter, in, letter, stroke, &l->prompt, loop_monotonic_s())) {
		gather(l);
		l->letter_stage = l->view.plan_stage_index;
		l->letter_look = l->run.session->instruction == DO_LOOK ? l->view.look : -1;
	} else if (request != REQUEST_NONE) {
		say(l, ROLE_PLAIN, "%s", ""); /* what was said last is answered by acting */
		obey(l, request);
	} else if (stroke.kind == STROKE_CHAR && (in & IN_ENTRY)) {
		if (!prompt_insert(&l->prompt, stroke.code))
			say(l, ROLE_CAUTION, "the line is full");
	} else if (stroke.kind == STROKE_CHAR && (in & (IN_QUESTION | IN_QUIT)) &&
	           stroke.code != ' ' && stroke.code != 'q') {
		/* A new line is begun: the questioned one stays unbelieved, in the history. */
		say(l, ROLE_PLAIN, "%s", l->quitting ? "the run goes on" : "not believed");
		drop_question(l);
		l->quitting = false;
		(void)prompt_insert(&l->prompt, stroke.code);
	}
	look_at_phase(l);
}

/* --- the loop -------------------------------------------------------------------------------- */

static void take_feed(struct live *l, short revents)
{
	struct event ev;
	double now = now_s(l);
	l->feed.ops->step(l->feed.self, revents, now);
	while (l->feed.ops->next(l->feed.self, &ev)) {
		session_behind_lamp(l->run.session, &ev);
		run_put(&l->run, &ev);
		l->dirty = true;
	}
}

/* What came in while the program was stopped is old: the record has a hole, and says so. */
static void after_stop(struct live *l, double stopped_s)
{
	char text[80];

	if (stopped_s >= 1) {
		snprintf(text, sizeof text, "mainstair was stopped for %.0f s: nothing was read",
			stopped_s);
		note(l, EVENT_NOTE, text);
	}
	run_tick(&l->run, now_s(l));
	if (l->feed.ops->missed)
		l->feed.ops->missed(l->feed.self);
}

/* Real seconds until something happens by time alone. */
static double next_due(const struct live *l)
{
	double letter_s = l->letter.code ? l->letter.until_s - loop_monotonic_s() : (double)INFINITY;
	double now = now_s(l), due = l->feed.ops->due(l->feed.self);
	due = fmin(due, run_sync_due(&l->run));
	if (l->run.session->phase != PHASE_CAUTIONS) /* clocks on the screen: whole seconds */
		due = fmin(due, floor(now) + fmax(1, l->setup->speed / 2));
	return fmax(fmin((due - now) / l->setup->speed, letter_s), 0);
}

/* What may wait until the picture is up and on the disk.  False: there is nothing to do. */
static bool work_aside(struct live *l)
{
	if (fits_wanted(&l->fits, l->run.session)) {
		fits_rank(&l->fits, l->run.session);
		return true;
	}
	if (lamp_wanted(&l->lamp, l->run.session)) {
		lamp_work_out(&l->lamp, l->run.session);
		return true;
	}
	if (advice_wanted(&l->advice, l->run.session)) {
		advice_work_out(&l->advice, l->run.session);
		return true;
	}
	l->refining = l->refining && curve_step(&l->curve);
	return l->refining;
}

static int run_loop(struct live *l)
{
	struct loop_wake wake;
	struct stroke stroke;
	double drawn_s = -1; /* whole run seconds at the last drawing */

	for (;;) {
		if (l->dirty && (l->urgent || loop_may_draw(l->loop)))
			draw(l);
		if (run_wants_sync(&l->run, now_s(l)))
			run_sync_begin(&l->run);
		if (l->done)
			return 0;
		bool busy = work_aside(l);
		l->dirty |= busy;
		loop_wait(l->loop, l->feed.ops->fd(l->feed.self), run_sync_fd(&l->run),
			busy ? 0 : next_due(l), &wake);
		if (wake.ended_by)
			return wake.ended_by;
		if (wake.redraw)
			l->dirty = true;
		if (wake.disk)
			l->dirty |= run_sync_end(&l->run);
		if (wake.stopped)
			after_stop(l, wake.stopped_s);
		take_feed(l, wake.revents);
		run_tick(&l->run, now_s(l));
		look_at_phase(l);
		while (!l->done && terminal_key(l->loop->terminal, &stroke))
			take_key(l, stroke);
		if (!l->done && l->letter.code && loop_monotonic_s() >= l->letter.until_s)
			obey_letter(l);
		double second = floor(now_s(l));
		if (second > drawn_s && l->run.session->phase != PHASE_CAUTIONS) {
			drawn_s = second;
			l->dirty = true;
		}
	}
}

int live_run(struct loop *loop, const struct live_setup *setup, struct feed feed,
             struct record_writer *record, int *ret_signal, struct live_end *ret_end, char *where,
             size_t size, struct err *err)
{
	struct live *l = calloc(1, sizeof *l);
	int status = -1;

	*ret_signal = 0;
	*ret_end = (struct live_end){"left", (double)NAN, (double)NAN};
	where[0] = '\0';
	if (!l) {
		struct err ignored;
		(void)record_finish(record, &ignored);
		err_set(err, ERR_NOMEM, "out of memory");
		goto out;
	}
	l->setup = setup;
	l->loop = loop;
	l->feed = feed;
	l->dirty = true;
	l->end = *ret_end;
	l->full_line_s = (double)NAN;
	l->around = (struct surroundings){.title = setup->title, .chassis = setup->chassis,
		.not_isolated = setup->not_isolated, .source = feed.source,
		.invented = feed.invented, .typed_only = feed.watch_s <= 0, .like = setup->like};
	l->start_s = loop_monotonic_s();
	if (run_init(&l->run, &setup->unit, feed.watch_s, record, setup->program, err) != 0)
		goto out;
	for (int i = 0; i < setup->n_measured; i++)
		run_note(&l->run, 0, EVENT_MEASURED, setup->measured[i]);
	if (setup->like_path) {
		char note[EVENT_NOTE_MAX];

		like_note(note, setup->like_path);
		run_note(&l->run, 0, EVENT_NOTE, note);
	}
	if (setup->cautions_read)
		run_note(&l->run, 0, EVENT_CAUTIONS, "acknowledged on the job's page");
	curve_init(&l->curve, &setup->unit);
	l->refining = true;
	lamp_init(&l->lamp, setup->lamp, setup->line_volts);
	l->around.meter_ahead = setup->meter_ahead;
	if (setup->meter_ahead)
		l->run.session->ahead = &setup->lamp;
	*ret_signal = run_loop(l);
	*ret_end = l->end;

	/* The user gets the terminal back before the disk is waited for. */
	loop_close(loop);
	char why[64] = "ended by the user";
	if (*ret_signal)
		snprintf(why, sizeof why, "ended by signal %d", *ret_signal);
	if (l->prompt.length > 0) /* still on the line: nobody entered it, nobody loses it */
		run_note(&l->run, now_s(l), EVENT_QUESTIONED, l->prompt.text);
	run_note(&l->run, now_s(l), EVENT_END, why);
	status = run_finish(&l->run, where, size, err);
out:
	loop_close(loop);
	feed_close(&feed);
	free(l);
	return status;
}
