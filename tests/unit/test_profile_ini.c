/* Profiles: what a whole one says, what the shortest says, every fault in its own words (compared
 * with tests/golden/profile; GOLDEN_UPDATE=1 rewrites those), and files that mean harm. */
#include <criterion/criterion.h>
#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/profile_ini.h"
#include "io/table_file.h"
#include "io/whole_file.h"

#include "mainstair/base/text.h"

TestSuite(profile_ini, .timeout = 60);

struct read {
	struct profile *p;
	struct buf said; /* the complaints, as printed */
	int result;
};

static struct read read_text(const char *text, size_t n)
{
	struct read r = {.p = calloc(1, sizeof *r.p), .said = BUF_INIT};
	struct complaints c;

	cr_assert(r.p);
	complaints_init(&c, "p.ini");
	r.result = profile_parse_text(text, n, r.p, &c);
	cr_assert((r.result == 0) == (complaints_count(&c) == 0));
	complaints_print(&c, &r.said);
	complaints_release(&c);
	return r;
}

static void done(struct read *r)
{
	free(r->p);
	buf_release(&r->said);
}

static bool same(double a, double b)
{
	return fabs(a - b) <= 1e-12 * (fabs(a) + fabs(b));
}

#define INSTRUMENT "[instrument]\nname = x\nline_volts = 117\n"

/* The smallest profile there is; what it leaves out is absent, not zero that means something. */
Test(profile_ini, shortest)
{
	static const char text[] = INSTRUMENT "[tubes]\nV1 = 12AX7\n";
	struct read r = read_text(text, strlen(text));

	cr_assert(r.result == 0, "%s", r.said.data);
	cr_assert(r.p->line_volts.value == 117 && r.p->line_hz.value == 60 && !r.p->line_hz.given);
	cr_assert(r.p->supply == SUPPLY_TRANSFORMER && r.p->chassis == CHASSIS_UNKNOWN);
	cr_assert(!r.p->fuse_amps.given && !r.p->primary_ohms.given && !r.p->hold_s.given);
	cr_assert(r.p->n_tubes == 1 && r.p->n_rails == 0 && r.p->n_stages == 0);
	cr_assert_str_eq(r.p->tubes[0].place, "V1");
	cr_assert_str_eq(r.p->tubes[0].type, "12AX7");
	cr_assert(r.p->tubes[0].winding == -1 && !r.p->tubes[0].volts.given);
	cr_assert(r.p->tubes[0].line == 5);
	done(&r);
}

/* Everything a profile can say, once. */
static const char whole_text[] =
	"; a comment\n"
	"[instrument]\n"
	"name            = \"Bench ; oscillator\"  ; quoted\n"
	"line_volts      = 230 V\n"
	"supply          = transformer ; or series-string\n"
	"chassis         = two-wire\n"
	"nameplate_watts = 35\n"
	"fuse            = 500 mA slow\n"
	"[TUBES]   ; letter case does not matter\n"
	"V1 = 12AX7\n"
	"v2 = 6AU6 on Heater\n"
	"V3 = 6X4\n"
	"V4 = 0A2\n"
	"V5 = 6.3 V 0.45 A +/- 5% on heater\n"
	"V6 = 6Z9X 6.3V .9A on heater\n"
	"V7 = 39/44\n"
	"[lamps]\n"
	"I1 = 47 on heater\n"
	"I2 = MES 6.3V .3A on heater\n"
	"I3 = 6.3V .25A on heater\n"
	"[transformer]\n"
	"primary    = 22 ohm +/- 2%\n"
	"idle_watts = 3.0\n"
	"idle_amps  = 90 mA\n"
	"[winding heater]\n"
	"volts      = 6.3\n"
	"open_volts = 6.75\n"
	"ohms       = 0.08\n"
	"[winding Plate]\n"
	"volts = 250-0-250 +/- 3%\n"
	"ohms  = 360\n"
	"[rail main]\n"
	"winding   = plate\n"
	"rectifier = V3\n"
	"surge     = 22 ohm\n"
	"choke     = 350 ohm 8 H\n"
	"reservoir = 20 uF\n"
	"[rail screen]\n"
	"from      = Main\n"
	"through   = 2k2\n"
	"reservoir = 20\n"
	"bleeder   = 100k\n"
	"draw      = 13 mA at 210 V by V1 v2, 5 mA at 210 resistive, 2 mA at 210 V constant\n"
	"[rail steady]\n"
	"from      = screen\n"
	"through   = 6k8\n"
	"regulator = V4\n"
	"[rail pass]\n"
	"from      = main\n"
	"regulator = 150 V by V5 V6\n"
	"[rail filtered]\n"
	"from    = main\n"
	"through = 5 H 200 ohm\n"
	"[rail twice]\n"
	"winding   = line\n"
	"rectifier = selenium 5\n"
	"form      = doubler\n"
	"reservoir = 150 uF, 100 uF\n"
	"[rail low]\n"
	"winding   = heater\n"
	"rectifier = silicon\n"
	"form      = bridge\n"
	"[capacitors]\n"
	"C1 = 20 uF 450 V on main\n"
	"C2 = 350 V 40 uF\n"
	"[stages]\n"
	"volts = 30, 50.5 V,70\n"
	"hold  = 2 min\n"
	"[limits]\n"
	"abort_excess = 12 %\r\n";

