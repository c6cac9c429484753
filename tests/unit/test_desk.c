/* The re-forming desk: sections from a profile and entries, over days; typed lines; a meter. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/desk.h"
#include "mainstair/core/job.h"

TestSuite(desk, .timeout = 60);

enum { ENTRIES_MAX = 120000 };

static struct entry *book;
static size_t n_book;
static struct profile unit;
static struct desk_section section; /* large; each test is its own process */
static struct reform_work *work;

static void add_capacitor(const char *place, double farad, double volts)
{
	struct profile_capacitor *c = &unit.capacitors[unit.n_capacitors++];

	snprintf(c->place, sizeof c->place, "%s", place);
	c->farad = (struct given){ true, farad, -1 };
	c->volts = (struct given){ true, volts, -1 };
	c->rail = -1;
}

/* A dual can and a cathode capacitor. */
static void begin(void)
{
	book = calloc(ENTRIES_MAX, sizeof *book);
	work = malloc(sizeof *work);
	cr_assert(book && work);
	memset(&unit, 0, sizeof unit);
	add_capacitor("C1A", 20e-6, 450);
	add_capacitor("C1B", 20e-6, 450);
	add_capacitor("C2", 10e-6, 25);
}

static void end(void)
{
	free(book);
	free(work);
}

static struct entry *put(enum entry_kind kind, double utc_s, const char *subject, const char *word)
{
	struct entry *e = &book[n_book++];

	cr_assert(n_book <= ENTRIES_MAX);
	*e = (struct entry){ utc_s, kind, subject, word, "", { NAN, NAN, NAN, NAN } };
	return e;
}

static void reading(double utc_s, const char *subject, double volts, double amps)
{
	struct entry *e = put(ENTRY_CAP_READING, utc_s, subject, "");

	e->number[0] = volts;
	e->number[1] = amps;
}

static void event(double utc_s, const char *subject, const char *word, double volts)
{
	put(ENTRY_CAP_EVENT, utc_s, subject, word)->number[0] = volts;
}

static struct desk_section *make(int index, bool fit)
{
	desk_section_make(&section, &unit, index, book, n_book);
	desk_judge(&section, fit ? work : NULL);
	return &section;
}

static const double day = 1.8e9;

Test(desk, nothing_read_blocks, .init = begin, .fini = end)
{
	for (int i = 0; i < unit.n_capacitors; i++) {
		const struct desk_section *s = make(i, true);

		cr_assert(s->state == DESK_UNTOUCHED && s->blocks && !s->on && !s->must_discharge);
		cr_assert(s->step.order == REFORM_RAISE);
		cr_assert(fabs(s->step.volts - (i < 2 ? 113 : 6.25)) < 0.01, "a quarter: %g",
		          s->step.volts);
		cr_assert(!s->series.overloaded && s->series.short_amps <= 0.005);
	}
}

/* Common practice, no source: a large section at 250 V that starts at 3.5 mA, reaches 1 mA after
 * some 20-30 minutes and 50-80 uA overnight is formed.  "Large": 100 uF; formed by the older rule
 * (2.3 mA) and by the modern one (250 uA). */
Test(desk, overnight_a_large_section_is_formed, .init = begin, .fini = end)
{
	const struct desk_section *s;

	add_capacitor("C3", 100e-6, 250);
	put(ENTRY_CAP_SET, day, "C3", "cv-0.01");
	event(day, "C3", "volts", 250);
	reading(day + 60, "C3", 250, 3.5e-3);
	reading(day + 300, "C3", 250, 2.3e-3);
	reading(day + 700, "C3", 250, 1.5e-3);
	reading(day + 1500, "C3", 250, 1.0e-3);
	s = make(3, true);
	cr_assert(s->state == DESK_FORMING && s->blocks, "%s", s->words);
	cr_assert(s->judgement.verdict == REFORM_IMPROVING);
	reading(day + 40000, "C3", 250, 65e-6);
	s = make(3, true);
	cr_assert(s->state == DESK_FORMED, "%s: %s", desk_state_word(s->state), s->words);
	cr_assert(s->step.order == REFORM_DONE);
	cr_assert(s->blocks, "it is still on the supply");
	event(day + 40100, "C3", "off", NAN);
	s = make(3, true);
	cr_assert(s->must_discharge && s->blocks && strstr(s->words, "discharge it"), "%s", s->words);
	event(day + 40200, "C3", "discharged", NAN);
	s = make(3, true);
	cr_assert(s->state == DESK_FORMED && !s->blocks && !s->must_discharge, "%s", s->words);
}

