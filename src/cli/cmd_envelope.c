/* mainstair envelope PROFILE - expected watts, volts and their band over the line voltage */
#include "cli/commands.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "cli/load_unit.h"
#include "cli/options.h"
#include "cli/output.h"
#include "cli/volts_list.h"
#include "io/bench_ini.h"
#include "mainstair/base/num.h"
#include "mainstair/base/text.h"
#include "mainstair/core/limiter.h"

/* Above this share of nameplate volts the transformer is past what the model knows of it. */
static const double most_share = 1.5;

/* A winding with heaters or lamps on it, whatever else it feeds. */
static bool is_heater_winding(const struct network *net, int winding)
{
	for (int h = 0; h < net->n_heaters; h++)
		if (net->heaters[h].winding == winding)
			return true;
	return false;
}

static void cell(struct buf *out, char separator, double value, int decimals)
{
	char digits[64];

	if (separator)
		buf_addc(out, separator);
	(void)num_print(digits, sizeof digits, value, decimals);
	buf_adds(out, digits);
}

static void csv_head(struct buf *out, const struct network *net)
{
	buf_adds(out, "line_volts,watts_low,watts,watts_high,watts_abort,va,amps,power_factor");
	for (int w = 0; w < net->n_windings; w++)
		if (is_heater_winding(net, w))
			buf_addf(out, ",heater_%s_volts", net->windings[w].name);
	for (int r = 0; r < net->n_rails; r++)
		buf_addf(out, ",rail_%s_volts,rail_%s_ma", net->rails[r].name, net->rails[r].name);
	buf_addc(out, '\n');
}

static void csv_row(struct buf *out, const struct network *net, const struct band *band)
{
	const struct load_result *at = &band->at;

	add_number(out, band->volts, 6);
	cell(out, ',', band->low, 4);
	cell(out, ',', band->expected, 4);
	cell(out, ',', band->high, 4);
	cell(out, ',', band->abort_watts, 4);
	cell(out, ',', at->va, 4);
	cell(out, ',', at->amps, 5);
	cell(out, ',', at->power_factor, 4);
	for (int w = 0; w < net->n_windings; w++)
		if (is_heater_winding(net, w))
			cell(out, ',', at->winding_volts[w], 4);
	for (int r = 0; r < net->n_rails; r++) {
		if (load_rail_undefined(net, at, r))
			buf_addc(out, ',');
		else
			cell(out, ',', at->rail_volts[r], 3);
		cell(out, ',', at->rail_amps[r] * 1e3, 4);
	}
	buf_addc(out, '\n');
}

static void table_head(struct buf *out, const struct network *net)
{
	buf_adds(out, "LINE V\tLOW W\tWATTS\tHIGH W\tABORT W\tVA\tAMPS\tPF");
	for (int w = 0; w < net->n_windings; w++)
		if (is_heater_winding(net, w))
			buf_addf(out, "\t%s V\t%%", net->windings[w].name);
	for (int r = 0; r < net->n_rails; r++)
		buf_addf(out, "\t%s V\tmA", net->rails[r].name);
	buf_addc(out, '\n');
}

static void table_row(struct buf *out, const struct network *net, const struct band *band)
{
	const struct load_result *at = &band->at;

	add_number(out, band->volts, 3);
	cell(out, '\t', band->low, 2);
	cell(out, '\t', band->expected, 2);
	cell(out, '\t', band->high, 2);
	cell(out, '\t', band->abort_watts, 2);
	cell(out, '\t', at->va, 2);
	cell(out, '\t', at->amps, 3);
	cell(out, '\t', at->power_factor, 3);
	for (int w = 0; w < net->n_windings; w++) {
		if (!is_heater_winding(net, w))
			continue;
		cell(out, '\t', at->winding_volts[w], 2);
		cell(out, '\t', 100.0 * at->winding_volts[w] / net->windings[w].rated_volts, 0);
	}
	for (int r = 0; r < net->n_rails; r++) {
		if (load_rail_undefined(net, at, r))
			buf_adds(out, "\t?");
		else
			cell(out, '\t', at->rail_volts[r], 1);
		cell(out, '\t', at->rail_amps[r] * 1e3, 1);
	}
	buf_addc(out, '\n');
}

