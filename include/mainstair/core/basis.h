/*
 * core/basis.h - how well the source of a published figure is known
 *
 * Layer: core; pure; includes nothing.  A limit is shown with its source, and a source with its
 * basis: a figure that was only heard of must not look like one that was read.
 */
#ifndef MAINSTAIR_CORE_BASIS_H
#define MAINSTAIR_CORE_BASIS_H

enum basis {
	BASIS_READ,        /* the document's own text was read */
	BASIS_SECOND_HAND, /* another text that reports it was read */
	BASIS_FROM_MEMORY, /* not read */
	BASIS_PRACTICE     /* common practice of the trade, no source */
};

/** "read", "second hand", "from memory", "common practice". */
const char *basis_word(enum basis basis);

#endif
