#include "app/replay.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/advice.h"
#include "app/curve.h"
#include "app/fits.h"

static const double speed_min = 1.0 / 16, speed_max = 4096;
/* So long the player may work before keys and picture have their turn. */
static const double slice_s = 0.03;

struct replay {
	const struct replay_setup *setup;
	struct loop *loop;
	struct record *record;
	struct player player;
	struct curve curve;
	struct fits fits;
	struct advice advice;
	struct surroundings around;
	struct view view;
	bool paused, jumping, done, dirty;
	double speed;
	double at_s, since_s; /* run time reached at the monotonic time since_s */
	int more;
};

/* Run time now: stands still while paused or while a jump is worked off. */
static double run_seconds(const struct replay *r)
{
	if (r->paused || r->jumping)
		return r->at_s;
	return r->at_s + (loop_monotonic_s() - r->since_s) * r->speed;
}

static void set_clock(struct replay *r, double at_s)
{
	r->at_s = at_s;
	r->since_s = loop_monotonic_s();
}

static double event_seconds(const struct replay *r, size_t i)
{
	return record_entries(r->record)[i].seconds;
}

static unsigned contexts(const struct replay *r)
{
	unsigned in = r->around.help ? IN_HELP : IN_REPLAY;
	if (r->more > 0 || r->around.scroll > 0)
		in |= IN_SCROLL;
	return in;
}

static void draw(struct replay *r)
{
	struct surroundings *a = &r->around;
	const struct session *s = r->player.session;

	a->contexts = contexts(r);
	a->curve = r->curve.points;
	a->n_curve = r->curve.n;
	a->replay_paused = r->paused;
	a->replay_speed = r->speed;
	a->replay_at = r->player.at;
	a->replay_events = record_n_events(r->record);
	a->recorded = s->n_events;
	a->invented = s->have_reading && strcmp(s->last.note, "virtual bench") == 0;
	a->have_then = r->player.have_then && s->have_reading &&
		(r->setup->other_profile || r->player.verdict_then != s->last.verdict);
	a->verdict_then = r->player.verdict_then;
	if (r->player.trouble[0]) {
		snprintf(a->echo, sizeof a->echo, "%.190s", r->player.trouble);
		a->echo_role = ROLE_CAUTION;
	} else if (r->jumping) {
		snprintf(a->echo, sizeof a->echo, "on the way: event %zu of %zu", r->player.at,
			r->player.goal);
		a->echo_role = ROLE_PLAIN;
	}
	fits_show(&r->fits, s, a);
	advice_show(&r->advice, s, a);
	view_build(s, a, &r->view);
	r->more = loop_draw(r->loop, &r->view);
	r->dirty = false;
}

static void jump(struct replay *r, size_t events)
{
	player_seek(&r->player, events);
	r->fits.ranked = false;
	r->jumping = true;
	r->around.echo[0] = '\0';
}

static void change_speed(struct replay *r, double factor)
{
	set_clock(r, run_seconds(r));
	r->speed = fmin(fmax(r->speed * factor, speed_min), speed_max);
}

static void pause_or_go(struct replay *r, bool pause)
{
	set_clock(r, run_seconds(r));
	r->paused = pause;
}

static void scroll(struct replay *r, int direction)
{
	int page = r->loop->canvas.rows / 2, rows = direction * (page > 1 ? page : 1);
	if (rows > r->more)
		rows = r->more;
	if (rows < -r->around.scroll)
		rows = -r->around.scroll;
	r->around.scroll += rows;
	r->more -= rows; /* the next key may come before the next picture */
}

static void obey(struct replay *r, enum request request)
{
	struct player *p = &r->player;

	if (request >= REQUEST_NEXT_EVENT && request <= REQUEST_LAST_EVENT)
		pause_or_go(r, true); /* who jumps wants to look */
	if (request == REQUEST_PAUSE)
		pause_or_go(r, !r->paused);
	else if (request == REQUEST_FASTER)
		change_speed(r, 2);
	else if (request == REQUEST_SLOWER)
		change_speed(r, 0.5);
	else if (request == REQUEST_NEXT_EVENT)
		jump(r, p->at + 1);
	else if (request == REQUEST_PREVIOUS_EVENT)
		jump(r, p->at > 1 ? p->at - 1 : 1);
	else if (request == REQUEST_NEXT_STAGE)
		jump(r, player_next_stage(p));
	else if (request == REQUEST_PREVIOUS_STAGE)
		jump(r, player_previous_stage(p) > 0 ? player_previous_stage(p) : 1);
	else if (request == REQUEST_FIRST_FINDING)
		jump(r, player_finding(p));
	else if (request == REQUEST_FIRST_EVENT)
		jump(r, 1);
	else if (request == REQUEST_LAST_EVENT)
		jump(r, record_n_events(r->record));
	else if (request == REQUEST_HELP || request == REQUEST_BACK)
		r->around.help = request == REQUEST_HELP, r->around.scroll = r->more = 0;
	else if (request == REQUEST_NEXT_PAGE)
		r->around.page = (r->around.page + 1) % PAGES, r->around.scroll = r->more = 0;
	else if (request == REQUEST_SCROLL_DOWN || request == REQUEST_SCROLL_UP)
		scroll(r, request == REQUEST_SCROLL_DOWN ? 1 : -1);
	else if (request == REQUEST_REDRAW)
		r->loop->anew = true;
	else if (request == REQUEST_QUIT)
		r->done = true;
	if (request == REQUEST_FIRST_FINDING && p->goal == p->at) {
		snprintf(r->around.echo, sizeof r->around.echo,
		         "no (further) finding in this record");
		r->around.echo_role = ROLE_PLAIN;
	}
}

