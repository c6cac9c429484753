/* The record on a disk that is full, pulled out, killed, or shared with a file of that name. */
#include <criterion/criterion.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/profile_ini.h"
#include "io/record_file.h"
#include "io/table_file.h"
#include "shunt_unit.h"

/* --- a disk that refuses ----------------------------------------------------------------- */

/* What the writer under test is told by its disk; everyone else passes. */
static struct {
	bool full;          /* write(): no space left, as /dev/full says it */
	size_t short_after; /* > 0: only so many bytes of the next line fit */
	bool no_sync, no_truncate;
} disk;

static bool is_record(int fd)
{
	char link[64], path[4096];
	ssize_t n;

	snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
	n = readlink(link, path, sizeof path - 1);
	return n > 7 && memcmp(path + n - 7, ".record", 7) == 0;
}

ssize_t write(int fd, const void *bytes, size_t n)
{
	static int full = -1;

	if ((disk.full || disk.short_after) && is_record(fd)) {
		if (disk.short_after) {
			const size_t part = disk.short_after < n ? disk.short_after : n;

			disk.short_after = 0;
			disk.full = true;
			return syscall(SYS_write, fd, bytes, part);
		}
		if (full < 0)
			full = open("/dev/full", O_WRONLY);
		return syscall(SYS_write, full, bytes, n);
	}
	return syscall(SYS_write, fd, bytes, n);
}

int fdatasync(int fd)
{
	if (disk.no_sync && is_record(fd)) {
		errno = EIO;
		return -1;
	}
	return (int)syscall(SYS_fdatasync, fd);
}

int ftruncate(int fd, off_t length)
{
	if (disk.no_truncate && is_record(fd)) {
		errno = EIO;
		return -1;
	}
	return (int)syscall(SYS_ftruncate, fd, length);
}

/* --- a place to work in ------------------------------------------------------------------ */

static char folder[64];

static void make_folder(void)
{
	memset(&disk, 0, sizeof disk);
	snprintf(folder, sizeof folder, "/tmp/mainstair-record-XXXXXX");
	cr_assert_not_null(mkdtemp(folder));
	cr_assert_eq(chdir(folder), 0);
	setenv("XDG_DATA_HOME", folder, 1);
}

static void remove_folder(void)
{
	char command[128];

	snprintf(command, sizeof command, "rm -rf '%s'", folder);
	if (folder[0])
		(void)!system(command);
}

TestSuite(record_file, .init = make_folder, .fini = remove_folder, .timeout = 100);

static const char profile[] = "[instrument]\nname = Demonstration\n";
static const struct record_head head = {
	.started_s = 1772388131, .program = "mainstair test",
	.profile = { "demo.ini", profile, sizeof profile - 1, false },
	.bench = { "", "", 0, false },
};

static struct record_writer *created(const char *path)
{
	struct record_writer *w = NULL;
	struct err err = { 0 };

	cr_assert_eq(record_create(path, "Demonstration bench oscillator", &head, &w, &err), 0,
		     "%s", err.text);
	return w;
}

static struct record *opened(const char *path)
{
	struct record *rec = NULL;
	struct err err = { 0 };

	cr_assert_eq(record_open(path, &rec, &err), 0, "%s", err.text);
	return rec;
}

static struct event event_at(struct record *rec, size_t i)
{
	struct event ev;
	struct err err = { 0 };

	cr_assert_eq(record_event(rec, i, &ev, &err), 0, "%s", err.text);
	return ev;
}

static off_t size_of(const char *path)
{
	struct stat st;

	return stat(path, &st) == 0 ? st.st_size : -1;
}

static void put_bytes(const char *path, const char *bytes, size_t n, int flags)
{
	const int fd = open(path, O_WRONLY | O_CREAT | flags, 0644);

	cr_assert(fd >= 0);
	cr_assert_eq(syscall(SYS_write, fd, bytes, n), (long)n);
	close(fd);
}

