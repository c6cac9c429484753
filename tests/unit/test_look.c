/* The look: what a profile asks for, what typed lines come to, what stands afterwards. */
#include "written_book.h"

#include "io/table_file.h"
#include "lib/text_unit.h"
#include "mainstair/core/look.h"

TestSuite(look, .timeout = 30);

static const char oscillator[] =
        "[instrument]\nname = T\nline_volts = 117\nchassis = two-wire\nfuse = 0.5 A "
        "slow\n[tubes]\nV1 = 12AX7\nV2 = 6AU6\nV3 = 6X4\n[lamps]\nI1 = 47\n[winding plate]\nvolts "
        "= 250-0-250\n[rail main]\nwinding = plate\nrectifier = V3\nform = full-wave\nreservoir = "
        "20 uF\n";

static const char string[] =
        "[instrument]\nname = T\nline_volts = 117\nsupply = series-string\nchassis = "
        "live\n[tubes]\nV1 = 50C5\nV2 = 35W4\n[string]\ndropper = 290 ohm\n[rail main]\nwinding = "
        "line\nrectifier = selenium 5\nform = half-wave\nreservoir = 40 uF\n";

struct bench {
	struct text_unit *unit;
	struct tables tables;
	struct look_list list;
	struct look_state state[LOOK_CHECKS_MAX];
	struct written_book book;
	char echo[ENTRY_ECHO_MAX];
};

static struct bench *bench_of(const char *text)
{
	struct bench *b = calloc(1, sizeof *b);
	struct err err = {0};

	cr_assert_not_null(b);
	b->unit = text_unit(text);
	cr_assert(table_file_load(&b->tables, &err) == 0, "%s", err.text);
	look_list_make(&b->list, &b->unit->profile);
	look_states(&b->list, NULL, 0, b->state);
	return b;
}

static void bench_free(struct bench *b)
{
	tables_release(&b->tables);
	free(b->unit);
	free(b);
}

static int find(const struct bench *b, const char *key)
{
	for (int i = 0; i < b->list.n; i++)
		if (strncmp(b->list.check[i].key, key, strlen(key)) == 0)
			return i;
	return -1;
}

/* Type a line at a check; what is taken or asked is kept when `keep`. */
static enum entry_line type(struct bench *b, const char *key, const char *line, bool keep)
{
	const int i = find(b, key);
	enum entry_line is;

	cr_assert(i >= 0, "no check %s", key);
	is = look_understand(&b->list, b->state, i, &b->unit->profile, &b->tables, line,
	                     book_next(&b->book), b->echo);
	if (is == ENTRY_LINE_WRONG || !keep)
		return is;
	book_keep(&b->book);
	look_states(&b->list, b->book.entry, b->book.n, b->state);
	return is;
}

static enum look_result result(const struct bench *b, const char *key)
{
	return b->state[find(b, key)].result;
}

static const char *note(const struct bench *b, const char *key)
{
	return b->state[find(b, key)].entry->note;
}

/* --- what is asked for -------------------------------------------------------------------- */

Test(look, a_transformer_set)
{
	struct bench *b = bench_of(oscillator);

	cr_assert(find(b, "cord") == 0, "first of all");
	cr_assert(find(b, "fuse 500 mA slow") > 0);
	cr_assert(find(b, "line volts 117 V") > 0);
	cr_assert(find(b, "power transformer") > 0 && find(b, "lamps") > 0);
	cr_assert(find(b, "chassis two-wire") > 0);
	cr_assert(!b->list.check[find(b, "isolation")].must, "has a transformer of its own");
	cr_assert(find(b, "dropper") < 0 && find(b, "selenium") < 0);
	cr_assert(strstr(look_chassis_warning(&b->unit->profile), "isolation"));
	cr_assert(look_of(&b->list) == b->list.n - 3, "three places count with their complement");
	bench_free(b);
}

Test(look, a_live_chassis)
{
	struct bench *b = bench_of(string);

	cr_assert(find(b, "dropper") > 0 && find(b, "selenium") > 0);
	cr_assert(find(b, "power transformer") < 0 && find(b, "lamps") < 0);
	cr_assert(b->list.check[find(b, "isolation")].must);
	cr_assert(look_blocks(&b->list.check[find(b, "isolation")], LOOK_FINDING));
	cr_assert(strstr(look_chassis_warning(&b->unit->profile), "LIVE"));
	/* a profile that names no fuse asks for one, and a set without one is told, not blocked */
	cr_assert(b->list.check[find(b, "fuse")].must);
	cr_assert(!look_blocks(&b->list.check[find(b, "fuse")], LOOK_FINDING));
	bench_free(b);
}

