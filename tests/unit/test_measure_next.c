/* What to measure next: the ranking does what it says when the number is then measured. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "lib/text_unit.h"
#include "mainstair/core/measure_next.h"

TestSuite(measure_next, .timeout = 100);

static const struct meter_accuracy meter = { .reading_share = 0.01, .offset_watts = 0.1 };

/* Take the advice: the band shrinks by the share promised.  Only the tolerance changes, as when the
 * reading confirms the number.  The watts are no straight line in it, so not to the last per
 * cent. */
Test(measure_next, measured_the_band_shrinks_by_the_share_promised)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
		struct sensitivity *all = calloc(NET_PARAMS_MAX, sizeof *all);
		struct measure_gain gains[NET_PARAMS_MAX];
		struct band before, after;

		envelope_at(&unit->net, &rule, &meter, unit->net.line_volts, NULL, &before, all);
		const int n = measure_next(&unit->net, &meter, &before, all, gains, NET_PARAMS_MAX);
		for (int i = 1; i < n; i++)
			cr_assert(gains[i - 1].gain >= gains[i].gain);
		for (int i = 0; i < n && i < 3; i++) {
			struct network *known = malloc(sizeof *known);

			*known = unit->net;
			struct param *p = &known->params[gains[i].param];
			cr_assert(p->measure[0] && p->origin != ORIGIN_MEASURED, "%s", file);
			p->up = fmin(p->up, 0.02);
			p->down = fmin(p->down, 0.02);
			envelope_at(known, &rule, &meter, unit->net.line_volts, NULL, &after, NULL);
			const double shrunk = 1 - (after.high - after.low) /
			                          (before.high - before.low);
			cr_assert(fabs(shrunk - gains[i].gain) < 0.05, "%s, %s: %.3f, promised %.3f",
			          file, p->name, shrunk, gains[i].gain);
			free(known);
		}
		free(all);
		free(unit);
	}
}

Test(measure_next, a_short_list_has_the_best_and_what_was_measured_is_not_asked_for_again)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	const double volts[2] = { 50, unit->net.line_volts };
	struct measure_gain_both many[NET_PARAMS_MAX], few[3];
	struct err err;

	const int n = measure_next_both(&unit->net, &rule, &meter, volts, many, NET_PARAMS_MAX);
	cr_assert(n > 1);
	cr_assert_eq(measure_next_both(&unit->net, &rule, &meter, volts, few, 3), n < 3 ? n : 3);
	for (int i = 0; i < n && i < 3; i++)
		cr_assert_eq(few[i].param, many[i].param);
	for (int i = 1; i < n; i++)
		cr_assert(many[i - 1].gain[0] + many[i - 1].gain[1] >=
		          many[i].gain[0] + many[i].gain[1]);

	int asked = 0;
	for (int i = 0; i < n; i++)
		asked += unit->net.params[many[i].param].kind == PARAM_CORE_WATTS;
	cr_assert_eq(asked, 1);
	cr_assert(network_measure(&unit->net, "idle 3.1 W", &err) == 0, "%s", err.text);
	const int left = measure_next_both(&unit->net, &rule, &meter, volts, many, NET_PARAMS_MAX);
	for (int i = 0; i < left; i++)
		cr_assert(unit->net.params[many[i].param].kind != PARAM_CORE_WATTS);
	free(unit);
}

/* ---- every suggestion can be followed ---- */

static char *shipped_text(const char *file)
{
	static char text[20000];
	char path[700];

	(void)snprintf(path, sizeof path, "%s/../profiles/%s", getenv("MAINSTAIR_TESTS"), file);
	FILE *f = fopen(path, "r");
	cr_assert_not_null(f);
	text[fread(text, 1, sizeof text - 1, f)] = '\0';
	(void)fclose(f);
	return text;
}

/* The profile with "[section] key = value" in it, instead of what the key was or added. */
static const char *with_key(const char *text, const char *line)
{
	static char out[24000];
	char section[100], key[64];
	const char *close = strchr(line, ']'), *at;
	size_t n = 0;

	(void)snprintf(section, sizeof section, "\n%.*s", (int)(close + 1 - line), line);
	cr_assert_eq(sscanf(close + 2, "%63s", key), 1);
	at = strstr(text, section);
	if (!at) {
		(void)snprintf(out, sizeof out, "%s%s\n%s\n", text, section, close + 2);
		return out;
	}
	const char *from = strchr(at + 1, '\n') + 1;
	n = (size_t)snprintf(out, sizeof out, "%.*s%s\n", (int)(from - text), text, close + 2);
	for (bool here = true; *from;) {
		const size_t length = strcspn(from, "\n") + (strchr(from, '\n') != NULL);

		here = here && *from != '[';
		if (!here || strncmp(from, key, strlen(key)) != 0 || !strchr(" =", from[strlen(key)]))
			n += (size_t)snprintf(out + n, sizeof out - n, "%.*s", (int)length, from);
		from += length;
	}
	return out;
}

