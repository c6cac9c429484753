/*
 * cli/page_desk.h - a unit's file, its unit and the pages of its job, without a terminal
 *
 * Layer: cli.  What `job` and `enter` share.
 */
#ifndef MAINSTAIR_CLI_PAGE_DESK_H
#define MAINSTAIR_CLI_PAGE_DESK_H

#include "app/page.h"
#include "cli/load_unit.h"
#include "io/logbook_file.h"

struct page_desk {
	struct loaded_unit unit;
	struct logbook *book;
	struct network *bare; /* as the profile gives it */
	struct job job;
	struct bench_desk desk;
};

/** Open a unit by its label or path.  NULL after complaints. */
struct page_desk *page_desk_open(const char *unit, enum logbook_open_for open_for);

/** The same for a unit whose file is made when missing, with the profile at `profile`. */
struct page_desk *page_desk_begin(const char *unit, const char *profile, double utc_s);

void page_desk_close(struct page_desk *d); /**< NULL is fine. */

/** The page of that word; NULL after a complaint that lists them. */
const struct page_ops *page_of(const char *word);

/** Fill a cleared sheet with the page of that word.  0, or -1 after a complaint. */
int page_desk_fill(struct page_desk *d, const char *word, struct sheet *ret);

#endif