Test(look, every_shipped_profile_fits)
{
	static struct look_list list;

	for (int k = 0; shipped_profile(k); k++) {
		struct text_unit *unit = shipped_unit(shipped_profile(k));

		look_list_make(&list, &unit->profile);
		cr_assert(list.n >= 12 && list.n <= LOOK_CHECKS_MAX);
		for (int i = 0; i < list.n; i++) {
			const struct look_check *c = &list.check[i];

			cr_assert(c->key[0] && c->what[0] && c->look[0] && c->why && c->source);
			cr_assert(strlen(c->key) < ENTRY_SUBJECT_MAX - 1, "%s is cut", c->key);
			for (int j = 0; j < i; j++)
				cr_assert_str_neq(c->key, list.check[j].key);
		}
		free(unit);
	}
}

/* The most a profile may hold. */
Test(look, the_largest_profile_fits)
{
	struct bench *b = bench_of(oscillator);
	struct profile *p = &b->unit->profile;

	p->chassis = CHASSIS_LIVE;
	p->dropper_ohms.given = true;
	p->rails[0].rectifier = RECTIFIER_SELENIUM;
	for (int i = 0; i < PROFILE_TUBES_MAX; i++) {
		(void)snprintf(p->tubes[i].place, PROFILE_NAME_MAX, "V%d-%022d", i, i);
		(void)snprintf(p->tubes[i].type, PROFILE_NAME_MAX, "%031d", i);
	}
	for (int i = 0; i < PROFILE_LAMPS_MAX; i++)
		p->lamps[i] = p->tubes[i];
	p->n_tubes = PROFILE_TUBES_MAX;
	p->n_lamps = PROFILE_LAMPS_MAX;
	for (int s = SUPPLY_TRANSFORMER; s <= SUPPLY_SERIES_STRING; s++) {
		p->supply = (enum supply)s;
		look_list_make(&b->list, p);
		cr_assert(b->list.n <= LOOK_CHECKS_MAX);
		cr_assert(strstr(b->list.check[find(b, "complement")].look, " ..."));
	}
	bench_free(b);
}

/* --- typed lines -------------------------------------------------------------------------- */

Test(look, what_a_restorer_types)
{
	struct bench *b = bench_of(oscillator);

	cr_assert(result(b, "cord") == LOOK_NOT_LOOKED);
	cr_assert(type(b, "cord", "  finding cracked 10 cm from the plug ", true) ==
	          ENTRY_LINE_TAKEN);
	cr_assert(result(b, "cord") == LOOK_FINDING);
	cr_assert_str_eq(note(b, "cord"), "cracked 10 cm from the plug");
	cr_assert(look_blocks(&b->list.check[find(b, "cord")], LOOK_FINDING));
	/* ok over a finding is a slip, or a mending that is not told */
	cr_assert(type(b, "cord", "ok", false) == ENTRY_LINE_ASK);
	cr_assert(strstr(b->echo, "cracked"), "%s", b->echo);
	cr_assert(type(b, "cord", "mended", false) == ENTRY_LINE_WRONG, "how?");
	cr_assert(type(b, "cord", "Mended: new cord, strain relief", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "cord") == LOOK_MENDED);
	cr_assert(!look_blocks(&b->list.check[find(b, "cord")], LOOK_MENDED));
	cr_assert(type(b, "cord", "not looked", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "cord") == LOOK_NOT_LOOKED);
	cr_assert(type(b, "plug", "ok tight", true) == ENTRY_LINE_TAKEN);
	cr_assert_str_eq(note(b, "plug"), "tight");
	cr_assert(type(b, "debris", "finding", false) == ENTRY_LINE_WRONG, "what?");
	cr_assert(type(b, "debris", "", false) == ENTRY_LINE_WRONG);
	cr_assert(type(b, "debris", "mouse nest under the tuner", false) == ENTRY_LINE_ASK);
	cr_assert_str_eq(book_next(&b->book)->entry.word, "finding");
	cr_assert(type(b, "debris", "ok but some rust", false) == ENTRY_LINE_ASK);
	cr_assert(type(b, "line capacitors", "none", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "line capacitors") == LOOK_OK);
	cr_assert(type(b, "line volts 117 V", "none", true) == ENTRY_LINE_TAKEN, "made for one");
	cr_assert(result(b, "line volts 117 V") == LOOK_OK);
	cr_assert(type(b, "isolation", "none", true) == ENTRY_LINE_ASK);
	cr_assert(result(b, "isolation") == LOOK_FINDING);
	cr_assert(look_done(&b->list, b->state) == 4);
	bench_free(b);
}