/* --- creating ---------------------------------------------------------------------------- */

Test(record_file, what_was_written_is_read)
{
	struct record_writer *w = created("a.record");
	struct event ev = a_reading(1.5, 50, 5.2);
	struct record *rec;
	struct err err;

	strcpy(ev.note, "a\ttab, a\nline and a bell \a");
	ev.verdict = VERDICT_OVER;
	cr_assert_eq(record_append(w, &ev, true, &err), 0);
	cr_assert_eq(record_health(w).recorded, 1);
	cr_assert_str_eq(record_path(w), "a.record");
	rec = opened("a.record");
	cr_assert(record_faults(rec)->still_open);
	record_close(rec);
	cr_assert_eq(record_finish(w, &err), 0);

	rec = opened("a.record");
	cr_assert_not(record_faults(rec)->still_open);
	cr_assert_eq(record_n_events(rec), 1);
	cr_assert_str_eq(event_at(rec, 0).note, ev.note);
	cr_assert_eq(event_at(rec, 0).verdict, VERDICT_OVER);
	cr_assert_str_eq(record_head(rec)->profile.text, profile);
	cr_assert_not(record_head(rec)->damaged);
	record_close(rec);
	record_close(NULL);
	cr_assert_eq(record_finish(NULL, &err), 0);
}

Test(record_file, nothing_is_ever_overwritten)
{
	struct record_writer *w = NULL;
	struct err err;

	put_bytes("there.record", "precious", 8, O_TRUNC);
	cr_assert_eq(record_create("there.record", "x", &head, &w, &err), -1);
	cr_assert_eq(err.code, ERR_INPUT);
	cr_assert(strstr(err.text, "never overwritten"), "%s", err.text);
	cr_assert_eq(size_of("there.record"), 8);
	cr_assert_eq(symlink("elsewhere.record", "link.record"), 0);
	cr_assert_eq(record_create("link.record", "x", &head, &w, &err), -1);
	cr_assert_eq(size_of("elsewhere.record"), -1, "not through a link either");
	cr_assert_eq(record_create("no/such/folder.record", "x", &head, &w, &err), -1);
	cr_assert_eq(err.code, ERR_SYSTEM);
	cr_assert_eq(record_create("", "x", &head, &w, &err), -1);
}

Test(record_file, names_of_its_own_are_free_ones)
{
	static const char first[] =
		"mainstair/20260301T180211Z-demonstration-bench-oscillator.record";
	static const char second[] =
		"mainstair/20260301T180211Z-demonstration-bench-oscillator-2.record";
	struct record_writer *a = created(NULL), *b = created(NULL);
	struct err err;
	struct stat st;
	char name[200];

	cr_assert_eq(stat("mainstair", &st), 0);
	cr_assert_eq(st.st_mode & 0777, 0700);
	cr_assert(strstr(record_path(a), first), "%s", record_path(a));
	cr_assert(strstr(record_path(b), second), "%s", record_path(b));
	cr_assert_eq(record_finish(a, &err), 0);
	cr_assert_eq(record_finish(b, &err), 0);
	cr_assert(size_of(first) > 0 && size_of(second) > 0);

	record_name(name, sizeof name, 0, "../../etc/\xce\xa9 \x1b[2J", 1);
	cr_assert_str_eq(name, "19700101T000000Z-etc-2j.record");
	record_name(name, sizeof name, 0, "\xce\xa9", 3);
	cr_assert_str_eq(name, "19700101T000000Z-unit-3.record");
	record_name(name, sizeof name, 0,
		    "an instrument whose name is longer than any name of a file should be", 1);
	cr_assert(strlen(name) < 70 && !strstr(name, "-.record"), "%s", name);
}

