/*
 * core/session/session_probes.h - the voltmeter's side of a session
 *
 * Layer: core, private to session*.c.
 */
#ifndef MAINSTAIR_CORE_SESSION_PROBES_H
#define MAINSTAIR_CORE_SESSION_PROBES_H

#include "mainstair/core/session.h"

/** Nothing was read. */
void session_probes_forget(struct session *s);

/** An EVENT_RAIL: kept by name and judged; fills ev->verdict. */
void session_probe_take(struct session *s, struct event *ev);

/** All that was read, by the network as it is now. */
void session_probes_judge(struct session *s);

/** Was the last reading taken at the stage at which the session stands? */
bool session_last_is_here(const struct session *s);

#endif
