#include "lib/unit_file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "io/profile_ini.h"
#include "io/table_file.h"

struct unit_file *unit_file_load(const char *path)
{
	struct unit_file *unit = malloc(sizeof *unit);
	struct tables tables;
	struct complaints c;
	struct err err = { 0 };

	if (!unit || table_file_load(&tables, &err) < 0) {
		fprintf(stderr, "%s\n", unit ? err.text : "out of memory");
		free(unit);
		return NULL;
	}
	const char *slash = strrchr(path, '/');

	unit->name = slash ? slash + 1 : path;
	complaints_init(&c, path);
	int status = profile_read(path, &unit->profile, NULL, &c);

	if (status < 0)
		fprintf(stderr, "%s: not a profile\n", path);
	else if ((status = network_build(&unit->net, &unit->profile, &tables, &err)) < 0)
		fprintf(stderr, "%s: %s\n", path, err.text);
	complaints_release(&c);
	tables_release(&tables);
	if (status < 0) {
		free(unit);
		return NULL;
	}
	return unit;
}

double processor_s(void)
{
	struct timespec t;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}