Test(record_file, the_place_follows_the_base_directory_rules)
{
	struct record_writer *w = NULL;
	struct err err;
	struct stat st;

	setenv("HOME", folder, 1);
	setenv("XDG_DATA_HOME", "relative/is/ignored", 1);
	cr_assert_eq(record_create(NULL, "x", &head, &w, &err), 0);
	cr_assert(strstr(record_path(w), "/.local/share/mainstair/2026"), "%s", record_path(w));
	cr_assert_eq(record_finish(w, &err), 0);
	cr_assert_eq(stat(".local", &st), 0);
	cr_assert_eq(st.st_mode & 0777, 0700);
	unsetenv("XDG_DATA_HOME");
	unsetenv("HOME");
	cr_assert_eq(record_create(NULL, "x", &head, &w, &err), -1);
	cr_assert(strstr(err.text, "--record"), "%s", err.text);
	put_bytes("file", "", 0, O_TRUNC);
	setenv("XDG_DATA_HOME", "/dev/null/x", 1);
	cr_assert_eq(record_create(NULL, "x", &head, &w, &err), -1);
	cr_assert_eq(err.code, ERR_SYSTEM);
}

Test(record_file, a_head_that_does_not_fit_leaves_no_file)
{
	struct record_writer *w = NULL;
	struct err err;

	disk.short_after = 100;
	cr_assert_eq(record_create("new.record", "x", &head, &w, &err), -1);
	cr_assert_eq(err.code, ERR_SYSTEM);
	cr_assert_eq(size_of("new.record"), -1);
	disk.full = false;
	disk.no_sync = true;
	cr_assert_eq(record_create("new.record", "x", &head, &w, &err), -1);
	cr_assert_eq(size_of("new.record"), -1);
}

/* --- a disk that refuses ----------------------------------------------------------------- */

Test(record_file, full_disk_loses_nothing_and_is_told)
{
	struct record_writer *w = created("a.record");
	struct record *rec;
	struct err err;
	struct event ev;

	for (int i = 0; i < 10; i++) {
		ev = a_reading(i, 50, 5.2);
		cr_assert_eq(record_append(w, &ev, true, &err), 0);
	}
	disk.full = true;
	for (int i = 10; i < 20; i++) {
		ev = a_reading(i, 50, 5.2);
		cr_assert_eq(record_append(w, &ev, i % 2, &err), -1);
		cr_assert_eq(err.code, ERR_SYSTEM);
	}
	cr_assert(strstr(err.text, "No space left on device; 10 events wait"), "%s", err.text);
	cr_assert_eq(record_health(w).recorded, 10);
	cr_assert_eq(record_health(w).waiting, 10);
	cr_assert_eq(record_sync(w, &err), -1);
	disk.full = false;
	ev = a_reading(20, 50, 5.2);
	cr_assert_eq(record_append(w, &ev, true, &err), 0);
	cr_assert_eq(record_health(w).recorded, 21);
	cr_assert_eq(record_health(w).waiting, 0);
	cr_assert_eq(record_finish(w, &err), 0);
	rec = opened("a.record");
	cr_assert_eq(record_n_events(rec), 21);
	for (size_t i = 0; i < 21; i++)
		cr_assert_float_eq(event_at(rec, i).seconds, i, 0);
	record_close(rec);
}

Test(record_file, what_waits_at_the_end_is_told_as_lost)
{
	struct record_writer *w = created("a.record");
	struct event ev = a_reading(1, 50, 5.2);
	struct err err;

	cr_assert_eq(record_append(w, &ev, true, &err), 0);
	disk.full = true;
	for (int i = 0; i < 3; i++)
		cr_assert_eq(record_append(w, &ev, true, &err), -1);
	cr_assert_eq(record_finish(w, &err), -1);
	cr_assert(strstr(err.text, "No space left on device; its last 3 events are lost"), "%s",
	          err.text);
}

