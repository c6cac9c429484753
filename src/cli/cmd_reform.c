/* mainstair reform RATING READINGS - is this capacitor formed, and if not, when will it be? */
#include "cli/commands.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "cli/input.h"
#include "cli/options.h"
#include "cli/output.h"
#include "mainstair/base/num.h"
#include "mainstair/core/reform.h"
#include "mainstair/proto/reform_text.h"

enum { EXIT_NOT_YET = 1, EXIT_STOP = 3, READINGS_SIZE_MAX = 64 << 20 };

struct wish {
	enum reform_rule rule; /* REFORM_RULES: target_amps */
	double target_amps;
	double to_volts;                  /* 0: as rated */
	double series_ohms, series_watts; /* 0: not told */
	double supply_volts;              /* 0: not told */
};

struct section {
	const struct reform_section *list;
	size_t number; /* from 1; 0: the only one */
	struct reform_aim aim;
	double limits[REFORM_RULES];
	struct reform_judgement judgement;
	struct reform_step step;
};

/* --- words -------------------------------------------------------------------------------- */

static void add_unit(struct buf *out, double value, enum unit unit, int digits)
{
	char text[64];

	buf_add(out, text, num_print_unit(text, sizeof text, value, unit, digits));
}

static void add_time(struct buf *out, double seconds)
{
	char words[REFORM_WORDS_MAX];

	reform_say_time(words, seconds);
	buf_adds(out, words);
}

static void add_part(struct buf *out, const struct reform_part *part)
{
	add_number(out, part->farad * 1e6, 3);
	buf_adds(out, " uF ");
	add_number(out, part->volts, 1);
	buf_adds(out, " V");
}

static const char *rule_name(enum reform_rule rule)
{
	return rule == REFORM_RULES ? "own" : reform_rules[rule].name;
}

static void add_range(struct buf *out, const struct reform_range *range)
{
	add_unit(out, range->median, UNIT_AMPERE, 2);
	buf_adds(out, " (");
	add_unit(out, range->low, UNIT_AMPERE, 2);
	buf_adds(out, " to ");
	add_unit(out, range->high, UNIT_AMPERE, 2);
	buf_addc(out, ')');
}

/* --- table -------------------------------------------------------------------------------- */

static const struct reform_reading *last_of(const struct section *s)
{
	return &s->list->readings[s->list->n - 1];
}

static void limit_row(struct buf *rows, const char *name, double limit, const struct section *s,
                      struct reform_work *work, const char *basis)
{
	buf_addf(rows, "%s\t", name);
	if (isnan(limit)) {
		buf_addf(rows, "-\tdoes not cover this part\t%s\n", basis);
		return;
	}
	add_unit(rows, limit, UNIT_AMPERE, 3);
	buf_addc(rows, '\t');
	if (last_of(s)->amps <= limit) {
		buf_adds(rows, "met");
	} else if (s->judgement.fitted && s->judgement.verdict != REFORM_FAILING) {
		const struct reform_reach reach = reform_fit_reach(work, limit);
		char words[REFORM_WORDS_MAX];

		reform_say_reach(words, &reach);
		buf_adds(rows, words);
	} else {
		buf_adds(rows, "not met");
	}
	buf_addf(rows, "\t%s\n", basis);
}

static void print_limits(struct buf *out, const struct section *s, struct reform_work *work)
{
	struct buf rows = BUF_INIT;

	buf_adds(&rows, "RULE\tLIMIT\tTIME TO IT (90 % INTERVAL)\tSOURCE\n");
	for (int i = 0; i < REFORM_RULES; i++)
		limit_row(&rows, reform_rules[i].name, s->limits[i], s, work,
		          basis_word(reform_rules[i].basis));
	if (s->aim.rule == REFORM_RULES)
		limit_row(&rows, rule_name(REFORM_RULES), s->aim.limit_amps, s, work, "your own");
	align_columns(out, &rows, "lrll");
	out->failed |= rows.failed;
	buf_release(&rows);
}

static void print_fit(struct buf *out, const struct section *s, struct reform_work *work)
{
	struct reform_range slope;

	if (!s->judgement.fitted) {
		buf_addf(out, "fit: needs %d readings at the same volts\n", REFORM_READINGS_LEAST);
		return;
	}
	slope = reform_fit_slope(work);
	buf_adds(out, "fit: over ");
	add_time(out, s->judgement.held_s);
	buf_adds(out, " at these volts; falls now as t^-");
	add_number(out, fmax(slope.median, 0.0), 2);
	buf_adds(out, " (exponent ");
	add_number(out, fmax(slope.low, 0.0), 2);
	buf_adds(out, " to ");
	add_number(out, fmax(slope.high, 0.0), 2);
	buf_adds(out, "); readings scatter by ");
	add_number(out, 100.0 * reform_fit_noise(work), 1);
	buf_addf(out, " %%\nplateau: ");
	add_range(out, &s->judgement.plateau);
	buf_addf(out, " left after %d times that time, at these volts\n", REFORM_HORIZON);
}