/* 0, or -1 after a complaint: a band around numbers that did not settle is no band. */
static int add_band(struct buf *out, const struct network *net, const struct band *band,
                    enum output_format format)
{
	char volts[32];

	if (!band->at.converged) {
		(void)num_print_unit(volts, sizeof volts, band->volts, UNIT_VOLT, 4);
		complain("the model does not settle at %s; is a value in the profile far from "
		         "real?", volts);
		return -1;
	}
	if (format == OUTPUT_CSV)
		csv_row(out, net, band);
	else
		table_row(out, net, band);
	return 0;
}

static int add_listed(struct buf *out, struct loaded_unit *u, const struct volts_list *list,
                      enum output_format format)
{
	struct load_start *start = calloc(1, sizeof *start);
	struct band band;
	int status = 0;

	if (!start) {
		complain("out of memory");
		return -1;
	}
	for (size_t i = 0; i < list->n && status == 0; i++) {
		envelope_at(u->network, &u->rule, &u->accuracy, list->volts[i], start, &band, NULL);
		status = add_band(out, u->network, &band, format);
	}
	free(start);
	return status;
}

static int add_planned(struct buf *out, struct loaded_unit *u, enum output_format format)
{
	if (unit_plan(u, 0.0) != 0)
		return -1;
	for (int i = 0; i < u->plan->n_stages; i++)
		if (add_band(out, u->network, &u->plan->stages[i].band, format) != 0)
			return -1;
	return 0;
}

static int take_lamp(const char *option, const char *text, void *into)
{
	struct series_lamp *lamp = into;
	struct err err;

	if (bench_parse_lamp(text, &lamp->watts, &lamp->volts, &err) == 0)
		return 0;
	complain("%s: %s", option, err.text);
	return -1;
}

static int add_limited(struct buf *out, const struct network *net, const struct series_lamp *lamp,
                       double volts, enum output_format format)
{
	const char separator = format == OUTPUT_CSV ? ',' : '\t';
	struct limited at;

	limiter_solve(net, lamp, volts, &at);
	if (!at.converged) {
		complain("the model does not settle with that lamp in series");
		return -1;
	}
	add_number(out, volts, 6);
	cell(out, separator, at.unit_volts, 2);
	cell(out, separator, at.unit_watts, 3);
	cell(out, separator, at.lamp_watts, 3);
	cell(out, separator, at.total_watts, 3);
	cell(out, separator, 100.0 * at.brightness, 1);
	buf_addc(out, '\n');
	return 0;
}

/* What a lamp in series leaves the unit. */
static int limited_of(struct loaded_unit *u, const struct volts_list *list,
                      const struct series_lamp *lamp, enum output_format format)
{
	struct buf rows = BUF_INIT, out = BUF_INIT;
	int status = EXIT_USAGE;
	bool ok = true;

	buf_adds(&rows, format == OUTPUT_CSV ?
	         "line_volts,unit_volts,unit_watts,lamp_watts,total_watts,lamp_light_percent\n" :
	         "LINE V\tUNIT V\tUNIT W\tLAMP W\tTOTAL W\tLAMP LIGHT %\n");
	for (size_t i = 0; ok && i < list->n; i++)
		ok = add_limited(&rows, u->network, lamp, list->volts[i], format) == 0;
	if (ok && list->n == 0) {
		ok = unit_plan(u, 0.0) == 0;
		for (int i = 0; ok && i < u->plan->n_stages; i++)
			ok = add_limited(&rows, u->network, lamp, u->plan->stages[i].volts,
			                 format) == 0;
	}
	if (ok && format == OUTPUT_TABLE) {
		/* four fifths: enough for rectifiers and regulators to come alive, while a dead
		 * short still meets the lamp (common practice, no source) */
		const struct series_lamp best = limiter_choose(u->network, 0.8);

		buf_adds(&out, "settled values behind the lamp; a meter ahead of it reads the total\n");
		align_columns(&out, &rows, "");
		if (best.watts > 0.0)
			buf_addf(&out, "smallest common lamp that leaves this unit four fifths of full "
			         "line: %.0f W %.0f V\n", best.watts, best.volts);
		else
			buf_adds(&out, "no common lamp leaves this unit four fifths of full line\n");
		status = output_flush(&out);
	} else if (ok) {
		status = output_flush(&rows);
	}
	buf_release(&rows);
	buf_release(&out);
	return status;
}