Test(record_file, a_short_write_is_taken_back)
{
	struct record_writer *w = created("a.record");
	const off_t before = size_of("a.record");
	struct event ev = a_reading(1, 50, 5.2);
	struct err err;
	struct record *rec;

	disk.short_after = 7;
	cr_assert_eq(record_append(w, &ev, true, &err), -1);
	cr_assert_eq(size_of("a.record"), before);
	disk.full = false;
	cr_assert_eq(record_finish(w, &err), 0, "the last chance is taken");
	rec = opened("a.record");
	cr_assert_eq(record_n_events(rec), 1);
	cr_assert_eq(record_faults(rec)->garbled, 0);
	record_close(rec);
}

Test(record_file, what_cannot_be_taken_back_garbles_one_line_only)
{
	struct record_writer *w = created("a.record");
	struct event ev = a_reading(1, 50, 5.2);
	struct record *rec;
	struct err err;

	cr_assert_eq(record_append(w, &ev, true, &err), 0);
	disk.no_truncate = true;
	disk.short_after = 7;
	cr_assert_eq(record_append(w, &ev, true, &err), -1);
	disk.full = false;
	cr_assert_eq(record_append(w, &ev, true, &err), 0);
	cr_assert_eq(record_finish(w, &err), 0);
	rec = opened("a.record");
	cr_assert_eq(record_n_events(rec), 3);
	cr_assert_eq(record_faults(rec)->garbled, 1);
	record_close(rec);
}

Test(record_file, a_failed_sync_is_not_believed_when_it_later_succeeds)
{
	struct record_writer *w = created("a.record");
	const off_t before = size_of("a.record");
	struct event ev = a_reading(1, 50, 5.2);
	struct record *rec;
	struct err err;

	cr_assert_eq(record_append(w, &ev, false, &err), 0);
	cr_assert_eq(record_health(w).recorded, 0, "written is not on the disk");
	cr_assert_eq(record_health(w).waiting, 1);
	disk.no_sync = true;
	cr_assert_eq(record_sync(w, &err), -1);
	cr_assert(strstr(err.text, "Input/output error"), "%s", err.text);
	cr_assert_eq(size_of("a.record"), before, "taken back, to be written again");
	cr_assert_eq(record_health(w).recorded, 0);
	disk.no_sync = false;
	cr_assert_eq(record_sync(w, &err), 0);
	cr_assert_eq(record_health(w).recorded, 1);
	disk.no_sync = disk.no_truncate = true;
	cr_assert_eq(record_append(w, &ev, true, &err), -1);
	disk.no_sync = disk.no_truncate = false;
	cr_assert_eq(record_finish(w, &err), 0);
	rec = opened("a.record");
	cr_assert_eq(record_n_events(rec), 2, "nothing twice");
	record_close(rec);
}

Test(record_file, the_queue_is_bounded_and_keeps_room_for_what_matters)
{
	struct record_writer *w = created("a.record");
	struct event ev = a_reading(1, 50, 5.2), stop = an_event(2, EVENT_STOP);
	unsigned long taken = 0;
	struct record *rec;
	struct err err;

	disk.full = true;
	memset(ev.note, '\a', sizeof ev.note - 1); /* four bytes each in the file */
	while (record_health(w).lost == 0) {
		cr_assert_eq(record_append(w, &ev, false, &err), -1);
		cr_assert(++taken < 10000);
	}
	cr_assert(taken > 1500);
	cr_assert(strstr(err.text, "1 are lost"), "%s", err.text);
	cr_assert_eq(record_append(w, &stop, true, &err), -1);
	cr_assert_eq(record_health(w).lost, 1, "a stop has its place kept");
	cr_assert_eq(record_append(w, &ev, true, &err), -1);
	cr_assert_eq(record_health(w).lost, 2);
	disk.full = false;
	cr_assert_eq(record_finish(w, &err), -1);
	cr_assert(strstr(err.text, "2 events are lost"), "%s", err.text);
	rec = opened("a.record");
	ev = event_at(rec, record_next(rec, 0, EVENT_NOTE));
	cr_assert(strstr(ev.note, "events are missing here"), "%s", ev.note);
	cr_assert(record_next(rec, 0, EVENT_STOP) < record_n_events(rec));
	record_close(rec);
}

