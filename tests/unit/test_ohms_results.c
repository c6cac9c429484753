/* Ohm readings: as typed, as judged, as handed to the model. */
#include "written_book.h"

#include "lib/text_unit.h"
#include "mainstair/core/ohms_results.h"

TestSuite(ohms_results, .timeout = 30);

static const char oscillator[] =
        "[instrument]\nname = T\nline_volts = 117\nchassis = earthed\nfuse = 1 A slow\n[tubes]\nV1 "
        "= 6AU6\nV2 = 6X4\nV3 = 0A2\n[transformer]\nprimary = 17 ohm +/- 2%\n[winding "
        "heater]\nvolts = 6.3\nohms = 0.07\n[winding plate]\nvolts = 250-0-250\n[rail "
        "main]\nwinding = plate\nrectifier = V2\nform = full-wave\nreservoir = 20 uF\n[rail "
        "screen]\nfrom = main\nthrough = 3k3\nreservoir = 20 uF\nbleeder = 100k\ndraw = 2 mA at "
        "200 V resistive\n[rail steady]\nfrom = screen\nthrough = 4k7\nregulator = V3\ndraw = 5 mA "
        "at 150 V by V1\n[capacitors]\nC1 = 20 uF 450 V on main\nC2 = 20 uF 450 V on screen\n";

struct bench {
	struct text_unit *unit;
	struct ohms_list list;
	struct ohms_state state[OHMS_CHECKS_MAX];
	struct written_book book;
	char echo[ENTRY_ECHO_MAX];
};

static struct bench *bench_make(void)
{
	struct bench *b = calloc(1, sizeof *b);

	cr_assert_not_null(b);
	b->unit = text_unit(oscillator);
	ohms_list_make(&b->list, &b->unit->net, &b->unit->profile);
	ohms_states(&b->list, NULL, 0, b->state);
	return b;
}

static void bench_free(struct bench *b)
{
	free(b->unit);
	free(b);
}

static int find(const struct bench *b, enum ohms_kind kind, const char *what)
{
	for (int i = 0; i < b->list.n; i++)
		if (b->list.check[i].kind == kind && strstr(b->list.check[i].what, what))
			return i;
	cr_assert_fail("no reading of kind %d: %s", (int)kind, what);
	return -1;
}

static enum entry_line type(struct bench *b, int check, const char *line, bool keep)
{
	const enum entry_line is =
	        ohms_understand(&b->list.check[check], line, book_next(&b->book), b->echo);

	if (is == ENTRY_LINE_WRONG || !keep)
		return is;
	book_keep(&b->book);
	ohms_states(&b->list, b->book.entry, b->book.n, b->state);
	return is;
}

static double typed(struct bench *b, int check, const char *line)
{
	cr_assert(type(b, check, line, true) == ENTRY_LINE_TAKEN, "%s: %s", line, b->echo);
	return b->state[check].reading;
}

/* --- typed lines -------------------------------------------------------------------------- */

Test(ohms_results, what_a_restorer_types)
{
	struct bench *b = bench_make();
	const int primary = find(b, OHMS_PRIMARY, "plug"), rail = find(b, OHMS_RAIL, "screen");
	const int insulation = find(b, OHMS_INSULATION, "joined");

	cr_assert(fabs(typed(b, primary, "17.4") - 17.4) < 1e-9);
	cr_assert(b->state[primary].verdict == OHMS_PASS && strstr(b->echo, "pass"));
	cr_assert(fabs(typed(b, primary, "17R4; cold shop") - 17.4) < 1e-9);
	cr_assert_str_eq(b->state[primary].entry->note, "cold shop");
	cr_assert(fabs(typed(b, rail, "48k") - 48e3) < 1e-6);
	cr_assert(fabs(typed(b, insulation, "4M7") - 4.7e6) < 1e-3);
	cr_assert(isinf(typed(b, insulation, "OL")) && b->state[insulation].verdict == OHMS_PASS);
	cr_assert(isinf(typed(b, primary, "open")) && b->state[primary].verdict == OHMS_HIGH);
	cr_assert(fabs(typed(b, insulation, ">20M") - 20e6) < 1.0);
	cr_assert(fabs(typed(b, insulation, "more than 20 M") - 20e6) < 1.0);
	cr_assert(isnan(typed(b, primary, "not read")) &&
	          b->state[primary].verdict == OHMS_UNKNOWN);
	cr_assert(fabs(typed(b, primary, "0.4 ohm") - 0.4) < 1e-9, "terrible, but no slip");
	cr_assert(b->state[primary].verdict == OHMS_LOW && strstr(b->echo, "expected"));
	bench_free(b);
}