/* "usable by older, uk-1968; not like new by cv-0.01" */
static void print_both(struct buf *out, const struct section *s)
{
	for (int met = 1; met >= 0; met--) {
		const char *before = met ? "within: " : "above: ";

		for (int i = 0; i < REFORM_RULES; i++) {
			if (isnan(s->limits[i]) || (last_of(s)->amps <= s->limits[i]) != met)
				continue;
			buf_addf(out, "%s%s", before, reform_rules[i].name);
			before = ", ";
		}
		if (strcmp(before, ", ") == 0)
			buf_addc(out, '\n');
	}
	if (s->judgement.verdict == REFORM_FORMED && last_of(s)->amps > s->limits[REFORM_CV_1])
		buf_addf(out, "usable by the rule %s; not like new by the modern cv-0.01\n",
		         rule_name(s->aim.rule));
}

static void print_step(struct buf *out, const struct section *s)
{
	char words[REFORM_WORDS_MAX];

	reform_say_step(words, &s->step);
	buf_addf(out, "next: %s - %s\n", words, s->step.why);
}

static void print_series(struct buf *out, const struct section *s, const struct wish *wish)
{
	const double volts = wish->supply_volts > 0.0 ? wish->supply_volts : s->aim.form_volts;
	double watts, ohms = wish->series_ohms;
	struct reform_series at;

	if (ohms > 0.0) {
		buf_adds(out, "series resistor ");
		watts = wish->series_watts;
	} else {
		ohms = reform_series_advised(volts, &watts);
		buf_adds(out, "series resistor, advised: ");
	}
	at = reform_series_at(volts, ohms, watts, s->aim.limit_amps);
	add_unit(out, ohms, UNIT_OHM, 3);
	if (watts > 0.0) {
		buf_addc(out, ' ');
		add_unit(out, watts, UNIT_WATT, 3);
	}
	buf_adds(out, "; with the part shorted ");
	add_unit(out, at.short_amps, UNIT_AMPERE, 3);
	buf_adds(out, ", ");
	add_unit(out, at.short_watts, UNIT_WATT, 3);
	buf_adds(out, " in it at ");
	add_number(out, volts, 1);
	buf_addf(out, " V%s; drops ", at.overloaded ? ": MORE THAN IT STANDS" : "");
	add_unit(out, at.drop_volts, UNIT_VOLT, 3);
	buf_adds(out, " at the limit\n");
}

/* No step that supply and resistor, as told or as advised, do not reach. */
static void step_within(struct section *s, const struct wish *wish)
{
	const double volts = wish->supply_volts > 0.0 ? wish->supply_volts : s->aim.form_volts;
	double watts, ohms = wish->series_ohms;

	if (!(ohms > 0.0))
		ohms = reform_series_advised(volts, &watts);
	if (s->list->n > 0)
		reform_step_within(&s->step, &s->aim, last_of(s), volts, ohms);
}

static void print_charge(struct buf *out, const struct section *s)
{
	const double volts = last_of(s)->volts;
	const struct reform_discharge d = reform_discharge_of(s->aim.part.farad, volts);

	buf_adds(out, "charge: ");
	add_unit(out, d.joules, UNIT_NONE, 3);
	buf_adds(out, " J at ");
	add_number(out, volts, 1);
	buf_addf(out, " V%s; ", d.shock_hazard ? " (enough to kill)" : "");
	if (isnan(d.ohms)) {
		buf_adds(out, "below 60 V\n");
		return;
	}
	buf_adds(out, "discharge through ");
	add_unit(out, d.ohms, UNIT_OHM, 3);
	buf_addc(out, ' ');
	add_unit(out, d.watts, UNIT_WATT, 3);
	buf_adds(out, " (");
	add_unit(out, d.peak_watts, UNIT_WATT, 3);
	buf_adds(out, " at first): below 60 V after ");
	add_number(out, d.seconds, 1);
	buf_adds(out, " s, then short it\n");
}