/* The kernel's own limit: SIGXFSZ would kill, and the last write before it is short. */
Test(record_file, a_file_size_limit_neither_kills_nor_tears)
{
	int status;
	pid_t child;

	child = fork();
	if (child == 0) {
		struct record_writer *w = NULL;
		struct err err;
		struct event ev;
		unsigned long refused = 0;

		if (record_create("a.record", "x", &head, &w, &err) < 0)
			_exit(1);
		const struct rlimit limit = { 4096, 4096 };
		setrlimit(RLIMIT_FSIZE, &limit);
		for (int i = 0; i < 200; i++) {
			ev = a_reading(i, 50, 5.2);
			refused += record_append(w, &ev, true, &err) < 0;
		}
		_exit(refused > 100 && strstr(err.text, "File too large") ? 0 : 2);
	}
	cr_assert_eq(waitpid(child, &status, 0), child);
	cr_assert(WIFEXITED(status) && WEXITSTATUS(status) == 0, "status %x", status);

	struct record *rec = opened("a.record");
	cr_assert(record_n_events(rec) > 10 && size_of("a.record") <= 4096);
	cr_assert_eq(record_faults(rec)->torn_bytes, 0);
	cr_assert_eq(record_faults(rec)->garbled, 0);
	for (size_t i = 0; i < record_n_events(rec); i++)
		cr_assert_float_eq(event_at(rec, i).seconds, i, 0);
	record_close(rec);
}

Test(record_file, a_record_removed_under_its_writer_is_an_alarm)
{
	struct record_writer *w = created("a.record");
	struct event ev = a_reading(1, 50, 5.2);
	struct err err;

	cr_assert_eq(record_append(w, &ev, true, &err), 0);
	cr_assert_eq(unlink("a.record"), 0);
	cr_assert_eq(record_append(w, &ev, true, &err), -1);
	cr_assert_eq(record_health(w).recorded, 1);
	cr_assert_eq(record_finish(w, &err), -1);
}

/* Everything that the writer said was on the disk is there after kill -9, in order, whole. */
Test(record_file, kill_loses_nothing_that_was_told_as_recorded)
{
	for (int round = 0; round < 25; round++) {
		int told[2], status, n, last = -1;
		struct record *rec;
		pid_t child;

		cr_assert_eq(pipe(told), 0);
		child = fork();
		if (child == 0) {
			struct record_writer *w = NULL;
			struct err err;

			prctl(PR_SET_PDEATHSIG, SIGKILL);
			if (record_create("a.record", "x", &head, &w, &err) < 0)
				_exit(1);
			for (int i = 0;; i++) {
				const struct event ev = a_reading(i, 50, 5.2);

				if (record_append(w, &ev, i % 3 == 0, &err) < 0)
					_exit(2);
				if (i % 3 == 0)
					(void)!syscall(SYS_write, told[1], &i, sizeof i);
			}
		}
		close(told[1]);
		while (last < 30 + 10 * round && read(told[0], &n, sizeof n) == sizeof n)
			last = n;
		kill(child, SIGKILL);
		while (read(told[0], &n, sizeof n) == sizeof n)
			last = n;
		close(told[0]);
		cr_assert_eq(waitpid(child, &status, 0), child);
		cr_assert(WIFSIGNALED(status));
		rec = opened("a.record");
		cr_assert(record_n_events(rec) > (size_t)last);
		cr_assert_eq(record_faults(rec)->torn_bytes, 0);
		for (size_t i = 0; i < record_n_events(rec); i++)
			cr_assert_float_eq(event_at(rec, i).seconds, i, 0);
		record_close(rec);
		cr_assert_eq(unlink("a.record"), 0);
	}
}

