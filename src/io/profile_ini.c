#include "io/profile_ini.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include <iniparser/iniparser.h>

#include "io/profile_grammar.h"
#include "io/whole_file.h"

#include "mainstair/base/text.h"

/* Files that are taken for a profile by mistake: one line says so, not one for each of theirs. */
static const char *mistaken(const struct buf *text)
{
	static const struct {
		const char *begins, *told;
	} kinds[] = {
		{ "mainstair record ", "the record of a power-up, no profile: see mainstair replay" },
		{ "mainstair unit ", "a unit's file, no profile: see mainstair job" },
	};

	for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
		if (strncmp(text->data, kinds[i].begins, strlen(kinds[i].begins)) == 0)
			return kinds[i].told;
	return NULL;
}

int ini_read_file(const char *path, struct buf *ret, struct complaints *c)
{
	const char *told;
	struct err err;

	if (whole_file_read(path, INI_TEXT_MAX, ret, &err) < 0) {
		complaints_add(c, COMPLAINT_NAMES_FILE, NULL, NULL, "%s", err.text);
		return -1;
	}
	told = mistaken(ret);
	if (told) {
		complaints_add(c, COMPLAINT_WHOLE_FILE, NULL, NULL, "%s", told);
		return -1;
	}
	return 0;
}

/* iniparser reports to stderr unless told otherwise; the scan has complained already. */
__attribute__((format(printf, 1, 2))) static int keep_quiet(const char *format, ...)
{
	(void)format;
	return 0;
}

static int write_all(int fd, const char *s, size_t n)
{
	while (n > 0) {
		ssize_t put = write(fd, s, n);

		if (put < 0 && errno == EINTR)
			continue;
		if (put <= 0)
			return -1;
		s += put;
		n -= (size_t)put;
	}
	return 0;
}

static dictionary *load_path(const char *path)
{
	dictionary *dict;

	iniparser_set_error_callback(keep_quiet);
	dict = iniparser_load(path);
	iniparser_set_error_callback(NULL);
	return dict;
}

/* iniparser 4.1 takes nothing but a path: one in memory where the system can give it, else a
 * temporary file. */
static dictionary *load_text(const struct buf *text)
{
	char path[64];
	dictionary *dict = NULL;
	int fd = memfd_create("ini", MFD_CLOEXEC);

	if (fd >= 0) {
		(void)snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
		if (access(path, R_OK) == 0 && write_all(fd, text->data, text->len) == 0)
			dict = load_path(path);
		(void)close(fd);
		if (dict)
			return dict;
	}
	strcpy(path, "/tmp/mainstair-ini-XXXXXX");
	fd = mkostemp(path, O_CLOEXEC);
	if (fd < 0)
		return NULL;
	if (write_all(fd, text->data, text->len) == 0)
		dict = load_path(path);
	(void)unlink(path);
	(void)close(fd);
	return dict;
}

/* The scanned document without comments: iniparser calls a section with a comment behind it a
 * syntax error, and joins lines across a comment that ends in a backslash. */
static void print_plain(const struct ini_doc *doc, struct buf *out)
{
	for (int s = 0; s < doc->n_sections; s++) {
		buf_addf(out, "[%s]\n", doc->sections[s].title);
		for (int i = 0; i < doc->n_entries; i++) {
			const struct ini_entry *e = &doc->entries[i];
			const char *quote = e->quoted ? "\"" : "";

			if (e->section == s)
				buf_addf(out, "%s = %s%s%s\n", e->key, quote, e->value, quote);
		}
	}
}

