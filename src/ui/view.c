/* ui/view.c - see view.h */
#include "ui/view.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static const struct {
	const char *name;
	enum glyph glyph;
} verdict_marks[] = {
	[VERDICT_UNKNOWN] = {"UNKNOWN", GLYPH_UNKNOWN},
	[VERDICT_SETTLING] = {"SETTLING", GLYPH_SETTLING},
	[VERDICT_IN_BAND] = {"IN BAND", GLYPH_GOOD},
	[VERDICT_UNDER] = {"UNDER", GLYPH_UNDER},
	[VERDICT_OVER] = {"OVER", GLYPH_OVER},
	[VERDICT_ABORT] = {"ABORT", GLYPH_ABORT},
};

const char *view_verdict_name(enum verdict v)
{
	return verdict_marks[v].name;
}

enum glyph view_verdict_glyph(enum verdict v)
{
	return verdict_marks[v].glyph;
}

void view_clock(double seconds, char ret[16])
{
	unsigned s = seconds >= 1 && seconds < 3.6e8 ? (unsigned)seconds : 0;
	if (s < 3600)
		snprintf(ret, 16, "%u:%02u", s / 60, s % 60);
	else
		snprintf(ret, 16, "%u:%02u:%02u", s / 3600, s / 60 % 60, s % 60);
}

/* Append formatted text to what ret already holds; cut to fit. */
__attribute__((format(printf, 3, 4)))
static void append(char *ret, size_t size, const char *format, ...)
{
	size_t n = strnlen(ret, size - 1);
	va_list ap;
	va_start(ap, format);
	vsnprintf(ret + n, size - n, format, ap);
	va_end(ap);
}

void view_event_line(const struct event *ev, char *ret, size_t size)
{
	ret[0] = '\0';
	append(ret, size, "%s", event_word(ev->kind));
	if (isfinite(ev->volts))
		append(ret, size, " %.1f V", ev->volts);
	if (isfinite(ev->watts))
		append(ret, size, " %.2f W", ev->watts);
	if (isfinite(ev->amps))
		append(ret, size, " %.3f A", ev->amps);
	if (ev->kind == EVENT_READING || (ev->kind == EVENT_RAIL && ev->verdict != VERDICT_UNKNOWN))
		append(ret, size, " %s", verdict_word(ev->verdict));
	if (ev->note[0])
		append(ret, size, "  %s", ev->note);
}

bool view_curve_at(const struct view *v, double volts, struct curve_point *ret)
{
	const struct curve_point *c = v->around.curve;
	int n = v->around.n_curve;
	if (n < 1 || !(volts >= c[0].volts && volts <= c[n - 1].volts))
		return false;
	int i = 1;
	while (i < n && c[i].volts < volts)
		i++;
	if (i == n) {
		*ret = c[n - 1];
		return true;
	}
	double t = (volts - c[i - 1].volts) / (c[i].volts - c[i - 1].volts);
	*ret = (struct curve_point){
		.volts = volts,
		.low = c[i - 1].low + t * (c[i].low - c[i - 1].low),
		.expected = c[i - 1].expected + t * (c[i].expected - c[i - 1].expected),
		.high = c[i - 1].high + t * (c[i].high - c[i - 1].high),
		.abort_watts = c[i - 1].abort_watts + t * (c[i].abort_watts - c[i - 1].abort_watts),
	};
	return true;
}

/* Less than so much to the abort line is no slow drift any more. */
static const double runaway_soon_s = 3600;

/* "+1.24 +/- 0.30 W/h" */
static void soak_slope(const struct soak *soak, char *ret, size_t size)
{
	snprintf(ret, size, "%+.2f +/- %.2f W/h", soak->slope_w_per_h, soak->slope_error);
}

/* What is warm to its core after that will stay so (common practice, no source). */
static const double soak_usual_s = 3600;

