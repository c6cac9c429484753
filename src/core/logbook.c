#include "mainstair/core/logbook.h"

#include <math.h>
#include <string.h>

static const char *const words[] = {
	[ENTRY_PROFILE] = "profile",
	[ENTRY_CAUTIONS] = "cautions",
	[ENTRY_LOOK] = "look",
	[ENTRY_TUBE] = "tube",
	[ENTRY_OHMS] = "ohms",
	[ENTRY_CAP_SET] = "capacitor-setup",
	[ENTRY_CAP_READING] = "capacitor-reading",
	[ENTRY_CAP_EVENT] = "capacitor",
	[ENTRY_POWER] = "power-up",
	[ENTRY_CAL] = "calibration",
	[ENTRY_NULL] = "null",
	[ENTRY_COMPARE] = "compare",
	[ENTRY_OVERRIDE] = "override",
	[ENTRY_STOP] = "stop",
	[ENTRY_NOTE] = "note",
	[ENTRY_DROPPED] = "dropped",
	[ENTRY_MENDED] = "mended",
	[ENTRY_MEASURED] = "measured",
};
_Static_assert(sizeof words / sizeof words[0] == ENTRY_KINDS, "every kind has its word");

void entry_draft_init(struct entry_draft *d, enum entry_kind kind)
{
	d->subject[0] = d->word[0] = d->note[0] = '\0';
	d->entry = (struct entry){.kind = kind, .subject = d->subject, .word = d->word,
		.note = d->note};
	for (int i = 0; i < ENTRY_NUMBERS; i++)
		d->entry.number[i] = (double)NAN;
}

const char *entry_kind_word(enum entry_kind kind)
{
	return words[kind];
}

int entry_kind_from_word(const char *word)
{
	for (int i = 0; i < ENTRY_KINDS; i++)
		if (strcmp(word, words[i]) == 0)
			return i;
	return -1;
}

const struct entry *entry_last(const struct entry *entries, size_t n, enum entry_kind kind,
                               const char *subject)
{
	while (n-- > 0)
		if (entries[n].kind == kind &&
		    (!subject || strcmp(entries[n].subject, subject) == 0))
			return &entries[n];
	return NULL;
}
