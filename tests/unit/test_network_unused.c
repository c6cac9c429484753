/* Nothing that a profile says is dropped silently: every key of the network moves it in every kind
 * of set, or network_unused() names it. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/table_file.h"
#include "lib/text_unit.h"

TestSuite(network_unused, .timeout = 100);

#define HEAD "[instrument]\nname = unit\nline_volts = 117\n"
#define TUBES "[tubes]\nV1 = 6BE6\nV4 = 6AQ5\nV5 = 6X4\n"
#define STRING HEAD "supply = series-string\n[tubes]\nV1 = 12BE6\nV2 = 50C5\nV3 = 35W4\n"
#define PLATE "[winding plate]\nvolts = 250-0-250\n"
#define MAIN "[rail main]\nwinding = plate\nrectifier = V5\nreservoir = 20 uF\n"
#define NEXT "[rail next]\nfrom = main\nthrough = 2k2\n"

/* The two differ by what stands at the %s. */
static const struct {
	const char *text, *one, *other;
	const char *named; /* "": it moves the network; else part of what is said of it */
} rows[] = {
	/* the instrument */
	{ HEAD "%s" TUBES, "line_hz = 60\n", "line_hz = 50\n", "" },
	{ HEAD "%s" TUBES, "fuse = 1 A\n", "fuse = 2 A\n", "" },
	/* tubes and lamps */
	{ HEAD TUBES "V6 = 6.3 V %s\n", "0.3 A", "0.6 A", "" },
	{ HEAD TUBES "V6 = 6.3 V %s\n", "0.3 A", "0.3 A +/- 1%%", "" },
	{ HEAD TUBES "V6 = %s\n", "6BA6", "6AU6", "" },
	{ HEAD TUBES "V6 = 6BA6%s\n[winding a]\nvolts = 6.3\n[winding b]\nvolts = 6.3\n", " on a", " on b", "" },
	{ HEAD TUBES "%s", "", "V6 = 0A2\n", "V6 (0A2)" },
	{ HEAD TUBES "%s", "", "V6 = 6X4\n", "V6 (6X4)" },
	{ HEAD TUBES "%s" PLATE "[rail main]\nwinding = plate\nrectifier = silicon\n", "", "V6 = 6X4\n",
	  "V6 (6X4)" },
	{ HEAD TUBES "[lamps]\nI1 = %s\n", "47", "44", "" },
	{ HEAD TUBES "[lamps]\nI1 = %s\n", "6.3 V 0.15 A", "6.3 V 0.15 A +/- 2%", "[lamps] I1" },
	{ STRING "[lamps]\nI1 = %s\n", "6.3 V 0.15 A", "6.3 V 0.25 A", "" },
	/* transformer, with and without rails */
	{ HEAD TUBES "[transformer]\nprimary = %s\n", "12", "13", "" },
	{ HEAD TUBES "[transformer]\nprimary = %s\n", "12", "12 +/- 1%", "" },
	{ HEAD TUBES "[transformer]\nidle_watts = %s\n", "3", "4", "" },
	{ HEAD TUBES "[transformer]\nidle_amps = %s\n", "0.1", "0.2", "" },
	{ STRING "[winding pilot]\nvolts = 6.3\n[lamps]\nI1 = 47 on pilot\n%s", "",
	  "[transformer]\nprimary = 500\n", "[transformer]" },
	/* windings */
	{ HEAD TUBES "[winding plate]\nvolts = %s\n", "250-0-250", "280-0-280", "" },
	{ HEAD TUBES "[winding plate]\nvolts = %s\n", "250", "250-0-250", "" },
	{ HEAD TUBES "[winding plate]\nopen_volts = %s\n", "250-0-250", "280-0-280", "" },
	{ HEAD TUBES "[winding plate]\nvolts = 250-0-250\nohms = %s\n", "400", "420", "" },
	{ HEAD TUBES "[winding plate]\nohms = %s\n", "400", "420", "" },
	{ HEAD TUBES PLATE MAIN "[winding field]\nvolts = %s\n", "30", "31", "[winding field]" },
	{ HEAD TUBES PLATE MAIN "[winding bias]\nvolts = 50\nohms = %s\n", "100", "120", "[winding bias]" },
	{ HEAD TUBES PLATE MAIN "[winding heater]\nvolts = %s\n", "6.3", "6.4", "" },
	{ HEAD TUBES PLATE MAIN "[winding heater]\nopen_volts = 7\nvolts = %s\n", "6.3", "6.4",
	  "[winding heater] volts" },
	{ HEAD TUBES PLATE MAIN "[winding heater]\nohms = %s\n", "0.1", "0.12", "" },
	{ STRING "[lamps]\nI1 = 47 on pilot\n[winding pilot]\nvolts = %s\n", "6.3", "6.4", "[winding pilot]" },
	/* rails */
	{ HEAD TUBES PLATE "[rail main]\nwinding = plate\nrectifier = %s\n", "V5", "silicon", "" },
	{ HEAD TUBES PLATE "[rail main]\nwinding = plate\nrectifier = selenium %s\n", "5", "6", "" },
	{ HEAD TUBES PLATE "[rail main]\nwinding = plate\nrectifier = silicon\nform = %s\n", "bridge",
	  "full-wave", "" },
	{ HEAD TUBES PLATE MAIN "surge = %s\n", "47", "100", "" },
	{ HEAD TUBES PLATE MAIN "choke = 8 H %s\n", "350 ohm", "400 ohm", "" },
	{ HEAD TUBES PLATE MAIN "choke = %s 350 ohm\n", "8 H", "10 H", "" },
	{ HEAD TUBES PLATE MAIN "bleeder = %s\n", "47k", "56k", "" },
	{ HEAD TUBES PLATE MAIN "draw = %s\n", "40 mA at 250 V by V4", "40 mA at 240 V by V4", "" },
	{ HEAD TUBES PLATE MAIN "draw = 40 mA at 250 V %s\n", "by V4", "resistive", "" },
	{ HEAD TUBES PLATE MAIN "draw = 40 mA at 250 V by %s\n", "V4", "V1", "" },
	{ HEAD TUBES PLATE MAIN "regulator = 200 V%s by V4\n", "", " +/- 1%", "" },
	{ HEAD TUBES PLATE "[rail main]\nwinding = plate\nrectifier = V5\n%s", "", "reservoir = 40 uF\n", "" },
	{ HEAD TUBES PLATE "[rail main]\nwinding = plate\nrectifier = V5\n[capacitors]\nC1 = %s on main\n",
	  "20 uF 350 V", "30 uF 350 V", "" },
	{ HEAD TUBES PLATE MAIN "[rail next]\nfrom = main\nthrough = %s\n", "2k2", "2k7", "" },
	{ HEAD TUBES PLATE MAIN "[rail next]\nfrom = main\nthrough = 2k2\nreservoir = %s\n", "20 uF", "30 uF", "" },
	{ HEAD TUBES PLATE MAIN NEXT "bleeder = %s\n", "47k", "56k", "" },
	{ HEAD TUBES "V6 = %s\n" PLATE MAIN NEXT "regulator = V6\n", "0A2", "0B2", "" },
	{ HEAD TUBES PLATE MAIN "[rail next]\nfrom = main\nregulator = 200 V by V4\n%s", "", "through = 2k2\n",
	  "[rail next] through" },
	{ HEAD TUBES "[rail main]\nwinding = line\nrectifier = silicon\nform = doubler\nreservoir = 20 uF, %s\n",
	  "20 uF", "30 uF", "" },
	/* string */
	{ STRING "[string]\ndropper = %s\n", "100", "120", "" },
	{ HEAD "supply = transformer\n" TUBES "[string]\ndropper = %s\n", "100", "120", "[string] dropper" },
	/* capacitors without rails */
	{ HEAD TUBES "[capacitors]\nC1 = %s\n", "20 uF 350 V", "30 uF 350 V", "" },
	{ STRING "[capacitors]\nC1 = %s\n", "20 uF 150 V", "30 uF 150 V", "" },
};

