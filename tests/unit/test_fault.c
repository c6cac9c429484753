/*
 * Faults by words: what is understood, what it changes, what is refused.
 */
#include <criterion/criterion.h>
#include <math.h>

#include "bench_units.h"
#include "mainstair/core/fault.h"

TestSuite(fault, .timeout = 20);

static void apply(struct network *net, const char *words)
{
	struct err err = { 0 };

	cr_assert(fault_apply(net, words, &err) == 0, "%s: %s", words, err.text);
}

Test(fault, each_moves_its_own_field)
{
	struct network *net = unit_oscillator();

	apply(net, "primary short 200 ohm");
	cr_assert(net->line_shunt_siemens == 1 / 200.0);
	apply(net, "primary short 0.5");
	cr_assert(net->line_shunt_siemens == 2);
	apply(net, "turn 15 W");
	cr_assert(fabs(net->turn_siemens * net->emf_rated * net->emf_rated - 15) < 1e-9);
	apply(net, "heater heater short 1 ohm");
	cr_assert(net->windings[0].short_siemens == 1);
	apply(net, "heater PLATE short 4k7");
	cr_assert(net->windings[1].short_siemens == 1 / 4700.0);
	apply(net, "open v3");
	cr_assert(net->heaters[2].open && !net->heaters[1].open);
	apply(net, "open I2");
	cr_assert(net->heaters[5].open);
	apply(net, "rail main leak 10k");
	cr_assert(net->rails[0].leak_siemens == 1e-4);
	apply(net, "rail main short");
	cr_assert(net->rails[0].leak_siemens == 1);
	apply(net, "  Rail\tMAIN  short 0.1 ohm ");
	cr_assert(net->rails[0].leak_siemens == 10);
	apply(net, "rail screen load 2.5");
	cr_assert(net->rails[1].load_factor == 2.5);
	apply(net, "rail steady dead");
	cr_assert(net->rails[2].dead && !net->rails[0].dead);
	apply(net, "plate V3 short");
	cr_assert(net->rails[0].plate_short_siemens == 1);
	apply(net, "plate main short 1 kohm");
	cr_assert(net->rails[0].plate_short_siemens == 1e-3);
	free(net);
}

Test(fault, what_makes_no_sense_changes_nothing)
{
	static const char *const rows[] = {
		"", " ", "short", "primary", "primary short", "primary short 0", "primary short -5",
		"primary short 5 W", "primary short nan", "primary short 1,5", "turn", "turn 5 ohm",
		"turn 0 W", "heater heater", "heater heater short", "heater nowhere short 1",
		"heater heater open 1", "open", "open V9", "open V1 V2", "rail", "rail main",
		"rail nowhere short", "rail main leak", "rail main load", "rail main load 2 ohm",
		"rail main dead 5", "rail main melted", "plate V1 short", "plate screen short",
		"plate V3", "rail main short 1 ohm and some more", "one two three four five six seven "
		"eight nine", "rail \033[2J short",
		"rail aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"
		"aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa short",
	};
	struct network *net = unit_oscillator(), *before = unit_oscillator();

	for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
		struct err err = { 0 };
		cr_assert(fault_apply(net, rows[k], &err) == -1, "\"%s\"", rows[k]);
		cr_assert(err.code == ERR_INPUT && err.text[0]);
		cr_assert(!strpbrk(err.text, "\n\033\t"), "%s", err.text);
		cr_assert(memcmp(net, before, sizeof *net) == 0, "\"%s\" changed it", rows[k]);
	}
	free(before);
	free(net);
}

Test(fault, a_wrong_name_is_told_the_right_ones)
{
	struct network *net = unit_oscillator();
	struct err err = { 0 };

	cr_assert(fault_apply(net, "rail mian short", &err) == -1);
	cr_assert(strstr(err.text, "main, screen, steady"), "%s", err.text);
	cr_assert(fault_apply(net, "plate V1 short", &err) == -1);
	cr_assert(strstr(err.text, "V3") && strstr(err.text, "main"), "%s", err.text);
	cr_assert(fault_apply(net, "heater V1 short 1", &err) == -1);
	cr_assert(strstr(err.text, "heater, plate"), "%s", err.text);
	free(net);
	net = unit_string_radio();
	cr_assert(fault_apply(net, "turn 5 W", &err) == -1);
	cr_assert(strstr(err.text, "no transformer"), "%s", err.text);
	cr_assert(fault_apply(net, "heater x short 1", &err) == -1);
	cr_assert(strstr(err.text, "none"), "%s", err.text);
	free(net);
}

Test(fault, help_lists_each)
{
	cr_assert(n_fault_help == 9);
	for (size_t k = 0; k < n_fault_help; k++)
		cr_assert(fault_help[k].words[0] && fault_help[k].meaning[0]);
}