static void say_soak(const struct session *s, struct view *v)
{
	const struct soak *soak = &v->soak;
	const double soaked_s = s->now_s - s->stages[s->stage].entered_s;
	char clock[16], slope[64];

	view_clock(soaked_s, clock);
	snprintf(v->instruction, sizeof v->instruction, soaked_s < soak_usual_s
		? "Full line: let it soak, %s of the usual hour so far; stay with it"
		: "Full line: soaked for %s; stay with it while it is on", clock);
	if (!soak->known) {
		snprintf(v->how, sizeof v->how, "drift is known after some minutes");
		return;
	}
	soak_slope(soak, slope, sizeof slope);
	if (isfinite(soak->runaway_in_s)) {
		view_clock(soak->runaway_in_s, clock);
		snprintf(v->how, sizeof v->how, "%s; step down before it gets there", slope);
		if (soak->runaway_in_s < runaway_soon_s) {
			snprintf(v->instruction, sizeof v->instruction,
				"The watts climb: at this rate the abort line in %.0f min",
				floor(soak->runaway_in_s / 60));
			v->instruction_role = ROLE_CAUTION;
		} else {
			snprintf(v->how, sizeof v->how, "climbing, %s; abort line in about %s",
				slope, clock);
		}
	} else if (soak->stable) {
		snprintf(v->how, sizeof v->how, "stable: %s%s", slope, soaked_s < soak_usual_s ||
			v->around.replay ? "" : "; calibrate while it is warm, or q ends the run");
	} else if (isfinite(soak->stable_in_s)) {
		view_clock(soak->stable_in_s, clock);
		snprintf(v->how, sizeof v->how, "%s; stable in about %s", slope, clock);
	} else {
		snprintf(v->how, sizeof v->how, "%s; not stable yet", slope);
	}
}

int view_soak_lines(const struct soak *soak, char ret[VIEW_SOAK_LINES][VIEW_FACT_MAX])
{
	char clock[16], slope[64];
	int n = 0;

	if (!soak->known) {
		snprintf(ret[n++], VIEW_FACT_MAX,
			"not known yet: it takes 8 readings over two minutes");
		return n;
	}
	soak_slope(soak, slope, sizeof slope);
	view_clock(soak->window_s, clock);
	snprintf(ret[n++], VIEW_FACT_MAX, "drift since full line was reached: %+.2f W",
		soak->drift_watts);
	snprintf(ret[n++], VIEW_FACT_MAX, "slope over the last %s: %s", clock, slope);
	if (isfinite(soak->runaway_in_s)) {
		snprintf(ret[n++], VIEW_FACT_MAX,
			"climbing for sure: at this rate the abort line in %.0f min",
			floor(soak->runaway_in_s / 60));
	} else if (soak->stable) {
		snprintf(ret[n++], VIEW_FACT_MAX, "stable");
	} else if (isfinite(soak->stable_in_s)) {
		view_clock(soak->stable_in_s, clock);
		snprintf(ret[n++], VIEW_FACT_MAX, "stable in about %s, if it goes on as it has",
			clock);
	} else {
		snprintf(ret[n++], VIEW_FACT_MAX, "not stable; when it will be cannot be told yet");
	}
	return n;
}

static const char too_little[] =
	"too little: open heater, dead rail, switch off, meter on the wrong outlet?";
static const char too_much[] = "more than a healthy unit draws: find out why, or step down";

/* Under a finding: that nothing fits, what fits best, or what the finding means at all. */
static void say_fits(struct view *v, const char *meaning)
{
	const struct surroundings *a = &v->around;
	const char *second = a->fits_told_apart || a->n_fits == 0 ? NULL
		: a->n_fits > 1 ? a->fits[1].brief : "a healthy unit";

	if (a->poor[0] && a->n_fits > 0)
		snprintf(v->how, sizeof v->how, "%s; nearest: %s", a->poor, a->fits[0].brief);
	else if (a->poor[0])
		snprintf(v->how, sizeof v->how, "%s", a->poor);
	else if (a->n_fits > 0)
		snprintf(v->how, sizeof v->how, "fits best: %s%s%s", a->fits[0].brief,
			second ? "; or " : "", second ? second : "");
	else
		snprintf(v->how, sizeof v->how, "%s", meaning);
}

/* Watts in band, and a voltmeter that speaks against the unit: "rail main reads 0 V, 151 to 178 V
 * expected". */
static void say_probe(const struct session *s, const struct session_probe *p, enum observed what,
                      int index, struct view *v)
{
	const bool rail = what == OBSERVED_RAIL_VOLTS;
	const int places = rail ? 0 : 2;
	char meaning[sizeof v->instruction];

	snprintf(v->instruction, sizeof v->instruction,
	         "Hold here: %s %s reads %.*f V, %.*f to %.*f expected", rail ? "rail" : "heater",
	         rail ? s->net->rails[index].name : s->net->windings[index].name, places,
	         fabs(p->volts), places, p->band.low, places, p->band.high);
	snprintf(meaning, sizeof meaning, "%s; find out why, or read it again",
	         p->verdict == VERDICT_UNDER ? "a short, a leak, or nothing comes through"
	                                     : "what loads it does not draw");
	say_fits(v, meaning);
}

