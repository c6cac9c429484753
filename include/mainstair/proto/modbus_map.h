/*
 * proto/modbus_map.h - which register of a meter holds which quantity, and in what shape
 *
 * Layer: proto; pure.  The master reads a meter by it, the virtual bench plays a meter by it.
 */
#ifndef MAINSTAIR_PROTO_MODBUS_MAP_H
#define MAINSTAIR_PROTO_MODBUS_MAP_H

#include "mainstair/base/err.h"
#include "mainstair/core/reading.h"
#include "mainstair/proto/modbus_rtu.h"

struct modbus_register {
	bool present;
	uint8_t function;  /* MODBUS_READ_HOLDING or MODBUS_READ_INPUT */
	uint16_t address;  /* as sent */
	enum modbus_type type;
	enum modbus_order order;
	double scale;      /* value in V, A, W, … = register value * scale; not 0; negative turns
	                      the sign of a meter whose current transformer sits the wrong way */
};

struct modbus_map {
	struct modbus_register at[READING_QUANTITIES];
};

/* mainstair's own map, spoken by the virtual bench and given in profiles/bench-modbus.ini: input
 * registers, float32 ABCD; volts 0, amps 2, watts 4, va 6, power_factor 8, hertz 10. */
extern const struct modbus_map modbus_map_default;

/** Parse one line of a bench file: `input|holding ADDRESS u16|s16|u32|s32|float32
 *  [abcd|cdab|badc|dcba] [x SCALE]`; ADDRESS decimal or 0x hex; `first_register` (0 or 1) is
 *  what the meter's manual calls the first one.  0, or -1 with ERR_INPUT. */
int modbus_register_parse(const char *text, unsigned first_register, struct modbus_register *ret,
                          struct err *err);

enum { MODBUS_BLOCKS_MAX = READING_QUANTITIES };

/** Group a map into as few queries as it takes: registers of one function that follow each
 *  other with at most `span` unused registers between them are read in one.  Returns how many
 *  (up to MODBUS_BLOCKS_MAX). */
size_t modbus_map_blocks(const struct modbus_map *map, uint8_t unit, unsigned span,
                         struct modbus_query ret[MODBUS_BLOCKS_MAX]);

/** Take out of an answered block every quantity that lies in it (scaled; NaN and infinity as
 *  reading_set(); a float32 as the shortest decimal number that is the same float). */
void modbus_map_read(const struct modbus_map *map, const struct modbus_query *block,
                     const uint16_t *registers, struct reading *r);

/** The reverse, for a slave: put every told quantity of r that lies in the bank into
 *  `registers` (bank->count of them, bank->first upwards).  Both functions share the bank. */
void modbus_map_write(const struct modbus_map *map, const struct modbus_bank *bank,
                      uint16_t *registers, const struct reading *r);

/** "" or, in words, why this looks like another word order: the reading is absurd as decoded,
 *  but under another order of the same registers it is a plausible mains reading.  `ret` also
 *  names the order to try.  `registers` as in modbus_map_read(). */
void modbus_map_suspect(const struct modbus_map *map, const struct modbus_query *block,
                        const uint16_t *registers, char ret[READING_WHY_MAX]);

#endif
