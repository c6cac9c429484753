/* The tube and lamp tables: the reader, the look-up, and every row of the shipped files. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/table_file.h"
#include "mainstair/core/tables.h"

TestSuite(tables, .timeout = 20);

#define HEAD \
	"type,aliases,kind,heater_volts,heater_amps,alt_volts,alt_amps,heating,max_dc_ma,plates," \
	"drop_v,drop_at_ma_per_plate,strike_v,operating_v,min_ma,max_ma," \
	"typ_plate_screen_ma,source,confidence,near_equivalents,typ_source,note\n"
#define LAMP_HEAD \
	"lamp,kind,volts,amps,base,note,life_h,strike_v,maintain_v,source,confidence\n"

static int parse(struct tables *t, const char *text, struct err *err)
{
	memset(t, 0, sizeof *t);
	memset(err, 0, sizeof *err);
	return tables_parse_tubes(t, text, strlen(text), err);
}

static struct tables shipped(void)
{
	struct tables t;
	struct err err;

	cr_assert(table_file_load(&t, &err) == 0, "%s", err.text);
	return t;
}

static bool near(double a, double b)
{
	return fabs(a - b) <= 1e-9 * (1.0 + fabs(b));
}

Test(tables, a_row_is_read_in_base_units)
{
	struct tables t;
	struct err err;
	const struct tube_type *tube;

	cr_assert(parse(&t, "# a comment\r\n\r\n" HEAD
	                "5Y3GT,5Y3;5Y3G,diode-rectifier,5,2,,,direct,125,2,50,125,,,,,,a,1 source,"
	                ",,\"says \"\"50\"\", at 125\"\r\n"
	                "12AX7,ECC83,twin-triode,12.6,0.15,6.3,0.3,indirect,,,,,,,,,2.4,m,"
	                "from memory,,,", &err) == 0, "%s", err.text);
	cr_assert(t.n_tubes == 2);
	tube = tables_tube(&t, "5y3g");
	cr_assert(tube == &t.tubes[0]);
	cr_assert(tube->kind == TUBE_DIODE_RECTIFIER && tube->heating == HEATING_DIRECT);
	cr_assert(near(tube->heater_volts, 5.0) && near(tube->heater_amps, 2.0));
	cr_assert(isnan(tube->alt_volts) && isnan(tube->alt_amps));
	cr_assert(near(tube->max_dc_amps, 0.125) && near(tube->drop_volts, 50.0));
	cr_assert(tube->plates == 2 && near(tube->drop_amps, 0.125) && !tube->from_memory);
	cr_assert(strcmp(tube->note, "says \"50\", at 125") == 0);
	tube = tables_tube(&t, "ecc83");
	cr_assert(tube == &t.tubes[1] && tube->from_memory);
	cr_assert(near(tube->alt_volts, 6.3) && near(tube->typical_amps, 0.0024));
	cr_assert(isnan(tube->max_dc_amps) && isnan(tube->strike_volts));
	tables_release(&t);
}

Test(tables, what_is_wrong_is_refused_with_its_line)
{
	static const struct { const char *text, *said; } rows[] = {
		{ "", "empty" },
		{ "type,kind\n", "line 1: column \"aliases\": missing" },
		{ "type,type\n", "line 1: column \"type\": twice" },
		{ "type,ohms\n", "line 1: column \"ohms\": unknown" },
		{ HEAD "X,,triode,6.3\n", "line 2: 4 cells where the header has 22" },
		{ HEAD ",,triode,6.3,0.3,,,indirect,,,,,,,,,,m,1 source,,,\n", "type \"\": empty" },
		{ HEAD "X,,valve,6.3,0.3,,,indirect,,,,,,,,,,m,1 source,,,\n", "kind \"valve\"" },
		{ HEAD "X,,triode,6.3,0.3,,,warm,,,,,,,,,,m,1 source,,,\n", "heating \"warm\"" },
		{ HEAD "X,,triode,\"6,3\",0.3,,,indirect,,,,,,,,,,m,1 source,,,\n",
		  "heater_volts \"6,3\": not a number" },
		{ HEAD "X,,triode,nan,0.3,,,indirect,,,,,,,,,,m,1 source,,,\n", "\"nan\"" },
		{ HEAD "X,,triode,63000,0.3,,,indirect,,,,,,,,,,m,1 source,,,\n", "out of range" },
		{ HEAD "X,,triode,6.3,-0.3,,,indirect,,,,,,,,,,m,1 source,,,\n", "out of range" },
		{ HEAD "X,,triode,6.3,0.3,,,indirect,,,,,,,,,,m,rumour,,,\n",
		  "confidence \"rumour\"" },
		{ HEAD "X,,triode,6.3,,,,indirect,,,,,,,,,,m,1 source,,,\n", "volts without amps" },
		{ HEAD "X,,triode,6.3,0.3,,,none,,,,,,,,,,m,1 source,,,\n", "heating is \"none\"" },
		{ HEAD "X,,triode,,,,,direct,,,,,,,,,,m,1 source,,,\n", "heating is \"none\"" },
		{ HEAD "X,,triode,12.6,0.3,6.3,0.3,indirect,,,,,,,,,,m,1 source,,,\n",
		  "two strappings" },
		{ HEAD "X,,gas-regulator,,,,,none,,,,,150,150,5,30,,m,1 source,,,\n", "strike_v" },
		{ HEAD "X,,gas-regulator,,,,,none,,,,,185,150,30,5,,m,1 source,,,\n", "min_ma" },
		{ HEAD "X,,diode-rectifier,5,2,,,direct,125,3,,,,,,,,m,1 source,,,\n",
		  "plates \"3\"" },
		{ HEAD "X,,diode-rectifier,5,2,,,direct,125,1.5,,,,,,,,m,1 source,,,\n",
		  "not whole" },
		{ HEAD "X,,diode-rectifier,5,2,,,direct,125,,,,,,,,,m,1 source,,,\n",
		  "needs plates" },
		{ HEAD "X,,triode,6.3,0.3,,,indirect,,,,,,,,,,m,1 source,,,\"a\n", "not closed" },
		{ HEAD "X,,triode,6.3,0.3,,,indirect,,,,,,,,,,m,1 source,,,\"a\"b\n", "behind" },
		{ HEAD "X,,triode,6.3,0.3,,,indirect,,,,,,,,,,m,1 source,,,a\"b\n",
		  "inside a cell" },
		{ HEAD "X,,triode,6.3,0.3,,,indirect,,,,,,,,,,m,1 source,,,a\033b\n",
		  "a\\x1bb\": control" },
		{ HEAD "X,Y;Z,triode,6.3,0.3,,,indirect,,,,,,,,,,m,1 source,,,\n"
		  "z,,triode,6.3,0.3,,,indirect,,,,,,,,,,m,1 source,,,\n", "stands for both" },
		{ HEAD "A name that is longer than any type could be,,triode,6.3,0.3,,,"
		  "indirect,,,,,,,,,,m,1 source,,,\n", "too long" },
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct tables t;
		struct err err;

		cr_assert(parse(&t, rows[i].text, &err) == -1, "row %zu was taken", i);
		cr_assert(err.code == ERR_INPUT);
		cr_assert(strstr(err.text, rows[i].said), "row %zu: %s", i, err.text);
		tables_release(&t);
	}
}

Test(tables, a_0_byte_and_a_line_without_end_are_refused)
{
	static const char zero[] = HEAD "X\0Y,,triode,6.3,0.3,,,indirect,,,,,,,,,,m,1 source,,,\n";
	char *line = malloc(5000);
	struct tables t = { 0 };
	struct err err;

	cr_assert(tables_parse_tubes(&t, zero, sizeof zero - 1, &err) == -1);
	cr_assert(strstr(err.text, "line 2: not text"));
	tables_release(&t);
	memset(line, ',', 5000);
	cr_assert(tables_parse_tubes(&t, line, 5000, &err) == -1);
	memset(line, 'x', 5000);
	cr_assert(tables_parse_tubes(&t, line, 5000, &err) == -1);
	tables_release(&t);
	free(line);
}

Test(tables, lamps_are_checked_too)
{
	static const struct { const char *text, *said; } rows[] = {
		{ LAMP_HEAD "47,incandescent,6.3,,E10,,,,,m,1 source\n", "no amps" },
		{ LAMP_HEAD "47,incandescent,,0.15,E10,,,,,m,1 source\n", "volts" },
		{ LAMP_HEAD "NE-2,neon,90,0.0005,wire,,,90,65,m,1 source\n", "volts" },
		{ LAMP_HEAD "NE-2,neon,,0.0005,wire,,,65,90,m,1 source\n", "strike_v" },
		{ LAMP_HEAD "47,candle,6.3,0.15,E10,,,,,m,1 source\n", "kind \"candle\"" },
		{ LAMP_HEAD "47,incandescent,6.3,0.15,E10,,,,,m,1 source\n"
		  "47,incandescent,6.3,0.15,E10,,,,,m,1 source\n", "stands for both" },
	};
	struct tables t = { 0 };
	struct err err;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		cr_assert(tables_parse_lamps(&t, rows[i].text, strlen(rows[i].text), &err) == -1,
		          "row %zu was taken", i);
		cr_assert(strstr(err.text, rows[i].said), "row %zu: %s", i, err.text);
		tables_release(&t);
	}
}

Test(tables, many_rows_keep_their_places)
{
	char *text = malloc(300 * 100 + sizeof HEAD);
	size_t at = (size_t)sprintf(text, "%s", HEAD);
	struct tables t;
	struct err err;

	for (int i = 0; i < 300; i++)
		at += (size_t)sprintf(text + at, "T%d,A%d;B%d,triode,6.3,0.3,,,indirect,,,,,,,,,,m,"
		                      "1 source,,,\n", i, i, i);
	cr_assert(parse(&t, text, &err) == 0, "%s", err.text);
	cr_assert(t.n_tubes == 300);
	for (int i = 0; i < 300; i++) {
		char name[16];

		sprintf(name, "b%d", i);
		cr_assert(tables_tube(&t, name) == &t.tubes[i]);
	}
	tables_release(&t);
	free(text);
}

Test(tables, half_filled_and_empty_ones_can_be_released)
{
	struct tables t = { 0 };

	tables_release(&t);
	cr_assert(tables_tube(&t, "6X4") == NULL && tables_lamp(&t, "47") == NULL);
}

Test(tables, shipped_files_are_whole)
{
	struct tables t = shipped();
	size_t from_memory = 0;

	cr_assert(t.n_tubes >= 800 && t.n_lamps >= 90);
	for (size_t i = 0; i < t.n_tubes; i++)
		from_memory += t.tubes[i].from_memory;
	cr_assert(from_memory < t.n_tubes);
	tables_release(&t);
}

/* The letter that a European type begins with tells its heater (Pro Electron type designation):
 * A 4 V, E 6.3 V, U 100 mA, P 300 mA, C 200 mA, V 50 mA.  Only where at least two letters stand
 * before the number, as in ECC83. */
