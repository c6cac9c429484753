/* A unit's file: what is written comes back, whatever stands in it, whatever the disk does. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "io/logbook_file.h"

static char folder[64];

static void make_folder(void)
{
	snprintf(folder, sizeof folder, "/tmp/logbook-XXXXXX");
	cr_assert(mkdtemp(folder) != NULL);
}

static void remove_folder(void)
{
	char command[128];
	snprintf(command, sizeof command, "rm -r %s", folder);
	cr_assert(system(command) == 0);
}

static const char *in_folder(const char *name)
{
	static char path[128];
	snprintf(path, sizeof path, "%s/%s", folder, name);
	return path;
}

TestSuite(logbook, .init = make_folder, .fini = remove_folder, .timeout = 30);

static struct logbook *open_it(enum logbook_open_for open_for)
{
	struct logbook *book = NULL;
	struct err err;
	int status = logbook_open(in_folder("set 1.unit"), NULL, open_for, &book, &err);
	cr_assert(status == 0, "%s", status ? err.text : "");
	return book;
}

static struct entry tube(double at, const char *note)
{
	return (struct entry){at, ENTRY_TUBE, "V1", "good", note, {0.85, NAN, INFINITY, -1e-300}};
}

static void append(struct logbook *book, const struct entry *entry)
{
	struct err err;
	int status = logbook_append(book, entry, true, &err);
	cr_assert(status == 0, "%s", status ? err.text : "");
}

/* Put bytes behind what is in the file. */
static void spoil(const char *bytes)
{
	FILE *f = fopen(in_folder("set 1.unit"), "ab");
	cr_assert(f && fputs(bytes, f) >= 0 && fclose(f) == 0);
}

Test(logbook, comes_back_as_it_was)
{
	static const char nasty[] = "tab\there, line\nthere, \\x41 \x1b[31m \xc3\xa9 \xff end ";
	struct logbook *book = open_it(LOGBOOK_TO_WRITE);
	size_t n;

	for (int i = 0; i < 300; i++) { /* the texts move as they grow */
		struct entry e = tube(1772388131.25 + i, nasty);
		append(book, &e);
	}
	for (int pass = 0; pass < 2; pass++) {
		const struct entry *list = logbook_entries(book, &n);
		cr_assert(n == 300);
		for (size_t i = 0; i < n; i++) {
			cr_assert(fabs(list[i].utc_s - (1772388131.25 + (double)i)) < 1e-4);
			cr_assert(list[i].kind == ENTRY_TUBE);
			cr_assert(strcmp(list[i].subject, "V1") == 0);
			cr_assert(strcmp(list[i].word, "good") == 0);
			cr_assert(strcmp(list[i].note, nasty) == 0);
			cr_assert(list[i].number[0] == 0.85 && isnan(list[i].number[1]));
			cr_assert(isinf(list[i].number[2]) && list[i].number[2] > 0);
			cr_assert(list[i].number[3] == -1e-300);
		}
		cr_assert(strcmp(logbook_label(book), "set 1") == 0);
		logbook_close(book);
		book = pass == 0 ? open_it(LOGBOOK_TO_READ) : NULL;
	}
}

/* Too long a text is cut before the character that would not fit, and shown as it is kept. */
Test(logbook, long_texts_are_cut_at_a_character)
{
	struct logbook *book = open_it(LOGBOOK_TO_WRITE);
	char note[ENTRY_NOTE_MAX + 10];
	size_t n;

	for (size_t i = 0; i + 2 < sizeof note; i += 2)
		memcpy(note + i, "\xc3\xa9", 3);
	struct entry e = tube(0, note);
	append(book, &e);
	const struct entry *list = logbook_entries(book, &n);
	cr_assert(strlen(list[0].note) == ENTRY_NOTE_MAX - 2);
	cr_assert(strncmp(list[0].note, note, ENTRY_NOTE_MAX - 2) == 0);
	logbook_close(book);
}

/* A record's path is longer than any other subject: cut, it would lead nowhere. */
Test(logbook, a_long_path_stays_whole)
{
	struct logbook *book = open_it(LOGBOOK_TO_WRITE);
	char path[1000];
	size_t n;

	memset(path, 'p', sizeof path - 1);
	path[sizeof path - 1] = '\0';
	append(book, &(struct entry){1, ENTRY_POWER, path, "left", "", {NAN, NAN, NAN, NAN}});
	append(book, &(struct entry){1, ENTRY_LOOK, path, "ok", "", {NAN, NAN, NAN, NAN}});
	const struct entry *list = logbook_entries(book, &n);
	cr_assert(n == 2 && strcmp(list[0].subject, path) == 0);
	cr_assert(strlen(list[1].subject) == ENTRY_SUBJECT_MAX - 1);
	logbook_close(book);
}

