/*
 * io/record_file.h - the record of a run on a disk: written once, line by line; read by index
 *
 * Layer: io; its format is proto/record_text.h's.
 *
 * Writing (record_writer.c).  A record is created, never opened: an existing file is neither
 * overwritten nor added to.  One event is one write() of one line.  What is on the disk is told
 * apart from what was merely written: an event may be SHOWN as recorded only once a call with
 * `sync_now` or record_sync() has returned 0 after it.  When the disk refuses, nothing is lost
 * while memory lasts: lines wait in a queue of RECORD_QUEUE_MAX bytes and are tried again with
 * every later call; a line begun and not finished is taken back off the file's end.
 *
 * Reading (record_file.c).  Opening reads the file once and keeps 24 bytes an event; events are
 * read again from the file when asked for.  The file may be one that is still being written: what
 * stood in it when it was opened counts.  Nothing is ever repaired in place.
 */
#ifndef IO_RECORD_FILE_H
#define IO_RECORD_FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "mainstair/base/err.h"
#include "mainstair/core/event.h"
#include "mainstair/proto/record_text.h"

/* --- writing ---------------------------------------------------------------------------- */

enum {
	RECORD_QUEUE_MAX = 4 << 20, /* bytes of lines that wait; readings are refused first */
	RECORD_RESERVE = 64 << 10   /* of these, kept for everything that is not a reading */
};

struct record_writer; /* opaque */

struct record_health {
	unsigned long recorded; /* events on the disk */
	unsigned long waiting;  /* events taken that are not */
	unsigned long lost;     /* events refused because the queue was full, ever */
};

/** Create a record and put its head on the disk.  `path` NULL: a new file in
 *  $XDG_DATA_HOME/mainstair/ (default ~/.local/share/mainstair/; folders are made, mode 0700),
 *  named from the start time and `instrument`, the next free name if that one is taken.  Else
 *  exactly `path`, whose folder must exist and which must not.  *head is borrowed for the call.
 *  0 with *ret (the caller's, until record_finish()), or -1 with ERR_SYSTEM, ERR_INPUT, ERR_NOMEM;
 *  no file is left behind then. */
int record_create(const char *path, const char *instrument, const struct record_head *head,
                  struct record_writer **ret, struct err *err);

/** Its path; borrowed. */
const char *record_path(const struct record_writer *w);

/** Take one event.  sync_now: put it and all before it on the disk before returning; else it is
 *  only written, which is meant for readings that come faster than a disk can follow.
 *  0, or -1 with ERR_SYSTEM: not on the disk (or not written); it waits, unless
 *  record_health().lost has grown. */
int record_append(struct record_writer *w, const struct event *ev, bool sync_now,
                  struct err *err);

/** Put all events taken so far on the disk.  0, or -1 with ERR_SYSTEM. */
int record_sync(struct record_writer *w, struct err *err);

/** The same without waiting for the disk: events taken before this call are on it once
 *  record_sync_end() has said so.  Does nothing while an earlier one is under way.  0, or -1 with
 *  ERR_SYSTEM at once. */
int record_sync_begin(struct record_writer *w, struct err *err);

/** Is one under way? */
bool record_syncing(const struct record_writer *w);

/** Readable when the one under way has ended; -1 while there is none.  Borrowed. */
int record_sync_fd(const struct record_writer *w);

/** Take the result of the one under way.  0 (also when there is none, or it has not ended), or -1
 *  with ERR_SYSTEM: those events wait on. */
int record_sync_end(struct record_writer *w, struct err *err);

/** How many events are on the disk, wait, and were lost, so far. */
struct record_health record_health(const struct record_writer *w);

/** Sync once more, close and free; `w` may be NULL.  -1 with err when events did not reach the
 *  disk; it is closed and freed all the same. */
int record_finish(struct record_writer *w, struct err *err);

/** Write "20260301T180211Z-bench-oscillator" into out: the name of a record of an instrument,
 *  `copy` > 1 with "-COPY" behind it, ".record" at its end. */
void record_name(char *out, size_t size, int64_t started_s, const char *instrument, int copy);

/* --- reading ---------------------------------------------------------------------------- */

struct record; /* opaque */

struct record_entry {
	uint64_t offset;  /* of its line in the file */
	double seconds;   /* never less than the one before it */
	uint32_t len;     /* of its line, without the end */
	int16_t stage;    /* index, or -1 */
	uint8_t kind, verdict;
};

/* What was wrong or strange in a record that could be read all the same. */
struct record_faults {
	size_t torn_bytes;         /* behind the last line end: a line that was never finished */
	size_t garbled;            /* lines whose check sum or columns are wrong, passed over */
	size_t first_garbled_line; /* line number in the file, 0: none */
	size_t unknown;            /* whole lines of a kind that this version does not know */
	size_t wider;              /* events with more columns than this version knows */
	size_t backwards;          /* events earlier than the one before them */
	bool still_open;           /* another process is writing it */
};

/** Open a record.  0 with *ret (the caller's, until record_close()), or -1: ERR_INPUT (no
 *  record, no regular file), ERR_UNSUPPORTED (a newer version), ERR_SYSTEM, ERR_NOMEM. */
int record_open(const char *path, struct record **ret, struct err *err);
void record_close(struct record *rec); /**< NULL is fine. */

/** Head with the embedded profile and bench; borrowed. */
const struct record_head *record_head(const struct record *rec);
const struct record_faults *record_faults(const struct record *rec);

/** Events that can be read; what is garbled does not count. */
size_t record_n_events(const struct record *rec);
/** All entries, record_n_events() of them; borrowed. */
const struct record_entry *record_entries(const struct record *rec);

/** Read event i (< record_n_events()).  0, or -1 with ERR_SYSTEM when the file has changed or
 *  cannot be read any more. */
int record_event(struct record *rec, size_t i, struct event *ret, struct err *err);

/** First event of a kind at or after `from`; record_n_events() when there is none. */
size_t record_next(const struct record *rec, size_t from, enum event_kind kind);
/** First event at or after `from` that is a finding: a reading over, under or abort, or the stop
 *  key; record_n_events() when there is none. */
size_t record_next_finding(const struct record *rec, size_t from);

#endif