/* The reservoir above is written without its unit, which the text must have: a bare 20 is 20 F. */
Test(profile_ini, a_bare_number_has_the_keys_own_unit)
{
	struct read r = read_text(whole_text, strlen(whole_text));

	cr_assert(r.result == -1);
	cr_assert_str_eq(r.said.data,
	                 "p.ini:41: [rail screen] reservoir: 20 F cannot be: allowed are "
	                 "1 nF to 1 F\n");
	done(&r);
}

Test(profile_ini, whole)
{
	struct buf text = BUF_INIT;
	const char *bare = strstr(whole_text, "reservoir = 20\n");
	const struct profile *p;
	struct read r;

	buf_add(&text, whole_text, (size_t)(bare - whole_text));
	buf_adds(&text, "reservoir = 16 uF\n");
	buf_adds(&text, bare + strlen("reservoir = 20\n"));
	r = read_text(text.data, text.len);
	p = r.p;
	cr_assert(r.result == 0, "%s", r.said.data);

	cr_assert_str_eq(p->name, "Bench ; oscillator");
	cr_assert(p->line_volts.value == 230 && p->line_hz.value == 50);
	cr_assert(p->chassis == CHASSIS_TWO_WIRE && p->nameplate_watts.value == 35);
	cr_assert(p->fuse_amps.value == 0.5 && p->fuse_speed == FUSE_SLOW);

	cr_assert(p->n_tubes == 7 && p->n_lamps == 3);
	cr_assert_str_eq(p->tubes[1].place, "v2");
	cr_assert(p->tubes[0].winding == -1 && p->tubes[1].winding == 0);
	cr_assert_str_eq(p->tubes[4].type, "");
	cr_assert(p->tubes[4].volts.value == 6.3 && p->tubes[4].amps.value == 0.45);
	cr_assert(same(p->tubes[4].amps.tol, 0.05) && p->tubes[4].winding == 0);
	cr_assert_str_eq(p->tubes[5].type, "6Z9X");
	cr_assert(p->tubes[5].amps.value == 0.9);
	cr_assert_str_eq(p->tubes[6].type, "39/44");
	cr_assert_str_eq(p->lamps[0].type, "47");
	cr_assert_str_eq(p->lamps[1].type, "MES 6.3V .3A");
	cr_assert(p->lamps[1].winding == 0 && !p->lamps[1].volts.given);
	cr_assert(p->lamps[2].type[0] == '\0' && p->lamps[2].amps.value == 0.25);

	cr_assert(p->primary_ohms.value == 22 && same(p->primary_ohms.tol, 0.02));
	cr_assert(p->idle_watts.tol == -1 && p->idle_amps.value == 0.09);
	cr_assert(p->n_windings == 2);
	cr_assert_str_eq(p->windings[1].name, "Plate");
	cr_assert(!p->windings[0].centre_tapped && p->windings[0].open_volts.value == 6.75);
	cr_assert(p->windings[1].centre_tapped && p->windings[1].volts.value == 250);
	cr_assert(same(p->windings[1].volts.tol, 0.03) && p->windings[1].ohms.value == 360);

	cr_assert(p->n_rails == 7);
	cr_assert(p->rails[0].source == RAIL_FROM_WINDING && p->rails[0].winding == 1);
	cr_assert(p->rails[0].rectifier == RECTIFIER_TUBE && p->rails[0].rectifier_by[0] == 2);
	cr_assert(p->rails[0].form == FORM_FULL_WAVE, "a centre-tapped winding is full-wave");
	cr_assert(p->rails[0].choke_henry.value == 8 && p->rails[0].choke_ohms.value == 350);
	cr_assert(same(p->rails[0].reservoir[0].value, 20e-6) && !p->rails[0].reservoir[1].given);
	cr_assert(p->rails[1].source == RAIL_FROM_RAIL && p->rails[1].parent == 0);
	cr_assert(p->rails[1].through_ohms.value == 2200 && p->rails[1].bleeder_ohms.value == 1e5);
	cr_assert(p->rails[1].n_draws == 3);
	cr_assert(p->rails[1].draws[0].kind == DRAW_SPACE_CHARGE && p->rails[1].draws[0].n_by == 2);
	cr_assert(p->rails[1].draws[0].by[0] == 0 && p->rails[1].draws[0].by[1] == 1);
	cr_assert(same(p->rails[1].draws[0].amps.value, 0.013));
	cr_assert(p->rails[1].draws[1].kind == DRAW_RESISTIVE);
	cr_assert(p->rails[1].draws[1].volts.value == 210);
	cr_assert(p->rails[1].draws[2].kind == DRAW_CONSTANT);
	cr_assert(p->rails[2].regulator == REGULATOR_GAS && p->rails[2].regulator_by[0] == 3);
	cr_assert(p->rails[3].regulator == REGULATOR_SERIES_PASS);
	cr_assert(p->rails[3].regulator_volts.value == 150 && p->rails[3].n_regulator_by == 2);
	cr_assert(p->rails[4].choke_henry.value == 5 && !p->rails[4].through_ohms.given);
	cr_assert(p->rails[5].source == RAIL_FROM_LINE && p->rails[5].form == FORM_DOUBLER);
	cr_assert(p->rails[5].rectifier == RECTIFIER_SELENIUM && p->rails[5].selenium_plates == 5);
	cr_assert(same(p->rails[5].reservoir[1].value, 100e-6));
	cr_assert(p->rails[6].rectifier == RECTIFIER_SILICON && p->rails[6].form == FORM_BRIDGE);

	cr_assert(p->n_capacitors == 2 && p->capacitors[0].rail == 0 &&
	          p->capacitors[1].rail == -1);
	cr_assert(p->capacitors[1].volts.value == 350);
	cr_assert(p->n_stages == 3 && p->stage_volts[1] == 50.5 && p->hold_s.value == 120);
	cr_assert(same(p->abort_excess_share.value, 0.12) && !p->abort_excess_watts.given);
	done(&r);
	buf_release(&text);
}

