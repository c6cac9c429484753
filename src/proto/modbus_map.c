#include "mainstair/proto/modbus_map.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "mainstair/proto/scpi.h"

#define OWN(q, addr) [q] = { true, MODBUS_READ_INPUT, addr, MODBUS_F32, MODBUS_ABCD, 1 }
const struct modbus_map modbus_map_default = { {
	OWN(READING_VOLTS, 0),
	OWN(READING_AMPS, 2),
	OWN(READING_WATTS, 4),
	OWN(READING_VA, 6),
	OWN(READING_POWER_FACTOR, 8),
	OWN(READING_HERTZ, 10),
} };
#undef OWN

static const char *const order_words[] = {
	[MODBUS_ABCD] = "abcd",
	[MODBUS_CDAB] = "cdab",
	[MODBUS_BADC] = "badc",
	[MODBUS_DCBA] = "dcba",
};
static const char *const type_words[] = {
	[MODBUS_U16] = "u16", [MODBUS_S16] = "s16", [MODBUS_U32] = "u32", [MODBUS_S32] = "s32",
	[MODBUS_F32] = "float32",
};
enum { ORDERS = 4, TYPES = 5, WORD_MAX = 32 };

static int look_up(const char *word, const char *const *words, int n)
{
	for (int i = 0; i < n; i++)
		if (strcasecmp(word, words[i]) == 0)
			return i;
	return -1;
}

/* The next word of *text, cut to WORD_MAX - 1; "" at the end. */
static void next_word(const char **text, char word[WORD_MAX])
{
	size_t n;

	*text += strspn(*text, " \t");
	n = strcspn(*text, " \t");
	(void)snprintf(word, WORD_MAX, "%.*s", (int)n, *text);
	*text += n;
}

static int parse_address(const char *word, unsigned first_register, unsigned registers,
                         uint16_t *ret, struct err *err)
{
	bool hex = strncasecmp(word, "0x", 2) == 0;
	const char *digits = hex ? word + 2 : word;
	unsigned long n;

	if (*digits == 0 || strspn(digits, hex ? "0123456789abcdefABCDEF" : "0123456789") !=
	                            strlen(digits) || strlen(digits) > 6)
		return err_set(err, ERR_INPUT,
		               "'%s' is no register address; a decimal number or 0x and hex digits",
		               word);
	n = strtoul(digits, NULL, hex ? 16 : 10);
	if (n < first_register || n - first_register + registers > 65536)
		return err_set(err, ERR_INPUT, "register address %s is outside %u..%u", word,
		               first_register, 65536 - registers + first_register);
	*ret = (uint16_t)(n - first_register);
	return 0;
}

int modbus_register_parse(const char *text, unsigned first_register, struct modbus_register *ret,
                          struct err *err)
{
	char kind[WORD_MAX], address[WORD_MAX], word[WORD_MAX];
	struct modbus_register reg = { .present = true, .order = MODBUS_ABCD, .scale = 1 };
	int i;

	next_word(&text, kind);
	if (strcasecmp(kind, "input") == 0)
		reg.function = MODBUS_READ_INPUT;
	else if (strcasecmp(kind, "holding") == 0)
		reg.function = MODBUS_READ_HOLDING;
	else
		return err_set(err, ERR_INPUT,
		               "'%s': a register line begins with input or holding, "
		               "as in: input 0x0000 float32 abcd x 1",
		               kind);
	next_word(&text, address);
	next_word(&text, word);
	i = look_up(word, type_words, TYPES);
	if (i < 0)
		return err_set(err, ERR_INPUT,
		               "'%s' is no register type; one of u16, s16, u32, s32, "
		               "float32",
		               word);
	reg.type = (enum modbus_type)i;
	if (parse_address(address, first_register, (unsigned)modbus_type_registers(reg.type),
	                  &reg.address, err) < 0)
		return -1;

	next_word(&text, word);
	i = look_up(word, order_words, ORDERS);
	if (i >= 0) {
		reg.order = (enum modbus_order)i;
		next_word(&text, word);
	}
	if (word[0] == 'x' || word[0] == 'X') {
		const char *number = word + 1;
		char next[WORD_MAX];

		if (*number == 0) {
			next_word(&text, next);
			number = next;
		}
		if (scpi_parse_number(number, strlen(number), &reg.scale) != SCPI_NUMBER ||
		    !(fabs(reg.scale) >= 1e-9 && fabs(reg.scale) <= 1e9))
			return err_set(err, ERR_INPUT,
			               "'%s' is no scale; a number between 1e-9 and 1e9 "
			               "with a decimal point, as in: x 0.1",
			               number);
		next_word(&text, word);
	}
	if (word[0])
		return err_set(err, ERR_INPUT,
		               "'%s' was not expected; after the type may stand a word "
		               "order (abcd, cdab, badc, dcba) and x SCALE",
		               word);
	*ret = reg;
	return 0;
}

static unsigned end_of(const struct modbus_register *reg)
{
	return reg->address + (unsigned)modbus_type_registers(reg->type);
}

size_t modbus_map_blocks(const struct modbus_map *map, uint8_t unit, unsigned span,
                         struct modbus_query ret[MODBUS_BLOCKS_MAX])
{
	const struct modbus_register *sorted[READING_QUANTITIES];
	size_t n = 0, n_blocks = 0;

