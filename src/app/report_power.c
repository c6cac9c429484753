#include "app/report_power.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/live.h"
#include "app/player.h"
#include "mainstair/base/text.h"

/* Of the soak; when they are full the older ones, so many, are thinned to half. */
enum { SOAK_POINTS = 2048, SOAK_OLDER = 1536 };
/* Stretches of thinned readings that end where a stage does, besides those that end by their
 * length: a walk up is over in minutes, however long what follows. */
enum { EARLY_ENDS = 150 };

/* Volts that count as full line: a variac's dial is no better. */
static const double same_volts = 0.02; /* of nameplate */
/* And so little is a variac at its end stop. */
static const double zero_volts = 0.03; /* of nameplate */

static const char virtual_source[] = "virtual bench";

/* Of the readings of a stretch, those that a plot must not lose. */
enum stretch_keeps { LEAST_WATTS, MOST_WATTS, LEAST_VOLTS, MOST_VOLTS, WORST, NEWEST, STRETCH_KEEPS };

struct stretch {
	size_t n; /* readings so far */
	struct {
		size_t number; /* from 1, in the order of the readings */
		struct report_point at;
	} keep[STRETCH_KEEPS];
};

struct gathering {
	struct report_power *p;
	struct player player;
	const struct run_unit *unit;
	size_t length; /* readings of a stretch; 1: every one is kept */
	struct stretch stretch;
	int stage;       /* that its readings are of */
	int early_ends;  /* so many stretches may still end where the stage changes */
	/* still open; -1.  judged: an abort that only this judgement has, not the record */
	int reading_finding, abort_finding, judged_finding, stop_finding, blind_finding;
	struct live_end end;
	double end_full_line_s;     /* for live_end_follow() */
	double full_since_s;        /* at full line since; NAN: not there */
	struct soak_point soak[SOAK_POINTS];
	size_t n_soak;
	double soak_abort_watts;
};

/* --- findings --------------------------------------------------------------------------------- */

static int open_finding(struct gathering *g, const struct event *ev, const char *what)
{
	struct report_power *p = g->p;
	struct report_finding *f;

	if (p->n_findings == REPORT_FINDINGS_MAX) {
		p->findings_beyond++;
		return -1;
	}
	f = &p->finding[p->n_findings];
	*f = (struct report_finding){.kind = ev->kind,
	                             .verdict = ev->verdict,
	                             .seconds = ev->seconds,
	                             .volts = ev->volts,
	                             .watts = ev->watts,
	                             .readings = ev->kind == EVENT_READING,
	                             .ended_s = NAN};
	(void)snprintf(f->what, sizeof f->what, "%.250s", what);
	return p->n_findings++;
}

static void close_finding(struct gathering *g, int *finding, double seconds, const char *end)
{
	if (*finding >= 0) {
		struct report_finding *f = &g->p->finding[*finding];

		f->ended_s = seconds;
		(void)snprintf(f->end, sizeof f->end, "%.250s", end);
	}
	*finding = -1;
}

static void close_all(struct gathering *g, double seconds, const char *end)
{
	close_finding(g, &g->reading_finding, seconds, end);
	close_finding(g, &g->blind_finding, seconds, end);
}

static void follow_reading(struct gathering *g, const struct event *ev)
{
	const bool finding = ev->verdict == VERDICT_OVER || ev->verdict == VERDICT_UNDER;
	struct report_finding *open;

	close_finding(g, &g->blind_finding, ev->seconds, "readings came again");
	if (ev->volts < zero_volts * g->p->line_volts) /* as the prompt asks, acknowledged or not */
		close_finding(g, &g->abort_finding, ev->seconds, "the line was at zero");
	if (g->player.own_abort && g->judged_finding < 0) {
		/* nobody was there to acknowledge it */
		close_all(g, ev->seconds, "it came to an abort");
		g->judged_finding = open_finding(g, ev, "over the abort line as judged now");
	} else if (ev->verdict == VERDICT_IN_BAND) {
		close_finding(g, &g->judged_finding, ev->seconds, "back in its band");
		close_finding(g, &g->reading_finding, ev->seconds, "back in its band");
	} else if (finding) {
		open = g->reading_finding >= 0 ? &g->p->finding[g->reading_finding] : NULL;
		if (open && open->verdict == ev->verdict) {
			open->readings++;
			return;
		}
		close_finding(g, &g->reading_finding, ev->seconds, verdict_word(ev->verdict));
		g->reading_finding = open_finding(g, ev, verdict_word(ev->verdict));
	}
}