/* Common practice, no source: a 20 uF section that has come down to 0.21 mA after hours and creeps
 * on is usable by the older rule (1.1 mA at 450 V), not like new by the modern one (90 uA); and
 * both are said. */
Test(desk, usable_by_the_older_rule_not_like_new_by_the_modern, .init = begin, .fini = end)
{
	static const double run[][2] = { { 120, 3.0e-3 }, { 600, 1.4e-3 }, { 1800, 0.7e-3 },
		                         { 3600, 0.42e-3 }, { 7200, 0.29e-3 },
		                         { 10800, 0.245e-3 }, { 14400, 0.21e-3 } };
	const struct desk_section *s;

	event(day, "C1A", "volts", 450);
	for (int i = 0; i < 7; i++)
		reading(day + run[i][0], "C1A", 450, run[i][1]);
	for (int fit = 0; fit < 2; fit++) {
		s = make(0, fit);
		cr_assert(s->state == DESK_OLDER_ONLY, "%s", s->words);
		cr_assert(strstr(s->words, "usable by the old rule (1.1 mA)") &&
		          strstr(s->words, "not like new by today's 0.01 C V (90 uA)"), "%s", s->words);
	}
	/* held against the modern rule it is not done, and what it is good for is still said */
	put(ENTRY_CAP_SET, day + 14401, "C1A", "cv-0.01");
	s = make(0, true);
	cr_assert((s->state == DESK_FORMING || s->state == DESK_STUCK) && s->blocks);
	cr_assert(strstr(s->words, "usable by the old rule"), "%s", s->words);
	/* the restorer's word ends it */
	put(ENTRY_CAP_EVENT, day + 14500, "C1A", "accepted")->note = "no hum at this leakage";
	event(day + 14501, "C1A", "discharged", NAN);
	s = make(0, true);
	cr_assert(s->state == DESK_ACCEPTED && !s->blocks && strstr(s->words, "no hum"));
}

Test(desk, sections_of_a_can_do_not_mix, .init = begin, .fini = end)
{
	for (int i = 0; i < 20; i++) {
		reading(day + 60 * i, "C1A", 300, 3e-3 / (1 + i));
		reading(day + 60 * i + 5, "C1B", 300, 1e-3 * (1 + 0.1 * i));
	}
	cr_assert(make(0, false)->n == 20 && section.state == DESK_FORMING);
	cr_assert(make(1, false)->n == 20 && section.state == DESK_FAILING);
	cr_assert(section.judgement.reason == REFORM_RISING && section.step.order == REFORM_STOP);
	cr_assert(make(2, false)->n == 0 && section.state == DESK_UNTOUCHED);
}

/* After a night without volts the leakage starts higher: no failure, but a run of its own. */
Test(desk, off_overnight_is_no_rise, .init = begin, .fini = end)
{
	const struct desk_section *s;

	event(day, "C1A", "volts", 300);
	for (int i = 1; i <= 10; i++)
		reading(day + 60 * i, "C1A", 300, 2e-3 / i);
	event(day + 700, "C1A", "off", NAN);
	/* the meter stays: the charge goes, and that is no reading of leakage */
	reading(day + 760, "C1A", 250, 0);
	s = make(0, true);
	cr_assert(s->n == 10 && s->must_discharge && fabs(s->charged_volts - 250) < 1e-9);
	event(day + 800, "C1A", "discharged", NAN);
	reading(day + 805, "C1A", 4, 0);
	s = make(0, true);
	cr_assert(s->n == 10 && !s->must_discharge && !s->on);

	event(day + 50000, "C1A", "volts", 300);
	s = make(0, true);
	cr_assert(s->n == 10 && s->on, "the old run stands until something is read");
	reading(day + 50030, "C1A", 300, 0.9e-3);
	reading(day + 50090, "C1A", 300, 0.6e-3);
	reading(day + 50300, "C1A", 300, 0.4e-3);
	s = make(0, true);
	cr_assert(s->state == DESK_FORMING && s->n == 3 && s->n_earlier == 10, "%s", s->words);
	cr_assert(fabs(s->reading[0].seconds - 30) < 1e-3, "since the volts were put on");
	cr_assert(s->judgement.fitted && fabs(s->judgement.held_s - 300) < 1e-3);
	cr_assert(fabs(s->earlier_amps - 0.2e-3) < 1e-9 && fabs(s->earlier_volts - 300) < 1e-9);
}