Test(tables, code_letters_agree_with_heaters)
{
	struct tables t = shipped();
	int seen = 0;

	for (size_t i = 0; i < t.n_tubes; i++) {
		const struct tube_type *tube = &t.tubes[i];
		const char *name = tube->name;
		size_t letters = strspn(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZ");
		bool strapped = !isnan(tube->alt_volts);

		if (letters < 2 || name[letters] < '0' || name[letters] > '9' ||
		    isnan(tube->heater_volts) || strcmp(name, "DH3-91") == 0)
			continue;
		seen++;
		switch (name[0]) {
		case 'A':
			cr_assert(near(tube->heater_volts, 4.0), "%s", name);
			break;
		case 'E':
			cr_assert(near(strapped ? tube->alt_volts : tube->heater_volts, 6.3), "%s",
			          name);
			break;
		case 'U':
			cr_assert(near(tube->heater_amps, 0.1), "%s", name);
			break;
		case 'P':
			cr_assert(near(tube->heater_amps, 0.3), "%s", name);
			break;
		case 'C':
			cr_assert(near(tube->heater_amps, 0.2), "%s", name);
			break;
		case 'V':
			cr_assert(near(tube->heater_amps, 0.05), "%s", name);
			break;
		default:
			seen--;
		}
	}
	cr_assert(seen > 120, "only %d types looked at", seen);
	tables_release(&t);
}

/* American receiving types (RETMA designation) begin with their heater volts, whole: 6 is 6.3,
 * 12 is 12.6, 7 and 14 are 6.3 and 12.6 with the lock-in base.  A digit-letters-digit name. */
Test(tables, leading_numbers_agree_with_heaters)
{
	struct tables t = shipped();
	int seen = 0;

	for (size_t i = 0; i < t.n_tubes; i++) {
		const struct tube_type *tube = &t.tubes[i];
		char *rest;
		long number = strtol(tube->name, &rest, 10);
		size_t letters = strspn(rest, "ABCDEFGHIJKLMNOPQRSTUVWXYZ");

		/* Industrial types (2D21), picture tubes (5CP1) and numbers with a letter
		 * behind (866A, 24A, 6146B) follow other rules. */
		if (rest == tube->name || letters == 0 || rest[letters] < '0' ||
		    rest[letters] > '9' || isnan(tube->heater_volts) || number > 117 ||
		    (rest[letters + 1] >= '0' && rest[letters + 1] <= '9' && number < 6) ||
		    strstr(tube->note, "CRT") || tube->heater_volts * tube->heater_amps > 30.0 ||
		    strcmp(tube->name, "3B28") == 0)
			continue;
		seen++;
		if (number == 1)
			cr_assert(tube->heater_volts <= 2.0, "%s", tube->name);
		else if (number == 6 || number == 7)
			cr_assert(near(tube->heater_volts, 6.3), "%s", tube->name);
		else if (number == 12 || number == 14)
			cr_assert(near(tube->heater_volts, 12.6), "%s", tube->name);
		else if (number == 2 || number == 3)
			cr_assert(tube->heater_volts >= (double)number - 0.2 &&
			          tube->heater_volts <= (double)number + 0.5, "%s", tube->name);
		else
			cr_assert(fabs(tube->heater_volts - (double)number) <= 0.1 * (double)number,
			          "%s", tube->name);
	}
	cr_assert(seen > 400, "only %d types looked at", seen);
	tables_release(&t);
}

/* Ratings as read in the sources named in the files' heads. */
Test(tables, known_types)
{
	struct tables t = shipped();
	const struct tube_type *tube;
	const struct lamp_type *lamp;

	/* L. Lovell, "Antique Radio Repair: a short course", list of tubes, 1989 */
	tube = tables_tube(&t, "6k7g");
	cr_assert(near(tube->heater_volts, 6.3) && near(tube->heater_amps, 0.3));
	tube = tables_tube(&t, "50L6");
	cr_assert(near(tube->heater_volts, 50.0) && near(tube->heater_amps, 0.15));
	/* compiled extracts of makers' data sheets; PCC84 and PCL86 were misprinted there as 9 V,
	 * and ECC84 and ECL86, the same tubes for parallel heaters, show it */
	tube = tables_tube(&t, "PCC84");
	cr_assert(fabs(tube->heater_volts * 0.3 -
	               6.3 * tables_tube(&t, "ECC84")->heater_amps) < 0.05);
	tube = tables_tube(&t, "PCL86");
	cr_assert(fabs(tube->heater_volts * 0.3 -
	               6.3 * tables_tube(&t, "ECL86")->heater_amps) < 0.25);
	/* two strappings: a tube table of a published amplifier design program gives .3 A, that
	 * of a curve tracer program .15 A */
	tube = tables_tube(&t, "ECC83");
	cr_assert(near(tube->heater_amps, 0.15) && near(tube->alt_amps, 0.3));
	/* from memory: as the 5V4G, an indirectly heated tube, on a four-pin base */
	cr_assert(tables_tube(&t, "83V")->heating == HEATING_INDIRECT);
	/* encyclopaedia article on voltage-regulator tubes */
	tube = tables_tube(&t, "OD3");
	cr_assert(near(tube->hold_volts, 150.0) && near(tube->max_amps, 0.040));
	/* a lamp list for coin-operated games */
	lamp = tables_lamp(&t, "47");
	cr_assert(near(lamp->volts, 6.3) && near(lamp->amps, 0.15) && !lamp->from_memory);
	/* textbook: 60 W at 120 V is 240 ohm hot */
	lamp = tables_lamp(&t, "60 w 120 v");
	cr_assert(lamp->kind == LAMP_MAINS && near(lamp->volts / lamp->amps, 240.0));
	tables_release(&t);
}

Test(tables, nearest_names)
{
	struct tables t = shipped();
	const char *names[5];
	size_t n;

	cr_assert(tables_tube(&t, "12AX77") == NULL);
	n = tables_nearest_tubes(&t, "12AX77", names, 5);
	cr_assert(n >= 1 && strcmp(names[0], "12AX7") == 0);
	/* through an alias: EZ90 is 6X4 */
	n = tables_nearest_tubes(&t, "EZ-90", names, 5);
	cr_assert(n >= 1 && strcmp(names[0], "6X4") == 0);
	cr_assert(tables_nearest_tubes(&t, "transistor", names, 5) == 0);
	cr_assert(tables_nearest_tubes(&t, "6X5", names, 0) == 0);
	tables_release(&t);
}

Test(tables, a_folder_without_tables_is_named)
{
	struct tables t;
	struct err err;

	setenv("MAINSTAIR_DATA", "/nowhere", 1);
	cr_assert(table_file_load(&t, &err) == -1);
	cr_assert(err.code == ERR_SYSTEM && strstr(err.text, "/nowhere/tubes.csv"));
}

/* Without the variable the program finds the source tree, because it runs where it was built. */
Test(tables, found_from_the_build_folder)
{
	struct tables t;
	struct err err;

	unsetenv("MAINSTAIR_DATA");
	cr_assert(table_file_load(&t, &err) == 0, "%s", err.text);
	tables_release(&t);
}