/* "no: PROMPT", until the same is answered with yes. */
static void follow_look(struct gathering *g, const struct event *ev)
{
	const char *prompt = strchr(ev->note, ' ');

	if (strncmp(ev->note, "no:", 3) == 0) {
		(void)open_finding(g, ev, ev->note);
		return;
	}
	for (int i = 0; prompt && i < g->p->n_findings; i++) {
		struct report_finding *f = &g->p->finding[i];
		int at = i;

		if (f->kind == EVENT_LOOK && isnan(f->ended_s) &&
		    strncmp(f->what + 3, prompt, strlen(f->what) - 3) == 0)
			close_finding(g, &at, ev->seconds, "answered yes later");
	}
}

static void follow_event(struct gathering *g, const struct event *ev)
{
	switch (ev->kind) {
	case EVENT_ABORT_RAISED:
		if (ev->stage >= 0 && ev->stage < g->p->n_stages)
			g->p->stage[ev->stage].reached = g->p->stage[ev->stage].aborted = true;
		close_all(g, ev->seconds, "it came to an abort");
		g->abort_finding = open_finding(g, ev, ev->note);
		break;
	case EVENT_ABORT_ACKNOWLEDGED:
		close_finding(g, &g->abort_finding, ev->seconds, "acknowledged: variac to zero");
		break;
	case EVENT_STOP:
		close_all(g, ev->seconds, "the stop key");
		g->stop_finding = open_finding(g, ev, ev->note);
		break;
	case EVENT_STOP_ACKNOWLEDGED:
		close_finding(g, &g->stop_finding, ev->seconds, "acknowledged: plug out");
		break;
	case EVENT_BLIND:
		g->blind_finding = open_finding(g, ev, ev->note);
		break;
	case EVENT_LOOK:
		follow_look(g, ev);
		break;
	case EVENT_END:
		g->p->ended = true;
		break;
	case EVENT_IMPOSSIBLE:
		g->p->impossible++;
		break;
	case EVENT_START:
	case EVENT_CAUTIONS:
	case EVENT_STAGE:
	case EVENT_READING:
	case EVENT_RAIL:
	case EVENT_MEASURED:
	case EVENT_QUESTIONED:
	case EVENT_METER:
	case EVENT_NOTE:
	case EVENT_KINDS:
		break;
	}
}

/* --- readings --------------------------------------------------------------------------------- */

/* "typed, modbus": every source once, as far as there is room.  What stands behind a `;` in the
 * note is about that one reading. */
static void note_source(struct report_power *p, const char *note)
{
	const size_t have = strlen(p->source);
	char source[sizeof p->source];

	(void)snprintf(source, sizeof source, "%.*s", (int)strcspn(note, ";"), note);
	p->virtual_bench |= strcmp(source, virtual_source) == 0;
	if (!source[0] || strstr(p->source, source))
		return;
	(void)snprintf(p->source + have, sizeof p->source - have, "%s%.40s", have > 0 ? ", " : "",
	               source);
}

