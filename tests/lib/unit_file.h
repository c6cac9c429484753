/*
 * tests/lib/unit_file.h - units from profile files, and processor time, for programs over profiles
 */
#ifndef MAINSTAIR_TESTS_UNIT_FILE_H
#define MAINSTAIR_TESTS_UNIT_FILE_H

#include "mainstair/core/network.h"
#include "mainstair/core/profile.h"

struct unit_file {
	const char *name; /* last part of its path */
	struct profile profile;
	struct network net;
};

/** Read the profile at path, which stays borrowed, and build its network.  Large: free() it.  NULL
 *  after a message on standard error. */
struct unit_file *unit_file_load(const char *path);

/** Processor time of this process, s. */
double processor_s(void);

#endif