Test(desk, a_raise_begins_a_stretch_not_a_run, .init = begin, .fini = end)
{
	const struct desk_section *s;

	event(day, "C1A", "volts", 100);
	reading(day + 30, "C1A", 100, 1e-3);
	reading(day + 300, "C1A", 100, 0.2e-3);
	event(day + 310, "C1A", "volts", 200);
	reading(day + 320, "C1A", 200, 3e-3);
	reading(day + 400, "C1A", 200, 1.2e-3);
	reading(day + 900, "C1A", 200, 0.5e-3);
	s = make(0, true);
	cr_assert(s->n == 5 && s->judgement.stretch == 2);
	cr_assert(fabs(s->judgement.held_s - 590) < 1e-3, "%g", s->judgement.held_s);
	cr_assert(s->state == DESK_FORMING);
	/* `on` again at no more volts: the supply was off and nobody said so */
	event(day + 90000, "C1A", "volts", NAN);
	reading(day + 90010, "C1A", 200, 0.9e-3);
	s = make(0, true);
	cr_assert(s->n == 1 && s->n_earlier == 5 && s->state == DESK_FORMING, "%s", s->words);
}

Test(desk, a_new_one_starts_clean, .init = begin, .fini = end)
{
	const struct desk_section *s;

	for (int i = 0; i < 10; i++)
		reading(day + 60 * i, "C1B", 300, 1e-3 * (1 + 0.1 * i));
	put(ENTRY_CAP_EVENT, day + 700, "C1B", "accepted")->note = "why not";
	s = make(1, false);
	cr_assert(s->state == DESK_FAILING && s->blocks, "no word makes a failing one good");
	event(day + 800, "C1B", "out", NAN);
	s = make(1, false);
	cr_assert(s->state == DESK_REPLACED && !s->blocks && s->n == 0 && !s->must_discharge);
	for (int i = 0; i < 10; i++)
		reading(day + 1000 + 60 * i, "C1B", 450, 1e-3 * (1 + 0.1 * i));
	cr_assert(make(1, false)->state == DESK_FAILING, "new ones fail as well");
}

Test(desk, setup_by_parts_and_a_shorted_section, .init = begin, .fini = end)
{
	const struct desk_section *s;

	put(ENTRY_CAP_SET, day, "C1A", "")->number[0] = 450;
	put(ENTRY_CAP_SET, day + 1, "C1A", "")->number[1] = 30e3;
	book[n_book - 1].number[2] = 5;
	put(ENTRY_CAP_SET, day + 2, "C1A", "cv-0.03");
	s = make(0, false);
	/* a published advice of 30 kohm 5 W does not stand a short at 450 V: 15 mA, 6.75 W */
	cr_assert(s->supply_told && s->series_told && s->series.overloaded);
	cr_assert(fabs(s->series.short_amps - 15e-3) < 1e-9 &&
	          fabs(s->series.short_watts - 6.75) < 1e-9);
	cr_assert(s->aim.rule == REFORM_CV_3 && fabs(s->aim.limit_amps - 273e-6) < 1e-9);
	put(ENTRY_CAP_SET, day + 3, "C1A", "own")->number[3] = 0.2e-3;
	cr_assert(fabs(make(0, false)->aim.limit_amps - 0.2e-3) < 1e-12);
	cr_assert(section.supply_told, "what was not told again stays");

	/* the resistor takes what the leakage costs; no more volts are asked of this supply */
	reading(day + 10, "C1A", 420, 1e-3);
	reading(day + 400, "C1A", 424, 0.85e-3);
	s = make(0, false);
	cr_assert(s->step.order == REFORM_HOLD, "%s", s->step.why);
}