/* What to do, and how, in words. */
static void instruct(const struct session *s, struct view *v)
{
	const struct surroundings *a = &v->around;
	const char *entry = "then type what the meter reads, as in: 50 5.2";
	const struct stage *next = v->stage_next >= 0 ? &s->plan->stages[v->stage_next] : NULL;
	const struct session_probe *probe;
	enum observed probed;
	int index;
	char clock[16];

	view_clock(ceil(s->instruction_s), clock);
	v->instruction_role = ROLE_MUST;
	if (a->replay)
		entry = "";
	else if (isfinite(a->variac_volts))
		entry = "key s takes the virtual variac there, + and - move it";
	else if (!a->typed_only)
		entry = "the meter follows";

#define SAY(...) snprintf(v->instruction, sizeof v->instruction, __VA_ARGS__)
#define HOW(...) snprintf(v->how, sizeof v->how, __VA_ARGS__)
	switch (s->instruction) {
	case DO_ACKNOWLEDGE:
		SAY(a->replay ? "Before the cautions were acknowledged"
			: "Read the cautions, then press a");
		break;
	case DO_SET_VARIAC:
		if (!session_may_choose(s, 1)) { /* there was an alarm, and nothing has been read
		                                    since */
			SAY("Find out why first. Only then: set the variac to %.0f V",
				s->instruction_volts);
			HOW("%s", a->fits_of_abort ? "Tab: what fitted the abort, and what would tell"
				: entry);
			v->instruction_role = ROLE_CAUTION;
			break;
		}
		SAY(a->series_lamp ? "Turn the variac until the unit has %.0f V"
			: "Set the variac to %.0f V", s->instruction_volts);
		HOW("%s", a->lamp[0] ? a->lamp : entry);
		break;
	case DO_READ:
		SAY("Read volts and watts");
		HOW("%s", a->typed_only ? "type them, as in: 50 5.2"
			: a->replay ? "" : "waiting for the meter");
		break;
	case DO_HOLD:
		SAY(s->settled ? "Hold: %s left" : "Hold, settling: %s left", clock);
		HOW("%s", a->typed_only ? "then type volts and watts again"
			: v->plan_stage ? v->plan_stage->why : "");
		break;
	case DO_LOOK:
		if (v->look >= 0 && v->looks_not_so >> v->look & 1) {
			SAY("Not so: %s", v->plan_stage->looks[v->look]);
			HOW("%s", a->replay ? "" : "find out why before you step up; y: it is so now");
			break;
		}
		SAY("Look: %s",
		    v->look >= 0 ? v->plan_stage->looks[v->look] : "is all as it should be?");
		HOW("%s", a->replay ? ""
			: v->look >= 0 && v->plan_stage->look_dangers >> v->look & 1
			? "y: none of it   n: STOP, plug out"
			: "y: as it should be   n: not so");
		break;
	case DO_STEP_UP:
		SAY(a->series_lamp ? "Step up: turn the variac until the unit has %.0f V"
			: "Step up: set the variac to %.0f V", s->instruction_volts);
		HOW("%s", a->lamp[0] ? a->lamp
			: next && next->why[0] && !s->plan->from_profile ? next->why : entry);
		break;
	case DO_HOLD_HERE:
		probe = session_probe_against(s, &probed, &index);
		if (probe && v->verdict == VERDICT_IN_BAND) {
			say_probe(s, probe, probed, index, v);
		} else {
			SAY("Hold here. Do not step up");
			say_fits(v, v->verdict == VERDICT_UNDER ? too_little : too_much);
		}
		v->instruction_role = ROLE_CAUTION;
		break;
	case DO_STEP_DOWN:
		SAY("Too long at this stage: go to %.0f V", s->instruction_volts);
		HOW("half-warm cathodes suffer when plate current flows for long");
		v->instruction_role = ROLE_CAUTION;
		break;
	case DO_SOAK:
		say_soak(s, v);
		break;
	case DO_ABORT:
		SAY("ABORT: variac to zero, plug out");
		v->instruction_role = ROLE_DANGER;
		break;
	case DO_ZERO_VARIAC:
		SAY(s->blind ? "No reading: variac to zero" : "Variac to zero");
		HOW("%s", s->blind ? "no reading is never a good reading: mend the meter first"
			: "then begin again from the first stage");
		v->instruction_role = ROLE_CAUTION;
		break;
	case DO_NOTHING:
		SAY("The run has ended");
		v->instruction_role = ROLE_STRONG;
		break;
	}
#undef SAY
#undef HOW
}

