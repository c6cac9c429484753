/*
 * io/profile_ini.h - profiles (and other INI files) from disk or from a record
 *
 * Layer: io; includes base/ and core/.  The only user of iniparser.  How a profile is written is
 * described in the README; io/ini_doc.h has the rules that hold for every INI file here.
 * Every fault of a text is found and told at once; with any fault nothing is to be started.
 * Threads: iniparser has one error hook for the whole process, so load from one thread.
 */
#ifndef MAINSTAIR_IO_PROFILE_INI_H
#define MAINSTAIR_IO_PROFILE_INI_H

#include "io/ini_doc.h"

#include "mainstair/base/buf.h"
#include "mainstair/base/complaints.h"
#include "mainstair/core/profile.h"
#include "mainstair/core/tables.h"

/** Append the bytes of the file at path to *ret: a regular file of at most INI_TEXT_MAX bytes.
 *  0, or -1 with a complaint. */
int ini_read_file(const char *path, struct buf *ret, struct complaints *c);

/** Scan the n bytes of text (ini_scan()), have iniparser read them too, and make sure that both
 *  found the same.  0, or -1 with at least one complaint; *ret then holds what could be
 *  understood.  Release it either way. */
int ini_load(const char *text, size_t n, struct ini_doc *ret, struct complaints *c);

/** Complain of a section or a key that nobody knows, with the nearest of the n known words. */
void ini_unknown_section(const struct ini_doc *doc, int section, const char *const *known,
                         size_t n, struct complaints *c);
void ini_unknown_key(const struct ini_doc *doc, const struct ini_entry *entry,
                     const char *const *known, size_t n, struct complaints *c);

/** Read the profile in the n bytes of text.  c has been initialised with the name to show.  0 with
 *  *ret filled, or -1 with every fault of the text in *c.  `*ret` is large (some 100 KiB) and is
 *  written in both cases. */
int profile_parse_text(const char *text, size_t n, struct profile *ret, struct complaints *c);

/** The same from a file.  ret_text may be NULL; else the very bytes that were judged are appended
 *  to it, to be embedded in a record. */
int profile_read(const char *path, struct profile *ret, struct buf *ret_text,
                 struct complaints *c);

/** What a profile says against what the handbooks know: types that the tables lack (the nearest
 *  names are told), tubes in places they cannot serve in (a rectifier that is none, a regulator
 *  that is no gas regulator), loads gated by tubes without a heater, own ratings for a known type.
 *  `profile` was filled by profile_parse_text(), with complaints or without.  0, or -1 with
 *  complaints. */
int profile_check_types(const struct profile *profile, const struct tables *tables,
                        struct complaints *c);

#endif