/* Put on, and off again with nothing read: it may hold all that the supply gave. */
Test(desk, what_nobody_read_may_be_charged, .init = begin, .fini = end)
{
	const struct desk_section *s;

	event(day, "C1A", "volts", 300);
	event(day + 60, "C1A", "off", NAN);
	s = make(0, false);
	cr_assert(s->must_discharge && fabs(s->charged_volts - 300) < 1e-9);
	event(day + 120, "C1A", "discharged", NAN);
	cr_assert(!make(0, false)->must_discharge);
	event(day + 180, "C1A", "volts", NAN);
	reading(day + 200, "C1A", 40, 1e-3);
	event(day + 240, "C1A", "off", NAN);
	cr_assert(!make(0, false)->must_discharge, "it was read");
}

Test(desk, the_finest_digit_of_a_run_is_the_meters, .init = begin, .fini = end)
{
	static const double digits[] = { 1e-3, 1e-5, NAN, 1e-3 };

	for (int i = 0; i < 4; i++) {
		reading(day + 60 * i, "C1A", 300, 4e-3 - 1e-3 * i);
		book[n_book - 1].number[2] = digits[i];
	}
	cr_assert(fabs(make(0, false)->aim.floor_amps - 5e-6) < 1e-12);
	event(day + 300, "C1A", "discharged", NAN);
	reading(day + 400, "C1A", 300, 2e-3);
	cr_assert(make(0, false)->aim.floor_amps <= 0, "another run, perhaps another meter");
}

Test(desk, a_clock_set_back_costs_only_that_time, .init = begin, .fini = end)
{
	reading(day, "C1A", 300, 2e-3);
	reading(day + 60, "C1A", 300, 1e-3);
	reading(day - 3000, "C1A", 300, 0.9e-3);
	reading(day - 2940, "C1A", 300, 0.7e-3);
	reading(day - 2940, "C1A", 300, 0.7e-3);
	cr_assert(make(0, true)->n == 5 && section.clock_set_back == 1);
	for (size_t i = 1; i < section.n; i++)
		cr_assert(section.reading[i].seconds > section.reading[i - 1].seconds);
	cr_assert(fabs(section.reading[3].seconds - 120) < 0.1);
}

Test(desk, entries_that_are_no_numbers_are_no_readings, .init = begin, .fini = end)
{
	static const double odd[] = { NAN, INFINITY, -INFINITY, -1 };

	for (int i = 0; i < 4; i++) {
		reading(day + i, "C1A", odd[i], 1e-3);
		reading(day + i, "C1A", 300, odd[i]);
		event(day + i, "C1A", "form", odd[i]);
		event(day + i, "C1A", "volts", odd[i]);
		for (int k = 0; k < 4; k++)
			put(ENTRY_CAP_SET, day, "C1A", "")->number[k] = odd[i];
		put(ENTRY_CAP_SET, odd[i], "C1A", "nonsense");
		event(odd[i], "C1A", "nonsense", 1);
		reading(odd[i], "C1A", 0, 0);
	}
	cr_assert(make(0, true)->state != DESK_FORMED);
	cr_assert(section.aim.form_volts > 449 && section.aim.limit_amps > 1e-3);
}

/* Days of readings: bounded, newest kept, a jump kept. */
Test(desk, days_of_readings_are_thinned, .init = begin, .fini = end)
{
	const struct desk_section *s;
	size_t jumps = 0;

	event(day, "C1A", "volts", 450);
	for (int i = 1; i <= 100000; i++)
		reading(day + 5.0 * i, "C1A", 450,
		        (5e-3 * pow(i, -0.45) + 1e-6) * (i == 60000 ? 3 : 1));
	s = make(0, true);
	cr_assert(s->n <= DESK_READINGS_MAX && s->n >= 200 && s->n_taken == 100000);
	cr_assert(fabs(s->reading[s->n - 1].seconds - 5e5) < 1e-3);
	cr_assert(fabs(s->reading[s->n - 2].seconds - 5e5 + 5) < 1e-3);
	cr_assert(fabs(s->reading[0].seconds - 5) < 1e-3);
	for (size_t i = 1; i < s->n; i++) {
		cr_assert(s->reading[i].seconds > s->reading[i - 1].seconds);
		jumps += s->reading[i].amps > 2 * s->reading[i - 1].amps;
	}
	cr_assert(jumps == 1, "%zu", jumps);
	/* the early part is there as well: no gap of an e-fold */
	for (size_t i = 1; i < s->n; i++)
		cr_assert(s->reading[i].seconds < 2.1 * s->reading[i - 1].seconds);
}

