/* The restorer's own words, what was typed and not believed, and the logbook as data. */

#include "report/parts.h"

static void tell_notes(struct document *d, const struct report_data *r)
{
	char at[WHEN_MAX];
	size_t n = 0, dropped = 0;

	for (size_t i = 0; i < r->n_entries; i++) {
		const struct entry *e = &r->entries[i];

		(void)when(at, e->utc_s);
		dropped += e->kind == ENTRY_DROPPED; /* each is in the logbook's table */
		if (e->kind == ENTRY_NOTE)
			document_item(d, DOC_PLAIN, "%s%s%s: %s", at, e->subject[0] ? ", " : "",
			              e->subject, e->note);
		else if (e->kind == ENTRY_STOP)
			document_item(d, DOC_DANGER, "%s: stop key%s%s", at, e->note[0] ? ", " : "",
			              e->note);
		else if (e->kind == ENTRY_OVERRIDE)
			document_item(d, DOC_CAUTION, "%s: overridden %s, because %s", at,
			              e->subject, e->note);
		else if (e->kind == ENTRY_MENDED)
			document_item(d, DOC_PLAIN, "%s: power-up %s, mended: %s", at, e->subject,
			              e->note);
		else if (e->kind == ENTRY_MEASURED)
			document_item(d, DOC_PLAIN, "%s: measured %s", at, e->note);
		else
			continue;
		n++;
	}
	if (dropped > 0)
		document_item(d, DOC_PLAIN,
		              "%zu typed line%s asked about or not believed; %s in the unit's file",
		              dropped, dropped == 1 ? " was" : "s were",
		              dropped == 1 ? "it is" : "they are");
	if (n == 0 && dropped == 0)
		document_para(d, DOC_PLAIN, "None.");
}

void part_notes(struct document *d, const struct report_data *r)
{
	char at[WHEN_MAX];

	document_section(d, 2, "notes", "Notes");
	tell_notes(d, r);
	if (r->remark[0])
		document_para(d, DOC_CAUTION, "The unit's file: %s.", r->remark);
	document_data_table(d, "logbook", "Every entry of the unit's file");
	document_column(d, "when");
	document_column(d, "kind");
	document_column(d, "subject");
	document_column(d, "word");
	for (int k = 1; k <= ENTRY_NUMBERS; k++) {
		static const char *const title[] = {"n1", "n2", "n3", "n4"};

		document_number_column(d, title[k - 1], UNIT_NONE, DOC_PREFIX, 6, "infinite");
	}
	document_column(d, "note");
	for (size_t i = 0; i < r->n_entries; i++) {
		const struct entry *e = &r->entries[i];

		document_cell(d, DOC_PLAIN, "%s", when(at, e->utc_s));
		document_cell(d, DOC_PLAIN, "%s", entry_kind_word(e->kind));
		document_cell(d, DOC_PLAIN, "%s", e->subject);
		document_cell(d, DOC_PLAIN, "%s", e->word);
		for (int k = 0; k < ENTRY_NUMBERS; k++)
			document_number(d, DOC_PLAIN, e->number[k]);
		/* a profile's note is its whole text */
		document_cell(d, DOC_PLAIN, "%s",
		              e->kind == ENTRY_PROFILE ? "(the profile)" : e->note);
	}
}