Test(ohms_results, slips_are_questioned)
{
	struct bench *b = bench_make();
	const int primary = find(b, OHMS_PRIMARY, "plug"), rail = find(b, OHMS_RAIL, "screen");
	const int insulation = find(b, OHMS_INSULATION, "joined");
	const int heaters = find(b, OHMS_HEATERS, "heater");

	cr_assert(type(b, rail, "48", false) == ENTRY_LINE_ASK && strstr(b->echo, "48 kohm"));
	cr_assert(type(b, primary, "17.4k", false) == ENTRY_LINE_ASK &&
	          strstr(b->echo, "17.4 ohm"));
	cr_assert(type(b, insulation, "5", false) == ENTRY_LINE_ASK && strstr(b->echo, "5 Mohm"));
	/* far outside, with no other prefix that would fit */
	cr_assert(type(b, primary, "11712.1", false) == ENTRY_LINE_ASK &&
	          strstr(b->echo, "ten times off"), "%s", b->echo);
	cr_assert(type(b, primary, "0.4", false) == ENTRY_LINE_ASK);
	cr_assert(type(b, primary, "60", false) == ENTRY_LINE_TAKEN, "a finding, and no slip");
	cr_assert(type(b, primary, "0", false) == ENTRY_LINE_TAKEN);
	/* nobody reads 45 Mohm to the chassis: a short is not taken for that */
	cr_assert(type(b, insulation, "45", false) == ENTRY_LINE_ASK && !strstr(b->echo, "45 Mohm"),
	          "%s", b->echo);
	/* a unit that was typed is meant: a short is believed at once */
	cr_assert(type(b, insulation, "5 ohm", false) == ENTRY_LINE_TAKEN);
	cr_assert(type(b, insulation, "0", false) == ENTRY_LINE_TAKEN);
	cr_assert(type(b, heaters, "5 ohm", false) == ENTRY_LINE_TAKEN);
	cr_assert(type(b, insulation, "5000M", false) == ENTRY_LINE_ASK, "no multimeter shows it");
	cr_assert(type(b, insulation, ">1M", false) == ENTRY_LINE_TAKEN, "1 Mohm, earthed: enough");
	cr_assert(type(b, insulation, ">200k", false) == ENTRY_LINE_WRONG &&
	          strstr(b->echo, "higher range"));
	cr_assert(type(b, primary, ">10", false) == ENTRY_LINE_WRONG);
	cr_assert(type(b, primary, ">200", false) == ENTRY_LINE_TAKEN, "open, in any case");
	cr_assert(type(b, primary, "17,4", false) == ENTRY_LINE_WRONG && strstr(b->echo, "17.4"));
	cr_assert(type(b, primary, "-3", false) == ENTRY_LINE_WRONG &&
	          strstr(b->echo, "discharge"));
	cr_assert(type(b, primary, "17 V", false) == ENTRY_LINE_WRONG);
	cr_assert(type(b, primary, "17 warm", false) == ENTRY_LINE_WRONG && strstr(b->echo, ";"));
	cr_assert(type(b, primary, "17 +/- 2%", false) == ENTRY_LINE_WRONG);
	cr_assert(type(b, primary, "nan", false) == ENTRY_LINE_WRONG);
	cr_assert(type(b, primary, "", false) == ENTRY_LINE_WRONG);
	cr_assert(type(b, primary, "; note", false) == ENTRY_LINE_WRONG);
	cr_assert(type(b, find(b, OHMS_BALANCE, "plate"), "1.1", false) == ENTRY_LINE_WRONG);
	bench_free(b);
}

/* --- the balance -------------------------------------------------------------------------- */

/* Common practice, no source: halves differ by some ten per cent; the greater over the smaller. */
Test(ohms_results, the_balance_is_worked_out)
{
	struct bench *b = bench_make();
	const int one = find(b, OHMS_HALF, "one end"), other = find(b, OHMS_HALF, "the other end");
	const int balance = find(b, OHMS_BALANCE, "plate");

	cr_assert(b->state[balance].verdict == OHMS_UNKNOWN);
	(void)typed(b, one, "171 ohm");
	cr_assert(b->state[balance].verdict == OHMS_UNKNOWN, "of one half there is none");
	(void)typed(b, other, "189 ohm");
	cr_assert(fabs(b->state[balance].reading - 189.0 / 171.0) < 1e-12);
	cr_assert(b->state[balance].verdict == OHMS_PASS && b->state[balance].worked_out);
	(void)typed(b, other, "250 ohm");
	cr_assert(b->state[balance].verdict == OHMS_HIGH);
	(void)typed(b, other, "OL");
	cr_assert(b->state[balance].verdict == OHMS_UNKNOWN, "an open half has no ratio");
	bench_free(b);
}

/* --- into the model ----------------------------------------------------------------------- */