/* --- the job ------------------------------------------------------------------------------ */

static const struct job_block *blocks_as(const struct job *job, const char *key)
{
	for (int i = 0; i < job->n_blocks; i++)
		if (strcmp(job->block[i].key, key) == 0)
			return &job->block[i];
	return NULL;
}

static const struct job *job_now(void)
{
	static struct network net;
	static struct tables tables;
	static struct job job;

	job_make(&job, &unit, &net, &tables, book, n_book);
	return &job;
}

Test(desk, power_waits_for_the_sections, .init = begin, .fini = end)
{
	const struct job *job = job_now();

	cr_assert(strstr(blocks_as(job, "capacitors-not-formed")->what, "C1A, C1B, C2"));
	reading(day, "C1A", 450, 0.2e-3);
	event(day + 1, "C1A", "off", NAN);
	job = job_now();
	cr_assert(job->progress[JOB_CAPACITORS].done == 1);
	cr_assert(strstr(blocks_as(job, "capacitor C1A")->what, "still charged to 450 V"));
	event(day + 2, "C1A", "discharged", NAN);
	reading(day + 3, "C1B", 300, 1e-3);
	reading(day + 60, "C1B", 300, 2e-3);
	job = job_now();
	cr_assert(!blocks_as(job, "capacitor C1A"));
	cr_assert(strstr(blocks_as(job, "capacitor C1B")->what, "stop now"));
	cr_assert(job->progress[JOB_CAPACITORS].findings == 1);
	/* an override is of this finding; a worse reading asks again */
	put(ENTRY_OVERRIDE, day + 70, "capacitor C1B", "")->note = "only the meter's range";
	cr_assert(blocks_as(job_now(), "capacitor C1B")->override_reason);
	reading(day + 90, "C1B", 300, 4e-3);
	cr_assert(!blocks_as(job_now(), "capacitor C1B")->override_reason);
	event(day + 100, "C1B", "out", NAN);
	event(day + 101, "C2", "out", NAN);
	job = job_now();
	cr_assert(!blocks_as(job, "capacitors-not-formed") && !blocks_as(job, "capacitor C1B"));
	cr_assert(job->progress[JOB_CAPACITORS].done == 3);
}

/* --- typed lines -------------------------------------------------------------------------- */

