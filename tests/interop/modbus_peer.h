/*
 * tests/interop/modbus_peer.h - a Modbus slave by libmodbus, in a child process
 *
 * libmodbus is the peer that no one here wrote.  It blocks and sleeps, hence the process.
 */
#ifndef MAINSTAIR_TESTS_MODBUS_PEER_H
#define MAINSTAIR_TESTS_MODBUS_PEER_H

#include <sys/types.h>

/* Its input registers: floats that libmodbus' own readers have confirmed. */
enum {
	PEER_ABCD = 0,  /* volts, amps, watts from here, two registers each, high word first */
	PEER_CDAB = 10, /* the same in the other orders */
	PEER_BADC = 20,
	PEER_DCBA = 30,
	PEER_HOLDING_VOLTS = 0, /* holding: tenths of a volt, milliamps, tenths of a watt */
	PEER_REGISTERS = 40
};
#define PEER_VOLTS 117.25f
#define PEER_AMPS 0.2415f
#define PEER_WATTS 26.875f

/** Start it on a port.  Its process, or -1.  It ends with its parent, or by modbus_peer_end(). */
pid_t modbus_peer_start(const char *port, int baud, int unit);
void modbus_peer_end(pid_t peer);

#endif
