#include "fault_rows.h"

#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bench/random.h"

const char *const fault_class_words[CLASSES] = {
	[CLASS_HEALTHY] = "none",
	[CLASS_PRIMARY] = "primary, a quarter or all of rated amps",
	[CLASS_TURN] = "shorted turn, 5 or 15 W",
	[CLASS_HEATER_WINDING] = "heater winding, 0.3 or 1 ohm",
	[CLASS_OPEN_HEATER] = "open heater",
	[CLASS_OPEN_LAMP] = "open pilot lamp",
	[CLASS_PLATE] = "shorted rectifier plate",
	[CLASS_SHORT_TUBE] = "rail shorted behind a tube rectifier",
	[CLASS_SHORT_DRY] = "rail shorted behind silicon or selenium",
	[CLASS_LEAK_TUBE] = "rail leak 10k behind a tube rectifier",
	[CLASS_LEAK_DRY] = "rail leak 10k behind silicon or selenium",
	[CLASS_DEAD] = "rail dead",
	[CLASS_LOAD] = "rail's loads draw twice their current",
};

/* --- reading ------------------------------------------------------------------------------ */

enum { COLUMNS_MAX = 40 };

/* What a column holds: one of the fixed ones, or volts of a rail or winding. */
enum column_kind { COLUMN_FAULT, COLUMN_UNIT, COLUMN_LINE, COLUMN_WATTS, COLUMN_AMPS, COLUMN_SETTLED,
	COLUMN_RAIL, COLUMN_WINDING };
struct column {
	enum column_kind kind;
	int index;
};

static int index_in(const char *name, size_t length, const char *first, size_t size, int n)
{
	for (int i = 0; i < n; i++, first += size)
		if (strlen(first) == length && memcmp(first, name, length) == 0)
			return i;
	return -1;
}

/* Of the form PREFIX NAME _volts. */
static int named(const char *cell, const char *prefix, const char *first, size_t size, int n)
{
	const size_t p = strlen(prefix), all = strlen(cell), tail = strlen("_volts");

	if (strncmp(cell, prefix, p) != 0 || all < p + tail)
		return -1;
	return index_in(cell + p, all - p - tail, first, size, n);
}

static int column_of(const struct network *net, const char *cell, struct column *ret)
{
	static const char *const fixed[] = {
		[COLUMN_FAULT] = "fault", [COLUMN_UNIT] = "unit", [COLUMN_LINE] = "line_volts",
		[COLUMN_WATTS] = "watts", [COLUMN_AMPS] = "amps", [COLUMN_SETTLED] = "settled",
	};

	for (int k = 0; k < COLUMN_RAIL; k++)
		if (strcmp(cell, fixed[k]) == 0) {
			*ret = (struct column){ (enum column_kind)k, -1 };
			return 0;
		}
	ret->kind = COLUMN_RAIL;
	ret->index = named(cell, "rail_", net->rails[0].name, sizeof net->rails[0], net->n_rails);
	if (ret->index >= 0)
		return 0;
	ret->kind = COLUMN_WINDING;
	ret->index = named(cell, "winding_", net->windings[0].name, sizeof net->windings[0],
	                   net->n_windings);
	return ret->index >= 0 ? 0 : -1;
}

/* Cut at the commas, in place; no cell of ours holds one. */
static int cut(char *line, char *cells[COLUMNS_MAX])
{
	int n = 0;

	line[strcspn(line, "\r\n")] = '\0';
	for (char *at = line; at && n < COLUMNS_MAX;) {
		cells[n++] = at;
		at = strchr(at, ',');
		if (at)
			*at++ = '\0';
	}
	return n;
}

static void take_row(struct fault_rows *f, const struct column *columns, char *const *cells, int n)
{
	struct fault_stage stage;
	const char *words = "";
	int unit = 0;
	bool settled = true;

	for (int r = 0; r < NET_RAILS_MAX; r++)
		stage.rail_volts[r] = NAN;
	for (int w = 0; w < NET_WINDINGS_MAX; w++)
		stage.winding_volts[w] = NAN;
	for (int k = 0; k < n; k++) {
		const double value = strtod(cells[k], NULL);

		switch (columns[k].kind) {
		case COLUMN_FAULT: words = cells[k]; break;
		case COLUMN_UNIT: unit = (int)value; break;
		case COLUMN_LINE: stage.line_volts = value; break;
		case COLUMN_WATTS: stage.watts = value; break;
		case COLUMN_AMPS: stage.amps = value; break;
		case COLUMN_SETTLED: settled = value > 0.5; break;
		case COLUMN_RAIL: stage.rail_volts[columns[k].index] = value; break;
		case COLUMN_WINDING: stage.winding_volts[columns[k].index] = value; break;
		}
	}
	struct fault_case *c = f->n > 0 ? &f->cases[f->n - 1] : NULL;

	if (!c || strcmp(c->words, words) != 0 || c->unit != unit) {
		if (f->n == FAULT_CASES_MAX)
			return;
		c = &f->cases[f->n++];
		(void)snprintf(c->words, sizeof c->words, "%s", words);
		c->unit = unit;
	}
	if (settled && c->n_stages < FAULT_STAGES_MAX)
		c->stages[c->n_stages++] = stage;
}