Test(desk, lines, .init = begin, .fini = end)
{
	static const struct {
		const char *line;
		enum entry_line is;
		enum entry_kind kind;
		const char *word;
		double n[4];
	} rows[] = {
		{ "110 3.5 mA", ENTRY_LINE_TAKEN, ENTRY_CAP_READING, "", { 110, 3.5e-3, 1e-4 } },
		{ "250 3.5 mA", ENTRY_LINE_ASK, ENTRY_CAP_READING, "", { 250, 3.5e-3, 1e-4 } },
		{ "250V 80uA", ENTRY_LINE_TAKEN, ENTRY_CAP_READING, "", { 250, 80e-6, 1e-6 } },
		{ "250 0.08", ENTRY_LINE_TAKEN, ENTRY_CAP_READING, "", { 250, 80e-6, 1e-5 } },
		{ "250 V, 0.080 mA", ENTRY_LINE_TAKEN, ENTRY_CAP_READING, "",
		  { 250, 80e-6, 1e-6 } },
		{ "80 uA 250 V", ENTRY_LINE_TAKEN, ENTRY_CAP_READING, "", { 250, 80e-6, 1e-6 } },
		{ "250 0", ENTRY_LINE_TAKEN, ENTRY_CAP_READING, "", { 250, 0, NAN } },
		{ "600 1 mA", ENTRY_LINE_ASK, ENTRY_CAP_READING, "", { 600, 1e-3, 1e-3 } },
		{ "400 1 A", ENTRY_LINE_ASK, ENTRY_CAP_READING, "", { 400, 1, 1 } },
		{ "supply 300", ENTRY_LINE_TAKEN, ENTRY_CAP_SET, "", { 300, NAN, NAN, NAN } },
		{ "supply 600 V", ENTRY_LINE_ASK, ENTRY_CAP_SET, "", { 600, NAN, NAN, NAN } },
		{ "resistor 47k 5 W", ENTRY_LINE_TAKEN, ENTRY_CAP_SET, "", { NAN, 47e3, 5, NAN } },
		{ "resistor 100k", ENTRY_LINE_TAKEN, ENTRY_CAP_SET, "", { NAN, 1e5, NAN, NAN } },
		{ "resistor 1k 5 W", ENTRY_LINE_ASK, ENTRY_CAP_SET, "", { NAN, 1e3, 5, NAN } },
		{ "rule CV-0.01", ENTRY_LINE_TAKEN, ENTRY_CAP_SET, "cv-0.01",
		  { NAN, NAN, NAN, NAN } },
		{ "limit 0.5 mA", ENTRY_LINE_TAKEN, ENTRY_CAP_SET, "own", { NAN, NAN, NAN, 5e-4 } },
		{ "limit 0.5", ENTRY_LINE_TAKEN, ENTRY_CAP_SET, "own", { NAN, NAN, NAN, 5e-4 } },
		{ "limit 50 mA", ENTRY_LINE_ASK, ENTRY_CAP_SET, "own", { NAN, NAN, NAN, 5e-2 } },
		{ "form 350 V", ENTRY_LINE_TAKEN, ENTRY_CAP_EVENT, "form", { 350, NAN } },
		{ "on", ENTRY_LINE_TAKEN, ENTRY_CAP_EVENT, "volts", { NAN } },
		{ "on 300", ENTRY_LINE_TAKEN, ENTRY_CAP_EVENT, "volts", { 300 } },
		{ "on 900", ENTRY_LINE_ASK, ENTRY_CAP_EVENT, "volts", { 900 } },
		{ " OFF ", ENTRY_LINE_TAKEN, ENTRY_CAP_EVENT, "off", { NAN } },
		{ "discharged", ENTRY_LINE_TAKEN, ENTRY_CAP_EVENT, "discharged", { NAN } },
		{ "replaced", ENTRY_LINE_TAKEN, ENTRY_CAP_EVENT, "out", { NAN } },
		{ "accept good enough", ENTRY_LINE_TAKEN, ENTRY_CAP_EVENT, "accepted", { NAN } },
		{ "meter", ENTRY_LINE_TAKEN, ENTRY_CAP_EVENT, "metered", { NAN } },
		{ "meter off", ENTRY_LINE_TAKEN, ENTRY_CAP_EVENT, "unmetered", { NAN } },
		{ "note it is warm", ENTRY_LINE_TAKEN, ENTRY_NOTE, "", { NAN } },
	};

	desk_section_make(&section, &unit, 0, book, 0);
	desk_judge(&section, NULL);
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct entry_draft d;
		char echo[ENTRY_ECHO_MAX] = "";

		cr_assert(desk_understand(&section, rows[i].line, &d, echo) == rows[i].is, "%s: %s",
		          rows[i].line, echo);
		cr_assert(echo[0], "%s", rows[i].line);
		cr_assert(d.entry.kind == rows[i].kind && strcmp(d.word, rows[i].word) == 0, "%s",
		          rows[i].line);
		cr_assert(strcmp(d.subject, rows[i].kind == ENTRY_NOTE ? "capacitors" : "C1A") == 0);
		for (int k = 0; k < (rows[i].kind == ENTRY_CAP_SET ? 4 : rows[i].kind ==
		                     ENTRY_CAP_READING ? 3 : 1); k++)
			cr_assert(isnan(rows[i].n[k]) ? isnan(d.entry.number[k]) :
			          fabs(d.entry.number[k] - rows[i].n[k]) <=
			          1e-9 * fabs(rows[i].n[k]), "%s: %g", rows[i].line,
			          d.entry.number[k]);
	}
}