Test(profile_ini, series_string)
{
	static const char text[] =
		INSTRUMENT "supply = series-string\nchassis = live\n[tubes]\nV1 = 50C5\nV2 = 35W4\n"
		"[string]\ndropper = 150 ohm\n"
		"[rail main]\nwinding = LINE\nrectifier = V2\nreservoir = 50 uF\n"
		"[limits]\nabort_excess = 5 W\n";
	struct read r = read_text(text, strlen(text));

	cr_assert(r.result == 0, "%s", r.said.data);
	cr_assert(r.p->supply == SUPPLY_SERIES_STRING && r.p->chassis == CHASSIS_LIVE);
	cr_assert(r.p->dropper_ohms.value == 150);
	cr_assert(r.p->rails[0].source == RAIL_FROM_LINE && r.p->rails[0].form == FORM_HALF_WAVE);
	cr_assert(r.p->abort_excess_watts.value == 5 && !r.p->abort_excess_share.given);
	done(&r);
}

/* As restorers write them: a lamp's number with its #, a can's sections with a +. */
Test(profile_ini, written_by_restorers)
{
	static struct profile p;
	static const struct {
		const char *place;
		double farad, volts;
		int rail;
	} cans[] = {
		{"C0", 8e-6, 450, 2}, {"C1A", 50e-6, 350, 0}, {"C1B", 30e-6, 350, 1}, {"C2A", 10e-6, 50, -1},
		{"C2B", 20e-6, 25, -1}, {"C3A", 16e-6, 450, -1}, {"C3B", 8e-6, 450, -1},
		{"C3C", 4e-6, 450, -1}, {"C4", 8e-6, 450, -1},
	};
	static const char text[] =
		"[instrument]\nname = x\nline_volts = 117\n"
		"[tubes]\nV1 = 6AQ5\nV2 = 6X4\n"
		"[lamps]\nI1 = #47\nI2 = #47 on heater ; dial\nI3 = \"#47\"\n"
		"[winding heater]\nvolts = 6.3\n[winding plate]\nvolts = 250-0-250\n"
		"[rail main]\nwinding = plate\nrectifier = V2\n"
		"[rail audio]\nfrom = main\nthrough = 1k\n[rail +b]\nfrom = main\nthrough = 1k\n"
		"[capacitors]\nC0 = 8 uF 450 V on +b\nC1 = 50+30 uF 350 V on main audio\nC2 = 10uF 50V + 20 uF 25 V\n"
		"C3 = 16 + 8 +4uF +/- 20% 450 V\nC4 = 8 uF 450 V\n";
	struct complaints c;

	complaints_init(&c, "x");
	cr_assert(profile_parse_text(text, sizeof text - 1, &p, &c) == 0);
	for (int i = 0; i < 3; i++)
		cr_assert_str_eq(p.lamps[i].type, "47");
	cr_assert(p.lamps[1].winding == 0);
	cr_assert_eq(p.n_capacitors, (int)(sizeof cans / sizeof *cans));
	for (int i = 0; i < p.n_capacitors; i++) {
		cr_assert_str_eq(p.capacitors[i].place, cans[i].place);
		cr_assert(fabs(p.capacitors[i].farad.value / cans[i].farad - 1) < 1e-9 &&
		          fabs(p.capacitors[i].volts.value / cans[i].volts - 1) < 1e-9 &&
		          p.capacitors[i].rail == cans[i].rail, "%s", cans[i].place);
	}
	complaints_release(&c);
}

