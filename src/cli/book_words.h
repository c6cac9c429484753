/*
 * cli/book_words.h - what a unit's ohm readings measured, in network_measure()'s words
 *
 * Layer: cli.
 */
#ifndef MAINSTAIR_CLI_BOOK_WORDS_H
#define MAINSTAIR_CLI_BOOK_WORDS_H

#include "io/logbook_file.h"
#include "mainstair/core/ohms_results.h"
#include "mainstair/core/profile.h"

enum { BOOK_WORDS_MAX = 32 };

/** The readings that passed and are numbers of the load model, at most BOOK_WORDS_MAX.  bare: the
 *  network as the profile gives it.  How many, or -1 with err (out of memory). */
int book_words(const struct logbook *book, const struct network *bare,
               const struct profile *profile, char words[BOOK_WORDS_MAX][OHMS_WORDS_MAX],
               struct err *err);

#endif
