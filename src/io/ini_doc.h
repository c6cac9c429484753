/*
 * io/ini_doc.h - an INI text cut into sections, keys and values, with their line numbers
 *
 * Layer: io; includes base/ only.  The strict scan that runs before iniparser does: whatever that
 * library would cut off, join, merge or drop without a word is refused here in words, so that
 * nothing typed is lost.  Pure: the text is given, no file is touched.
 *
 *   ; comment                     on a line of its own
 *   [section] or [section NAME]   ; a comment may follow
 *   key = value                   ; a comment may follow, after a blank
 *   key = "value"                 keeps blanks at its ends and `;` or `#` inside
 *
 * Sections and keys are the same whatever their letter case; the case written is kept.
 */
#ifndef MAINSTAIR_IO_INI_DOC_H
#define MAINSTAIR_IO_INI_DOC_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/complaints.h"

enum {
	INI_TEXT_MAX = 256 * 1024, /* bytes of a text: far beyond any honest file */
	INI_LINE_MAX = 1000,       /* iniparser 4.1 gives a whole file up at 1023 */
	INI_NAME_MAX = 32,         /* a key, or one word of a section, with the closing 0 */
	INI_SECTIONS_MAX = 64,
	INI_ENTRIES_MAX = 1024
};

struct ini_section {
	char title[2 * INI_NAME_MAX]; /* "rail main": as written, single blanks */
	char kind[INI_NAME_MAX];      /* "rail" */
	char name[INI_NAME_MAX];      /* "main"; "" when there is none */
	int line;
};

struct ini_entry {
	int section; /* index into sections[] */
	char key[INI_NAME_MAX];
	char *value; /* not empty; blanks at its ends, comment and quotes taken off */
	bool refused; /* the value was, and is empty: complained of already, skip it.  The entry
	                 tells that the key is there, so that nobody calls it missing */
	bool quoted;
	int line;
};

struct ini_doc {
	struct ini_section *sections;
	int n_sections;
	struct ini_entry *entries;
	int n_entries;
	char *text; /* what the values point into */
	bool whole; /* nothing was refused: iniparser may read it */
	bool section_lost; /* a header was refused: what seems missing may have been there */
};

/** Scan the n bytes of text.  Fills *ret with everything that could be understood, also when
 *  faults were found (all of them are then in *c), so that the next layer can find its own.
 *  0, or -1 if there was a fault.  *ret must be released either way. */
int ini_scan(const char *text, size_t n, struct ini_doc *ret, struct complaints *c);

/** Free what it holds; a zeroed one is fine. */
void ini_release(struct ini_doc *doc);

/** Index of the section with this kind and name (letter case ignored), or -1. */
int ini_find_section(const struct ini_doc *doc, const char *kind, const char *name);

/** The entry of that section and key (letter case ignored), or NULL.  Borrowed. */
const struct ini_entry *ini_find(const struct ini_doc *doc, int section, const char *key);

#endif