static void print_verdict(struct buf *out, const struct section *s)
{
	const struct reform_judgement *j = &s->judgement;

	buf_addf(out, "verdict: %s", reform_verdict_word(j->verdict));
	if (j->reason != REFORM_NO_REASON)
		buf_addf(out, " - %s", reform_reason_text(j->reason));
	if (!isnan(j->rise)) {
		buf_adds(out, " (up by ");
		add_number(out, 100.0 * j->rise, 0);
		buf_adds(out, " %)");
	}
	buf_addf(out, "; limit by %s, ", rule_name(s->aim.rule));
	add_unit(out, s->aim.limit_amps, UNIT_AMPERE, 3);
	if (!j->at_form_volts) {
		buf_adds(out, ", counts at ");
		add_number(out, s->aim.form_volts, 1);
		buf_adds(out, " V");
	}
	buf_addc(out, '\n');
	if (s->aim.rule != REFORM_RULES)
		buf_addf(out, "rule %s (C in uF): %s; read %d min after the volts are applied\n"
		         "  from: %s (%s)\n", rule_name(s->aim.rule),
		         reform_rules[s->aim.rule].formula, reform_rules[s->aim.rule].minutes,
		         reform_rules[s->aim.rule].source,
		         basis_word(reform_rules[s->aim.rule].basis));
	if (j->sparks > 0)
		buf_addf(out, "caution: %zu reading%s stood half as much again above both neighbours: "
		         "sparks inside, or slips\n", j->sparks, j->sparks > 1 ? "s" : "");
}

static void print_section(struct buf *out, const struct section *s, const struct wish *wish,
                          struct reform_work *work)
{
	if (s->number > 0)
		buf_addf(out, "section %zu: ", s->number);
	add_part(out, &s->aim.part);
	if (s->list->n == 0) {
		buf_adds(out, ", no readings\n");
		print_step(out, s);
		return;
	}
	buf_addf(out, ", %zu reading%s; last ", s->list->n, s->list->n == 1 ? "" : "s");
	add_number(out, last_of(s)->volts, 1);
	buf_adds(out, " V ");
	add_unit(out, last_of(s)->amps, UNIT_AMPERE, 3);
	buf_adds(out, " after ");
	add_time(out, last_of(s)->seconds);
	buf_addc(out, '\n');
	print_limits(out, s, work);
	print_fit(out, s, work);
	print_verdict(out, s);
	print_both(out, s);
	print_step(out, s);
	print_series(out, s, wish);
	print_charge(out, s);
}

static void print_cautions(struct buf *out)
{
	for (int i = 0; i < REFORM_CAUTIONS; i++)
		buf_addf(out, "%s%s\n", i == 0 ? "cautions: " : "          ", reform_cautions[i]);
}

/* --- CSV ---------------------------------------------------------------------------------- */

static void csv_head(struct buf *out)
{
	buf_adds(out, "section,microfarads,rated_volts,readings,seconds,volts,milliamps,rule,limit_ma,"
	         "verdict,reason,seconds_low,seconds_to_limit,seconds_high,chance_never,"
	         "plateau_ma_low,plateau_ma,plateau_ma_high,exponent,scatter,next,next_volts");
	for (int i = 0; i < REFORM_RULES; i++)
		buf_addf(out, ",limit_%s_ma", reform_rules[i].name);
	buf_addc(out, '\n');
}

/* Nothing for what is not known and what does not come. */
static void cell(struct buf *out, double value, int decimals)
{
	buf_addc(out, ',');
	if (isfinite(value))
		add_number(out, value, decimals);
}

