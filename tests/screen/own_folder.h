/* tests/screen/own_folder.h - a folder of its own for each test that runs the program, removed
 * after it: XDG_DATA_HOME and XDG_CONFIG_HOME point there. */
#ifndef TESTS_SCREEN_OWN_FOLDER_H
#define TESTS_SCREEN_OWN_FOLDER_H

#include <criterion/criterion.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

static char folder[] = "/tmp/mainstair-screen-XXXXXX";
static char data_home[80], config_home[80]; /* for an environment: "NAME=folder" */

static void make_own_folder(void)
{
	cr_assert_not_null(mkdtemp(folder));
	snprintf(data_home, sizeof data_home, "XDG_DATA_HOME=%s", folder);
	snprintf(config_home, sizeof config_home, "XDG_CONFIG_HOME=%s", folder);
}

static int remove_one(const char *path, const struct stat *st, int kind, struct FTW *walk)
{
	(void)st;
	(void)kind;
	(void)walk;
	return remove(path);
}

static void remove_own_folder(void)
{
	nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

#endif
