/*
 * core/session/typed.c - a typed line, understood: session_understand()
 *
 * Two wishes pull at each other.  A slip of the finger must not become a reading; and a reading
 * that crosses the abort line must do so within the keystroke that ends its line.  So a line is
 * only questioned when nothing that can be wrong with a unit would give it: volts that the
 * line does not have, more current than any outlet carries, volts and watts in each other's
 * place.  Merely terrible watts are believed at once.
 */
#include "mainstair/core/session.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

enum { LINE_MAX = 400, SHOWN_MAX = 40 };

/* What the strongest common outlet carries. */
static const double outlet_amps = 20.0;
/* A variac gives up to a fifth more than its line, and the line is not exact. */
static const double line_share_max = 1.25;
/* No power factor of a unit with its core still working lies below this. */
static const double power_factor_min = 0.03;
static const double probe_volts_max = 3000.0;

static void echo(struct typed *ret, enum typed_kind kind, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

static void echo(struct typed *ret, enum typed_kind kind, const char *format, ...)
{
	char text[512], shown[sizeof ret->echo];
	va_list ap;

	va_start(ap, format);
	(void)vsnprintf(text, sizeof text, format, ap);
	va_end(ap);
	text_show(shown, sizeof shown, text, strlen(text));
	memcpy(ret->echo, shown, sizeof shown);
	ret->kind = kind;
}

/* With at least `decimals` decimals, and as many more (up to 4 in all) as were typed. */
static const char *print_as_typed(char out[SHOWN_MAX], double value, int decimals, enum unit unit)
{
	double scaled = value;
	size_t n;

	for (int i = 0; i < decimals; i++)
		scaled *= 10.0;
	while (decimals < 4 && fabs(scaled - round(scaled)) > 1e-6) {
		scaled *= 10.0;
		decimals++;
	}
	n = num_print(out, SHOWN_MAX - 4, value, decimals);
	(void)snprintf(out + n, SHOWN_MAX - n, " %s", unit_symbol(unit));
	return out;
}

/* The place of a quantity in a reading: volts, watts, amps. */
enum { PLACE_VOLTS, PLACE_WATTS, PLACE_AMPS, PLACES };
static const enum unit place_units[PLACES] = { UNIT_VOLT, UNIT_WATT, UNIT_AMPERE };
static const char *const place_names[PLACES] = { "volts", "watts", "amps" };

static int place_of(enum unit unit)
{
	for (int i = 0; i < PLACES; i++)
		if (place_units[i] == unit)
			return i;
	return -1;
}

/* One quantity at *line: its own unit says what it is, without one it takes the next free
 * place.  Returns its place, or -1 with the echo set. */
static int scan_one(const char **line, double values[PLACES], struct typed *ret)
{
	struct quantity q;
	struct err with_unit = { 0 }, bare = { 0 };
	const char *end = num_scan(*line, UNIT_ANY, &q, &with_unit);
	int place, next = 0;

	while (next < PLACES && !isnan(values[next]))
		next++;
	if (!end) {
		if (next == PLACES) {
			echo(ret, TYPED_WRONG, "too much: volts, watts, amps are all");
			return -1;
		}
		end = num_scan(*line, place_units[next], &q, &bare);
	}
	if (!end) {
		echo(ret, TYPED_WRONG, "%s: %s", place_names[next], bare.text);
		return -1;
	}
	place = place_of(q.unit);
	if (place < 0 || q.tol >= 0.0)
		echo(ret, TYPED_WRONG, "a reading is volts, watts and perhaps amps: 50 5.2 0.09");
	else if (!isnan(values[place]))
		echo(ret, TYPED_WRONG, "%s twice", place_names[place]);
	else if (q.value < 0.0)
		echo(ret, TYPED_WRONG, "%s below zero", place_names[place]);
	else {
		values[place] = q.value;
		*line = end;
		return place;
	}
	return -1;
}

/* Volts typed where watts belong: only when that alone makes a reading of this stage out of the
 * line, and the line as it stands belongs nowhere. */
static bool swapped(const struct session *s, double volts, double watts)
{
	const int there = plan_stage_at(s->plan, watts);
	struct load_start start = { 0 };
	struct band band;

	if (there < 0 || plan_stage_at(s->plan, volts) >= 0)
		return false;
	if (there != s->stage && there != s->target && there != s->stage + 1)
		return false;
	envelope_at(s->net, s->rule, s->meter, watts, &start, &band, NULL);
	return judge_settled(&band, s->net->fuse_amps, volts, NAN) == VERDICT_IN_BAND;
}

/* How many stages of the plan a reading at these volts leaves out, coming from where the session
 * is. */
static int left_out(const struct session *s, double volts)
{
	const int at = plan_stage_at(s->plan, volts);
	const int from = s->target > s->stage ? s->target : s->stage;

	return at > from + 1 ? at - from - 1 : 0;
}

/* Watts that nothing healthy draws are believed at once, wherever they are read. */
static bool aborts(const struct session *s, const struct event *ev)
{
	struct band band;

	band_cache_at(s->bands, s->net, s->rule, s->meter, ev->volts, NULL, &band);
	return judge_settled(&band, s->net->fuse_amps, ev->watts, ev->amps) == VERDICT_ABORT;
}

static void judge_slip(const struct session *s, const struct event *ev, const char *said,
                       struct typed *ret)
{
	const double line = fmax(s->net->line_volts,
	                         s->plan->stages[s->plan->n_stages - 1].volts);
	char a[SHOWN_MAX], b[SHOWN_MAX];

	if (ev->volts > line_share_max * line) {
		print_as_typed(a, s->net->line_volts, 0, UNIT_VOLT);
		if (plan_stage_at(s->plan, ev->volts / 10.0) >= 0)
			echo(ret, TYPED_QUESTION, "%s? This unit is for %s; did you mean %s?", said,
			     a, print_as_typed(b, ev->volts / 10.0, 1, UNIT_VOLT));
		else
			echo(ret, TYPED_QUESTION, "%s? This unit is for %s", said, a);
	} else if (swapped(s, ev->volts, ev->watts)) {
		echo(ret, TYPED_QUESTION, "%s? Or %s, %s: volts come first", said,
		     print_as_typed(a, ev->watts, 1, UNIT_VOLT),
		     print_as_typed(b, ev->volts, 2, UNIT_WATT));
	} else if (ev->watts > fmax(outlet_amps * ev->volts, 5.0)) {
		num_print(a, sizeof a, outlet_amps, 0);
		echo(ret, TYPED_QUESTION, "%s? That is more than an outlet's %s A", said, a);
	} else if (ev->amps > outlet_amps) {
		echo(ret, TYPED_QUESTION, "%s? Amps, not mA: %s is %s", said,
		     print_as_typed(a, ev->amps, 0, UNIT_AMPERE),
		     print_as_typed(b, ev->amps / 1000.0, 3, UNIT_AMPERE));
	} else if (ev->amps * ev->volts > ev->watts / power_factor_min &&
	           ev->amps * ev->volts > 5.0) {
		num_print(a, sizeof a, ev->amps * ev->volts, 0);
		echo(ret, TYPED_QUESTION, "%s? That would be %s VA for so few watts", said, a);
	} else {
		const int skipped = left_out(s, ev->volts);
		char why[JUDGE_WHY_MAX];

		if (!judge_possible(s->net->line_volts, 0.0, ev->volts, ev->watts, ev->amps, NAN,
		                    why))
			echo(ret, TYPED_QUESTION, "%s? %s", said, why);
		else if (skipped > 1 && !aborts(s, ev))
			echo(ret, TYPED_QUESTION, "%s? That leaves out %d stages: the next is at %s",
			     said, skipped, print_as_typed(a, s->plan->stages[s->stage + 1].volts, 0,
			                                   UNIT_VOLT));
		else
			echo(ret, TYPED_READING, "%s", said);
	}
}

static void understand_reading(const struct session *s, const char *line, struct typed *ret)
{
	double values[PLACES] = { NAN, NAN, NAN };
	char volts[SHOWN_MAX], watts[SHOWN_MAX], amps[SHOWN_MAX], said[8 * SHOWN_MAX];

	do {
		if (scan_one(&line, values, ret) < 0)
			return;
	} while (*line);
	if (isnan(values[PLACE_VOLTS]) || isnan(values[PLACE_WATTS])) {
		echo(ret, TYPED_WRONG, "%s missing: type volts and watts, as 50 5.2",
		     isnan(values[PLACE_VOLTS]) ? "volts are" : "watts are");
		return;
	}

	ret->event.kind = EVENT_READING;
	ret->event.volts = values[PLACE_VOLTS];
	ret->event.watts = values[PLACE_WATTS];
	ret->event.amps = values[PLACE_AMPS];
	(void)snprintf(ret->event.note, sizeof ret->event.note, "typed");
	print_as_typed(volts, ret->event.volts, 1, UNIT_VOLT);
	print_as_typed(watts, ret->event.watts, 2, UNIT_WATT);
	(void)snprintf(said, sizeof said, "%s, %s", volts, watts);
	if (!isnan(ret->event.amps)) {
		print_as_typed(amps, ret->event.amps, 3, UNIT_AMPERE);
		(void)snprintf(said, sizeof said, "%s, %s, %s", volts, watts, amps);
	}
	session_behind_lamp(s, &ret->event);
	if (s->ahead) {
		const size_t used = strlen(said);

		(void)snprintf(said + used, sizeof said - used, " ahead of the lamp: %s, %s at the unit",
		               print_as_typed(volts, ret->event.volts, 1, UNIT_VOLT),
		               print_as_typed(watts, ret->event.watts, 2, UNIT_WATT));
	}
	judge_slip(s, &ret->event, said, ret);
}

/* The name that `word` (n bytes) means among the rails, or among the windings that feed heaters,
 * with its *index; NULL when none, with their names in known. */
static const char *find_name(const struct session *s, bool rail, const char *word, size_t n,
                             char *known, size_t size, int *index)
{
	const int count = rail ? s->net->n_rails : s->net->n_windings;
	char wanted[PROFILE_NAME_MAX];
	size_t used = 0;

	(void)snprintf(wanted, sizeof wanted, "%.*s", (int)n, word);
	known[0] = '\0';
	for (int i = 0; i < count; i++) {
		const char *name = rail ? s->net->rails[i].name : s->net->windings[i].name;

		if (!rail && s->net->windings[i].feeds_rail)
			continue;
		*index = i;
		if (n < sizeof wanted && text_same(wanted, name))
			return name;
		if (used < size)
			used += (size_t)snprintf(known + used, size - used, "%s%s",
			                         used ? ", " : "", name);
	}
	return NULL;
}

/* "in band, 231 to 268 V": what is to be said of the volts at once; "" when nothing can be. */
static void say_expected(const struct session *s, bool rail, int index, double volts, char *out,
                         size_t size)
{
	static const char *const words[] = {
		[VERDICT_IN_BAND] = "in band", [VERDICT_UNDER] = "UNDER", [VERDICT_OVER] = "OVER",
	};
	const enum observed what = rail ? OBSERVED_RAIL_VOLTS : OBSERVED_WINDING_VOLTS;
	const int decimals = rail ? 0 : 2;
	char low[24], high[24];
	struct probe_band band;

	out[0] = '\0';
	if (!s->have_reading || !(s->last.volts > 0.0) || isnan(volts) ||
	    !probe_band_at(s->net, s->last.volts, what, index, &band))
		return;
	const enum verdict v = probe_judge(&band, volts);

	num_print(low, sizeof low, band.low, decimals);
	num_print(high, sizeof high, band.high, decimals);
	if (v != VERDICT_IN_BAND && !s->settled)
		(void)snprintf(out, size, "; %s to %s V once settled: read it again then", low, high);
	else
		(void)snprintf(out, size, ": %s, %s to %s V expected", words[v], low, high);
}

static void understand_probe(const struct session *s, bool rail, const char *line,
                             struct typed *ret)
{
	const char *const what = rail ? "rail" : "heater";
	const size_t n = strcspn(line, " \t");
	const char *name;
	struct err err = { 0 };
	struct quantity q;
	char known[80], volts[SHOWN_MAX], expected[128];
	int index = -1;

	name = find_name(s, rail, line, n, known, sizeof known, &index);
	if (!name) {
		if (known[0])
			echo(ret, TYPED_WRONG, "no %s `%.*s`; this unit has: %s", what,
			     n > 31 ? 31 : (int)n, line, known);
		else
			echo(ret, TYPED_WRONG, "this unit has no %s that could be read", what);
		return;
	}
	line += n;
	line += strspn(line, " \t");
	if (num_parse(line, UNIT_VOLT, &q, &err) < 0) {
		echo(ret, TYPED_WRONG, "%s %s: %s", what, name, err.text);
		return;
	}
	ret->event.kind = EVENT_RAIL;
	ret->event.volts = q.value;
	(void)snprintf(ret->event.note, sizeof ret->event.note, "%s %s", what, name);
	print_as_typed(volts, q.value, 1, UNIT_VOLT);
	say_expected(s, rail, index, q.value, expected, sizeof expected);
	if (fabs(q.value) > probe_volts_max)
		echo(ret, TYPED_QUESTION, "%s %s at %s? That is beyond anything here", what, name,
		     volts);
	else
		echo(ret, TYPED_RAIL, "%s %s at %s%s", what, name, volts, expected);
}

void session_understand(const struct session *s, const char *line, struct typed *ret)
{
	char copy[LINE_MAX];
	size_t n = strnlen(line, LINE_MAX), word;

	memset(ret, 0, sizeof *ret);
	ret->event.seconds = s->now_s;
	ret->event.kind = EVENT_QUESTIONED;
	ret->event.stage = -1;
	ret->event.volts = ret->event.watts = ret->event.amps = ret->event.power_factor = NAN;

	if (n == LINE_MAX) {
		echo(ret, TYPED_WRONG, "too long for a reading: type volts and watts, as 50 5.2");
		return;
	}
	memcpy(copy, line, n + 1);
	while (n > 0 && strchr(" \t\r\n", copy[n - 1]))
		copy[--n] = '\0';
	line = copy + strspn(copy, " \t");

	word = strcspn(line, " \t");
	if (*line == '\0')
		echo(ret, TYPED_WRONG, "type volts and watts, as 50 5.2");
	else if (word == 4 && strncmp(line, "rail", word) == 0)
		understand_probe(s, true, line + word + strspn(line + word, " \t"), ret);
	else if (word == 6 && strncmp(line, "heater", word) == 0)
		understand_probe(s, false, line + word + strspn(line + word, " \t"), ret);
	else
		understand_reading(s, line, ret);
}
