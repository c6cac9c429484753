#include "cli/book_words.h"

#include <stdlib.h>

int book_words(const struct logbook *book, const struct network *bare,
               const struct profile *profile, char words[BOOK_WORDS_MAX][OHMS_WORDS_MAX],
               struct err *err)
{
	struct ohms_list *list = malloc(sizeof *list); /* room for some hundred checks: no stack */
	size_t n_entries;
	const struct entry *entries = logbook_entries(book, &n_entries);

	if (!list)
		return err_set(err, ERR_NOMEM, "out of memory");
	ohms_list_make(list, bare, profile);
	int n = ohms_measured(list, entries, n_entries, words, BOOK_WORDS_MAX);
	free(list);
	return n;
}