Test(desk, lines_that_are_wrong_say_what_is_right, .init = begin, .fini = end)
{
	static const struct {
		const char *line, *said;
	} rows[] = {
		{ "", "a reading" }, { "250", "volts across" }, { "250 V 3 V", "volts across" },
		{ "250 3,5", "decimal comma" }, { "-250 1", "wrong way round" },
		{ "250 1 mA 3", "volts across" }, { "250 ohm 1", "volts across" },
		{ "nan nan", "a reading" }, { "250 1 +/- 2%", "tolerance" }, { "9000 1", "at most 5000" },
		{ "supply", "As: supply 300" }, { "supply 0", "above zero" },
		{ "supply 3 mA", "one number" }, { "resistor", "47k 5 W" },
		{ "resistor 5 W", "ohms and watts" }, { "resistor 47k 5 V", "ohms and watts" },
		{ "rule newest", "cv-0.002" }, { "limit", "0.5 mA" }, { "limit -1", "above zero" },
		{ "form 500", "rated" }, { "off now", "stands alone" }, { "accept", "what reason" },
		{ "note", "note what" }, { "volts", "a reading" }, { "meter C1B", "stands alone" },
	};

	desk_section_make(&section, &unit, 0, book, 0);
	desk_judge(&section, NULL);
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct entry_draft d;
		char echo[ENTRY_ECHO_MAX] = "";

		cr_assert(desk_understand(&section, rows[i].line, &d, echo) == ENTRY_LINE_WRONG, "%s",
		          rows[i].line);
		cr_assert(strstr(echo, rows[i].said), "%s: %s", rows[i].line, echo);
	}
}

Test(desk, slips_are_questioned, .init = begin, .fini = end)
{
	static const struct {
		const char *line, *said;
	} rows[] = {
		{ "320 1 mA", "more than the supply gives" },
		{ "200 3 mA", "more than supply and resistor" },
		{ "250 0.4 uA", "uA or mA" },
		{ "520 1 mA", "surge" },
	};

	put(ENTRY_CAP_SET, day, "C1A", "")->number[0] = 300;
	put(ENTRY_CAP_SET, day + 1, "C1A", "")->number[1] = 100e3;
	reading(day + 2, "C1A", 250, 0.4e-3);
	(void)make(0, false);
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct entry_draft d;
		char echo[ENTRY_ECHO_MAX] = "";

		cr_assert(desk_understand(&section, rows[i].line, &d, echo) == ENTRY_LINE_ASK, "%s: %s",
		          rows[i].line, echo);
		cr_assert(strstr(echo, rows[i].said), "%s: %s", rows[i].line, echo);
		cr_assert(d.entry.kind == ENTRY_CAP_READING, "it may yet be true");
	}
}

/* 9 mA at 450 V, typed right behind 113 V, is 4 W and three steps at once. */
Test(desk, leaps_are_questioned, .init = begin, .fini = end)
{
	static const struct {
		const char *line;
		enum entry_line is;
		const char *said;
	} rows[] = {
		{ "450 9", ENTRY_LINE_ASK, "heats the part with 4.05 W" },
		{ "113 11", ENTRY_LINE_ASK, "heats" },
		{ "225 1 mA", ENTRY_LINE_ASK, "was to be held for at least 5 min more" },
		{ "120 0.8 mA", ENTRY_LINE_TAKEN, "C1A" },
	};
	struct entry_draft d;
	char echo[ENTRY_ECHO_MAX] = "";

	(void)make(0, false);
	cr_assert(desk_understand(&section, "250 2 mA", &d, echo) == ENTRY_LINE_ASK, "%s", echo);
	cr_assert(strstr(echo, "next step goes to 113 V"), "%s", echo);
	cr_assert(desk_understand(&section, "450 0.04", &d, echo) == ENTRY_LINE_TAKEN, "is formed");
	event(day, "C1A", "volts", 113);
	reading(day + 1, "C1A", 113, 1e-3);
	(void)make(0, false);
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		cr_assert(desk_understand(&section, rows[i].line, &d, echo) == rows[i].is, "%s: %s",
		          rows[i].line, echo);
		cr_assert(strstr(echo, rows[i].said), "%s: %s", rows[i].line, echo);
		cr_assert(d.entry.kind == ENTRY_CAP_READING);
	}
	/* a told resistor: the volts rise by themselves as the leakage falls */
	put(ENTRY_CAP_SET, day + 2, "C1A", "")->number[1] = 100e3;
	(void)make(0, false);
	cr_assert(desk_understand(&section, "160 0.5 mA", &d, echo) == ENTRY_LINE_TAKEN, "%s", echo);
}

/* --- a meter ------------------------------------------------------------------------------ */

/* Feed a meter's readings, a second apart, through desk_keeps(); returns how many were kept. */
static size_t metered(double (*amps)(double t), double seconds)
{
	size_t kept = 0;

	for (double t = 1; t <= seconds; t += 1) {
		desk_section_make(&section, &unit, 0, book, n_book);
		if (desk_keeps(&section, day + t, 450, amps(t))) {
			reading(day + t, "C1A", 450, amps(t));
			kept++;
		}
	}
	return kept;
}

