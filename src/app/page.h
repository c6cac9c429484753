/*
 * app/page.h - a page of the job: one phase as a sheet, and what a typed line means on it
 *
 * Layer: app.  The loop (app/job_loop.c) draws the sheet, takes keys and keeps the logbook; a page
 * says what is on the sheet and turns a line into an entry.  What it shows follows from the entries
 * alone, so that leaving and coming back, days later, changes nothing.  One file per page in
 * app/page/; a new one is a row in the table of page.c.
 */
#ifndef MAINSTAIR_APP_PAGE_H
#define MAINSTAIR_APP_PAGE_H

#include "mainstair/core/event.h"
#include "mainstair/core/job.h"
#include "mainstair/core/profile.h"
#include "mainstair/core/tables.h"
#include "ui/sheet.h"
#include "ui/view.h"

/* What every page sees; borrowed. */
struct bench_desk {
	const struct profile *profile;
	const struct network *network;  /* as the profile gives it, without what was measured: a
	                                   reading must not become its own limit */
	const struct tables *tables;
	const struct entry *entries;    /* the logbook so far */
	size_t n_entries;
	const struct job *job;
	double utc_s;                   /* now */
};

enum page_answer {
	PAGE_TAKEN,    /* *ret is an entry to keep; the row in hand moves on when it is the row's */
	PAGE_STAY,     /* the same, and the row stays in hand */
	PAGE_ASK,      /* *ret is what it would mean; echo is the question, put before it is kept */
	PAGE_WRONG,    /* echo says what is wrong, and what would be right */
	PAGE_DONE_HERE /* understood, nothing to keep (a view changed) */
};

enum { PAGE_ECHO_MAX = 200 };

struct page_ops {
	enum job_phase phase;
	const char *word;  /* "look": typed on the job's page to go there */
	const struct typed_form *forms; /* what can be typed, for the help; a NULL form ends it */
	/* State of the page itself (what is looked at, a fit's workspace); NULL when out of memory.
	 * Both may be NULL when there is none. */
	void *(*open)(const struct bench_desk *desk);
	void (*close)(void *self);
	/** Fill a cleared sheet; *in_hand is the row in hand and may be moved to a row that
	 *  exists. */
	void (*fill)(void *self, const struct bench_desk *desk, int *in_hand, struct sheet *ret);
	/** What a typed line means with that row in hand. `echo`: PAGE_ECHO_MAX bytes. */
	enum page_answer (*enter)(void *self, const struct bench_desk *desk, int in_hand,
	                          const char *line, struct entry_draft *ret, char *echo);
	/** Seconds until the sheet changes by time alone; INFINITY: never. NULL: never. */
	double (*due)(void *self, const struct bench_desk *desk);
	/** A reading of the bench's meter while the page is open: true with an entry to keep. NULL:
	 *  the page wants none, and the meter is not opened. */
	bool (*reading)(void *self, const struct bench_desk *desk, int in_hand,
	                const struct event *reading, struct entry_draft *ret);
};

extern const struct page_ops page_look, page_tubes, page_ohms, page_capacitors, page_calibrate,
	page_nulls, page_compare;

/** All pages, in the order of the job; NULL ends it. */
extern const struct page_ops *const job_pages[];

#endif