/* ---- golden: one fault class a file ---- */

static const char *tests_folder(void)
{
	const char *folder = getenv("MAINSTAIR_TESTS");

	cr_assert(folder, "MAINSTAIR_TESTS must name the folder tests/");
	return folder;
}

static struct tables load_tables(void)
{
	struct tables t;
	struct err err = {0};

	cr_assert(table_file_load(&t, &err) == 0, "%s", err.text);
	return t;
}

/* What a user is told of the file at path, under its own name. */
static void judge_file(const char *path, const char *name, const struct tables *tables,
                       struct buf *out)
{
	struct profile *p = malloc(sizeof *p);
	struct complaints c;

	cr_assert(p);
	complaints_init(&c, name);
	if (profile_read(path, p, NULL, &c) == 0)
		(void)profile_check_types(p, tables, &c);
	complaints_print(&c, out);
	complaints_release(&c);
	free(p);
}

static bool ends_in(const char *s, const char *end)
{
	size_t n = strlen(s), m = strlen(end);

	return n > m && strcmp(s + n - m, end) == 0;
}

Test(profile_ini, golden)
{
	struct tables tables = load_tables();
	struct dirent **list;
	char folder[512];
	int n, files = 0;

	(void)snprintf(folder, sizeof folder, "%s/golden/profile", tests_folder());
	n = scandir(folder, &list, NULL, alphasort);
	cr_assert(n > 0, "no folder %s", folder);
	for (int i = 0; i < n; i++) {
		struct buf found = BUF_INIT, expected = BUF_INIT;
		char path[1024];
		struct err err = {0};

		if (ends_in(list[i]->d_name, ".ini")) {
			files++;
			(void)snprintf(path, sizeof path, "%s/%s", folder, list[i]->d_name);
			judge_file(path, list[i]->d_name, &tables, &found);
			memcpy(path + strlen(path) - 3, "txt", 4);
			if (getenv("GOLDEN_UPDATE")) {
				FILE *f = fopen(path, "w");

				cr_assert(f && fputs(found.data, f) >= 0 && fclose(f) == 0);
			}
			cr_expect(whole_file_read(path, 1 << 20, &expected, &err) == 0, "%s",
			          err.text);
			cr_expect(found.len > 0, "%s is taken for good", list[i]->d_name);
			cr_expect(strcmp(found.data, expected.data) == 0,
			          "%s\n--- expected\n%s--- found\n%s", list[i]->d_name,
			          expected.data, found.data);
		}
		buf_release(&found);
		buf_release(&expected);
		free(list[i]);
	}
	free(list);
	tables_release(&tables);
	cr_assert(files >= 30, "only %d golden files", files);
}

