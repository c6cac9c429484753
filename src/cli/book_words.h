/*
 * cli/book_words.h - what was measured on a unit, in network_measure()'s words
 *
 * Layer: cli.
 */
#ifndef MAINSTAIR_CLI_BOOK_WORDS_H
#define MAINSTAIR_CLI_BOOK_WORDS_H

#include "io/logbook_file.h"
#include "mainstair/core/ohms_results.h"
#include "mainstair/core/profile.h"

enum { BOOK_WORDS_MAX = 32 };

/** The ohm readings that passed and are numbers of the load model, and what was typed as measured
 *  at power-ups, in this order, at most BOOK_WORDS_MAX (the newest).  bare: the network as the
 *  profile gives it.  *ret_refused: how many of those typed the profile as it now is does not
 *  take.  How many words, or -1 with err. */
int book_words(const struct logbook *book, const struct network *bare,
               const struct profile *profile, char words[BOOK_WORDS_MAX][OHMS_WORDS_MAX],
               int *ret_refused, struct err *err);

#endif
