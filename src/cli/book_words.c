#include "cli/book_words.h"

#include <stdlib.h>
#include <string.h>

/* What was typed at power-ups, in its order, behind the n words there are: what the unit as it then
 * is takes.  How many there are now. */
static int add_typed(const struct entry *entries, size_t n_entries, struct network *scratch,
                     char words[BOOK_WORDS_MAX][OHMS_WORDS_MAX], int n, int *ret_refused)
{
	for (size_t i = 0; i < n_entries; i++) {
		struct err err;

		if (entries[i].kind != ENTRY_MEASURED)
			continue;
		if (strlen(entries[i].note) >= OHMS_WORDS_MAX ||
		    network_measure(scratch, entries[i].note, &err) != 0) {
			++*ret_refused;
			continue;
		}
		if (n == BOOK_WORDS_MAX) /* the oldest goes */
			memmove(words[0], words[1], (size_t)--n * sizeof words[0]);
		strcpy(words[n++], entries[i].note);
	}
	return n;
}

int book_words(const struct logbook *book, const struct network *bare,
               const struct profile *profile, char words[BOOK_WORDS_MAX][OHMS_WORDS_MAX],
               int *ret_refused, struct err *err)
{
	struct ohms_list *list = malloc(sizeof *list); /* room for some hundred checks: no stack */
	struct network *scratch = malloc(sizeof *scratch);
	size_t n_entries;
	const struct entry *entries = logbook_entries(book, &n_entries);
	int n = -1;

	*ret_refused = 0;
	if (!list || !scratch) {
		err_set(err, ERR_NOMEM, "out of memory");
		goto out;
	}
	ohms_list_make(list, bare, profile);
	n = ohms_measured(list, entries, n_entries, words, BOOK_WORDS_MAX);
	*scratch = *bare;
	for (int i = 0; i < n; i++)
		if (network_measure(scratch, words[i], err) != 0) {
			n = -1;
			goto out;
		}
	n = add_typed(entries, n_entries, scratch, words, n, ret_refused);
out:
	free(list);
	free(scratch);
	return n;
}