/* ---- the shipped profiles ---- */

Test(profile_ini, shipped_profiles_load)
{
	struct tables tables = load_tables();
	struct dirent **list;
	char folder[512];
	int n, files = 0;

	(void)snprintf(folder, sizeof folder, "%s/../profiles", tests_folder());
	n = scandir(folder, &list, NULL, alphasort);
	cr_assert(n > 0, "no folder %s", folder);
	for (int i = 0; i < n; i++) {
		struct buf said = BUF_INIT, text = BUF_INIT;
		char path[1024];
		struct err err = {0};

		if (ends_in(list[i]->d_name, ".ini")) {
			files++;
			(void)snprintf(path, sizeof path, "%s/%s", folder, list[i]->d_name);
			judge_file(path, list[i]->d_name, &tables, &said);
			cr_expect(said.len == 0, "%s", said.data);
			cr_expect(whole_file_read(path, 1 << 20, &text, &err) == 0);
			cr_expect(strncmp(text.data, "; An invented instrument", 24) == 0,
			          "%s does not say first that it is invented", list[i]->d_name);
		}
		buf_release(&said);
		buf_release(&text);
		free(list[i]);
	}
	free(list);
	tables_release(&tables);
	cr_assert(files >= 8, "only %d profiles", files);
}

/* ---- files that mean harm ---- */

static void expect_said(const char *text, size_t n, const char *words)
{
	struct read r = read_text(text, n);

	cr_expect(r.result == -1, "taken for good: %s", words);
	cr_expect(strstr(r.said.data, words), "expected \"%s\" in:\n%s", words, r.said.data);
	for (const char *s = r.said.data; *s; s += strcspn(s, "\n") + 1)
		cr_expect(text_is_clean(s, strcspn(s, "\n")), "control characters: %s", words);
	done(&r);
}

#define GOOD INSTRUMENT "[tubes]\nV1 = 12AX7\n"

