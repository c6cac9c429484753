/* Register maps: lines of a bench file, grouping into queries, values, suspected word order. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "mainstair/proto/modbus_map.h"

TestSuite(modbus_map, .timeout = 20);

Test(modbus_map, good_lines)
{
	struct modbus_register r;
	struct err err = { 0 };

	cr_assert(modbus_register_parse("input 0x000C float32 cdab x 1", 0, &r, &err) == 0);
	cr_assert(r.present && r.function == 4 && r.address == 12 && r.type == MODBUS_F32);
	cr_assert(r.order == MODBUS_CDAB && r.scale == 1);
	cr_assert(modbus_register_parse("  HOLDING  13   u16   x0.1 ", 0, &r, &err) == 0);
	cr_assert(r.function == 3 && r.address == 13 && r.type == MODBUS_U16);
	cr_assert(r.order == MODBUS_ABCD && r.scale == 0.1);
	cr_assert(modbus_register_parse("input 7 s32 DCBA X -1E-3", 0, &r, &err) == 0);
	cr_assert(r.order == MODBUS_DCBA && r.scale == -0.001);
	/* V1.1b3 6.3: register N of the manual is sent as N-1 */
	cr_assert(modbus_register_parse("holding 108 u16", 1, &r, &err) == 0);
	cr_assert(r.address == 107);
	cr_assert(modbus_register_parse("holding 65535 u16", 0, &r, &err) == 0);
	cr_assert(modbus_register_parse("holding 65536 u16", 1, &r, &err) == 0);
	cr_assert(r.address == 65535);
}

Test(modbus_map, bad_lines_say_what_is_wrong)
{
	static const struct {
		const char *text, *expect;
	} rows[] = {
		{ "", "input or holding" },
		{ "coil 1 u16", "input or holding" },
		{ "input", "register type" },
		{ "input 12", "register type" },
		{ "input twelve u16", "register address" },
		{ "input -1 u16", "register address" },
		{ "input 0x u16", "register address" },
		{ "input 0xZZ u16", "register address" },
		{ "input 1.5 u16", "register address" },
		{ "input 99999999999999999999 u16", "register address" },
		{ "input 65535 float32", "outside" },
		{ "input 65536 u16", "outside" },
		{ "input 12 float64", "register type" },
		{ "input 12 u16 abdc", "not expected" },
		{ "input 12 u16 x", "no scale" },
		{ "input 12 u16 x 0", "no scale" },
		{ "input 12 u16 x 0,1", "decimal point" },
		{ "input 12 u16 x nan", "no scale" },
		{ "input 12 u16 x 1e12", "no scale" },
		{ "input 12 u16 x 1 more", "not expected" },
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct modbus_register r = { .address = 4711 };
		struct err err = { 0 };

		cr_assert(modbus_register_parse(rows[i].text, 0, &r, &err) == -1, "%s",
		          rows[i].text);
		cr_assert(strstr(err.text, rows[i].expect), "%s: %s", rows[i].text, err.text);
		cr_assert(r.address == 4711);
	}
	struct modbus_register r;
	struct err err;
	cr_assert(modbus_register_parse("input 0 u16", 1, &r, &err) == -1);
}

Test(modbus_map, blocks)
{
	struct modbus_map map = { 0 };
	struct modbus_query block[MODBUS_BLOCKS_MAX];

	cr_assert(modbus_map_blocks(&modbus_map_default, 7, 0, block) == 1);
	cr_assert(block[0].unit == 7 && block[0].function == 4 && block[0].address == 0);
	cr_assert(block[0].count == 12);

	map.at[READING_WATTS] = (struct modbus_register){ true, 4, 12, MODBUS_F32, MODBUS_ABCD, 1 };
	map.at[READING_VOLTS] = (struct modbus_register){ true, 4, 0, MODBUS_F32, MODBUS_ABCD, 1 };
	map.at[READING_AMPS] = (struct modbus_register){ true, 4, 6, MODBUS_F32, MODBUS_ABCD, 1 };
	cr_assert(modbus_map_blocks(&map, 1, 0, block) == 3);
	cr_assert(block[0].address == 0 && block[1].address == 6 && block[2].address == 12);
	cr_assert(modbus_map_blocks(&map, 1, 4, block) == 1);
	cr_assert(block[0].address == 0 && block[0].count == 14);
	/* another function is another query, and so is what one query cannot hold */
	map.at[READING_AMPS].function = 3;
	cr_assert(modbus_map_blocks(&map, 1, 200, block) == 2);
	map.at[READING_WATTS].address = 124;
	cr_assert(modbus_map_blocks(&map, 1, 200, block) == 3);
	map.at[READING_WATTS].address = 123;
	cr_assert(modbus_map_blocks(&map, 1, 200, block) == 2);
	/* two quantities of one register */
	map = (struct modbus_map){ 0 };
	map.at[READING_WATTS] = (struct modbus_register){ true, 4, 5, MODBUS_U16, MODBUS_ABCD, 1 };
	map.at[READING_VA] = map.at[READING_WATTS];
	cr_assert(modbus_map_blocks(&map, 1, 0, block) == 1 && block[0].count == 1);
}