static int envelope_of(struct loaded_unit *u, const char *typed_list,
                       const struct series_lamp *lamp, enum output_format format)
{
	struct volts_list list = { 0 };
	struct buf rows = BUF_INIT, out = BUF_INIT;
	char name[PROFILE_TEXT_MAX];
	struct err err;
	int status = EXIT_USAGE;

	if (typed_list && volts_list_parse(&list, typed_list,
	                                   most_share * u->network->line_volts, &err) != 0) {
		complain("--volts: %s", err.text);
		goto out;
	}
	if (lamp) {
		status = limited_of(u, &list, lamp, format);
		goto out;
	}
	if (format == OUTPUT_CSV)
		csv_head(&rows, u->network);
	else
		table_head(&rows, u->network);
	if ((typed_list ? add_listed(&rows, u, &list, format)
	                : add_planned(&rows, u, format)) != 0)
		goto out;
	if (format == OUTPUT_CSV) {
		status = output_flush(&rows);
		goto out;
	}
	(void)text_show(name, sizeof name, u->profile.name, strlen(u->profile.name));
	buf_addf(&out, "%s, ", name);
	add_number(&out, u->network->line_volts, 2);
	buf_adds(&out, " V ");
	add_number(&out, u->network->line_hz, 2);
	buf_adds(&out, " Hz; settled values");
	if (memchr(rows.data, '?', rows.len))
		buf_adds(&out, "; ?: hardly any current flows there, so nobody knows its volts");
	buf_addc(&out, '\n');
	align_columns(&out, &rows, "");
	out.failed |= rows.failed;
	status = output_flush(&out);
out:
	volts_list_release(&list);
	buf_release(&rows);
	buf_release(&out);
	return status;
}

int cmd_envelope(int argc, char **argv)
{
	enum output_format format = OUTPUT_TABLE;
	const char *list = NULL;
	struct series_lamp lamp = { 0 };
	const struct option_row rows[] = {
		{ "volts", "LIST", take_word, &list,
		  "10,50,117 or FIRST:LAST:STEP as 10:120:10, or both mixed; without it, the "
		  "stages of the plan" },
		{ "format", "FORMAT", take_format, &format, "table (the default) or csv" },
		{ "series-lamp", "LAMP", take_lamp, &lamp,
		  "as \"60 W 120 V\": instead, what a lamp of that rating in series with the unit "
		  "leaves it at each line voltage, the watts of both, and how bright the lamp "
		  "glows; and which common lamp suits this unit" },
	};
	const struct command_usage usage = {
		.synopsis = "envelope [OPTION]... PROFILE",
		.about = "What a healthy unit built to PROFILE draws at each line voltage once it "
			"has settled: the band in which a reading should lie, the abort line above "
			"it, the volts on heaters and rails.",
		.after = "Exit status: 0, 2 bad usage or a profile with faults.",
		.rows = rows, .n_rows = sizeof rows / sizeof rows[0],
		.least = 1, .most = 1, .wanted = "one PROFILE, please",
	};
	struct loaded_unit *unit;
	char **operands;
	int status = options_read(&usage, argc, argv, &operands);

	if (status != OPTIONS_READ)
		return status;
	unit = malloc(sizeof *unit);
	if (!unit) {
		complain("out of memory");
		return EXIT_USAGE;
	}
	status = EXIT_USAGE;
	if (unit_load(unit, operands[0]) == 0) {
		status = envelope_of(unit, list, lamp.watts > 0.0 ? &lamp : NULL, format);
		unit_release(unit);
	}
	free(unit);
	return status;
}
