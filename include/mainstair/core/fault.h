/*
 * core/fault.h - faults put into a network by words, as a restorer would name them
 *
 * Layer: core; pure.  A fault is one extra parameter of the same circuit: the words are turned
 * into the fault fields of struct network (core/network.h).  The virtual bench and the ranking
 * of faults use the same words, so what was suspected can be tried.
 *
 *   primary short 200 ohm       across the mains, behind the fuse
 *   turn 15 W                   a shorted turn; watts in it at the rated emf
 *   heater NAME short 1 ohm     across heater winding NAME (any winding; one half if tapped)
 *   open PLACE                  heater or lamp burnt out or pulled
 *   rail NAME short [1 ohm]     behind its rectifier or filter, to chassis
 *   rail NAME leak 10k
 *   rail NAME dead              rectifier or filter open
 *   rail NAME load 2            its loads draw this many times their current
 *   plate PLACE short [1 ohm]   one conduction path of the rectifier; PLACE a rectifier tube, or
 *                               the rail's name where the rectifier is no tube
 *
 * Words in any letter case, apart by blanks; ohms as 10k, 4k7, 2M2, 10 kohm, 200 ohm, 200.
 */
#ifndef MAINSTAIR_CORE_FAULT_H
#define MAINSTAIR_CORE_FAULT_H

#include <stddef.h>

#include "mainstair/base/err.h"
#include "mainstair/core/network.h"

/** Put the fault into *net.  0, or -1 with ERR_INPUT (the text says what was not understood
 *  and which names there are) and *net untouched. */
int fault_apply(struct network *net, const char *words, struct err *err);

/* One line a kind of fault, for --help and the manual: the words and what they mean. */
struct fault_help {
	const char *words, *meaning;
};
extern const struct fault_help fault_help[];
extern const size_t n_fault_help;

#endif
