#include "cli/load_unit.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "cli/output.h"
#include "io/profile_ini.h"
#include "mainstair/base/text.h"
#include "io/table_file.h"

void unit_release(struct loaded_unit *u)
{
	buf_release(&u->text);
	tables_release(&u->tables);
	free(u->network);
	free(u->plan);
	u->network = NULL;
	u->plan = NULL;
}

void unit_on_bench(struct loaded_unit *u, const struct bench_setup *bench)
{
	if (bench->has_meter && bench->meter.accuracy_given)
		u->accuracy = bench->meter.accuracy;
	if (isfinite(bench->lamp_watts))
		u->lamp = (struct series_lamp){ bench->lamp_watts, bench->lamp_volts };
	u->meter_ahead = u->lamp.watts > 0.0 && bench->meter_ahead;
	if (u->meter_ahead) /* the lamp's watts are only as well known as its rating */
		u->accuracy.offset_watts += limiter_meter_error(u->network, &u->lamp);
}

/* The network of a profile that has been read. */
static int build(struct loaded_unit *u, struct complaints *c)
{
	struct err err;

	u->network = malloc(sizeof *u->network);
	if (!u->network) {
		complaints_add(c, COMPLAINT_WHOLE_FILE, NULL, NULL, "out of memory");
		return -1;
	}
	if (network_build(u->network, &u->profile, &u->tables, &err) != 0) {
		complaints_add(c, COMPLAINT_WHOLE_FILE, NULL, NULL, "%s", err.text);
		return -1;
	}
	u->rule = abort_rule_of(&u->profile, u->network);
	return 0;
}

/* From the file at path, or from text when that is not NULL. */
static int load(struct loaded_unit *ret, const char *path, const char *text, size_t n)
{
	struct complaints c;
	struct err err;
	int status = -1;

	*ret = (struct loaded_unit){ .accuracy = meter_accuracy_default };
	buf_init(&ret->text);
	complaints_init(&c, path);
	if (text)
		buf_add(&ret->text, text, n);
	if (table_file_load(&ret->tables, &err) != 0) {
		complain("%s", err.text);
	} else {
		/* types are looked up whatever else is wrong: all faults of a file at once */
		const bool read = (text ? profile_parse_text(text, n, &ret->profile, &c)
		                        : profile_read(path, &ret->profile, &ret->text, &c)) == 0;
		const bool types = profile_check_types(&ret->profile, &ret->tables, &c) == 0;

		if (read && types)
			status = build(ret, &c);
	}
	complain_all(&c);
	complaints_release(&c);
	if (status != 0)
		unit_release(ret);
	return status;
}

int unit_load(struct loaded_unit *ret, const char *path)
{
	return load(ret, path, NULL, 0);
}

int unit_load_text(struct loaded_unit *ret, const char *name, const char *text, size_t n)
{
	return load(ret, name, text, n);
}

int unit_measure(struct loaded_unit *u, const char *words)
{
	struct err err;

	if (network_measure(u->network, words, &err) != 0) {
		char shown[80];

		(void)text_show(shown, sizeof shown, words, strlen(words));
		complain("measured %s: %s", shown, err.text);
		return -1;
	}
	u->rule = abort_rule_of(&u->profile, u->network);
	return 0;
}

int unit_measure_now(struct loaded_unit *u, const char *words, struct err *err)
{
	if (network_measure(u->network, words, err) != 0)
		return -1;
	u->rule = abort_rule_of(&u->profile, u->network);
	plan_refresh(u->plan, u->network, &u->rule, &u->accuracy);
	return 0;
}

struct network *unit_bare_network(const struct loaded_unit *u)
{
	struct network *net = malloc(sizeof *net);
	struct err err;

	if (!net) {
		complain("out of memory");
	} else if (network_build(net, &u->profile, &u->tables, &err) != 0) {
		complain("%s", err.text);
		free(net);
		net = NULL;
	}
	return net;
}

int unit_plan(struct loaded_unit *u, double bench_line_volts)
{
	if (!u->plan)
		u->plan = malloc(sizeof *u->plan);
	if (!u->plan) {
		complain("out of memory");
		return -1;
	}
	plan_make(u->plan, u->network, &u->profile, &u->rule, &u->accuracy, bench_line_volts);
	return 0;
}
