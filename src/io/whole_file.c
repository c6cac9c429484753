#include "io/whole_file.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "mainstair/base/text.h"

static int read_all(int fd, size_t max, struct buf *ret, const char *shown, struct err *err)
{
	size_t before = ret->len;
	char part[16384];
	ssize_t n;

	while ((n = read(fd, part, sizeof part)) != 0) {
		if (n < 0 && errno == EINTR)
			continue;
		if (n < 0)
			return err_set(err, ERR_SYSTEM, "cannot read %s: %s", shown,
			               strerror(errno));
		if (ret->len - before + (size_t)n > max)
			return err_set(err, ERR_RANGE, "%s: larger than %zu bytes", shown, max);
		buf_add(ret, part, (size_t)n);
		if (ret->failed)
			return err_set(err, ERR_NOMEM, "out of memory reading %s", shown);
	}
	return 0;
}

int whole_file_read(const char *path, size_t max, struct buf *ret, struct err *err)
{
	size_t before = ret->len;
	char shown[256];
	struct stat st;
	int status;
	int fd;

	(void)text_show(shown, sizeof shown, path, strlen(path));
	/* O_NONBLOCK: a pipe without a writer must not hold us up. */
	fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
	if (fd < 0)
		return err_set(err, ERR_SYSTEM, "cannot open %s: %s", shown, strerror(errno));
	if (fstat(fd, &st) != 0)
		status = err_set(err, ERR_SYSTEM, "cannot read %s: %s", shown, strerror(errno));
	else if (!S_ISREG(st.st_mode))
		status = err_set(err, ERR_INPUT, "%s: not a regular file", shown);
	else
		status = read_all(fd, max, ret, shown, err);
	if (status != 0 && !ret->failed)
		buf_cut(ret, before);
	(void)close(fd);
	return status;
}
