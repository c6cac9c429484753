/*
 * core/tables.h - tube and lamp types: what the handbooks say of a type
 *
 * Layer: core; includes base/ only.  The rows live in data files that are installed with the
 * program (io/table_file.h reads them); here are the parsed rows and the look-up.  A table is
 * filled once and then only read.  Ownership: init/release for the caller's storage.
 */
#ifndef MAINSTAIR_CORE_TABLES_H
#define MAINSTAIR_CORE_TABLES_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/err.h"

enum { TYPE_NAME_MAX = 32 };

enum tube_kind {
	TUBE_DIODE_RECTIFIER, TUBE_SIGNAL_DIODE, TUBE_TRIODE, TUBE_TWIN_TRIODE, TUBE_PENTODE,
	TUBE_BEAM_TETRODE, TUBE_CONVERTER, TUBE_TUNING_EYE, TUBE_GAS_REGULATOR, TUBE_THYRATRON,
	TUBE_OTHER
};
enum tube_heating { HEATING_NONE, HEATING_INDIRECT, HEATING_DIRECT };

/* NAN where the sources are silent. */
struct tube_type {
	char name[TYPE_NAME_MAX];
	char aliases[96]; /* ';'-separated plug-in equals */
	enum tube_kind kind;
	enum tube_heating heating;
	double heater_volts, heater_amps; /* as rated; series strapping of a centre-tapped heater */
	double alt_volts, alt_amps;       /* the other strapping, or NAN */
	double max_dc_amps;               /* rectifier: rated output of the whole envelope */
	int plates;                       /* rectifier: anodes in the envelope, 1 or 2; 0: not
	                                     told */
	double drop_volts, drop_amps;     /* rectifier: drop of ONE plate at that dc current */
	double strike_volts, hold_volts;  /* gas regulator */
	double min_amps, max_amps;        /* gas regulator */
	double typical_amps;              /* plate + screen, whole envelope, or NAN */
	bool from_memory;                 /* no source was read for the heater figures */
	char note[128];
};

enum lamp_kind { LAMP_INCANDESCENT, LAMP_NEON, LAMP_MAINS };

struct lamp_type {
	char name[TYPE_NAME_MAX];
	enum lamp_kind kind;
	double volts, amps; /* neon: volts NAN */
	double strike_volts, hold_volts; /* neon, else NAN */
	bool from_memory;
	char note[160];
};

struct tables {
	struct tube_type *tubes; /* sorted as in the file */
	size_t n_tubes;
	struct lamp_type *lamps;
	size_t n_lamps;
};

/** Parse the tube table (CSV text with a header line naming the columns; see
 *  src/data/tubes.csv).  `text` is borrowed.  Appends to *t.  0, or -1 with ERR_INPUT and a
 *  text that names the line. */
int tables_parse_tubes(struct tables *t, const char *text, size_t n, struct err *err);
int tables_parse_lamps(struct tables *t, const char *text, size_t n, struct err *err);

/** Free what tables_parse_* allocated; *t may be zeroed or half filled. */
void tables_release(struct tables *t);

/** Row of a type by its name or one of its aliases, letter case ignored; NULL if unknown.
 *  Borrowed from *t. */
const struct tube_type *tables_tube(const struct tables *t, const char *name);
const struct lamp_type *tables_lamp(const struct tables *t, const char *name);

/** Up to `max` names near a misspelt one (one edit per three letters, two at most), nearest
 *  first, for messages; a row that is near through an alias is told by its own name.
 *  Returns how many; names are borrowed from *t. */
size_t tables_nearest_tubes(const struct tables *t, const char *name, const char **ret, size_t max);

#endif
