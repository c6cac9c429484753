/*
 * core/entry_line.h - what a typed line came to, on any page of the job
 *
 * Layer: core; pure; includes nothing.  A line becomes an entry of the logbook, a question when it
 * looks like a slip, or an echo that says what is wrong and what would be right.
 */
#ifndef MAINSTAIR_CORE_ENTRY_LINE_H
#define MAINSTAIR_CORE_ENTRY_LINE_H

enum entry_line {
	ENTRY_LINE_TAKEN, /* the draft is an entry to keep; the echo says how it was understood */
	ENTRY_LINE_ASK,   /* the draft is what it would mean; the echo is the question */
	ENTRY_LINE_WRONG  /* no entry; the echo says what would be right */
};

enum {
	ENTRY_LINE_MAX = 400, /* bytes of a line with the closing 0; a longer one is wrong */
	ENTRY_ECHO_MAX = 200  /* bytes of an echo with the closing 0 */
};

#endif