/* Less of nameplate volts than this is as good as off (common practice). */
static const double off_share = 0.03;

static void build_number(const struct session *s, struct view *v)
{
	v->have_reading = s->have_reading;
	v->blind = s->blind;
	v->volts = v->watts = v->amps = v->power_factor = v->age_s = NAN;
	v->at_volts = v->low = v->expected = v->high = v->abort_watts = NAN;
	v->verdict = VERDICT_UNKNOWN;
	const struct band *band = NULL;
	if (s->have_reading) {
		v->volts = s->last.volts;
		v->watts = s->last.watts;
		v->amps = s->last.amps;
		v->power_factor = s->last.power_factor;
		v->age_s = fmax(s->now_s - s->last.seconds, 0);
		v->verdict = s->blind ? VERDICT_UNKNOWN : s->last.verdict;
		v->moment = !s->settled && !s->blind &&
			s->last.volts >= off_share * s->net->line_volts;
		band = &s->band;
	} else if (v->stage_next >= 0) {
		band = &s->plan->stages[v->stage_next].band;
	}
	if (!band)
		return;
	v->at_volts = band->volts;
	v->low = band->low;
	v->expected = band->expected;
	v->high = band->high;
	v->abort_watts = band->abort_watts;
}

void view_essence(const char *fact, char ret[VIEW_FACT_MAX])
{
	const char *colon = strstr(fact, ": ");
	snprintf(ret, VIEW_FACT_MAX, "%.*s", colon ? (int)(colon - fact) : VIEW_FACT_MAX - 1, fact);
}

/* Two facts are of the same thing when their essences are equal. */
static bool has_fact(char facts[][VIEW_FACT_MAX], int n, const char *fact)
{
	char a[VIEW_FACT_MAX], b[VIEW_FACT_MAX];
	view_essence(fact, a);
	for (int i = 0; i < n; i++) {
		view_essence(facts[i], b);
		if (strcmp(a, b) == 0)
			return true;
	}
	return false;
}

static void add_fact(char facts[][VIEW_FACT_MAX], int *n, const char *fact)
{
	if (*n < VIEW_FACTS_MAX && !has_fact(facts, *n, fact))
		snprintf(facts[(*n)++], VIEW_FACT_MAX, "%.*s", VIEW_FACT_MAX - 1, fact);
}

/* "a dead short on rail main: ruled out" as it stands under a heading that says so. */
static const char *under_heading(const char *fact, char ret[VIEW_FACT_MAX])
{
	static const char ending[] = ": ruled out";
	const size_t n = strlen(fact), tail = sizeof ending - 1;

	snprintf(ret, VIEW_FACT_MAX, "%s", fact);
	if (n > tail && n < VIEW_FACT_MAX && strcmp(fact + n - tail, ending) == 0)
		ret[n - tail] = '\0';
	return ret;
}

/* Proved: what the good readings of all passed stages rule out.  Not proved: what the highest
 * of them leaves open, or all that the first stage speaks of while none is passed. */
static void build_proofs(const struct session *s, struct view *v)
{
	const struct plan *plan = s->plan;
	int last = -1;
	for (int i = 0; i < plan->n_stages; i++) {
		if (!s->stages[i].passed)
			continue;
		last = i;
		for (int k = 0; k < plan->stages[i].n_proved; k++) {
			char fact[VIEW_FACT_MAX];
			add_fact(v->proved, &v->n_proved, under_heading(plan->stages[i].proved[k], fact));
		}
	}
	const struct stage *from = &plan->stages[last < 0 ? 0 : last];
	for (int k = 0; k < from->n_proved && last < 0; k++) {
		char essence[VIEW_FACT_MAX], fact[2 * VIEW_FACT_MAX];
		view_essence(from->proved[k], essence);
		snprintf(fact, sizeof fact, "%s: the %.0f V stage will tell", essence, from->volts);
		add_fact(v->not_proved, &v->n_not_proved, fact);
	}
	/* what the watts leave open there the volts of a rail may tell */
	for (int k = 0; k < from->n_not_proved && last >= 0; k++) {
		char essence[VIEW_FACT_MAX], fact[2 * VIEW_FACT_MAX];
		const int rail = from->volts_tell[k];
		if (rail < 0 || !session_rail_is_well(s, rail, last))
			continue;
		view_essence(from->not_proved[k], essence);
		snprintf(fact, sizeof fact, "%s: ruled out by its volts", essence);
		add_fact(v->proved, &v->n_proved, fact);
	}
	for (int k = 0; k < from->n_not_proved; k++)
		if (!has_fact(v->proved, v->n_proved, from->not_proved[k]))
			add_fact(v->not_proved, &v->n_not_proved, from->not_proved[k]);
}