static void csv_row(struct buf *out, const struct section *s, struct reform_work *work)
{
	static const char *const orders[] = {
		[REFORM_STOP] = "stop", [REFORM_LOWER] = "lower", [REFORM_HOLD] = "hold",
		[REFORM_RAISE] = "raise", [REFORM_DONE] = "done",
	};
	const struct reform_judgement *j = &s->judgement;
	const struct reform_reading none = { (double)NAN, (double)NAN, (double)NAN };
	const struct reform_reading *last = s->list->n > 0 ? last_of(s) : &none;

	buf_addf(out, "%zu", s->number > 0 ? s->number : 1);
	cell(out, s->aim.part.farad * 1e6, 4);
	cell(out, s->aim.part.volts, 2);
	buf_addf(out, ",%zu", s->list->n);
	cell(out, last->seconds, 3);
	cell(out, last->volts, 3);
	cell(out, last->amps * 1e3, 6);
	buf_addf(out, ",%s", rule_name(s->aim.rule));
	cell(out, s->aim.limit_amps * 1e3, 6);
	buf_addf(out, ",%s,%s", reform_verdict_word(j->verdict), reform_reason_text(j->reason));
	cell(out, j->reach.seconds.low, 0);
	cell(out, j->reach.seconds.median, 0);
	cell(out, j->reach.seconds.high, 0);
	cell(out, j->reach.share_never, 3);
	cell(out, j->plateau.low * 1e3, 6);
	cell(out, j->plateau.median * 1e3, 6);
	cell(out, j->plateau.high * 1e3, 6);
	cell(out, j->fitted ? reform_fit_slope(work).median : (double)NAN, 3);
	cell(out, j->fitted ? reform_fit_noise(work) : (double)NAN, 4);
	buf_addf(out, ",%s", orders[s->step.order]);
	cell(out, s->step.volts, 1);
	for (int i = 0; i < REFORM_RULES; i++)
		cell(out, s->limits[i] * 1e3, 6);
	buf_addc(out, '\n');
}

/* --- judging ------------------------------------------------------------------------------ */

/* What the section is held against.  -1 after a complaint. */
static int aim_at(struct section *s, const struct reform_part *part, const struct wish *wish)
{
	for (int i = 0; i < REFORM_RULES; i++)
		s->limits[i] = reform_limit_amps((enum reform_rule)i, part);
	s->aim = (struct reform_aim){
		.part = *part,
		.rule = wish->rule,
		.form_volts = wish->to_volts > 0.0 ? wish->to_volts : part->volts,
		.limit_amps = wish->rule == REFORM_RULES ? wish->target_amps :
			s->limits[wish->rule],
		.series_ohms = wish->series_ohms,
		.floor_amps = 0.5 * s->list->digit_amps,
	};
	if (s->aim.form_volts > part->volts) {
		complain("--to: above the rated volts");
		return -1;
	}
	if (isnan(s->aim.limit_amps)) {
		complain("the rule %s covers no part of these volts; name another by --rule, or your "
		         "own limit by --target", rule_name(wish->rule));
		return -1;
	}
	return 0;
}

static int status_of(const struct section *s, int so_far)
{
	if (so_far == EXIT_STOP || s->judgement.verdict == REFORM_FAILING)
		return EXIT_STOP;
	return s->judgement.verdict == REFORM_FORMED ? so_far : EXIT_NOT_YET;
}

static int judge_list(const struct reform_list *list, const struct reform_part *parts, size_t n,
                      const struct wish *wish, enum output_format format,
                      struct reform_work *work)
{
	struct buf out = BUF_INIT;
	int status = EXIT_DONE;

	if (format == OUTPUT_CSV)
		csv_head(&out);
	for (size_t i = 0; i < n; i++) {
		struct section s = { .list = &list->section[i], .number = n > 1 ? i + 1 : 0 };

		if (aim_at(&s, &parts[i], wish) < 0) {
			buf_release(&out);
			return EXIT_USAGE;
		}
		s.judgement = reform_judge(&s.aim, s.list->readings, s.list->n, work);
		s.step = reform_next_step(&s.aim, s.list->readings, s.list->n, &s.judgement,
		                          wish->supply_volts, 0.0);
		step_within(&s, wish);
		status = status_of(&s, status);
		if (format == OUTPUT_CSV) {
			csv_row(&out, &s, work);
		} else {
			print_section(&out, &s, wish, work);
			buf_addc(&out, '\n');
		}
	}
	if (format == OUTPUT_TABLE)
		print_cautions(&out);
	if (output_flush(&out) != EXIT_DONE)
		status = EXIT_USAGE;
	buf_release(&out);
	return status;
}

static int reform(const char *rating, const char *path, const struct wish *wish,
                  enum output_format format)
{
	struct reform_part parts[REFORM_SECTIONS_MAX];
	struct reform_work *work = NULL;
	struct reform_list list;
	struct complaints faults;
	struct buf text = BUF_INIT;
	int status = EXIT_USAGE;
	const char *name;
	struct err err;
	size_t n;

	if (reform_rating_parse(rating, parts, &n, &err) < 0) {
		complain("reform: %s: %s", rating, err.text);
		return EXIT_USAGE;
	}
	name = input_read(path, READINGS_SIZE_MAX, &text);
	if (!name) {
		buf_release(&text);
		return EXIT_USAGE;
	}
	complaints_init(&faults, name);
	if (reform_list_parse(text.data, text.len, n, &list, &faults) == 0) {
		work = calloc(1, sizeof *work);
		if (work)
			status = judge_list(&list, parts, n, wish, format, work);
		else
			complain("out of memory");
		reform_list_release(&list);
	} else {
		complain_all(&faults);
	}
	complaints_release(&faults);
	buf_release(&text);
	free(work);
	return status;
}