static double noise(double t)
{
	return sin(1e4 * sin(12.9898 * t));
}

static double falling(double t)
{
	return 5e-3 / (1 + t / 60) * (1 + 0.02 * noise(t)) + 2e-6;
}

static double flickering(double t)
{
	return 5e-6 + 2e-5 * (noise(t) > 0.5);
}

static double spark_at_20000(double t)
{
	return falling(t) * (fabs(t - 20000) < 0.5 ? 3 : 1) * (t > 30000 ? 3 : 1);
}

Test(desk, hours_of_a_meter_do_not_flood_the_file, .init = begin, .fini = end)
{
	size_t kept;

	event(day, "C1A", "volts", 450);
	kept = metered(falling, 30000);
	cr_assert(kept > 150 && kept < 700, "%zu", kept);
	n_book = 0;
	kept = metered(flickering, 20000);
	cr_assert(kept < 1500, "%zu", kept);
}

Test(desk, a_jump_is_never_dropped, .init = begin, .fini = end)
{
	bool spark = false, back = false, risen = false;

	event(day, "C1A", "volts", 450);
	(void)metered(spark_at_20000, 30010);
	for (size_t i = 0; i < n_book; i++) {
		spark |= fabs(book[i].utc_s - day - 20000) < 0.1;
		back |= spark && fabs(book[i].utc_s - day - 20001) < 0.1;
		risen |= fabs(book[i].utc_s - day - 30001) < 0.1;
	}
	cr_assert(spark && back && risen);
}

static size_t runs_of(int index, size_t *ends, size_t max)
{
	return desk_runs(&section, &unit, index, book, n_book, ends, max);
}

/* Two evenings, then a new part and its first evening: three runs, each as it was left. */
Test(desk, every_run_can_be_had_again, .init = begin, .fini = end)
{
	size_t ends[4] = { 0 };

	cr_assert_eq(runs_of(0, ends, 4), 0);
	put(ENTRY_CAP_EVENT, 100, "C1A", "volts")->number[0] = 200;
	reading(160, "C1A", 200, 2e-3);
	reading(400, "C1B", 200, 9e-3); /* another section's are not its own */
	reading(460, "C1A", 200, 1e-3);
	put(ENTRY_CAP_EVENT, 500, "C1A", "off");
	cr_assert_eq(runs_of(0, ends, 4), 1);
	cr_assert_eq(ends[0], n_book);
	put(ENTRY_CAP_EVENT, 90000, "C1A", "volts")->number[0] = 450;
	reading(90060, "C1A", 450, 3e-3);
	reading(90600, "C1A", 450, 0.5e-3);
	reading(91200, "C1A", 450, 0.4e-3);
	const size_t before_out = n_book;
	put(ENTRY_CAP_EVENT, 92000, "C1A", "out");
	reading(95000, "C1A", 450, 0.1e-3);
	cr_assert_eq(runs_of(0, ends, 4), 3);
	desk_section_make(&section, &unit, 0, book, ends[0]);
	cr_assert(section.n == 2 && fabs(section.reading[1].amps - 1e-3) < 1e-12);
	cr_assert(fabs(section.first_utc_s - 160) < 1e-9);
	cr_assert_eq(ends[1], before_out);
	desk_section_make(&section, &unit, 0, book, ends[1]);
	cr_assert(section.n == 3 && fabs(section.reading[2].amps - 0.4e-3) < 1e-12);
	cr_assert(!section.replaced);
	cr_assert_eq(ends[2], n_book);
	desk_section_make(&section, &unit, 0, book, ends[2]);
	cr_assert(section.n == 1 && section.replaced);
	/* room for two: the newest */
	cr_assert_eq(runs_of(0, ends, 2), 3);
	cr_assert(ends[0] == before_out && ends[1] == n_book);
	cr_assert_eq(runs_of(0, ends, 1), 3);
	cr_assert_eq(ends[0], n_book);
	/* a part that was taken out, and nothing since */
	put(ENTRY_CAP_EVENT, 99000, "C1B", "out");
	cr_assert_eq(runs_of(1, ends, 4), 1);
	cr_assert_eq(ends[0], n_book - 1);
}