Test(profile_ini, hostile_bytes)
{
	static const char nul[] = INSTRUMENT "[tubes]\nV1 = 12A\0X7\n";
	static const char nul_line[] = "\0\n" GOOD;

	expect_said("", 0, "p.ini: there is no [instrument] section");
	expect_said("\n\n\n", 3, "p.ini: there is no [instrument] section");
	expect_said(nul, sizeof nul - 1, "p.ini:5: [tubes] a NUL byte");
	expect_said(nul_line, sizeof nul_line - 1, "p.ini:1: a NUL byte");
	expect_said("\xef\xbb\xbf" GOOD, strlen(GOOD) + 3,
	            "p.ini:1: the file begins with a byte order");
	expect_said(GOOD "V2 = \x1b[31m\n", strlen(GOOD) + 11,
	            "p.ini:6: [tubes] a control character");
	expect_said(GOOD "V2 = \xff\n", strlen(GOOD) + 7, "not UTF-8");
	expect_said("[instrument]\rname = x\r", 22, "a control character");
	/* the rest is judged all the same */
	expect_said("\xef\xbb\xbf[instrument]\nname = x\n[tubes]\nV1 = 12AX7\n", 44,
	            "p.ini:1: [instrument] line_volts: is missing");
}

/* What an editor elsewhere leaves behind is fine: CRLF, no end of line at the end. */
Test(profile_ini, harmless_bytes)
{
	static const char crlf[] = "[instrument]\r\nname = x\r\nline_volts = 117\r\n[tubes]\r\n"
	                           "\tV1\t=\t12AX7\t;\tfirst\r\n\r\n;";
	struct read r = read_text(crlf, strlen(crlf));

	cr_assert(r.result == 0, "%s", r.said.data);
	cr_assert_str_eq(r.p->tubes[0].type, "12AX7");
	done(&r);
}

static void expect_filled(char fill, size_t n, const char *words)
{
	char *text = malloc(n + strlen(GOOD) + 2);

	cr_assert(text);
	memcpy(text, GOOD, strlen(GOOD));
	memset(text + strlen(GOOD), fill, n);
	expect_said(text, strlen(GOOD) + n, words);
	free(text);
}

Test(profile_ini, hostile_sizes)
{
	struct buf many = BUF_INIT;

	expect_filled('x', 1 << 20, "larger than 256 KiB");
	expect_filled('x', 200000, "p.ini:6: [tubes] longer than 1000 bytes");
	expect_filled('[', 1001, "longer than 1000 bytes");
	expect_filled('[', 1000, "its ] is missing");
	expect_filled('=', 900, "before the = stands one word");
	expect_filled('\\', 900, "ends in a backslash");
	/* a quarter of a megabyte of keys, sections, bad lines: told, bounded, at once */
	for (int i = 0; i < 20000; i++)
		buf_addf(&many, "k%d = 1\n", i);
	buf_addf(&many, "%s", GOOD);
	expect_said(many.data, many.len, "more faults");
	buf_clear(&many);
	buf_adds(&many, GOOD);
	for (int i = 2; i < 15000; i++)
		buf_addf(&many, "V%d = 6AU6\n", i);
	expect_said(many.data, many.len, "more than 96 tubes in one profile");
	cr_assert(strlen(many.data) < INI_TEXT_MAX);
	expect_said(many.data, many.len, "more than 1024 keys in one file");
	buf_clear(&many);
	buf_adds(&many, GOOD);
	for (int i = 0; i < 5000; i++)
		buf_addf(&many, "[rail r%d]\n", i);
	expect_said(many.data, many.len, "more than 64 sections");
	expect_said(many.data, many.len, "more than 16 rails in one profile");
	buf_clear(&many);
	for (int i = 0; i < 15000; i++)
		buf_adds(&many, "[instrument]\n");
	expect_said(many.data, many.len, "is there already, on line 1");
	buf_release(&many);
}

