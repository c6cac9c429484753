/* mainstair tubes [PATTERN] - what the tables know of tube and lamp types */
#include "cli/commands.h"

#include <fnmatch.h>
#include <math.h>
#include <string.h>

#include "cli/options.h"
#include "cli/output.h"
#include "io/table_file.h"
#include "mainstair/base/text.h"

/* In the order of enum tube_kind and enum lamp_kind. */
static const char *const tube_kinds[] = {
	"rectifier", "signal diode", "triode", "twin triode", "pentode", "beam tetrode",
	"converter", "tuning eye", "gas regulator", "thyratron", "other"
};
static const char *const heatings[] = { "none", "indirect", "direct" };
static const char *const lamp_kinds[] = { "lamp", "neon lamp", "mains lamp" };

static const char *figures(bool from_memory)
{
	return from_memory ? "from memory" : "read";
}

/* How well a name fits: the exact one is told first. */
enum fit { FIT_NONE, FIT_PART, FIT_EXACT };

static enum fit fit_name(const char *pattern, const char *name)
{
	if (!pattern)
		return FIT_PART;
	if (text_same(pattern, name))
		return FIT_EXACT;
	if (strpbrk(pattern, "*?[") ? fnmatch(pattern, name, FNM_CASEFOLD) == 0
	                            : strcasestr(name, pattern) != NULL)
		return FIT_PART;
	return FIT_NONE;
}

static enum fit fit_tube(const char *pattern, const struct tube_type *tube)
{
	enum fit best = fit_name(pattern, tube->name);
	char names[sizeof tube->aliases];
	char *rest = names, *name;

	memcpy(names, tube->aliases, sizeof names);
	while ((name = strsep(&rest, ";")) != NULL) {
		enum fit fit = *name ? fit_name(pattern, name) : FIT_NONE;

		if (fit > best)
			best = fit;
	}
	return best;
}

/* "12.6 V 0.15 A", nothing where there is nothing */
static void add_heater(struct buf *out, double volts, double amps)
{
	if (isnan(volts))
		return;
	add_number(out, volts, 3);
	buf_adds(out, " V ");
	add_number(out, amps, 4);
	buf_adds(out, " A");
}

static void add_ma(struct buf *out, double amps)
{
	add_number(out, amps * 1e3, 3);
	buf_adds(out, " mA");
}

static void separate(struct buf *out, size_t start)
{
	if (out->len > start)
		buf_adds(out, ", ");
}

static void add_ratings(struct buf *out, const struct tube_type *tube)
{
	size_t start = out->len;

	if (!isnan(tube->max_dc_amps)) {
		buf_adds(out, "dc ");
		add_ma(out, tube->max_dc_amps);
	}
	if (tube->plates > 0) {
		separate(out, start);
		buf_addf(out, "%d plate%s", tube->plates, tube->plates > 1 ? "s" : "");
	}
	if (!isnan(tube->drop_volts)) {
		separate(out, start);
		buf_adds(out, "drops ");
		add_number(out, tube->drop_volts, 2);
		buf_adds(out, " V at ");
		add_ma(out, tube->drop_amps);
		buf_adds(out, " a plate");
	}
	if (!isnan(tube->hold_volts)) {
		separate(out, start);
		buf_adds(out, "holds ");
		add_number(out, tube->hold_volts, 2);
		buf_adds(out, " V");
	}
	if (!isnan(tube->strike_volts)) {
		separate(out, start);
		buf_adds(out, "strikes by ");
		add_number(out, tube->strike_volts, 2);
		buf_adds(out, " V");
	}
	if (!isnan(tube->min_amps)) {
		separate(out, start);
		add_number(out, tube->min_amps * 1e3, 3);
		buf_adds(out, "-");
		add_ma(out, tube->max_amps);
	}
	if (!isnan(tube->typical_amps)) {
		separate(out, start);
		buf_adds(out, "typically ");
		add_ma(out, tube->typical_amps);
	}
}

static const char table_head[] =
	"TYPE\tKIND\tHEATER\tOR STRAPPED\tRATINGS\tFIGURES\tALSO NAMED; NOTE\n";
static const char table_sides[] = "lllllll";

static void table_tube(struct buf *out, const struct tube_type *tube)
{
	buf_addf(out, "%s\t%s\t", tube->name, tube_kinds[tube->kind]);
	add_heater(out, tube->heater_volts, tube->heater_amps);
	if (tube->heating == HEATING_DIRECT)
		buf_adds(out, " direct");
	buf_addc(out, '\t');
	add_heater(out, tube->alt_volts, tube->alt_amps);
	buf_addc(out, '\t');
	add_ratings(out, tube);
	buf_addf(out, "\t%s\t", figures(tube->from_memory));
	for (const char *at = tube->aliases; *at; at++)
		buf_addc(out, *at == ';' ? ' ' : *at);
	buf_addf(out, "%s%s\n", *tube->aliases && *tube->note ? "; " : "", tube->note);
}

static void table_lamp(struct buf *out, const struct lamp_type *lamp)
{
	buf_addf(out, "%s\t%s\t", lamp->name, lamp_kinds[lamp->kind]);
	add_heater(out, lamp->volts, lamp->amps);
	buf_adds(out, "\t\t");
	if (lamp->kind == LAMP_NEON) {
		add_ma(out, lamp->amps);
		buf_adds(out, ", holds ");
		add_number(out, lamp->hold_volts, 2);
		buf_adds(out, " V, strikes by ");
		add_number(out, lamp->strike_volts, 2);
		buf_adds(out, " V");
	}
	buf_addf(out, "\t%s\t%s\n", figures(lamp->from_memory), lamp->note);
}