static void build_stages(const struct session *s, struct view *v)
{
	v->n_stages = s->plan->n_stages;
	for (int i = 0; i < v->n_stages; i++) {
		const struct stage *stage = &s->plan->stages[i];
		const struct session_stage *seen = &s->stages[i];
		v->stages[i] = (struct view_stage){
			.volts = stage->volts,
			.hold_s = stage->hold_s,
			.low = seen->have_reading ? seen->low : stage->band.low,
			.high = seen->have_reading ? seen->high : stage->band.high,
			.moment = seen->have_reading && !seen->settled,
			.visited = seen->visited,
			.here = i == s->stage,
			.have_reading = seen->have_reading,
			.passed = seen->passed,
			.read_volts = seen->have_reading ? seen->reading.volts : NAN,
			.read_watts = seen->have_reading ? seen->reading.watts : NAN,
			.verdict = seen->have_reading ? seen->reading.verdict : VERDICT_UNKNOWN,
		};
	}
	v->stage = s->stage;
	v->stage_next = -1;
	if (s->instruction == DO_SET_VARIAC || s->instruction == DO_STEP_UP ||
	    s->instruction == DO_ACKNOWLEDGE || s->instruction == DO_ZERO_VARIAC) {
		double volts = s->instruction_volts;
		v->stage_next = 0;
		for (int i = 0; i < v->n_stages && s->instruction != DO_ZERO_VARIAC; i++)
			if (fabs(v->stages[i].volts - volts) <
			    fabs(v->stages[v->stage_next].volts - volts))
				v->stage_next = i;
	}
	v->plan_stage_index = s->stage >= 0 ? s->stage : v->stage_next;
	v->plan_stage = v->plan_stage_index >= 0 ? &s->plan->stages[v->plan_stage_index] : NULL;
	v->look = -1;
	if (s->stage >= 0) {
		v->looks_answered = s->stages[s->stage].looks_answered;
		v->looks_not_so = s->stages[s->stage].looks_not_so;
		/* the first that was not answered; then those that were not so, once more */
		for (int i = s->plan->stages[s->stage].n_looks - 1; i >= 0; i--)
			if (v->looks_not_so >> i & 1)
				v->look = i;
		for (int i = s->plan->stages[s->stage].n_looks - 1; i >= 0; i--)
			if (!(v->looks_answered >> i & 1))
				v->look = i;
	}
}

static void add_meter(const struct session *s, struct view *v, struct view_meter m,
                      const char *kind, const char *name, const struct session_probe *probe)
{
	if (v->n_meters >= VIEW_METERS_MAX)
		return;
	snprintf(m.what, sizeof m.what, "%s %s", kind, name);
	bool seen = probe && probe->seconds >= 0;
	m.read_volts = seen ? probe->volts : NAN;
	m.read_line_volts = seen ? probe->line_volts : NAN;
	m.read_age_s = seen ? fmax(s->now_s - probe->seconds, 0) : NAN;
	m.read_verdict = seen ? probe->verdict : VERDICT_UNKNOWN;
	if (m.read_verdict != VERDICT_UNKNOWN)
		m.read_band = probe->band;
	v->meters[v->n_meters++] = m;
}