/* --- records that were hurt -------------------------------------------------------------- */

/* Five events; the bytes of the file go to text. */
static void five_events(struct buf *text)
{
	record_text_put_head(text, &head);
	for (int i = 0; i < 5; i++) {
		struct event ev = a_reading(i, 50, 5.2);

		record_text_put_event(text, &ev);
	}
}

Test(record_file, cut_anywhere_it_opens_with_the_whole_lines_before)
{
	struct buf text = BUF_INIT, first = BUF_INIT;
	size_t head_size;

	five_events(&text);
	head_size = record_text_head_size(text.data, text.len);
	for (size_t cut = 0; cut <= text.len; cut++) {
		struct record *rec = NULL;
		struct err err;
		size_t whole = 0, torn = 0;

		for (size_t i = head_size; i < cut; i++) {
			torn = text.data[i] == '\n' ? 0 : torn + 1;
			whole += text.data[i] == '\n';
		}
		put_bytes("cut.record", text.data, cut, O_TRUNC);
		if (cut < head_size) {
			cr_assert_eq(record_open("cut.record", &rec, &err), -1);
			cr_assert_eq(err.code, ERR_INPUT, "%s", err.text);
			continue;
		}
		rec = opened("cut.record");
		cr_assert_eq(record_n_events(rec), whole, "cut at %zu", cut);
		cr_assert_eq(record_faults(rec)->torn_bytes, torn);
		cr_assert_eq(record_faults(rec)->garbled, 0);
		record_close(rec);
		cr_assert_eq(size_of("cut.record"), (off_t)cut, "never repaired in place");
	}
	buf_release(&text);
	buf_release(&first);
}

Test(record_file, garbled_lines_are_passed_over_and_counted)
{
	struct buf text = BUF_INIT;
	struct record *rec;
	size_t at;

	five_events(&text);
	at = record_text_head_size(text.data, text.len);
	text.data[at + 3] ^= 1;                        /* in the first event */
	buf_add(&text, "\0\0\0\0\n\n\xff\xfe\n", 9);   /* what a power cut leaves */
	for (int i = 0; i < 700000; i++)
		buf_addc(&text, 'x');                  /* longer than any window */
	buf_addc(&text, '\n');
	{
		struct event ev = a_reading(3, 50, 5.2);

		record_text_put_event(&text, &ev);     /* earlier than the one before */
	}
	for (int i = 0; i < 300000; i++)
		buf_addc(&text, '\0');
	put_bytes("hurt.record", text.data, text.len, O_TRUNC);
	rec = opened("hurt.record");
	cr_assert_eq(record_n_events(rec), 5);
	cr_assert_eq(record_faults(rec)->garbled, 5);
	cr_assert_eq(record_faults(rec)->torn_bytes, 300000);
	cr_assert_eq(record_faults(rec)->backwards, 1);
	cr_assert_float_eq(event_at(rec, 4).seconds, 3, 0, "as it stands");
	cr_assert_float_eq(record_entries(rec)[4].seconds, 4, 0, "but never less, for finding");
	size_t lines = 1;
	for (size_t i = 0; i < at; i++)
		lines += text.data[i] == '\n';
	cr_assert_eq(record_faults(rec)->first_garbled_line, lines);
	record_close(rec);
	buf_release(&text);
}

Test(record_file, what_is_no_record_is_refused)
{
	static const char *const paths[] = { "/", "/dev/null", "/dev/full", "fifo", "empty", "text",
		"missing" };
	struct record *rec = NULL;
	struct err err;

	cr_assert_eq(mkfifo("fifo", 0644), 0);
	put_bytes("empty", "", 0, O_TRUNC);
	put_bytes("text", "hello\n", 6, O_TRUNC);
	for (size_t i = 0; i < sizeof paths / sizeof *paths; i++) {
		err.text[0] = '\0';
		cr_assert_eq(record_open(paths[i], &rec, &err), -1, "%s", paths[i]);
		cr_assert(strstr(err.text, paths[i]) && !strchr(err.text, '\n'), "%s", err.text);
	}
}