static const char csv_head[] =
	"type,aliases,kind,heating,volts,amps,alt_volts,alt_amps,max_dc_amps,plates,"
	"drop_volts,drop_amps,strike_volts,hold_volts,min_amps,max_amps,typical_amps,figures,"
	"note\n";

static void csv_numbers(struct buf *out, const double *values, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		add_number(out, values[i], 6);
		buf_addc(out, ',');
	}
}

static void csv_tube(struct buf *out, const struct tube_type *tube)
{
	const double values[] = {
		tube->heater_volts, tube->heater_amps, tube->alt_volts, tube->alt_amps,
		tube->max_dc_amps, tube->plates ? tube->plates : (double)NAN, tube->drop_volts,
		tube->drop_amps, tube->strike_volts, tube->hold_volts, tube->min_amps,
		tube->max_amps, tube->typical_amps
	};

	csv_cell(out, tube->name);
	buf_addc(out, ',');
	csv_cell(out, tube->aliases);
	buf_addf(out, ",%s,%s,", tube_kinds[tube->kind], heatings[tube->heating]);
	csv_numbers(out, values, sizeof values / sizeof values[0]);
	buf_addf(out, "%s,", figures(tube->from_memory));
	csv_cell(out, tube->note);
	buf_addc(out, '\n');
}

static void csv_lamp(struct buf *out, const struct lamp_type *lamp)
{
	const double values[] = {
		lamp->volts, lamp->amps, NAN, NAN, NAN, NAN, NAN, NAN, lamp->strike_volts,
		lamp->hold_volts, NAN, NAN, NAN
	};

	csv_cell(out, lamp->name);
	buf_addf(out, ",,%s,,", lamp_kinds[lamp->kind]);
	csv_numbers(out, values, sizeof values / sizeof values[0]);
	buf_addf(out, "%s,", figures(lamp->from_memory));
	csv_cell(out, lamp->note);
	buf_addc(out, '\n');
}

/* Append every row that fits as well as that.  Returns how many. */
static size_t add_rows(struct buf *out, const struct tables *t, const char *pattern, enum fit fit,
                       enum output_format format)
{
	size_t n = 0;

	for (size_t i = 0; i < t->n_tubes; i++) {
		if (fit_tube(pattern, &t->tubes[i]) != fit)
			continue;
		n++;
		if (format == OUTPUT_CSV)
			csv_tube(out, &t->tubes[i]);
		else
			table_tube(out, &t->tubes[i]);
	}
	for (size_t i = 0; i < t->n_lamps; i++) {
		if (fit_name(pattern, t->lamps[i].name) != fit)
			continue;
		n++;
		if (format == OUTPUT_CSV)
			csv_lamp(out, &t->lamps[i]);
		else
			table_lamp(out, &t->lamps[i]);
	}
	return n;
}

static int nothing_fits(const struct tables *t, const char *pattern)
{
	const char *near[3];
	size_t n = tables_nearest_tubes(t, pattern, near, 3);

	if (n == 0)
		complain("no tube or lamp type fits %s", pattern);
	else
		complain("no tube or lamp type fits %s; near it: %s%s%s%s%s", pattern, near[0],
		         n > 1 ? ", " : "", n > 1 ? near[1] : "", n > 2 ? ", " : "",
		         n > 2 ? near[2] : "");
	return 1;
}

int cmd_tubes(int argc, char **argv)
{
	enum output_format format = OUTPUT_TABLE;
	const struct option_row rows_of_options[] = {
		{ "format", "FORMAT", take_format, &format, "table (the default) or csv" },
	};
	const struct command_usage usage = {
		.synopsis = "tubes [OPTION]... [PATTERN]",
		.about = "The tube and lamp types whose name, or another name for the same, "
			"contains PATTERN or fits it as a glob (6*7GT; quote it against the "
			"shell), letter case ignored; without PATTERN all of them. `read` figures "
			"were read in the sources that the data files name, the others are from "
			"memory: check those against a handbook before trusting the band.",
		.after = "Exit status: 0, 1 nothing fits, 2 bad usage.",
		.rows = rows_of_options, .n_rows = 1,
		.least = 0, .most = 1,
		.wanted = "one pattern at most; quote a * for the shell",
	};
	struct buf rows = BUF_INIT, out = BUF_INIT;
	const char *pattern;
	struct tables tables;
	struct err err;
	char **operands;
	int status = options_read(&usage, argc, argv, &operands);

	if (status != OPTIONS_READ)
		return status;
	pattern = operands[0];
	if (pattern && pattern[0] == '#') /* a lamp's number as it stands on the box */
		pattern++;
	if (pattern && !*pattern) {
		complain("tubes: an empty pattern fits nothing");
		return EXIT_USAGE;
	}
	if (table_file_load(&tables, &err) != 0) {
		complain("%s", err.text);
		return EXIT_USAGE;
	}
	buf_adds(&rows, format == OUTPUT_CSV ? csv_head : table_head);
	if (add_rows(&rows, &tables, pattern, FIT_EXACT, format) +
	    add_rows(&rows, &tables, pattern, FIT_PART, format) == 0) {
		status = nothing_fits(&tables, pattern);
	} else if (format == OUTPUT_CSV) {
		status = output_flush(&rows);
	} else {
		align_columns(&out, &rows, table_sides);
		out.failed |= rows.failed;
		status = output_flush(&out);
	}
	buf_release(&rows);
	buf_release(&out);
	tables_release(&tables);
	return status;
}