/* A number at the line setting is what it is set to. */
Test(look, the_line_setting_against_the_profile)
{
	static const char key[] = "line volts 117 V";
	struct bench *b = bench_of(oscillator);

	cr_assert(type(b, key, "117", true) == ENTRY_LINE_TAKEN && result(b, key) == LOOK_OK);
	cr_assert(type(b, key, "117 V", true) == ENTRY_LINE_TAKEN && result(b, key) == LOOK_OK);
	cr_assert(type(b, key, "230", true) == ENTRY_LINE_TAKEN && result(b, key) == LOOK_FINDING);
	cr_assert(strstr(b->echo, "set to 230 V, the profile says 117 V"), "%s", b->echo);
	cr_assert(type(b, key, "-117", false) == ENTRY_LINE_ASK, "no volts");
	cr_assert(type(b, key, "117 A", false) == ENTRY_LINE_ASK);
	cr_assert(type(b, "cord", "117", false) == ENTRY_LINE_ASK, "nor anywhere else");
	bench_free(b);
}

/* What is stamped on the fuse against 0.5 A slow. */
Test(look, the_fuse_against_the_profile)
{
	static const struct {
		const char *line;
		enum entry_line is;
		const char *word;
	} rows[] = {
	        {"0.5 A slow", ENTRY_LINE_TAKEN, "ok"},
	        {"500 mA T", ENTRY_LINE_TAKEN, "ok"},
	        {"T 500 mA", ENTRY_LINE_TAKEN, "ok"},
	        {"T 0.5 A 250 V", ENTRY_LINE_TAKEN, "ok"},
	        {"T500mAL250V", ENTRY_LINE_TAKEN, "ok"},
	        {"500mAT", ENTRY_LINE_TAKEN, "ok"},
	        {"0.5 A, slow-blow", ENTRY_LINE_TAKEN, "ok"},
	        {".5 A time lag", ENTRY_LINE_TAKEN, "ok"},
	        {"MDL 0.5", ENTRY_LINE_TAKEN, "ok"},
	        {"AGC 0.5", ENTRY_LINE_TAKEN, "finding"},
	        {"F500mA", ENTRY_LINE_TAKEN, "finding"},
	        {"3AG 0.5 A", ENTRY_LINE_ASK, "ok"},
	        {"500 slow", ENTRY_LINE_ASK, "finding"},
	        {"0.5 A slow, blown", ENTRY_LINE_ASK, "finding"},
	        {"0.5 V", ENTRY_LINE_ASK, "finding"},
	        {"0.5 A 1 A", ENTRY_LINE_ASK, "finding"},
	        {"0.5 slow", ENTRY_LINE_TAKEN, "ok"},
	        {"0.5 A", ENTRY_LINE_ASK, "ok"},
	        {"0.5 A fast", ENTRY_LINE_TAKEN, "finding"},
	        {"5 A slow", ENTRY_LINE_TAKEN, "finding"},
	        {"315 mA slow", ENTRY_LINE_TAKEN, "finding"},
	        {"none", ENTRY_LINE_ASK, "finding"},
	        {"ok", ENTRY_LINE_TAKEN, "ok"},
	        {"a nail", ENTRY_LINE_ASK, "finding"},
	};
	struct bench *b = bench_of(oscillator);

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		cr_assert(type(b, "fuse", rows[i].line, false) == rows[i].is, "%s: %s",
		          rows[i].line, b->echo);
		cr_assert_str_eq(book_next(&b->book)->entry.word, rows[i].word, "%s", rows[i].line);
	}
	cr_assert(type(b, "fuse", "0,5 A slow", false) == ENTRY_LINE_WRONG);
	cr_assert(strstr(b->echo, "0.5"), "a decimal comma is refused with a hint: %s", b->echo);
	cr_assert(type(b, "fuse", "MDL 1/2", false) == ENTRY_LINE_WRONG && strstr(b->echo, "0.5"));
	bench_free(b);
}

Test(look, the_fuse_of_a_silent_profile)
{
	struct bench *b = bench_of(string);

	cr_assert(type(b, "fuse", "2 A fast", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "fuse") == LOOK_OK);
	cr_assert_str_eq(note(b, "fuse"), "2 A fast");
	bench_free(b);
}