static double width_at(const struct text_unit *unit, double volts, struct sensitivity *all,
                       struct band *band)
{
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);

	envelope_at(&unit->net, &rule, &meter, volts, NULL, band, all);
	cr_assert(band->at.converged);
	return band->high - band->low;
}

/* All that is suggested at these volts: typed with a number near the expected one it is taken and
 * narrows the band; so does the key.  How many of either. */
static void follow(const char *text, const char *what, double share, int *lines, int *keys)
{
	struct text_unit *unit = text_unit(text);
	struct sensitivity *all = calloc(NET_PARAMS_MAX, sizeof *all);
	struct measure_gain gains[NET_PARAMS_MAX];
	const double volts = share * unit->net.line_volts;
	struct band band, after;
	const double wide = width_at(unit, volts, all, &band);
	const int n = measure_next(&unit->net, &meter, &band, all, gains, NET_PARAMS_MAX);

	for (int i = 0; i < n; i++) {
		static const double factors[] = { 1.0, 0.97, 1.03 };
		const struct param *p = &unit->net.params[gains[i].param];
		struct text_unit *told = malloc(sizeof *told);
		char line[MEASURED_LINE_MAX];
		struct err err = { 0 };

		cr_assert(!strstr(p->name, "load ") && !strstr(p->measure, "line low"), "%s", p->name);
		for (size_t f = 0; f < sizeof factors / sizeof *factors; f++) {
			cr_assert(network_measure_line(&unit->net, gains[i].param, factors[f], line,
			                               sizeof line), "%s: %s", what, p->name);
			*told = *unit;
			cr_assert(network_measure(&told->net, line, &err) == 0, "%s: %s: %s", what, line,
			          err.text);
			/* the watts of a larger unit scatter more */
			const double is = width_at(told, volts, NULL, &after);
			cr_assert(is / after.expected < wide / band.expected, "%s: %s: %g W of %g, was %g of "
			          "%g", what, line, is, after.expected, wide, band.expected);
			cr_assert(told->net.params[gains[i].param].origin == ORIGIN_MEASURED);
		}
		++*lines;
		free(told);
		if (network_measure_key(&unit->net, &unit->profile, gains[i].param, 1.0, line,
		                        sizeof line)) {
			struct text_unit *written = text_unit(with_key(text, line));
			const double is = width_at(written, volts, NULL, &after);

			cr_assert(is < 0.9999 * wide, "%s: %s: %g W, was %g", what, line, is, wide);
			cr_assert(fabs(after.expected / band.expected - 1) < 0.03, "%s: %s: %g W, was %g",
			          what, line, after.expected, band.expected);
			++*keys;
			free(written);
		}
	}
	free(all);
	free(unit);
}

Test(measure_next, every_suggestion_can_be_typed_and_narrows_the_band)
{
	static const char *const alone[] = {
		"[tubes]\nV1 = 6BE6\nV2 = 6BA6\nV3 = 6AT6\nV4 = 6AQ5\nV5 = 6X4\n",
		"[tubes]\nV1 = 6SN7GT\nV2 = 6V6GT\nV3 = 6V6GT\nV4 = 5Y3GT\n",
		"[tubes]\nV1 = 6BQ5\nV2 = 12AX7\n[winding heater]\nohms = 0.1\n[winding plate]\nohms = 300\n",
		"supply = series-string\n[tubes]\nV1 = 12BE6\nV2 = 12BA6\nV3 = 12AT6\nV4 = 50C5\nV5 = 35W4\n",
		"supply = series-string\n[tubes]\nV1 = 12BE6\nV2 = 12BA6\nV3 = 50C5\nV4 = 35W4\n",
		"[tubes]\nV4 = 6AQ5\nV5 = 6X4\nV6 = 0A2\n[winding plate]\nvolts = 250-0-250\n"
		"[rail main]\nwinding = plate\nrectifier = V5\nsurge = 47\nbleeder = 47k\n"
		"[rail steady]\nfrom = main\nthrough = 4k7\nregulator = V6\n",
	};
	const char *file;
	int lines = 0, keys = 0;

	for (int k = 0; (file = shipped_profile(k)); k++)
		for (double share = 0.25; share < 1.01; share += 0.375)
			follow(shipped_text(file), file, share, &lines, &keys);
	for (size_t i = 0; i < sizeof alone / sizeof *alone; i++)
		for (double share = 0.25; share < 1.01; share += 0.375) {
			char text[600];

			(void)snprintf(text, sizeof text, "[instrument]\nname = x\nline_volts = 117\n%s",
			               alone[i]);
			follow(text, alone[i], share, &lines, &keys);
		}
	cr_assert(lines > 60 && keys > 20, "%d lines, %d keys", lines, keys);
}

