#include "cli/input.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cli/output.h"
#include "io/whole_file.h"

static int read_standard_input(size_t most, struct buf *ret)
{
	char part[65536];
	ssize_t n;

	while ((n = read(STDIN_FILENO, part, sizeof part)) != 0) {
		if (n < 0 && errno == EINTR)
			continue;
		if (n < 0) {
			complain("cannot read standard input: %s", strerror(errno));
			return -1;
		}
		if (ret->len + (size_t)n > most) {
			complain("standard input: larger than %zu bytes", most);
			return -1;
		}
		buf_add(ret, part, (size_t)n);
	}
	if (ret->failed) {
		complain("out of memory");
		return -1;
	}
	return 0;
}

const char *input_read(const char *path, size_t most, struct buf *ret)
{
	struct err err;

	if (strcmp(path, "-") == 0)
		return read_standard_input(most, ret) == 0 ? "standard input" : NULL;
	if (whole_file_read(path, most, ret, &err) == 0)
		return path;
	complain("%s", err.text);
	return NULL;
}

bool input_begins(const char *path, const char *words)
{
	char head[64];
	const size_t n = strlen(words);
	struct stat st;
	bool yes = false;
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);

	if (fd < 0)
		return false;
	if (n <= sizeof head && fstat(fd, &st) == 0 && S_ISREG(st.st_mode))
		yes = read(fd, head, n) == (ssize_t)n && memcmp(head, words, n) == 0;
	(void)close(fd);
	return yes;
}