/* --- options ------------------------------------------------------------------------------ */

/* `100k` or `100k 5W` */
static int take_series(const char *option, const char *text, void *into)
{
	struct wish *wish = into;
	struct option_number watts = { &wish->series_watts, UNIT_WATT, 0, INFINITY, .above = true };
	struct quantity ohms;
	struct err err;
	const char *rest = num_scan(text, UNIT_OHM, &ohms, &err);

	if (!rest) {
		complain("%s: %s", option, err.text);
		return -1;
	}
	if (!(ohms.value > 0.0) || ohms.tol >= 0.0) {
		complain("%s: %s: ohms above zero are expected, as 100k 5W", option, text);
		return -1;
	}
	wish->series_ohms = ohms.value;
	return *rest ? take_number(option, rest, &watts) : 0;
}

static int take_rule(const char *option, const char *word, void *into)
{
	const int rule = reform_rule_from_word(word);
	struct buf names = BUF_INIT;

	if (rule >= 0) {
		*(int *)into = rule;
		return 0;
	}
	for (int i = 0; i < REFORM_RULES; i++)
		buf_addf(&names, "%s%s", i > 0 ? ", " : "", reform_rules[i].name);
	complain("%s: no rule %.40s; there are %s", option, word, names.data);
	buf_release(&names);
	return -1;
}

int cmd_reform(int argc, char **argv)
{
	enum output_format format = OUTPUT_TABLE;
	struct wish wish = { .rule = REFORM_OLDER };
	/* the desk believes no more either */
	struct option_number target = { &wish.target_amps, UNIT_AMPERE, 0, 0.5, .above = true };
	struct option_number to = { &wish.to_volts, UNIT_VOLT, 0, INFINITY, .above = true };
	struct option_number supply = { &wish.supply_volts, UNIT_VOLT, 0, 5000, .above = true };
	int rule = -1;
	const struct option_row rows[] = {
		{ "RATING", NULL, NULL, NULL,
		  "'20 uF 450 V'; the sections of a can: '50+30 uF 150 V'" },
		{ "READINGS", NULL, NULL, NULL,
		  "a line each: seconds since the volts were applied, volts across the part, "
		  "milliamps; a first line may name the columns, in any order: seconds, volts, "
		  "milliamps (or microamps), and section for cans; - reads standard input" },
		{ "rule", "NAME", take_rule, &rule,
		  "the limit that decides: older (as without it), cv-0.01, cv-0.03, cv-0.002, "
		  "uk-1968, root-cv, power-cv" },
		{ "target", "AMPS", take_number, &target, "your own limit instead, as 0.2mA" },
		{ "to", "VOLTS", take_number, &to, "form to less than rated" },
		{ "series", "OHMS", take_series, &wish,
		  "the resistor in series, perhaps with its watts: '100k 5W'" },
		{ "supply", "VOLTS", take_number, &supply, "the most that the supply gives" },
		{ "format", "FORMAT", take_format, &format, "table (the default) or csv" },
	};
	const struct command_usage usage = {
		.synopsis = "reform [OPTION]... RATING READINGS",
		.about = "Judges the leakage readings of an electrolytic capacitor that is being "
			"re-formed: limits by published rules, the fall so far, the time to each "
			"limit with its 90 % interval, what will remain, what to do next, and a "
			"verdict: formed, improving, stuck, failing, too-early.",
		.after = "Exit status: 0 formed, 1 not yet (improving, stuck, too-early), 3 "
			"failing: stop now, 2 bad usage or input.",
		.rows = rows, .n_rows = sizeof rows / sizeof rows[0],
		.least = 2, .most = 2, .wanted = "a RATING and a file of READINGS, please",
	};
	char **operands;
	const int status = options_read(&usage, argc, argv, &operands);

	if (status != OPTIONS_READ)
		return status;
	if (rule >= 0 && wish.target_amps > 0.0) {
		complain("reform: --rule or --target, not both");
		return EXIT_USAGE;
	}
	if (wish.target_amps > 0.0)
		wish.rule = REFORM_RULES;
	else if (rule >= 0)
		wish.rule = (enum reform_rule)rule;
	return reform(operands[0], operands[1], &wish, format);
}