/* For the drift at full line: the newest ones as they came, the further back the fewer. */
static void follow_soak(struct gathering *g, const struct report_point *at)
{
	const double full = g->p->stage[g->p->n_stages - 1].volts;

	/* a fault is no drift: the soak ended with the reading before, and goes on when it is
	 * back */
	if (at->verdict == VERDICT_OVER || at->verdict == VERDICT_ABORT)
		return;
	if (fabs(at->volts - full) > same_volts * g->p->line_volts) {
		g->full_since_s = NAN;
		return;
	}
	if (isnan(g->full_since_s)) {
		g->full_since_s = at->seconds;
		g->n_soak = 0;
	}
	g->p->soaked = true;
	g->p->soak_volts = at->volts;
	g->p->soak_s = at->seconds - g->full_since_s;
	if (!at->settled)
		return; /* warming up is no drift */
	if (g->n_soak == SOAK_POINTS) {
		for (size_t i = 0; i < SOAK_OLDER / 2; i++)
			g->soak[i] = g->soak[2 * i];
		memmove(g->soak + SOAK_OLDER / 2, g->soak + SOAK_OLDER,
		        (SOAK_POINTS - SOAK_OLDER) * sizeof *g->soak);
		g->n_soak -= SOAK_OLDER / 2;
	}
	g->soak[g->n_soak++] = (struct soak_point){at->seconds, at->watts};
	g->soak_abort_watts = at->abort_watts;
}

/* Whether a stage is told by this reading: an abort stands until a settled reading of a later try. */
static bool stage_takes(const struct report_stage *stage, const struct report_point *at)
{
	return at->verdict == VERDICT_ABORT || at->settled ||
	       (!stage->aborted && !stage->judged);
}

/* The points of the stretch in the order they were read, each once. */
static void end_stretch(struct gathering *g)
{
	struct report_power *p = g->p;
	struct stretch *st = &g->stretch;

	for (size_t number = 0; st->n > 0;) {
		int next = -1;

		for (int i = 0; i < STRETCH_KEEPS; i++)
			if (st->keep[i].number > number &&
			    (next < 0 || st->keep[i].number < st->keep[next].number))
				next = i;
		if (next < 0 || p->n_points == REPORT_POINTS_MAX)
			break;
		p->point[p->n_points++] = st->keep[next].at;
		number = st->keep[next].number;
	}
	st->n = 0;
}

static void keep_if(struct stretch *st, enum stretch_keeps which, bool is_so,
                    const struct report_point *at)
{
	if (st->n == 1 || is_so) {
		st->keep[which].number = st->n;
		st->keep[which].at = *at;
	}
}

static void keep_point(struct gathering *g, const struct report_point *at, int stage)
{
	struct stretch *st = &g->stretch;

	if (stage != g->stage && g->early_ends > 0) {
		g->early_ends -= st->n > 0;
		end_stretch(g);
	}
	g->stage = stage;
	st->n++;
	keep_if(st, LEAST_WATTS, at->watts < st->keep[LEAST_WATTS].at.watts, at);
	keep_if(st, MOST_WATTS, at->watts > st->keep[MOST_WATTS].at.watts, at);
	keep_if(st, LEAST_VOLTS, at->volts < st->keep[LEAST_VOLTS].at.volts, at);
	keep_if(st, MOST_VOLTS, at->volts > st->keep[MOST_VOLTS].at.volts, at);
	keep_if(st, WORST, at->verdict > st->keep[WORST].at.verdict, at);
	keep_if(st, NEWEST, true, at);
	if (st->n == g->length)
		end_stretch(g);
}

/* going_down: an alarm was up before it; what is read on the way to zero is no stage's. */
static void take_reading(struct gathering *g, const struct event *ev, enum verdict then,
                         bool going_down)
{
	const struct session *s = g->player.session;
	struct report_power *p = g->p;
	const struct session_point *newest;
	struct report_point at;

	p->readings++;
	note_source(p, ev->note);
	if (s->n_points == 0 || !isfinite(ev->watts))
		return; /* amps alone have no band to be drawn in */
	newest = &s->points[(s->points_first + s->n_points - 1) % SESSION_READINGS_MAX];
	at = (struct report_point){ev->seconds,  ev->volts,           ev->watts,   newest->low,
	                           newest->high, newest->abort_watts, ev->verdict, s->settled};
	keep_point(g, &at, ev->stage);
	p->changed += then != ev->verdict;
	p->highest_volts = fmax(p->highest_volts, ev->volts);
	p->last = ev->verdict;
	if (ev->stage >= 0 && ev->stage < p->n_stages && !going_down) {
		struct report_stage *stage = &p->stage[ev->stage];

		stage->reached = true;
		if (stage_takes(stage, &at)) {
			stage->reading = at;
			stage->expected = s->band.expected;
			stage->judged |= s->settled;
			stage->aborted = ev->verdict == VERDICT_ABORT;
		}
	}
	follow_reading(g, ev);
	follow_soak(g, &at);
}