static struct text_unit *unit_of(const char *text, const char *part)
{
	char whole[1000];
	const char *at = strstr(text, "%s");

	(void)snprintf(whole, sizeof whole, "%.*s%s%s", (int)(at - text), text, part, at + 2);
	for (char *two; (two = strstr(whole, "%%")) != NULL;)
		memmove(two, two + 1, strlen(two));
	return text_unit(whole);
}

/* But for what is said of it. */
static bool same_network(struct network *a, struct network *b)
{
	memset(a->notes, 0, sizeof a->notes);
	memset(b->notes, 0, sizeof b->notes);
	return memcmp(a, b, sizeof *a) == 0;
}

static bool says(const struct text_unit *unit, const struct tables *tables, const char *part)
{
	char said[NET_UNUSED_MAX][NET_UNUSED_TEXT_MAX];
	const int n = network_unused(&unit->net, &unit->profile, tables, said, NET_UNUSED_MAX);

	for (int i = 0; i < n; i++)
		if (strstr(said[i], part))
			return true;
	return false;
}

Test(network_unused, every_key_moves_the_network_or_is_named)
{
	struct tables tables;
	struct err err;

	cr_assert_eq(table_file_load(&tables, &err), 0);
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct text_unit *one = unit_of(rows[i].text, rows[i].one);
		struct text_unit *other = unit_of(rows[i].text, rows[i].other);

		if (rows[i].named[0])
			cr_assert(says(other, &tables, rows[i].named), "%s\n%s", rows[i].text,
			          rows[i].other);
		else
			cr_assert(!same_network(&one->net, &other->net), "%s\n%s | %s", rows[i].text,
			          rows[i].one, rows[i].other);
		free(one);
		free(other);
	}
	tables_release(&tables);
}

Test(network_unused, of_the_shipped_profiles_all_is_used)
{
	struct tables tables;
	struct err err;
	const char *file;

	cr_assert_eq(table_file_load(&tables, &err), 0);
	for (int k = 0; (file = shipped_profile(k)); k++) {
		char said[NET_UNUSED_MAX][NET_UNUSED_TEXT_MAX];
		struct text_unit *unit = shipped_unit(file);

		cr_assert_eq(network_unused(&unit->net, &unit->profile, &tables, said, NET_UNUSED_MAX), 0,
		             "%s: %s", file, said[0]);
		cr_assert_eq(network_unused(&unit->net, &unit->profile, &tables, said, 0), 0);
		free(unit);
	}
	tables_release(&tables);
}