/* A profile is longer than any note. */
Test(logbook, a_whole_profile)
{
	struct logbook *book = open_it(LOGBOOK_TO_WRITE);
	char *text = malloc(100001);
	size_t n;

	cr_assert(text != NULL);
	for (int i = 0; i < 100000; i++)
		text[i] = (char)(i % 60 == 59 ? '\n' : 'a' + i % 26);
	text[100000] = '\0';
	struct entry e = {5, ENTRY_PROFILE, "set.ini", "0123abcd", text, {NAN, NAN, NAN, NAN}};
	append(book, &e);
	logbook_close(book);
	book = open_it(LOGBOOK_TO_READ);
	cr_assert(strcmp(logbook_entries(book, &n)[0].note, text) == 0);
	logbook_close(book);
	free(text);
}

Test(logbook, a_torn_line_is_told_and_passed_over)
{
	struct logbook *book = open_it(LOGBOOK_TO_WRITE);
	struct entry e = tube(10, "first");
	size_t n;

	append(book, &e);
	logbook_close(book);
	spoil("2026-03-01T18:02:11.250Z\ttube\tV2\tgo");
	book = open_it(LOGBOOK_TO_WRITE);
	logbook_entries(book, &n);
	cr_assert(n == 1 && logbook_faults(book)->torn_bytes == 35,
		"%zu", logbook_faults(book)->torn_bytes);
	e = tube(20, "second");
	append(book, &e);
	logbook_close(book);
	book = open_it(LOGBOOK_TO_READ);
	const struct entry *list = logbook_entries(book, &n);
	cr_assert(n == 2 && strcmp(list[1].note, "second") == 0);
	cr_assert(logbook_faults(book)->garbled == 1);
	cr_assert(logbook_faults(book)->first_garbled_line == 4);
	cr_assert(logbook_faults(book)->torn_bytes == 0);
	logbook_close(book);
}

/* One wrong bit is seen; a kind of a later version is counted, not taken for another. */
Test(logbook, garbled_and_unknown_lines)
{
	struct logbook *book = open_it(LOGBOOK_TO_WRITE);
	struct buf line = BUF_INIT;
	struct entry e = tube(10, "first");
	size_t n;

	logbook_close(book);
	logbook_text_put(&line, &e);
	line.data[32] ^= 1;
	spoil(line.data);
	/* CRC-32 of the bytes before the last tab, by Python's zlib.crc32 */
	spoil("2026-03-01T18:02:11.250Z\tsmell\tV2\tgood\t-\t-\t-\t-\t\t19247c2a\n");
	spoil("no line of ours\n\n");
	book = open_it(LOGBOOK_TO_READ);
	logbook_entries(book, &n);
	cr_assert(n == 0);
	cr_assert(logbook_faults(book)->unknown == 1, "%zu", logbook_faults(book)->unknown);
	cr_assert(logbook_faults(book)->garbled == 3, "%zu", logbook_faults(book)->garbled);
	logbook_close(book);
	buf_release(&line);
}

Test(logbook, one_program_at_a_time_adds)
{
	struct logbook *book = open_it(LOGBOOK_TO_WRITE), *second = NULL;
	struct err err;

	cr_assert(logbook_open(in_folder("set 1.unit"), NULL, LOGBOOK_TO_WRITE, &second, &err) < 0);
	cr_assert(err.code == ERR_SYSTEM && strstr(err.text, "another mainstair has had it open for 5 s"));
	second = open_it(LOGBOOK_TO_READ);
	logbook_close(second);
	logbook_close(book);
	book = open_it(LOGBOOK_TO_WRITE);
	logbook_close(book);
}

/* A disk that takes no more: told, not in the list, nothing left half written. */
Test(logbook, a_disk_that_refuses)
{
	struct logbook *book = open_it(LOGBOOK_TO_WRITE);
	struct rlimit no_more = {300, RLIM_INFINITY};
	struct entry e = tube(10, "fits");
	struct err err;
	size_t n;

	append(book, &e);
	cr_assert(setrlimit(RLIMIT_FSIZE, &no_more) == 0);
	e = tube(20, "this is long enough to go over the limit of three hundred bytes in the file, "
		"wherever the head and the first entry end, because it is itself that long: "
		"0123456789 0123456789 0123456789 0123456789 0123456789 0123456789 0123456789 "
		"0123456789 0123456789 0123456789 0123456789 0123456789 0123456789 0123456789");
	cr_assert(logbook_append(book, &e, true, &err) < 0 && err.code == ERR_SYSTEM);
	logbook_entries(book, &n);
	cr_assert(n == 1);
	no_more.rlim_cur = RLIM_INFINITY;
	cr_assert(setrlimit(RLIMIT_FSIZE, &no_more) == 0);
	e = tube(30, "room again");
	append(book, &e);
	logbook_close(book);
	book = open_it(LOGBOOK_TO_READ);
	const struct entry *list = logbook_entries(book, &n);
	cr_assert(n == 2 && strcmp(list[1].note, "room again") == 0);
	cr_assert(logbook_faults(book)->garbled == 0 && logbook_faults(book)->torn_bytes == 0);
	logbook_close(book);
}