/* Apply what is due by time or asked for by a jump. */
static void work(struct replay *r)
{
	struct player *p = &r->player;
	size_t n = record_n_events(r->record), before = p->at;

	if (!r->jumping && !r->paused) {
		size_t due = p->at;
		double now = run_seconds(r);
		while (due < n && event_seconds(r, due) <= now)
			due++;
		player_seek(p, due);
	}
	bool there = player_work(p, slice_s);
	if (r->jumping && there) {
		r->jumping = false;
		set_clock(r, p->at > 0 ? event_seconds(r, p->at - 1) : 0);
		if (strncmp(r->around.echo, "on the way", 10) == 0)
			r->around.echo[0] = '\0';
	}
	if (!r->jumping && there && !r->paused) {
		(void)session_tick(p->session, run_seconds(r), NULL, 0);
		if (p->at == n)
			pause_or_go(r, true);
	}
	r->dirty |= p->at != before || !there;
}

static double next_due(const struct replay *r)
{
	const struct player *p = &r->player;
	if (r->jumping || p->at < p->goal)
		return 0;
	if (r->paused || p->at == record_n_events(r->record))
		return (double)INFINITY;
	double now = run_seconds(r), due = fmin(event_seconds(r, p->at), floor(now) + 1);
	return fmax((due - now) / r->speed, 0.02); /* no more than fifty pictures a second */
}

static int run_loop(struct replay *r)
{
	struct loop_wake wake;
	struct stroke stroke;
	bool refining = true;
	double second = -1;

	for (;;) {
		work(r);
		if (floor(run_seconds(r)) > second || floor(run_seconds(r)) < second) {
			second = floor(run_seconds(r));
			r->dirty = true;
		}
		if (r->dirty && loop_may_draw(r->loop)) {
			draw(r);
			if (contexts(r) != r->around.contexts)
				draw(r);
		}
		double wait_s = next_due(r);
		if (wait_s > slice_s && fits_wanted(&r->fits, r->player.session)) {
			fits_rank(&r->fits, r->player.session);
			r->dirty = true;
			wait_s = 0;
		} else if (wait_s > slice_s && advice_wanted(&r->advice, r->player.session)) {
			advice_work_out(&r->advice, r->player.session);
			r->dirty = true;
			wait_s = 0;
		} else if (wait_s > slice_s && refining) {
			refining = curve_step(&r->curve);
			r->dirty = true;
			wait_s = 0;
		}
		loop_wait(r->loop, -1, -1, wait_s, &wake);
		if (wake.ended_by)
			return wake.ended_by;
		r->dirty |= wake.redraw;
		r->since_s += wake.stopped_s; /* nobody looked on */
		while (terminal_key(r->loop->terminal, &stroke)) {
			obey(r, keymap_request(contexts(r), stroke));
			r->dirty = true;
			if (r->done)
				return 0;
		}
	}
}

int replay_run(struct loop *loop, const struct replay_setup *setup, struct record *record,
               int *ret_signal, struct err *err)
{
	struct replay *r = calloc(1, sizeof *r);
	int status = -1;

	*ret_signal = 0;
	if (!r) {
		err_set(err, ERR_NOMEM, "out of memory");
		goto out;
	}
	*r = (struct replay){.setup = setup, .loop = loop, .record = record, .speed = setup->speed,
		.dirty = true};
	r->around = (struct surroundings){.title = setup->title, .source = "replay", .replay = true,
		.variac_volts = (double)NAN, .other_profile = setup->other_profile,
		.series_lamp = setup->series_lamp, .like = setup->like,
		.echo_role = ROLE_CAUTION};
	snprintf(r->around.record, sizeof r->around.record, "%s", setup->path);
	snprintf(r->around.echo, sizeof r->around.echo, "%s", setup->remark);
	if (player_init(&r->player, record, &setup->unit, err) != 0)
		goto out;
	curve_init(&r->curve, &setup->unit);
	set_clock(r, 0);
	*ret_signal = run_loop(r);
	status = 0;
	player_release(&r->player);
out:
	loop_close(loop);
	free(r);
	return status;
}