/* The session's own reading of the rail or winding that the event names; NULL: it has none. */
static const struct session_probe *probe_of(const struct session *s, const struct event *ev)
{
	const char *name = strchr(ev->note, ' ');

	if (!name)
		return NULL;
	if (strncmp(ev->note, "rail ", 5) == 0) {
		for (int i = 0; i < s->net->n_rails; i++)
			if (text_same(name + 1, s->net->rails[i].name))
				return &s->rail_probes[i];
		return NULL;
	}
	for (int i = 0; i < s->net->n_windings; i++)
		if (text_same(name + 1, s->net->windings[i].name))
			return &s->winding_probes[i];
	return NULL;
}

static void keep_probe(struct gathering *g, const struct event *ev)
{
	const struct session_probe *probe = probe_of(g->player.session, ev);
	struct report_power *p = g->p;
	struct report_probe *to;

	if (p->n_probes == REPORT_PROBES_MAX) {
		p->probes_beyond++;
		return;
	}
	to = &p->probe[p->n_probes++];
	*to = (struct report_probe){.seconds = ev->seconds,
	                            .volts = ev->volts,
	                            .line_volts = NAN,
	                            .low = NAN,
	                            .expected = NAN,
	                            .high = NAN,
	                            .verdict = VERDICT_UNKNOWN};
	(void)snprintf(to->where, sizeof to->where, "%.60s", ev->note);
	if (!probe || probe->seconds < 0)
		return;
	to->line_volts = probe->line_volts;
	to->verdict = probe->verdict;
	if (probe->verdict == VERDICT_UNKNOWN)
		return;
	to->low = probe->band.low;
	to->expected = probe->band.expected;
	to->high = probe->band.high;
}

static void keep_event(struct report_power *p, const struct event *ev)
{
	struct report_event *e;

	if (p->n_events == REPORT_EVENTS_MAX) {
		p->events_beyond++;
		return;
	}
	e = &p->event[p->n_events++];
	*e = (struct report_event){
	        .seconds = ev->seconds, .kind = ev->kind, .volts = ev->volts, .watts = ev->watts};
	(void)snprintf(e->note, sizeof e->note, "%.250s", ev->note);
}

static int walk(struct gathering *g, struct record *record, struct err *err)
{
	const size_t n = record_n_events(record);
	double last_s = 0;

	for (size_t i = 0; i < n; i++) {
		const struct session *s = g->player.session;
		const int stage = s->stage;
		const bool going_down = s->phase == PHASE_ABORT || s->phase == PHASE_STOPPED;
		struct event ev;
		enum verdict then;

		if (player_step(&g->player, &ev, &then, err) != 0)
			return -1;
		if (stage >= 0 && stage < g->p->n_stages)
			g->p->stage[stage].stayed_s += ev.seconds - last_s;
		last_s = ev.seconds;
		live_end_follow(&g->end, g->player.session, &g->end_full_line_s);
		if (ev.kind == EVENT_LOOK && stage >= 0 && stage < g->p->n_stages) {
			g->p->stage[stage].looks_yes += strncmp(ev.note, "yes:", 4) == 0;
			g->p->stage[stage].looks_no += strncmp(ev.note, "no:", 3) == 0;
		}
		/* behind the end nothing is judged any more */
		if (ev.kind == EVENT_READING && !s->ended)
			take_reading(g, &ev, then, going_down);
		else
			keep_event(g->p, &ev);
		if (ev.kind == EVENT_RAIL)
			keep_probe(g, &ev);
		follow_event(g, &ev);
	}
	end_stretch(g);
	g->p->duration_s = last_s;
	(void)snprintf(g->p->word, sizeof g->p->word, "%s", g->end.word);
	return 0;
}