Test(record_file, a_record_that_shrinks_while_it_is_read_is_an_error_not_a_crash)
{
	struct buf text = BUF_INIT;
	struct record *rec;
	struct event ev;
	struct err err;

	five_events(&text);
	put_bytes("a.record", text.data, text.len, O_TRUNC);
	rec = opened("a.record");
	cr_assert_eq(truncate("a.record", 100), 0);
	cr_assert_eq(record_event(rec, 4, &ev, &err), -1);
	cr_assert_eq(err.code, ERR_SYSTEM);
	record_close(rec);
	buf_release(&text);
}

Test(record_file, finding_things)
{
	struct record_writer *w = created("a.record");
	struct event ev;
	struct record *rec;
	struct err err;

	for (int i = 0; i < 2000; i++) {
		ev = a_reading(i / 2, 50, 5.2);
		ev.verdict = i == 1500 ? VERDICT_UNDER : VERDICT_IN_BAND;
		if (i % 500 == 100)
			ev.kind = EVENT_STAGE;
		if (i == 1700)
			ev.kind = EVENT_STOP;
		ev.stage = i / 500;
		cr_assert_eq(record_append(w, &ev, false, &err), 0);
	}
	cr_assert_eq(record_finish(w, &err), 0);
	rec = opened("a.record");
	cr_assert_eq(record_next(rec, 0, EVENT_STAGE), 100);
	cr_assert_eq(record_next(rec, 101, EVENT_STAGE), 600);
	cr_assert_eq(record_entries(rec)[600].stage, 1);
	cr_assert_eq(record_next(rec, 1601, EVENT_STAGE), 2000);
	cr_assert_eq(record_next_finding(rec, 0), 1500);
	cr_assert_eq(record_next_finding(rec, 1501), 1700);
	for (size_t i = 2000; i-- > 0;) /* backwards, as one steps in replay */
		cr_assert_float_eq(event_at(rec, i).seconds, i / 2, 0);
	record_close(rec);
}

/* --- the record is the run --------------------------------------------------------------- */

/* A shipped unit in place of the shunt: heaters that warm up, a regulator that strikes. */
static void become_oscillator(struct shunt_unit *u)
{
	struct profile *p = malloc(sizeof *p);
	struct tables tables = { 0 };
	struct complaints c;
	struct err err = { 0 };
	char path[4096];

	snprintf(path, sizeof path, "%s/../profiles/bench-oscillator.ini",
	         getenv("MAINSTAIR_TESTS"));
	complaints_init(&c, path);
	cr_assert_eq(table_file_load(&tables, &err), 0, "%s", err.text);
	cr_assert_eq(profile_read(path, p, NULL, &c), 0);
	cr_assert_eq(network_build(&u->net, p, &tables, &err), 0, "%s", err.text);
	u->rule = abort_rule_of(p, &u->net);
	plan_make(&u->plan, &u->net, p, &u->rule, &u->meter, 0);
	session_init(&u->session, &u->net, &u->plan, &u->rule, &u->meter, 5);
	complaints_release(&c);
	tables_release(&tables);
	free(p);
}

static void put(struct session *s, struct event *ev, size_t n, struct record_writer *w)
{
	struct err err;

	for (size_t k = 0; k < n; k++) {
		(void)session_apply(s, &ev[k], NULL, 0);
		cr_assert_eq(record_append(w, &ev[k], false, &err), 0);
	}
}

