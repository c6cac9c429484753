#include "io/data_path.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Set by src/io/meson.build: absolute paths. */
#ifndef MAINSTAIR_SOURCE_DATA
#error "MAINSTAIR_SOURCE_DATA: the folder of the data files in the source tree"
#endif
#ifndef MAINSTAIR_BUILD_ROOT
#error "MAINSTAIR_BUILD_ROOT: the build folder"
#endif

enum { PATH_BYTES = 4096 };

static int join(char *ret, size_t size, const char *folder, const char *name, struct err *err)
{
	int n = snprintf(ret, size, "%s/%s", folder, name);

	if (n < 0 || (size_t)n >= size)
		return err_set(err, ERR_RANGE, "the path of the data file %s is too long", name);
	return 0;
}

/* Folder of the running program, without a slash at its end. */
static int own_folder(char *ret, size_t size, struct err *err)
{
	ssize_t n = readlink("/proc/self/exe", ret, size - 1);
	char *slash;

	if (n < 0)
		return err_set(err, ERR_SYSTEM,
		               "cannot find the program's own folder (%s): set MAINSTAIR_DATA to "
		               "the folder of tubes.csv", strerror(errno));
	ret[n] = '\0';
	slash = strrchr(ret, '/');
	if ((size_t)n == size - 1 || !slash)
		return err_set(err, ERR_RANGE, "the path of the program is too long");
	*slash = '\0';
	return 0;
}

static bool lies_in(const char *folder, const char *root)
{
	size_t n = strlen(root);

	return strncmp(folder, root, n) == 0 && (folder[n] == '/' || folder[n] == '\0');
}

int data_path(const char *name, char *ret, size_t size, struct err *err)
{
	const char *given = getenv("MAINSTAIR_DATA");
	char folder[PATH_BYTES];

	if (given && *given)
		return join(ret, size, given, name, err);
	if (own_folder(folder, sizeof folder - sizeof "/../share/mainstair", err) != 0)
		return -1;
	if (lies_in(folder, MAINSTAIR_BUILD_ROOT))
		return join(ret, size, MAINSTAIR_SOURCE_DATA, name, err);
	strcat(folder, "/../share/mainstair");
	return join(ret, size, folder, name, err);
}
