#include "io/write_file.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/append.h"
#include "mainstair/base/text.h"

enum { NAMES_MAX = 100 };

static int system_trouble(struct err *err, const char *what, const char *path)
{
	const int why = errno;
	char shown[300];

	(void)text_show(shown, sizeof shown, path, strlen(path));
	return err_set(err, ERR_SYSTEM, "%s %s: %s", what, shown, strerror(why));
}

/* A unit's file or a record: what cannot be had a second time. */
static bool is_only_copy(const char *path)
{
	static const char *const heads[] = {"mainstair unit ", "mainstair record "};
	char head[32] = "";
	const int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);

	if (fd < 0)
		return false;
	const ssize_t n = read(fd, head, sizeof head - 1);
	(void)close(fd);
	for (size_t i = 0; n > 0 && i < sizeof heads / sizeof *heads; i++)
		if (strncmp(head, heads[i], strlen(heads[i])) == 0)
			return true;
	return false;
}

int write_file_check(const char *path, bool replace, struct err *err)
{
	char shown[300];
	struct stat st;

	(void)text_show(shown, sizeof shown, path, strlen(path));
	if (stat(path, &st) != 0) {
		if (errno == ENOENT)
			return 0; /* a folder that is missing is told by the writing */
		return system_trouble(err, "cannot write", path);
	}
	if (!S_ISREG(st.st_mode))
		return err_set(err, ERR_INPUT, "%s is there already and no regular file", shown);
	if (!replace)
		return err_set(err, ERR_INPUT,
		               "%s is there already: another name, or --force to "
		               "replace it",
		               shown);
	if (is_only_copy(path))
		return err_set(err, ERR_INPUT,
		               "%s is a unit's file or a record: nothing replaces those; another name, "
		               "please", shown);
	return 0;
}

/* A new file beside `path`; its name into `name`.  Its descriptor, or -1 with errno. */
static int open_beside(const char *path, char *name, size_t size)
{
	const char *slash = strrchr(path, '/');
	const int folder = slash ? (int)(slash - path) + 1 : 0;
	int fd = -1;

	for (int i = 0; i < NAMES_MAX; i++) {
		if ((size_t)snprintf(name, size, "%.*s.mainstair-%ld-%d", folder, path,
		                     (long)getpid(), i) >= size) {
			errno = ENAMETOOLONG;
			return -1;
		}
		fd = open(name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0666);
		if (fd >= 0 || errno != EEXIST)
			return fd;
	}
	return fd;
}

static int write_bytes(int fd, const char *bytes, size_t n)
{
	for (size_t at = 0; at < n;) {
		const ssize_t wrote = append_write(fd, bytes + at, n - at);

		if (wrote < 0 && errno == EINTR)
			continue;
		if (wrote < 0)
			return -1;
		at += (size_t)wrote;
	}
	return fsync(fd);
}

/* Give it its name: over what is there, or only where nothing is. */
static int give_name(const char *name, const char *path, bool replace)
{
	if (replace)
		return rename(name, path);
	/* rename() would replace what came in the meantime */
	if (renameat2(AT_FDCWD, name, AT_FDCWD, path, RENAME_NOREPLACE) == 0)
		return 0;
	if (errno != EINVAL) /* else a file system that does not know how */
		return -1;
	if (link(name, path) != 0)
		return -1;
	(void)unlink(name);
	return 0;
}

int write_file(const char *path, const void *bytes, size_t n, bool replace, struct err *err)
{
	char name[PATH_MAX], *target;
	int fd, status = 0;

	if (write_file_check(path, replace, err) != 0)
		return -1;
	/* behind a symbolic link its target is what is replaced */
	target = replace ? realpath(path, NULL) : NULL;
	fd = open_beside(target ? target : path, name, sizeof name);
	if (fd < 0) {
		status = system_trouble(err, "cannot write", path);
	} else {
		if (write_bytes(fd, bytes, n) != 0)
			status = system_trouble(err, "cannot write", path);
		if (close(fd) != 0 && status == 0)
			status = system_trouble(err, "cannot write", path);
		if (status == 0 && give_name(name, target ? target : path, replace) != 0)
			status = system_trouble(err, "cannot write", path);
		if (status != 0)
			(void)unlink(name);
		else
			(void)append_sync_folder(target ? target : path);
	}
	free(target);
	return status;
}

int write_file_folder(const char *path, struct err *err)
{
	struct stat st;

	if (mkdir(path, 0777) == 0)
		return 0;
	if (errno == EEXIST && stat(path, &st) == 0 && S_ISDIR(st.st_mode))
		return 0;
	return system_trouble(err, "cannot make the folder", path);
}