/* Idling without its tubes, a rectifier that cannot be pulled would charge the reservoirs to the peak. */
Test(measure_next, a_dry_rectifier_is_taken_off_before_idling)
{
	static const char *const files[] = { "solid-state.ini", "selenium-set.ini", "bench-oscillator.ini" };

	for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
		struct text_unit *unit = shipped_unit(files[i]);
		int said = 0, idle = 0;

		for (int k = 0; k < unit->net.n_params; k++) {
			const struct param *p = &unit->net.params[k];

			if (p->kind != PARAM_CORE_WATTS && p->kind != PARAM_IDLE_AMPS)
				continue;
			idle++;
			said += strstr(p->measure, "the rectifier's ac leads off") != NULL;
		}
		cr_assert(idle > 0 && said == (i < 2 ? idle : 0), "%s", files[i]);
		free(unit);
	}
}

/* All words there are, on a unit that has all parts; in whatever case, with the line's volts. */
Test(measure_next, words_of_every_kind)
{
	static const struct {
		const char *words;
		enum param_kind kind;
		double nominal;
	} rows[] = {
		{ "primary 28 ohm", PARAM_PRIMARY_OHMS, 28 }, { "idle 2.1 W", PARAM_CORE_WATTS, 2.1 },
		{ "IDLE 60 mA", PARAM_IDLE_AMPS, 0.06 }, { "idle 2.2", PARAM_CORE_WATTS, 2.2 },
		{ "winding plate 300", PARAM_WINDING_OHMS, 300 },
		{ "winding plate 34 V at 15 V", PARAM_WINDING_VOLTS, 0 },
		{ "winding plate 262 V", PARAM_WINDING_VOLTS, 0 },
		{ "rail main surge 50", PARAM_SURGE_OHMS, 50 },
		{ "rail main bleeder 46k", PARAM_BLEEDER, 46e3 },
		{ "rail main reservoir 18 uF", PARAM_RESERVOIR, 18e-6 },
		{ "rail main V4 30 mA", PARAM_DRAW_AMPS, 0 },
		{ "rail main resistive 6mA", PARAM_DRAW_AMPS, 0 },
		{ "rail steady filter 4k6", PARAM_SERIES_OHMS, 4600 },
		{ "rail steady 149 V", PARAM_REGULATOR_HOLD, 0 },
		{ "rail steady strikes 170 V", PARAM_REGULATOR_STRIKE, 170 },
		{ "rail steady 4 mA", PARAM_DRAW_AMPS, 0 },
	};
	struct text_unit *unit = text_unit(
		"[instrument]\nname = x\nline_volts = 117\n[tubes]\nV1 = 6BA6\nV4 = 6AQ5\nV5 = 6X4\n"
		"V6 = 0A2\n[winding plate]\nvolts = 250-0-250\n[rail main]\nwinding = plate\n"
		"rectifier = V5\nsurge = 47\nbleeder = 47k\ndraw = 35 mA at 280 V by V4, 5 mA at 280 V "
		"resistive\n[rail steady]\nfrom = main\nthrough = 4k7\nregulator = V6\n"
		"draw = 5 mA at 150 V by V1\n");

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct network net = unit->net;
		const struct param *p = NULL;
		struct err err = { 0 };

		cr_assert(network_measure(&net, rows[i].words, &err) == 0, "%s: %s", rows[i].words,
		          err.text);
		for (int k = 0; k < net.n_params; k++)
			if (net.params[k].origin == ORIGIN_MEASURED) {
				cr_assert_null(p);
				p = &net.params[k];
			}
		cr_assert(p && p->kind == rows[i].kind, "%s", rows[i].words);
		cr_assert(!(rows[i].nominal > 0) || fabs(p->nominal / rows[i].nominal - 1) < 1e-9, "%s",
		          rows[i].words);
	}
	/* what is read in the running unit is then what it shows */
	struct load_result at;
	struct err err;
	struct network net = unit->net;

	cr_assert_eq(network_measure(&net, "rail steady 153 V", &err), 0);
	load_settled(&net, 117, NULL, &at);
	cr_assert(fabs(at.rail_volts[1] - 153) < 0.05, "%g V", at.rail_volts[1]);
	cr_assert_eq(network_measure(&net, "winding plate 33.9 V at 15 V", &err), 0);
	cr_assert(fabs(net.windings[0].ratio * net.emf_rated * 15 / 117 - 33.9) < 1e-6);
	cr_assert_eq(network_measure(&net, "winding plate 33.9 V at 600 V", &err), -1);
	cr_assert_eq(network_measure(&net, "rail main 30 mA", &err), -1); /* of which load? */
	free(unit);
}