Test(modbus_map, write_and_read_back)
{
	struct modbus_map map = modbus_map_default;
	uint16_t registers[12] = { 0 };
	struct modbus_bank bank = { 0, 12, registers };
	struct modbus_query block[MODBUS_BLOCKS_MAX];
	struct reading told, got;

	map.at[READING_AMPS] = (struct modbus_register){true, 4, 2, MODBUS_U16, MODBUS_BADC, 0.001};
	map.at[READING_WATTS] =
	        (struct modbus_register){true, 4, 4, MODBUS_S32, MODBUS_CDAB, -0.01};
	reading_clear(&told);
	reading_set(&told, READING_VOLTS, 117.5);
	reading_set(&told, READING_AMPS, 0.241);
	reading_set(&told, READING_WATTS, 26.93);
	modbus_map_write(&map, &bank, registers, &told);
	cr_assert(modbus_map_blocks(&map, 1, 1, block) == 1);
	reading_clear(&got);
	modbus_map_read(&map, &block[0], registers, &got);
	cr_assert(reading_get(&got, READING_VOLTS) == 117.5);
	cr_assert(fabs(reading_get(&got, READING_AMPS) - 0.241) < 1e-9);
	cr_assert(fabs(reading_get(&got, READING_WATTS) - 26.93) < 1e-9);
	/* not told: NaN in a float register, and a NaN is no value */
	cr_assert(got.at[READING_HERTZ].state == VALUE_NAN);
	cr_assert(isnan(reading_get(&got, READING_HERTZ)));
}

Test(modbus_map, floats_as_they_were_meant)
{
	static const double values[] = {26.9,     117.2, 0.0241, 230.2,  1e-5,
	                                12345.67, 0,     -3.3,   8388609};
	struct modbus_query block = { 1, MODBUS_READ_INPUT, 0, 2 };

	for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
		uint16_t registers[2];
		struct reading r;

		modbus_put(registers, MODBUS_F32, MODBUS_ABCD, values[i]);
		reading_clear(&r);
		modbus_map_read(&modbus_map_default, &block, registers, &r);
		cr_assert(reading_get(&r, READING_VOLTS) == values[i], "%.17g",
		          reading_get(&r, READING_VOLTS));
	}
}

Test(modbus_map, wrong_word_order_is_suspected)
{
	struct modbus_map map = modbus_map_default;
	uint16_t registers[12] = { 0 };
	struct modbus_bank bank = { 0, 12, registers };
	struct modbus_query block[MODBUS_BLOCKS_MAX];
	struct reading told;
	char why[READING_WHY_MAX];

	map.at[READING_VA].present = map.at[READING_POWER_FACTOR].present = false;
	map.at[READING_HERTZ].present = false;
	reading_clear(&told);
	reading_set(&told, READING_VOLTS, 117.3);
	reading_set(&told, READING_AMPS, 0.241);
	reading_set(&told, READING_WATTS, 26.9);
	modbus_map_blocks(&map, 1, 0, block);
	for (int sent = MODBUS_ABCD; sent <= MODBUS_DCBA; sent++) {
		static const char *const words[] = { "abcd", "cdab", "badc", "dcba" };

		for (int q = 0; q < 3; q++)
			map.at[q].order = (enum modbus_order)sent;
		modbus_map_write(&map, &bank, registers, &told);
		for (int q = 0; q < 3; q++)
			map.at[q].order = MODBUS_ABCD;
		modbus_map_suspect(&map, &block[0], registers, why);
		if (sent == MODBUS_ABCD)
			cr_assert_str_eq(why, "");
		else
			cr_assert(strstr(why, words[sent]), "%s: %s", words[sent], why);
	}
	/* a line that is off is no reason for suspicion */
	memset(registers, 0, sizeof registers);
	modbus_map_suspect(&map, &block[0], registers, why);
	cr_assert_str_eq(why, "");
	/* nor does noise that no order makes sense of accuse the order */
	memset(registers, 0xff, sizeof registers);
	modbus_map_suspect(&map, &block[0], registers, why);
	cr_assert_str_eq(why, "");
}