/* The settled band over volts. */
static void make_curve(struct report_power *p, const struct run_unit *unit)
{
	const double top = fmax(p->highest_volts, p->stage[p->n_stages - 1].volts) * 1.02;

	for (int i = 0; i < REPORT_CURVE_POINTS; i++)
		p->curve_volts[i] = top * (i + 1) / REPORT_CURVE_POINTS;
	p->n_curve = REPORT_CURVE_POINTS;
	(void)bands_along(unit->network, unit->rule, unit->meter, p->curve_volts,
	                  REPORT_CURVE_POINTS, p->curve);
}

void report_power_missing(struct report_power *ret, const char *why)
{
	*ret = (struct report_power){
	        .started_s = NAN, .entered_s = NAN, .told_volts = NAN, .told_soak_s = NAN};
	(void)snprintf(ret->trouble, sizeof ret->trouble, "%.250s", why);
}

void report_power_release(struct report_power *p)
{
	free(p->point);
	free(p->finding);
	free(p->event);
	free(p->probe);
	p->probe = NULL;
	p->point = NULL;
	p->finding = NULL;
	p->event = NULL;
}

/* Stages as planned, the head, and room for the lists. */
static int begin(struct gathering *g, struct record *record, struct err *err)
{
	const struct record_head *head = record_head(record);
	struct report_power *p = g->p;
	size_t n_readings = 0;

	*p = (struct report_power){.started_s = (double)head->started_s,
	                           .line_volts = g->unit->network->line_volts,
	                           .meter = *g->unit->meter,
	                           .entered_s = NAN,
	                           .told_volts = NAN,
	                           .told_soak_s = NAN,
	                           .soak_volts = NAN};
	(void)snprintf(p->program, sizeof p->program, "%.60s", head->program ? head->program : "");
	p->point = malloc(REPORT_POINTS_MAX * sizeof *p->point);
	p->finding = malloc(REPORT_FINDINGS_MAX * sizeof *p->finding);
	p->event = malloc(REPORT_EVENTS_MAX * sizeof *p->event);
	p->probe = malloc(REPORT_PROBES_MAX * sizeof *p->probe);
	if (!p->point || !p->finding || !p->event || !p->probe)
		return err_set(err, ERR_NOMEM, "out of memory");
	p->n_stages = g->unit->plan->n_stages;
	for (int i = 0; i < p->n_stages; i++) {
		p->stage[i].volts = g->unit->plan->stages[i].volts;
		p->stage[i].looks = g->unit->plan->stages[i].n_looks;
		p->stage[i].reading =
		        (struct report_point){NAN, NAN, NAN, NAN, NAN, NAN, VERDICT_UNKNOWN, false};
		p->stage[i].expected = NAN;
	}
	for (size_t i = 0; i < record_n_events(record); i++)
		n_readings += record_entries(record)[i].kind == EVENT_READING;
	p->thinned = n_readings > REPORT_POINTS_MAX;
	g->length = !p->thinned ? 1
	            : n_readings / (REPORT_POINTS_MAX / STRETCH_KEEPS - EARLY_ENDS - 1) + 1;
	g->early_ends = EARLY_ENDS;
	return player_init(&g->player, record, g->unit, err);
}

int report_power_gather(struct report_power *ret, struct record *record,
                        const struct run_unit *unit, struct err *err)
{
	struct gathering *g = calloc(1, sizeof *g);
	int status = -1;

	*ret = (struct report_power){0};
	if (!g)
		return err_set(err, ERR_NOMEM, "out of memory");
	g->p = ret;
	g->unit = unit;
	g->reading_finding = g->abort_finding = g->judged_finding = -1;
	g->stop_finding = g->blind_finding = -1;
	g->full_since_s = g->end_full_line_s = NAN;
	g->end = (struct live_end){"left", NAN, NAN};
	if (begin(g, record, err) == 0 && walk(g, record, err) == 0) {
		make_curve(ret, unit);
		soak_judge(g->soak, g->n_soak, g->soak_abort_watts, &ret->soak);
		status = 0;
	}
	player_release(&g->player);
	free(g);
	if (status != 0)
		report_power_release(ret);
	return status;
}