/* As many as a profile may have, and one more. */
Test(profile_ini, maxima)
{
	struct buf text = BUF_INIT;
	struct read r;

	buf_adds(&text, INSTRUMENT "[tubes]\n");
	for (int i = 1; i <= PROFILE_TUBES_MAX; i++)
		buf_addf(&text, "V%d = 6AU6\n", i);
	buf_adds(&text, "[lamps]\n");
	for (int i = 1; i <= PROFILE_LAMPS_MAX; i++)
		buf_addf(&text, "I%d = 47\n", i);
	buf_adds(&text, "[winding p]\nvolts = 250-0-250\n[capacitors]\n");
	for (int i = 1; i <= PROFILE_CAPS_MAX; i++)
		buf_addf(&text, "C%d = 20 uF 450 V\n", i);
	buf_adds(&text, "[rail r0]\nwinding = p\nrectifier = silicon\n");
	for (int i = 1; i < PROFILE_RAILS_MAX; i++)
		buf_addf(&text, "[rail r%d]\nfrom = r%d\nthrough = 1k\n", i, i - 1);
	buf_adds(&text, "draw = ");
	for (int i = 0; i < PROFILE_DRAWS_MAX; i++)
		buf_addf(&text, "%s1 mA at 100 V resistive", i > 0 ? ", " : "");
	buf_adds(&text, "\n");
	r = read_text(text.data, text.len);
	cr_expect(r.result == 0, "%s", r.said.data);
	cr_expect(r.p->n_tubes == PROFILE_TUBES_MAX && r.p->n_rails == PROFILE_RAILS_MAX);
	cr_expect(r.p->rails[PROFILE_RAILS_MAX - 1].n_draws == PROFILE_DRAWS_MAX);
	done(&r);
	buf_cut(&text, text.len - 1);
	buf_adds(&text, ", 1 mA at 100 V resistive\n[tubes]\nX = 6AU6\n[stages]\nvolts = 1");
	for (int i = 1; i <= PROFILE_STAGES_MAX; i++)
		buf_addf(&text, ", %d", i + 1);
	expect_said(text.data, text.len, "more than 12 values");
	expect_said(text.data, text.len, "more than 24 values");
	expect_said(text.data, text.len, "more than 96 tubes");
	buf_release(&text);
}

static void expect_path_refused(const char *path, const char *words)
{
	struct profile *p = malloc(sizeof *p);
	struct buf said = BUF_INIT;
	struct complaints c;

	cr_assert(p);
	complaints_init(&c, path);
	cr_expect(profile_read(path, p, NULL, &c) == -1, "%s was read", path);
	complaints_print(&c, &said);
	cr_expect(strstr(said.data, words), "%s", said.data);
	buf_release(&said);
	complaints_release(&c);
	free(p);
}

Test(profile_ini, what_is_no_file)
{
	char folder[] = "/tmp/mainstair-profile-XXXXXX", fifo[64];

	cr_assert(mkdtemp(folder));
	(void)snprintf(fifo, sizeof fifo, "%s/fifo", folder);
	cr_assert(mkfifo(fifo, 0600) == 0);
	expect_path_refused(folder, "not a regular file");
	expect_path_refused(fifo, "not a regular file"); /* and does not wait for a writer */
	expect_path_refused("/dev/zero", "not a regular file");
	expect_path_refused("/nonexistent/p.ini", "No such file");
	expect_path_refused("", "No such file");
	(void)unlink(fifo);
	(void)rmdir(folder);
}

/* The bytes that were judged are the bytes that go into a record. */
Test(profile_ini, hands_out_what_it_read)
{
	char path[1024];
	struct profile *p = malloc(sizeof *p);
	struct buf text = BUF_INIT, file = BUF_INIT;
	struct complaints c;
	struct err err;

	cr_assert(p);
	(void)snprintf(path, sizeof path, "%s/../profiles/bench-oscillator.ini", tests_folder());
	complaints_init(&c, path);
	cr_expect(profile_read(path, p, &text, &c) == 0);
	cr_expect(whole_file_read(path, INI_TEXT_MAX, &file, &err) == 0);
	cr_expect(text.len == file.len && memcmp(text.data, file.data, file.len) == 0);
	cr_expect(profile_parse_text(text.data, text.len, p, &c) == 0);
	complaints_release(&c);
	buf_release(&text);
	buf_release(&file);
	free(p);
}