	for (int q = 0; q < READING_QUANTITIES; q++) {
		const struct modbus_register *reg = &map->at[q];
		size_t i = n;

		if (!reg->present)
			continue;
		for (; i > 0 && (sorted[i - 1]->function > reg->function ||
		                 (sorted[i - 1]->function == reg->function &&
		                  sorted[i - 1]->address > reg->address)); i--)
			sorted[i] = sorted[i - 1];
		sorted[i] = reg;
		n++;
	}
	for (size_t i = 0; i < n; i++) {
		struct modbus_query *last = n_blocks ? &ret[n_blocks - 1] : NULL;
		unsigned end = end_of(sorted[i]);

		if (last && last->function == sorted[i]->function &&
		    sorted[i]->address <= (unsigned)last->address + last->count + span &&
		    end - last->address <= MODBUS_REGISTERS_MAX) {
			if (end - last->address > last->count)
				last->count = (uint16_t)(end - last->address);
		} else {
			ret[n_blocks++] = (struct modbus_query){
			        unit, sorted[i]->function, sorted[i]->address,
			        (uint16_t)modbus_type_registers(sorted[i]->type)};
		}
	}
	return n_blocks;
}

static bool lies_in(const struct modbus_register *reg, unsigned first, unsigned count)
{
	return reg->present && reg->address >= first && end_of(reg) <= first + count;
}

/* A float of single precision as the decimal number that was meant: 26.9, not 26.89999961853. */
static double as_meant(double value)
{
	char digits[32];
	double meant;

	if (!isfinite(value))
		return value;
	for (int n = 6; n < 9; n++) {
		(void)snprintf(digits, sizeof digits, "%.*g", n, value);
		if (scpi_parse_number(digits, strlen(digits), &meant) == SCPI_NUMBER &&
		    !((float)meant < (float)value) && !((float)meant > (float)value))
			return meant;
	}
	return value;
}

void modbus_map_read(const struct modbus_map *map, const struct modbus_query *block,
                     const uint16_t *registers, struct reading *r)
{
	for (int q = 0; q < READING_QUANTITIES; q++) {
		const struct modbus_register *reg = &map->at[q];

		double value;

		if (reg->function != block->function || !lies_in(reg, block->address, block->count))
			continue;
		value = modbus_get(registers + (reg->address - block->address), reg->type,
		                   reg->order);
		if (reg->type == MODBUS_F32)
			value = as_meant(value);
		reading_set(r, (enum reading_quantity)q, reg->scale * value);
	}
}

void modbus_map_write(const struct modbus_map *map, const struct modbus_bank *bank,
                      uint16_t *registers, const struct reading *r)
{
	for (int q = 0; q < READING_QUANTITIES; q++) {
		const struct modbus_register *reg = &map->at[q];

		if (lies_in(reg, bank->first, bank->count))
			modbus_put(registers + (reg->address - bank->first), reg->type, reg->order,
			           reading_get(r, (enum reading_quantity)q) / reg->scale);
	}
}

/* What a mains meter could show, nought included (a line that is off).  The lower ends are far
 * below any meter's resolution: wrong word orders give 1e-8 or 1e+20, not 0.9 or 1000. */
static bool plausible(enum reading_quantity q, double value)
{
	double size = fabs(value);

	if (size < 1e-300)
		return true;
	switch (q) {
	case READING_VOLTS: return size >= 0.01 && size <= 300;
	case READING_AMPS: return size >= 1e-5 && size <= 40;
	case READING_WATTS:
	case READING_VA: return size >= 1e-4 && size <= 12000;
	case READING_POWER_FACTOR: return size >= 1e-4 && size <= 1.02;
	case READING_HERTZ: return size >= 10 && size <= 450;
	case READING_QUANTITIES: break;
	}
	return false;
}

/* Quantities of the block that would be absurd under `order` (-1: as the map has it). */
static int absurd_under(const struct modbus_map *map, const struct modbus_query *block,
                        const uint16_t *registers, int order)
{
	int n = 0;

	for (int q = 0; q < READING_QUANTITIES; q++) {
		const struct modbus_register *reg = &map->at[q];

		double value;

		if (reg->function != block->function || !lies_in(reg, block->address, block->count))
			continue;
		value = modbus_get(registers + (reg->address - block->address), reg->type,
		                   order < 0 ? reg->order : (enum modbus_order)order);
		n += !plausible((enum reading_quantity)q, reg->scale * value);
	}
	return n;
}

void modbus_map_suspect(const struct modbus_map *map, const struct modbus_query *block,
                        const uint16_t *registers, char ret[READING_WHY_MAX])
{
	int now = absurd_under(map, block, registers, -1), best = -1, best_absurd = now;

	ret[0] = 0;
	for (int order = 0; order < ORDERS && now > 0; order++) {
		int absurd = absurd_under(map, block, registers, order);

		if (absurd < best_absurd) {
			best_absurd = absurd;
			best = order;
		}
	}
	if (best >= 0 && best_absurd == 0)
		(void)snprintf(ret, READING_WHY_MAX,
		               "absurd values, but plausible ones in word order "
		               "%s: try %s in the register lines",
		               order_words[best], order_words[best]);
}
