/* Runs a fuzz target over files and folders given, where libFuzzer is not: the kept corpus as a
 * plain test.  Exit status 0 when all went through, 1 when there was nothing to run. */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static unsigned long n_run;

static void run_file(const char *path)
{
	FILE *f = fopen(path, "rb");
	uint8_t *data = NULL;
	size_t n = 0, cap = 0;

	if (!f)
		return;
	do {
		if (n == cap) {
			cap = cap > 0 ? cap * 2 : 4096;
			data = realloc(data, cap);
			if (!data)
				abort();
		}
		n += fread(data + n, 1, cap - n, f);
	} while (!feof(f) && !ferror(f));
	(void)fclose(f);
	(void)fprintf(stderr, "%s\n", path); /* the last one named is the one that crashed */
	(void)LLVMFuzzerTestOneInput(data, n);
	free(data);
	n_run++;
}

static void run_path(const char *path)
{
	struct stat st;
	DIR *folder;

	if (stat(path, &st) != 0)
		return;
	if (!S_ISDIR(st.st_mode)) {
		run_file(path);
		return;
	}
	folder = opendir(path);
	for (struct dirent *entry; folder && (entry = readdir(folder)) != NULL;) {
		char below[4096];

		if (entry->d_name[0] == '.')
			continue;
		(void)snprintf(below, sizeof below, "%s/%s", path, entry->d_name);
		run_path(below);
	}
	if (folder)
		(void)closedir(folder);
}

int main(int argc, char **argv)
{
	for (int i = 1; i < argc; i++)
		run_path(argv[i]);
	(void)printf("%lu inputs\n", n_run);
	return n_run > 0 ? 0 : 1;
}
