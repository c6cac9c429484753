/*
 * core/care/reform_limits.c - what published rules allow a capacitor to leak
 *
 * All rules take the RATED capacitance and voltage, whatever is applied (a maker's answer,
 * second hand).
 */
#include <math.h>

#include "mainstair/base/text.h"
#include "mainstair/core/reform.h"

const struct reform_rule_info reform_rules[REFORM_RULES] = {
	[REFORM_OLDER] = {
		"older", "the old rule",
		"k C + 0.3 mA (k 0.01 to 100 V, 0.02 to 250, 0.025 to 350, 0.04 to 500), "
		"10 mA at most", 5,
		"JAN-C-62, the EIA rule the same, as quoted in two lists; capacitor analyser manual "
		"TO-05, its table reproduced; read after 5 min: MIL-C-62F, 4.5.3", BASIS_SECOND_HAND },
	[REFORM_CV_1] = {
		"cv-0.01", "today's 0.01 C V",
		"0.01 C V uA or 3 uA, the greater", 2,
		"data sheet of a series of small cans, doc. 28309, 16-Nov-05, p. 100", BASIS_READ },
	[REFORM_CV_3] = {
		"cv-0.03", "today's 0.03 C V",
		"0.03 C V + 3 uA", 5,
		"data sheet of a general-purpose series (SN), 25 C", BASIS_READ },
	[REFORM_CV_02] = {
		"cv-0.002", "today's 0.002 C V",
		"0.002 C V + 3 uA", 5,
		"data sheet of a series of small cans, doc. 28309, 16-Nov-05, p. 100", BASIS_READ },
	[REFORM_UK_1968] = {
		"uk-1968", "a UK table of 1968",
		"0.08 C V + 100 uA below 100 V, 0.05 C V + 250 uA above", 10,
		"a UK distributor's table of 1968 for new stock, as quoted (perhaps at 70 C)",
		BASIS_SECOND_HAND },
	[REFORM_ROOT_CV] = {
		"root-cv", "today's 3 root(C V)",
		"3 root(C V) uA", 5, "modern data sheets after IEC 60384-4",
		BASIS_FROM_MEMORY },
	[REFORM_POWER_CV] = {
		"power-cv", "today's 0.3 (C V)^0.7",
		"0.3 (C V)^0.7 + 4 uA", 5, "modern data sheets after IEC 60384-4",
		BASIS_FROM_MEMORY },
};

/* k of the older rule, mA for each uF; NAN above its last class.  One list ends that class at 450
 * V, the printed table at 500. */
static double older_factor(double volts)
{
	static const struct {
		double most_volts, factor;
	} classes[] = { { 100.0, 0.01 }, { 250.0, 0.02 }, { 350.0, 0.025 }, { 500.0, 0.04 } };

	for (size_t i = 0; i < sizeof classes / sizeof *classes; i++)
		if (volts <= classes[i].most_volts)
			return classes[i].factor;
	return (double)NAN;
}

/* The table stops at 10 mA where the formula goes on. */
static double older_milliamps(double microfarad, double volts)
{
	const double factor = older_factor(volts);

	return isnan(factor) ? (double)NAN : fmin(factor * microfarad + 0.3, 10.0);
}

/* At 100 V itself, which the table leaves open, the stricter half. */
static double uk_1968_microamps(double cv, double volts)
{
	const double below = 0.08 * cv + 100.0, above = 0.05 * cv + 250.0;

	if (volts < 100.0)
		return below;
	return volts > 100.0 ? above : fmin(below, above);
}

double reform_limit_amps(enum reform_rule rule, const struct reform_part *part)
{
	const double microfarad = part->farad * 1e6, cv = microfarad * part->volts;

	if (!(part->farad > 0.0) || !(part->volts > 0.0) || !isfinite(cv))
		return (double)NAN;
	switch (rule) {
	case REFORM_OLDER:
		return older_milliamps(microfarad, part->volts) * 1e-3;
	case REFORM_CV_1:
		return fmax(0.01 * cv, 3.0) * 1e-6;
	case REFORM_CV_3:
		return (0.03 * cv + 3.0) * 1e-6;
	case REFORM_CV_02:
		return (0.002 * cv + 3.0) * 1e-6;
	case REFORM_UK_1968:
		return uk_1968_microamps(cv, part->volts) * 1e-6;
	case REFORM_ROOT_CV:
		return 3.0 * sqrt(cv) * 1e-6;
	case REFORM_POWER_CV:
		return (0.3 * pow(cv, 0.7) + 4.0) * 1e-6;
	case REFORM_RULES:
		break;
	}
	return (double)NAN;
}

int reform_rule_from_word(const char *word)
{
	for (int rule = 0; rule < REFORM_RULES; rule++)
		if (text_same(word, reform_rules[rule].name))
			return rule;
	return -1;
}
