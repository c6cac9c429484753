#include "cli/unit_book.h"

#include <inttypes.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/book_words.h"
#include "cli/output.h"
#include "mainstair/base/text.h"
#include "mainstair/proto/record_text.h"

/* "bench-oscillator" of "profiles/bench-oscillator.ini"; what no label may hold becomes `-`. */
static void label_of_profile(const char *path, char label[LOGBOOK_LABEL_MAX])
{
	const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path;
	const char *dot = strrchr(name, '.');
	size_t n = dot && dot > name ? (size_t)(dot - name) : strlen(name), k = 0;

	for (size_t i = 0; i < n && k + 1 < LOGBOOK_LABEL_MAX; i++) {
		const char c = name[i];
		const bool good = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
			(c >= '0' && c <= '9') || c == '_' || c == '.';
		if (good && !(k == 0 && c == '.'))
			label[k++] = c;
		else if (k > 0 && label[k - 1] != '-')
			label[k++] = '-';
	}
	label[k] = '\0';
	if (k == 0)
		strcpy(label, "unit");
}

/* What was strange in the file, which could be read all the same. */
static void complain_of(const struct logbook *book)
{
	const struct logbook_faults *f = logbook_faults(book);
	char shown[200];

	(void)text_show(shown, sizeof shown, logbook_path(book), strlen(logbook_path(book)));
	if (f->garbled > 0)
		complain("%s: %zu garbled %s passed over, the first in line %zu", shown, f->garbled,
			f->garbled == 1 ? "line" : "lines", f->first_garbled_line);
	if (f->torn_bytes > 0)
		complain("%s: a last line that was never finished (%zu bytes), passed over", shown,
			f->torn_bytes);
	if (f->unknown > 0)
		complain("%s: %zu entries of a newer mainstair, passed over", shown, f->unknown);
}

static int keep_profile(struct logbook *book, const char *path, const struct loaded_unit *u,
                        double utc_s, struct err *err)
{
	const struct entry *entries, *last;
	const char *slash = strrchr(path, '/');
	struct entry_draft d;
	size_t n;

	entry_draft_init(&d, ENTRY_PROFILE);
	snprintf(d.subject, sizeof d.subject, "%s", slash ? slash + 1 : path);
	snprintf(d.word, sizeof d.word, "%08" PRIx32, record_crc32(0, u->text.data, u->text.len));
	d.entry.note = u->text.data;
	d.entry.utc_s = utc_s;
	entries = logbook_entries(book, &n);
	last = entry_last(entries, n, ENTRY_PROFILE, NULL);
	if (last && strcmp(last->note, u->text.data) == 0)
		return 0;
	return logbook_append(book, &d.entry, true, err);
}

int book_open(const char *unit, const char *profile_path, const struct loaded_unit *u,
              double utc_s, struct logbook **ret)
{
	char label[LOGBOOK_LABEL_MAX], path[PATH_MAX];
	struct err err;

	if (!unit) {
		label_of_profile(profile_path, label);
		unit = label;
	}
	if (logbook_path_of(unit, true, path, sizeof path, &err) != 0 ||
	    logbook_open(path, NULL, LOGBOOK_TO_WRITE, ret, &err) != 0) {
		complain("%s", err.text);
		return -1;
	}
	complain_of(*ret);
	if (keep_profile(*ret, profile_path, u, utc_s, &err) != 0) {
		complain("%s", err.text);
		logbook_close(*ret);
		return -1;
	}
	return 0;
}

int book_open_unit(const char *unit, enum logbook_open_for open_for, struct loaded_unit *u,
                   struct logbook **ret)
{
	const struct entry *entries, *profile;
	char path[PATH_MAX], shown[200];
	struct logbook *book = NULL;
	struct err err;
	size_t n;
	int refused;

	if (logbook_path_of(unit, false, path, sizeof path, &err) != 0) {
		complain("%s", err.text);
		return -1;
	}
	if (logbook_open(path, NULL, open_for, &book, &err) != 0) {
		complain("%s%s", err.text,
			access(path, F_OK) != 0 ? "; `mainstair job` lists the units" : "");
		return -1;
	}
	complain_of(book);
	entries = logbook_entries(book, &n);
	profile = entry_last(entries, n, ENTRY_PROFILE, NULL);
	(void)text_show(shown, sizeof shown, path, strlen(path));
	if (!profile) {
		complain("%s: no profile in it; begin with mainstair run PROFILE --unit %s", shown,
			"LABEL");
	} else if (unit_load_text(u, profile->subject, profile->note, strlen(profile->note)) == 0) {
		if (book_measure(book, NULL, 0, u, &refused, &err) == 0) {
			book_complain_refused(refused);
			*ret = book;
			return 0;
		}
		complain("%s: %s", shown, err.text);
		unit_release(u);
	}
	logbook_close(book);
	return -1;
}

static int put_readings(const struct logbook *book, struct loaded_unit *u, int *ret_refused,
                        struct err *err)
{
	char words[BOOK_WORDS_MAX][OHMS_WORDS_MAX];
	int n = book_words(book, u->network, &u->profile, words, ret_refused, err);

	for (int i = 0; i < n; i++)
		if (network_measure(u->network, words[i], err) != 0)
			return -1;
	return n < 0 ? -1 : 0;
}

int book_keep_measured(struct logbook *book, const char *words, double utc_s, struct err *err)
{
	struct entry_draft d;

	if (strlen(words) >= OHMS_WORDS_MAX)
		return err_set(err, ERR_INPUT, "more than %d letters: the words and the number alone",
		               OHMS_WORDS_MAX - 1);
	entry_draft_init(&d, ENTRY_MEASURED);
	strcpy(d.note, words);
	d.entry.utc_s = utc_s;
	return logbook_append(book, &d.entry, true, err);
}

void book_complain_refused(int refused)
{
	if (refused > 0)
		complain("%d number%s that %s measured at a power-up and that the profile as it now is "
		         "does not take: passed over", refused, refused == 1 ? "" : "s",
		         refused == 1 ? "was" : "were");
}

int book_measure(const struct logbook *book, const char *const *measured, int n,
                 struct loaded_unit *u, int *ret_refused, struct err *err)
{
	if (network_build(u->network, &u->profile, &u->tables, err) != 0 ||
	    put_readings(book, u, ret_refused, err) != 0)
		return -1;
	for (int i = 0; i < n; i++)
		if (network_measure(u->network, measured[i], err) != 0)
			return -1;
	u->rule = abort_rule_of(&u->profile, u->network);
	free(u->plan);
	u->plan = NULL;
	return 0;
}

int book_keep_power(struct logbook *book, const char *record, const struct live_end *end,
                    bool invented, double utc_s)
{
	char *path = record[0] ? realpath(record, NULL) : NULL;
	struct entry_draft d;
	struct err err;

	entry_draft_init(&d, ENTRY_POWER);
	d.entry.subject = path ? path : record;
	d.entry.word = end->word;
	d.entry.note = invented ? "virtual bench: a demonstration" : "";
	d.entry.number[0] = end->top_volts;
	d.entry.number[1] = end->soak_s;
	d.entry.utc_s = utc_s;
	int status = logbook_append(book, &d.entry, true, &err);
	if (status != 0)
		complain("%s", err.text);
	free(path);
	return status;
}
