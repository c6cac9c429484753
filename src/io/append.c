#include "io/append.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "mainstair/base/text.h"

int append_make_folders(char *path, struct err *err)
{
	char shown[200];

	for (char *p = path + 1;; p++) {
		const char was = *p;

		if (was != '/' && was != '\0')
			continue;
		*p = '\0';
		if (mkdir(path, 0700) < 0 && errno != EEXIST) {
			const int e = errno;

			text_show(shown, sizeof shown, path, strlen(path));
			return err_set(err, ERR_SYSTEM, "cannot make the folder %s: %s", shown,
			               strerror(e));
		}
		*p = was;
		if (was == '\0')
			return 0;
	}
}

int append_data_folder(char out[PATH_MAX], struct err *err)
{
	const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
	int n;

	if (data && data[0] == '/')
		n = snprintf(out, PATH_MAX, "%s/mainstair", data);
	else if (home && home[0] == '/')
		n = snprintf(out, PATH_MAX, "%s/.local/share/mainstair", home);
	else
		return err_set(err, ERR_INPUT,
		               "no place for the file: neither XDG_DATA_HOME nor HOME is a path from "
		               "/ on; set one, or name a file (--record, --unit)");
	if (n < 0 || n >= PATH_MAX)
		return err_set(err, ERR_INPUT, "the path of the folder for records is too long");
	return append_make_folders(out, err);
}

ssize_t append_write(int fd, const void *bytes, size_t n)
{
	static const struct timespec at_once = { 0, 0 };
	sigset_t limit, before, pending;
	bool was_pending;
	ssize_t done;
	int e;

	sigemptyset(&limit);
	sigaddset(&limit, SIGXFSZ);
	sigpending(&pending);
	was_pending = sigismember(&pending, SIGXFSZ);
	pthread_sigmask(SIG_BLOCK, &limit, &before);
	do
		done = write(fd, bytes, n);
	while (done < 0 && errno == EINTR);
	e = errno;
	if (done < 0 && e == EFBIG && !was_pending)
		while (sigtimedwait(&limit, NULL, &at_once) < 0 && errno == EINTR)
			;
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	errno = e;
	return done;
}

int append_sync_folder(const char *path)
{
	char folder[PATH_MAX];
	const char *slash = strrchr(path, '/');
	int fd, e = 0;

	if (slash)
		(void)snprintf(folder, sizeof folder, "%.*s",
		               slash == path ? 1 : (int)(slash - path), path);
	else
		strcpy(folder, ".");
	fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (fd < 0)
		return errno == EACCES ? 0 : -1; /* a folder to drop into, not to look into */
	if (fsync(fd) < 0 && errno != EINVAL && errno != EROFS) /* some systems cannot */
		e = errno;
	(void)close(fd);
	errno = e;
	return e ? -1 : 0;
}