/* Making room for an entry that is then refused moves the list and its texts. */
Test(logbook, the_list_is_whole_after_a_refusal)
{
	struct logbook *book = open_it(LOGBOOK_TO_WRITE);
	struct rlimit no_more = {1, RLIM_INFINITY};
	struct entry e;
	struct err err;
	char note[16];
	size_t n;

	for (int i = 0; i < 64; i++) { /* as many as there is room for at first */
		snprintf(note, sizeof note, "number %d", i);
		e = tube(i, note);
		append(book, &e);
	}
	char *large = calloc(1, 500000);
	cr_assert(large != NULL);
	memset(large, 'x', 499999);
	cr_assert(setrlimit(RLIMIT_FSIZE, &no_more) == 0);
	e = (struct entry){70, ENTRY_PROFILE, "set.ini", "0", large, {NAN, NAN, NAN, NAN}};
	cr_assert(logbook_append(book, &e, true, &err) < 0);
	no_more.rlim_cur = RLIM_INFINITY;
	cr_assert(setrlimit(RLIMIT_FSIZE, &no_more) == 0);
	const struct entry *list = logbook_entries(book, &n);
	cr_assert(n == 64);
	for (int i = 0; i < 64; i++) {
		snprintf(note, sizeof note, "number %d", i);
		cr_assert(strcmp(list[i].note, note) == 0 && strcmp(list[i].subject, "V1") == 0);
	}
	free(large);
	logbook_close(book);
}

/* Nor is an empty file left, which would be refused the next time. */
Test(logbook, a_disk_that_refuses_the_beginning)
{
	struct rlimit none = {0, RLIM_INFINITY};
	struct logbook *book = NULL;
	struct err err;

	cr_assert(setrlimit(RLIMIT_FSIZE, &none) == 0);
	cr_assert(logbook_open(in_folder("set 1.unit"), NULL, LOGBOOK_TO_WRITE, &book, &err) < 0);
	cr_assert(err.code == ERR_SYSTEM && access(in_folder("set 1.unit"), F_OK) != 0);
	none.rlim_cur = RLIM_INFINITY;
	cr_assert(setrlimit(RLIMIT_FSIZE, &none) == 0);
	book = open_it(LOGBOOK_TO_WRITE);
	logbook_close(book);
}

Test(logbook, what_is_no_unit_is_refused)
{
	static const struct {
		const char *bytes;
		enum err_code code;
	} rows[] = {
		{"", ERR_INPUT},
		{"hello\n", ERR_INPUT},
		{"mainstair record 1\n", ERR_INPUT},
		{"mainstair unit 2\nlabel\tset\t00000000\n", ERR_UNSUPPORTED},
		{"mainstair unit 1\n", ERR_INPUT},
		{"mainstair unit 1\nlabel\tset\t00000000\n", ERR_INPUT},
	};
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct logbook *book = NULL;
		struct err err;
		FILE *f = fopen(in_folder("set 1.unit"), "wb");
		cr_assert(f && fputs(rows[i].bytes, f) >= 0 && fclose(f) == 0);
		cr_assert(logbook_open(in_folder("set 1.unit"), NULL, LOGBOOK_TO_READ, &book,
			&err) < 0 && err.code == rows[i].code, "row %zu", i);
	}
}

Test(logbook, labels_and_paths)
{
	char path[4096];
	struct err err;

	setenv("XDG_DATA_HOME", folder, 1);
	cr_assert(logbook_path_of("set 1", true, path, sizeof path, &err) == 0);
	cr_assert(strcmp(path, in_folder("mainstair/units/set 1.unit")) == 0, "%s", path);
	cr_assert(logbook_path_of("./x", false, path, sizeof path, &err) == 0);
	cr_assert(strcmp(path, "./x") == 0);
	cr_assert(logbook_path_of("x.unit", false, path, sizeof path, &err) == 0);
	cr_assert(strcmp(path, "x.unit") == 0);
	cr_assert(logbook_path_of("", false, path, sizeof path, &err) < 0);
	cr_assert(logbook_path_of("..", false, path, sizeof path, &err) < 0);
	cr_assert(logbook_path_of("a\nb", false, path, sizeof path, &err) < 0);
	cr_assert(strstr(err.text, "a\\x0ab"));
}

Test(logbook, the_newest_stands)
{
	struct logbook *book = open_it(LOGBOOK_TO_WRITE);
	struct entry e = tube(10, "first");
	size_t n;

	append(book, &e);
	e.note = "second";
	append(book, &e);
	e.subject = "V2";
	append(book, &e);
	const struct entry *list = logbook_entries(book, &n);
	cr_assert(entry_last(list, n, ENTRY_TUBE, "V1") == &list[1]);
	cr_assert(entry_last(list, n, ENTRY_TUBE, NULL) == &list[2]);
	cr_assert(entry_last(list, n, ENTRY_TUBE, "V3") == NULL);
	cr_assert(entry_last(list, n, ENTRY_LOOK, NULL) == NULL);
	logbook_close(book);
}
