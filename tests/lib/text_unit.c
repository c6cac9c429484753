#include "lib/text_unit.h"

#include <criterion/criterion.h>
#include <dirent.h>
#include <fnmatch.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/profile_ini.h"
#include "io/table_file.h"

static void fail_with(const struct complaints *c)
{
	struct buf all = BUF_INIT;

	complaints_print(c, &all);
	cr_assert_fail("%s", all.data);
}

static int build(struct text_unit *unit, struct err *err)
{
	struct tables tables;
	int status;

	if (table_file_load(&tables, err) < 0)
		return -1;
	status = network_build(&unit->net, &unit->profile, &tables, err);
	tables_release(&tables);
	return status;
}

int text_unit_try(const char *text, struct text_unit *ret, struct err *err)
{
	struct complaints c;

	complaints_init(&c, "text");
	if (profile_parse_text(text, strlen(text), &ret->profile, &c) < 0)
		fail_with(&c);
	complaints_release(&c);
	return build(ret, err);
}

struct text_unit *text_unit(const char *text)
{
	struct text_unit *unit = malloc(sizeof *unit);
	struct err err = { 0 };

	cr_assert_not_null(unit);
	cr_assert(text_unit_try(text, unit, &err) == 0, "%s", err.text);
	return unit;
}

static const char *profiles_folder(void)
{
	static char folder[400];
	const char *tests = getenv("MAINSTAIR_TESTS");

	cr_assert(tests, "MAINSTAIR_TESTS must name the folder tests/");
	(void)snprintf(folder, sizeof folder, "%s/../profiles", tests);
	return folder;
}

struct text_unit *shipped_unit(const char *file)
{
	struct text_unit *unit = malloc(sizeof *unit);
	struct complaints c;
	struct err err = { 0 };
	char path[700];

	cr_assert_not_null(unit);
	(void)snprintf(path, sizeof path, "%s/%s", profiles_folder(), file);
	complaints_init(&c, file);
	if (profile_read(path, &unit->profile, NULL, &c) < 0)
		fail_with(&c);
	complaints_release(&c);
	cr_assert(build(unit, &err) == 0, "%s: %s", file, err.text);
	return unit;
}

static int is_profile(const struct dirent *entry)
{
	return fnmatch("*.ini", entry->d_name, 0) == 0;
}

const char *shipped_profile(int k)
{
	static char name[256];
	struct dirent **entries;
	const int n = scandir(profiles_folder(), &entries, is_profile, alphasort);
	const char *found = NULL;

	cr_assert(n > 0, "no profiles in %s", profiles_folder());
	if (k < n) {
		(void)snprintf(name, sizeof name, "%s", entries[k]->d_name);
		found = name;
	}
	for (int i = 0; i < n; i++)
		free(entries[i]);
	free(entries);
	return found;
}

int unit_rail_named(const struct network *net, const char *name)
{
	for (int r = 0; r < net->n_rails; r++)
		if (strcmp(net->rails[r].name, name) == 0)
			return r;
	cr_assert_fail("no rail %s", name);
	return -1;
}

int unit_winding_named(const struct network *net, const char *name)
{
	for (int w = 0; w < net->n_windings; w++)
		if (strcmp(net->windings[w].name, name) == 0)
			return w;
	cr_assert_fail("no winding %s", name);
	return -1;
}

double split_sum(const struct network *net, const struct load_result *at)
{
	double sum = at->split_heaters + at->split_lamps + at->split_dropper + at->split_core +
		at->split_copper + at->split_rectifier + at->split_fault + at->split_storing;

	for (int r = 0; r < net->n_rails; r++)
		sum += at->split_rail[r];
	return sum;
}