Test(ohms_results, what_passed_goes_into_the_model)
{
	struct bench *b = bench_make();
	const int primary = find(b, OHMS_PRIMARY, "plug");
	const int plate = find(b, OHMS_WINDING, "plate");
	const int filter = find(b, OHMS_FILTER, "screen");
	char words[8][OHMS_WORDS_MAX];
	struct err err = {0};
	int n;

	cr_assert(ohms_measured(&b->list, b->book.entry, b->book.n, words, 8) == 0);
	(void)typed(b, primary, "17.4");
	(void)typed(b, plate, "OL");
	(void)typed(b, filter, "3k42");
	(void)typed(b, find(b, OHMS_RAIL, "screen"), "48k");
	n = ohms_measured(&b->list, b->book.entry, b->book.n, words, 8);
	cr_assert(n == 2, "%d: an open winding and a rail's sum are no numbers of the model", n);
	cr_assert_str_eq(words[0], "primary 17.4 ohm");
	cr_assert_str_eq(words[1], "rail screen filter 3.42 kohm");
	for (int i = 0; i < n; i++)
		cr_assert(network_measure(&b->unit->net, words[i], &err) == 0, "%s: %s", words[i],
		          err.text);
	cr_assert(fabs(b->unit->net.primary_ohms - 17.4) < 1e-9);
	cr_assert(ohms_measured(&b->list, b->book.entry, b->book.n, words, 1) == 1);
	/* a later one that fails takes the number out again, a corrected one puts it back */
	(void)typed(b, primary, "0.4 ohm");
	cr_assert(ohms_measured(&b->list, b->book.entry, b->book.n, words, 8) == 1);
	(void)typed(b, primary, "17.1");
	cr_assert(ohms_measured(&b->list, b->book.entry, b->book.n, words, 8) == 2);
	cr_assert_str_eq(words[0], "primary 17.1 ohm");
	bench_free(b);
}

/* Whatever passes is taken by the model, at both ends of every range and in every shipped unit. */
Test(ohms_results, the_model_takes_what_passes)
{
	static struct ohms_list list;
	int tried = 0;

	for (int k = 0; shipped_profile(k); k++) {
		struct text_unit *unit = shipped_unit(shipped_profile(k));
		struct network *copy = malloc(sizeof *copy);

		cr_assert_not_null(copy);
		ohms_list_make(&list, &unit->net, &unit->profile);
		for (int i = 0; i < list.n; i++) {
			const struct ohms_check *c = &list.check[i];
			const double ends[] = {c->low * 1.0001, c->expected, c->high * 0.9999};

			for (int e = 0; c->measured_as[0] && e < 3; e++) {
				struct written_book *book = calloc(1, sizeof *book);
				char words[4][OHMS_WORDS_MAX];
				struct err err = {0};

				cr_assert_not_null(book);
				book_put(book, ENTRY_OHMS, c->what, "", "", ends[e]);
				if (ohms_measured(&list, book->entry, 1, words, 4) == 1) {
					*copy = unit->net;
					cr_assert(network_measure(copy, words[0], &err) == 0,
					          "%s: %s: %s", shipped_profile(k), words[0],
					          err.text);
					tried++;
				}
				free(book);
			}
		}
		free(copy);
		free(unit);
	}
	cr_assert(tried > 60, "%d", tried);
}

/* --- as shown ----------------------------------------------------------------------------- */

/* Short enough to be typed, and no two alike. */
Test(ohms_results, keys_of_blocks)
{
	static struct ohms_list list;
	char key[OHMS_WHAT_MAX], other[OHMS_WHAT_MAX];

	for (int k = 0; shipped_profile(k); k++) {
		struct text_unit *unit = shipped_unit(shipped_profile(k));

		ohms_list_make(&list, &unit->net, &unit->profile);
		for (int i = 0; i < list.n; i++) {
			if (!ohms_blocks(&list.check[i], OHMS_UNKNOWN))
				continue;
			cr_assert(strlen(ohms_key(&list.check[i], key)) < 20, "%s", key);
			for (int j = 0; j < i; j++)
				cr_assert_str_neq(key, ohms_key(&list.check[j], other));
		}
		free(unit);
	}
}

Test(ohms_results, ranges_for_people)
{
	static const struct {
		double low, high;
		const char *text;
	} rows[] = {
	        {15.3, 19, "15.3 to 19 ohm"},
	        {2e6, INFINITY, "2 Mohm or more"},
	        {0, 1, "1 ohm or less"},
	        {936, 1640, "936 ohm to 1.64 kohm"},
	        {INFINITY, INFINITY, "over-range"},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		const struct ohms_check c = {
		        .kind = OHMS_PRIMARY, .low = rows[i].low, .high = rows[i].high};
		char out[OHMS_RANGE_MAX];

		cr_assert_str_eq(ohms_say_range(&c, out), rows[i].text);
	}
}