/* Some hundred readings up the line, with aborts, gaps, garbage; then the same from the file. */
static void run_and_replay(struct shunt_unit *live, struct shunt_unit *again, int n_events)
{
	struct record_writer *w = created("a.record");
	struct record *rec;
	struct err err;
	const char *what;
	unsigned random = 3;

	for (int i = 0; i < n_events; i++) {
		struct event ev, follow[SESSION_FOLLOW_MAX];
		const double t = i * 0.7 + (i > n_events / 2 ? 30 : 0);
		size_t n;

		n = session_tick(&live->session, t, follow, SESSION_FOLLOW_MAX);
		put(&live->session, follow, n, w);
		random = random * 1664525u + 1013904223u;
		ev = a_reading(t, 120.0 * i / n_events + (random >> 20) / 997.0, NAN);
		ev.watts = ev.volts * ev.volts / 500 * (random % 97 ? 1.01 : 2.2);
		if (i == 0)
			ev.kind = EVENT_CAUTIONS;
		else if (i % 11 == 0)
			ev.kind = random & 1 << 9 ? EVENT_ABORT_ACKNOWLEDGED : EVENT_METER;
		n = session_apply(&live->session, &ev, follow, SESSION_FOLLOW_MAX);
		cr_assert_eq(record_append(w, &ev, false, &err), 0);
		put(&live->session, follow, n, w);
	}
	cr_assert_eq(record_finish(w, &err), 0);
	rec = opened("a.record");
	for (size_t i = 0; i < record_n_events(rec); i++) {
		struct event ev = event_at(rec, i);
		const enum verdict then = ev.verdict;

		(void)session_apply(&again->session, &ev, NULL, 0);
		cr_assert_eq(ev.verdict, then, "event %zu: %s then, %s now", i, verdict_word(then),
		             verdict_word(ev.verdict));
	}
	(void)session_tick(&again->session, live->session.now_s, NULL, 0);
	what = session_differs(&live->session, &again->session);
	cr_assert(!what, "%s", what);
	cr_assert(live->session.n_readings > (unsigned long)n_events * 2 / 3);
	record_close(rec);
}

Test(record_file, a_recorded_run_replays_to_the_same_state)
{
	struct shunt_unit *live = shunt_unit_new(5), *again = shunt_unit_new(5);

	run_and_replay(live, again, 3000);
	free(live);
	free(again);
}

Test(record_file, so_does_one_whose_heaters_were_warming_up)
{
	struct shunt_unit *live = shunt_unit_new(5), *again = shunt_unit_new(5);
	struct band_cache *bands = calloc(1, sizeof *bands);

	become_oscillator(live);
	become_oscillator(again);
	again->session.bands = bands; /* kept or worked out anew: no difference */
	run_and_replay(live, again, 700);
	free(live);
	free(again);
	free(bands);
}

/* A record that an early version wrote: it must open and say the same for ever. */
Test(record_file, records_of_version_1_stay_readable)
{
	char path[4096];
	struct record *rec;
	struct event ev;

	snprintf(path, sizeof path, "%s/golden/record/version-1.record", getenv("MAINSTAIR_TESTS"));
	rec = opened(path);
	cr_assert_eq(record_head(rec)->started_s, 1772388131);
	cr_assert_str_eq(record_head(rec)->profile.name, "demo.ini");
	cr_assert_not(record_head(rec)->damaged || record_head(rec)->profile.damaged);
	cr_assert_eq(record_n_events(rec), 9);
	cr_assert_eq(record_faults(rec)->garbled, 0);
	cr_assert_eq(record_faults(rec)->unknown, 1);
	cr_assert_eq(record_faults(rec)->wider, 1);
	ev = event_at(rec, record_next_finding(rec, 0));
	cr_assert_float_eq(ev.seconds, 75.25, 0);
	cr_assert_eq(ev.verdict, VERDICT_ABORT);
	cr_assert_eq(ev.stage, 1);
	cr_assert_float_eq(ev.watts, 9.1, 0);
	ev = event_at(rec, record_next(rec, 0, EVENT_NOTE));
	cr_assert_str_eq(ev.note, "smells of warm dust, 22 \u03a9 resistor\tbrown\n");
	record_close(rec);
}