static int read_rows(struct fault_rows *f, const char *path)
{
	struct column columns[COLUMNS_MAX];
	char line[1024], *cells[COLUMNS_MAX];
	FILE *file = fopen(path, "r");
	int n = 0;

	if (!file || !fgets(line, sizeof line, file)) {
		fprintf(stderr, "%s: cannot be read\n", path);
		if (file)
			fclose(file);
		return -1;
	}
	n = cut(line, cells);
	for (int k = 0; k < n; k++)
		if (column_of(&f->watched->net, cells[k], &columns[k]) < 0) {
			fprintf(stderr, "%s: column %s is not known\n", path, cells[k]);
			fclose(file);
			return -1;
		}
	while (fgets(line, sizeof line, file))
		if (cut(line, cells) == n)
			take_row(f, columns, cells, n);
	fclose(file);
	return 0;
}

struct fault_rows *fault_rows_load(const char *folder, const char *name)
{
	struct fault_rows *f = calloc(1, sizeof *f);
	char path[600];

	if (!f) {
		fprintf(stderr, "out of memory\n");
		return NULL;
	}
	(void)snprintf(path, sizeof path, "%s/%s.ini", folder, name);
	f->watched = watched_load(path);
	(void)snprintf(path, sizeof path, "%s/%s.csv", folder, name);
	if (!f->watched || read_rows(f, path) < 0) {
		fault_rows_free(f);
		return NULL;
	}
	f->watched->name = name;
	return f;
}

void fault_rows_free(struct fault_rows *f)
{
	if (f)
		free(f->watched);
	free(f);
}

static int is_csv(const struct dirent *entry)
{
	const size_t n = strlen(entry->d_name);

	return n > 4 && strcmp(entry->d_name + n - 4, ".csv") == 0;
}

int fault_rows_names(const char *folder, char (*names)[64], int max)
{
	struct dirent **entries;
	const int n = scandir(folder, &entries, is_csv, alphasort);
	int kept = 0;

	if (n < 0) {
		fprintf(stderr, "%s: no such folder\n", folder);
		return -1;
	}
	for (int k = 0; k < n; k++) {
		if (kept < max)
			(void)snprintf(names[kept++], sizeof names[0], "%.*s",
			               (int)strlen(entries[k]->d_name) - 4, entries[k]->d_name);
		free(entries[k]);
	}
	free(entries);
	return kept;
}

/* --- what is seen of them ----------------------------------------------------------------- */

const struct fault_case *fault_healthy(const struct fault_rows *f, const struct fault_case *c)
{
	for (int k = 0; k < f->n; k++)
		if (f->cases[k].unit == c->unit && strcmp(f->cases[k].words, "healthy") == 0)
			return &f->cases[k];
	return NULL;
}

/* A number within -1..1 that goes with the case and whatever else is told apart. */
static double chance(const struct fault_rows *f, const struct fault_case *c, int which)
{
	struct random r = { 1469598103934665603u + (uint64_t)(c - f->cases) * 1000u +
		            (uint64_t)which };

	for (const char *at = f->watched->name; *at; at++)
		r.state = (r.state ^ (uint64_t)(unsigned char)*at) * 1099511628211u;
	(void)random_bits(&r);
	return random_even(&r);
}

double fault_reading(const struct fault_rows *f, const struct fault_case *c, int stage)
{
	const struct meter_accuracy *m = &f->watched->meter;

	return c->stages[stage].watts * (1.0 + m->reading_share * chance(f, c, 0)) +
		m->offset_watts * chance(f, c, 1 + stage);
}

double fault_volts(const struct fault_rows *f, const struct fault_case *c, double volts)
{
	return volts * (1.0 + 0.01 * chance(f, c, 100));
}

/* Is the rail's current rectified by a tube? */
static bool behind_tube(const struct network *net, const char *name, size_t length)
{
	int r = index_in(name, length, net->rails[0].name, sizeof net->rails[0], net->n_rails);

	while (r >= 0 && net->rails[r].source == RAIL_FROM_RAIL)
		r = net->rails[r].parent;
	return r >= 0 && net->rails[r].drop_amps > 0.0;
}

enum fault_class fault_class_of(const struct network *net, const char *words)
{
	if (strncmp(words, "primary", 7) == 0)
		return CLASS_PRIMARY;
	if (strncmp(words, "turn", 4) == 0)
		return CLASS_TURN;
	if (strncmp(words, "heater", 6) == 0)
		return CLASS_HEATER_WINDING;
	if (strncmp(words, "open", 4) == 0)
		return words[5] == 'I' ? CLASS_OPEN_LAMP : CLASS_OPEN_HEATER;
	if (strncmp(words, "plate", 5) == 0)
		return CLASS_PLATE;
	if (strncmp(words, "rail ", 5) != 0)
		return CLASS_HEALTHY;
	const bool tube = behind_tube(net, words + 5, strcspn(words + 5, " "));

	if (strstr(words, " short"))
		return tube ? CLASS_SHORT_TUBE : CLASS_SHORT_DRY;
	if (strstr(words, " leak"))
		return tube ? CLASS_LEAK_TUBE : CLASS_LEAK_DRY;
	return strstr(words, " dead") ? CLASS_DEAD : CLASS_LOAD;
}
