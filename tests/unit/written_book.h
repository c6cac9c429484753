/*
 * tests/unit/written_book.h - entries of a logbook made in memory, from typed lines or by hand
 */
#ifndef MAINSTAIR_TESTS_WRITTEN_BOOK_H
#define MAINSTAIR_TESTS_WRITTEN_BOOK_H

#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/logbook.h"

enum { BOOK_ENTRIES_MAX = 64 };

struct written_book {
	struct entry_draft draft[BOOK_ENTRIES_MAX]; /* own the texts */
	struct entry entry[BOOK_ENTRIES_MAX];
	size_t n;
};

/* The draft that the next entry is made in. */
static inline struct entry_draft *book_next(struct written_book *b)
{
	cr_assert(b->n < BOOK_ENTRIES_MAX);
	return &b->draft[b->n];
}

/* Keep what stands in book_next(). */
static inline void book_keep(struct written_book *b)
{
	b->entry[b->n] = b->draft[b->n].entry;
	b->entry[b->n].utc_s = 1e9 + 60.0 * (double)b->n;
	b->n++;
}

static inline void book_put(struct written_book *b, enum entry_kind kind, const char *subject,
                            const char *word, const char *note, double n1)
{
	struct entry_draft *d = book_next(b);

	entry_draft_init(d, kind);
	(void)snprintf(d->subject, sizeof d->subject, "%s", subject);
	(void)snprintf(d->word, sizeof d->word, "%s", word);
	(void)snprintf(d->note, sizeof d->note, "%s", note);
	d->entry.number[0] = n1;
	book_keep(b);
}

#endif