/* Rails and heaters as the nominal solve behind the band has them. */
static void build_meters(const struct session *s, struct view *v)
{
	const struct network *net = s->net;
	const struct load_result *at = NULL;
	if (s->have_reading)
		at = &s->band.at;
	else if (v->stage_next >= 0)
		at = &s->plan->stages[v->stage_next].band.at;
	if (!at)
		return;
	for (int i = 0; i < net->n_rails; i++) {
		const bool unknown = load_rail_undefined(net, at, i);
		struct view_meter m = {.volts = unknown ? NAN : at->rail_volts[i],
			.milliamps = at->rail_amps[i] <= 0 ? 0 : at->rail_amps[i] * 1e3,
			.share = NAN};
		if (net->rails[i].regulator == REGULATOR_GAS && !unknown)
			snprintf(m.note, sizeof m.note, "%s",
				at->regulator_lit[i] ? "regulator lit" : "regulator dark");
		add_meter(s, v, m, "rail", net->rails[i].name, &s->rail_probes[i]);
	}
	for (int i = 0; i < net->n_windings; i++) {
		if (net->windings[i].feeds_rail)
			continue;
		struct view_meter m = {.volts = at->winding_volts[i], .milliamps = NAN,
			.share = at->winding_volts[i] / net->windings[i].rated_volts};
		add_meter(s, v, m, "heater", net->windings[i].name, &s->winding_probes[i]);
	}
	for (int i = 0; i < net->n_heaters; i++) { /* of a string the first speaks for all */
		if (net->heaters[i].winding >= 0)
			continue;
		struct view_meter m = {.volts = at->heater_share[i] * net->heaters[i].volts,
			.milliamps = NAN, .share = at->heater_share[i]};
		snprintf(m.note, sizeof m.note, "series string");
		add_meter(s, v, m, "heater", net->heaters[i].place, NULL);
		break;
	}
}

enum role view_like_role(enum compare_verdict verdict)
{
	switch (verdict) {
	case COMPARE_AGREE:
		return ROLE_GOOD;
	case COMPARE_DIFFER:
		return ROLE_CAUTION;
	case COMPARE_CANNOT_TELL:
		break;
	}
	return ROLE_DIM;
}

/* The power-up that is laid under: what it leads to expect at each stage and of what is read. */
static void build_like(const struct session *s, struct view *v)
{
	const struct like_curve *like = v->around.like;
	struct compare_result result;
	struct like_band band;

	for (int i = 0; i < v->n_stages; i++) {
		struct view_stage *stage = &v->stages[i];
		stage->like_low = stage->like_high = NAN;
		if (!like)
			continue;
		double volts = stage->have_reading ? stage->read_volts : stage->volts;
		like_at(like, s->meter, volts, &band);
		stage->like_low = band.low;
		stage->like_high = band.high;
		stage->like_judged = stage->have_reading && s->stages[i].settled;
		if (!stage->like_judged)
			continue;
		like_judge(&band, stage->read_watts, &result);
		stage->like_verdict = result.verdict;
	}
	if (!like)
		return;
	v->like_role = ROLE_DIM;
	like_at(like, s->meter, v->at_volts, &band);
	if (!band.have) {
		snprintf(v->like, sizeof v->like, "like: nothing settled there");
		return;
	}
	like_judge(&band, v->have_reading && s->settled && !v->blind ? v->watts : (double)NAN,
		&result);
	const bool told = result.why != COMPARE_NO_VALUE;
	snprintf(v->like, sizeof v->like, "like: %.2f to %.2f W%s%s", band.low, band.high,
		told ? ", " : "", told ? compare_verdict_word(result.verdict) : "");
	if (told)
		v->like_role = view_like_role(result.verdict);
}


void view_build(const struct session *s, const struct surroundings *around, struct view *ret)
{
	*ret = (struct view){.around = *around, .seconds = s->now_s};
	build_stages(s, ret);
	build_number(s, ret);
	build_like(s, ret);
	build_proofs(s, ret);
	build_meters(s, ret);
	ret->soaking = s->phase == PHASE_SOAK;
	if (ret->soaking || s->instruction == DO_SOAK)
		session_soak(s, &ret->soak);
	instruct(s, ret);

	ret->points = s->points;
	ret->points_first = s->points_first;
	ret->n_points = s->n_points;
	ret->nameplate_volts = s->net->line_volts;
	ret->events = s->shown;
	ret->event_number = s->shown_number;
	ret->events_first = s->shown_first;
	ret->n_events = s->n_shown;

	if (s->phase == PHASE_ABORT) {
		ret->screen = SCREEN_ABORT;
		ret->alarm = s->abort_event;
	} else if (s->phase == PHASE_STOPPED) {
		ret->screen = SCREEN_STOP;
		ret->alarm = s->stop_event;
	} else if (around->help) {
		ret->screen = SCREEN_HELP;
	} else if (s->phase == PHASE_CAUTIONS && !around->replay) {
		ret->screen = SCREEN_CAUTIONS;
	} else {
		ret->screen = SCREEN_PAGE;
	}
}