/* What iniparser holds must be what the scan found: every value, and nothing besides. */
static void compare(const struct ini_doc *doc, const dictionary *dict, struct complaints *c)
{
	int n_keys = 0;

	for (int i = 0; i < doc->n_entries; i++) {
		const struct ini_entry *e = &doc->entries[i];
		const char *title = doc->sections[e->section].title, *value;
		char key[3 * INI_NAME_MAX + 1];

		(void)snprintf(key, sizeof key, "%s:%s", title, e->key);
		value = iniparser_getstring(dict, key, NULL);
		if (!value || strcmp(value, e->value) != 0)
			complaints_add(
			        c, e->line, title, e->key,
			        "is read as \"%s\" by the INI library: write it more plainly",
			        value ? value : "");
	}
	for (int s = 0; s < doc->n_sections; s++)
		n_keys += iniparser_getsecnkeys(dict, doc->sections[s].title);
	if (n_keys != doc->n_entries || iniparser_getnsec(dict) != doc->n_sections)
		complaints_add(c, COMPLAINT_WHOLE_FILE, NULL, NULL,
		               "the INI library finds %d sections and %d keys in it instead of %d "
		               "and %d",
		               iniparser_getnsec(dict), n_keys, doc->n_sections, doc->n_entries);
}

int ini_load(const char *text, size_t n, struct ini_doc *ret, struct complaints *c)
{
	size_t before = complaints_count(c);
	struct buf plain = BUF_INIT;
	dictionary *dict = NULL;

	if (ini_scan(text, n, ret, c) < 0)
		return -1;
	print_plain(ret, &plain);
	if (!plain.failed)
		dict = load_text(&plain);
	if (dict) {
		compare(ret, dict, c);
		iniparser_freedict(dict);
	} else {
		complaints_add(c, COMPLAINT_WHOLE_FILE, NULL, NULL,
		               "could not be handed to the INI library: %s",
		               plain.failed ? "out of memory" : strerror(errno));
	}
	buf_release(&plain);
	return complaints_count(c) == before ? 0 : -1;
}

/* "; did you mean `x`?", or the list of what there is when it is short. */
static void suggest(char *dst, size_t size, const char *word, const char *const *known, size_t n)
{
	const char *near = text_nearest(word, known, n);
	size_t at = 0;

	if (near) {
		(void)snprintf(dst, size, "did you mean `%s`?", near);
		return;
	}
	at += (size_t)snprintf(dst, size, "known here:");
	for (size_t i = 0; i < n && at < size; i++)
		at += (size_t)snprintf(dst + at, size - at, "%s %s", i > 0 ? "," : "", known[i]);
}

void ini_unknown_section(const struct ini_doc *doc, int section, const char *const *known,
                         size_t n, struct complaints *c)
{
	const struct ini_section *s = &doc->sections[section];
	char hint[256];

	suggest(hint, sizeof hint, s->kind, known, n);
	complaints_add(c, s->line, s->title, NULL, "no such section; %s", hint);
}

void ini_unknown_key(const struct ini_doc *doc, const struct ini_entry *entry,
                     const char *const *known, size_t n, struct complaints *c)
{
	char hint[256];

	suggest(hint, sizeof hint, entry->key, known, n);
	complaints_add(c, entry->line, doc->sections[entry->section].title, entry->key,
	               "no such key; %s", hint);
}

int profile_parse_text(const char *text, size_t n, struct profile *ret, struct complaints *c)
{
	size_t before = complaints_count(c);
	struct ini_doc doc;

	/* faults of form do not hide faults of meaning: whatever was understood is judged too */
	(void)ini_load(text, n, &doc, c);
	profile_grammar(&doc, ret, c);
	ini_release(&doc);
	return complaints_count(c) == before ? 0 : -1;
}

int profile_read(const char *path, struct profile *ret, struct buf *ret_text,
                 struct complaints *c)
{
	struct buf text = BUF_INIT;
	int result = -1;

	*ret = (struct profile){0};
	if (ini_read_file(path, &text, c) < 0)
		goto out;
	result = profile_parse_text(text.data, text.len, ret, c);
	if (ret_text)
		buf_add(ret_text, text.data, text.len);
out:
	buf_release(&text);
	return result;
}