/* ECC83 is the European name of the 12AX7 (from memory; the table's alias). */
Test(look, types_at_their_places)
{
	struct bench *b = bench_of(oscillator);

	cr_assert(type(b, "tube V1", "12ax7", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "tube V1") == LOOK_OK);
	cr_assert(type(b, "tube V1", "ECC83", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "tube V1") == LOOK_OK);
	cr_assert(type(b, "tube V1", "12AU7", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "tube V1") == LOOK_FINDING);
	cr_assert_str_eq(note(b, "tube V1"), "12AU7 in place of 12AX7");
	cr_assert(type(b, "tube V2", "99ZZ9", false) == ENTRY_LINE_ASK, "no such type");
	cr_assert(type(b, "tube V2", "missing", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "tube V2") == LOOK_FINDING);
	cr_assert(look_blocks(&b->list.check[find(b, "tube V2")], LOOK_FINDING));
	bench_free(b);
}

/* --- the complement and its places -------------------------------------------------------- */

Test(look, one_ok_for_all_tubes)
{
	struct bench *b = bench_of(oscillator);

	cr_assert(type(b, "complement", "ok", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "tube V3") == LOOK_OK && b->state[find(b, "tube V3")].by_complement);
	cr_assert(type(b, "tube V2", "missing", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "complement") == LOOK_FINDING, "a place's finding is the whole's");
	cr_assert(type(b, "complement", "ok", false) == ENTRY_LINE_ASK);
	cr_assert(type(b, "tube V2", "mended 6AU6 put in", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "complement") == LOOK_OK);
	bench_free(b);
}

/* All in one line each, without leaving the row. */
Test(look, places_named_at_the_complement)
{
	struct bench *b = bench_of(oscillator);

	cr_assert(type(b, "complement", "v2: missing", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "tube V2") == LOOK_FINDING && result(b, "tube V1") == LOOK_NOT_LOOKED);
	cr_assert(type(b, "complement", "V1 ECC83", true) == ENTRY_LINE_TAKEN);
	cr_assert(result(b, "tube V1") == LOOK_OK);
	cr_assert(type(b, "complement", "V3", false) == ENTRY_LINE_WRONG, "what of it?");
	cr_assert(type(b, "complement", "V30 missing", false) == ENTRY_LINE_ASK, "no such place");
	cr_assert_str_eq(book_next(&b->book)->word, "finding");
	cr_assert(type(b, "complement", "V3 cracked", false) == ENTRY_LINE_ASK);
	cr_assert_str_eq(book_next(&b->book)->subject, "tube V3 6X4");
	bench_free(b);
}

Test(look, place_by_place)
{
	struct bench *b = bench_of(oscillator);

	type(b, "tube V1", "ok", true);
	type(b, "tube V2", "ok", true);
	cr_assert(result(b, "complement") == LOOK_NOT_LOOKED, "V3 is left");
	type(b, "tube V3", "6X4", true);
	cr_assert(result(b, "complement") == LOOK_OK);
	type(b, "tube V1", "not looked", true);
	cr_assert(result(b, "complement") == LOOK_NOT_LOOKED);
	bench_free(b);
}

/* A profile that says something else asks anew. */
Test(look, another_complement_is_another_check)
{
	struct bench *b = bench_of(oscillator);

	type(b, "complement", "ok", true);
	type(b, "fuse", "ok", true);
	(void)snprintf(b->unit->profile.tubes[1].type, PROFILE_NAME_MAX, "6BA6");
	b->unit->profile.fuse_amps.value = 1.0;
	look_list_make(&b->list, &b->unit->profile);
	look_states(&b->list, b->book.entry, b->book.n, b->state);
	cr_assert(result(b, "complement") == LOOK_NOT_LOOKED);
	cr_assert(result(b, "fuse") == LOOK_NOT_LOOKED);
	bench_free(b);
}

/* --- what comes from outside -------------------------------------------------------------- */

Test(look, hostile_lines)
{
	struct bench *b = bench_of(oscillator);
	char line[2 * ENTRY_LINE_MAX];

	memset(line, 'x', sizeof line - 1);
	line[sizeof line - 1] = '\0';
	cr_assert(type(b, "cord", line, false) == ENTRY_LINE_WRONG, "too long");
	line[ENTRY_LINE_MAX - 1] = '\0';
	cr_assert(type(b, "cord", line, true) == ENTRY_LINE_ASK);
	cr_assert(type(b, "cord", "finding \033[2J\xff\xfe", true) == ENTRY_LINE_TAKEN);
	cr_assert(!strchr(b->echo, '\033'), "shown without control characters");
	cr_assert_str_eq(note(b, "cord"), "\033[2J\xff\xfe", "but kept as typed");
	/* a word of a later version is not taken for a good one */
	book_put(&b->book, ENTRY_LOOK, "cord", "splendid", "", NAN);
	look_states(&b->list, b->book.entry, b->book.n, b->state);
	cr_assert(result(b, "cord") == LOOK_NOT_LOOKED);
	bench_free(b);
}
