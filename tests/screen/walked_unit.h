/*
 * A shipped demonstration profile, loaded and planned, for tests of what runs above the core.
 */
#ifndef TESTS_SCREEN_WALKED_UNIT_H
#define TESTS_SCREEN_WALKED_UNIT_H

#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/run.h"
#include "cli/load_unit.h"

static inline struct loaded_unit *walked_unit(const char *profile)
{
	struct loaded_unit *u = malloc(sizeof *u);
	char path[512];

	snprintf(path, sizeof path, "%s/%s", getenv("MAINSTAIR_PROFILES"), profile);
	cr_assert(u && unit_load(u, path) == 0, "%s", path);
	cr_assert(unit_plan(u, 0) == 0);
	plan_prove(u->plan, u->network);
	return u;
}

static inline void walked_unit_free(struct loaded_unit *u)
{
	unit_release(u);
	free(u);
}

static inline struct run_unit judged_by(const struct loaded_unit *u)
{
	return (struct run_unit){u->network, u->plan, &u->rule, &u->accuracy};
}

/* A record in a new file below the temporary folder; its path in ret (64 bytes). */
static inline struct record_writer *new_record(const struct loaded_unit *u, char ret[64])
{
	struct record_head head = {.started_s = 1772388131, .program = "test",
		.profile = {.name = "p.ini", .text = u->text.data, .len = u->text.len},
		.bench = {.name = "", .text = ""}};
	struct record_writer *w = NULL;
	struct err err = {0};

	snprintf(ret, 64, "/tmp/mainstair-test-XXXXXX");
	cr_assert_not_null(mkdtemp(ret));
	snprintf(ret + 26, 64 - 26, "/r");
	cr_assert(record_create(ret, "unit", &head, &w, &err) == 0, "%s", err.text);
	return w;
}

/* The record and its folder. */
static inline void remove_record(char path[64])
{
	remove(path);
	path[26] = '\0';
	remove(path);
}

#endif
