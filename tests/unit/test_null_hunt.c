/*
 * Null hunting on bridges computed from complex arithmetic.  Someone turns each control for the
 * least reading, as well as the scale and the noise let them; what the program says is held against
 * where the null is by theory (B. Hague, Alternating Current Bridge Methods, from memory).
 */
#include <complex.h>
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/null_hunt.h"

TestSuite(null_hunt, .timeout = 60);

enum { ENTRIES_MAX = 200 };

static bool near(double a, double b, double by)
{
	return fabs(a - b) <= by;
}

/* A bridge with two controls, and a meter with a floor. */
struct bench {
	double complex (*unbalance)(double a, double b);
	double a, b;         /* where the controls stand */
	double step;         /* what the hand can do */
	double floor, noise; /* volts that never go away; share by which it flickers */
	unsigned seed;
};

static double rough(unsigned *seed)
{
	*seed = *seed * 1664525u + 1013904223u;
	return (double)(*seed >> 8) / (double)(1u << 23) - 1;
}

static double meter(struct bench *q, double a, double b)
{
	return hypot(cabs(q->unbalance(a, b)), q->floor * (1 + q->noise * rough(&q->seed)));
}

/* Turn one control to and fro in ever smaller steps; returns the reading where it is left. */
static double turn(struct bench *q, double *control)
{
	for (double step = 0.1; step >= q->step; step /= 2) {
		for (int i = 0; i < 40; i++) {
			const double here = meter(q, q->a, q->b), was = *control;

			*control = was * (1 + step);
			if (meter(q, q->a, q->b) < here)
				continue;
			*control = was * (1 - step);
			if (meter(q, q->a, q->b) < here)
				continue;
			*control = was;
			break;
		}
	}
	return meter(q, q->a, q->b);
}

static size_t hunt_for(struct bench *q, int rounds, struct entry *e)
{
	size_t n = 0;

	e[n++] = (struct entry){.kind = ENTRY_NULL,
	                        .subject = "Ra",
	                        .word = "bridge",
	                        .note = "",
	                        .number = {meter(q, q->a, q->b), q->a, NAN, NAN}};
	for (int i = 0; i < 2 * rounds; i++) {
		double *control = i % 2 ? &q->a : &q->b;
		const double reads = turn(q, control);

		e[n++] = (struct entry){.utc_s = (double)i,
		                        .kind = ENTRY_NULL,
		                        .subject = i % 2 ? "Ra" : "Rb",
		                        .word = "bridge",
		                        .note = "",
		                        .number = {reads, *control, NAN, NAN}};
	}
	return n;
}

static struct profile *with_null(double below)
{
	struct profile *p = calloc(1, sizeof *p);

	cr_assert(p);
	p->n_nulls = 1;
	p->nulls[0] = (struct profile_null){.name = "bridge",
	                                    .n_controls = 2,
	                                    .unit = UNIT_VOLT,
	                                    .written = "mV",
	                                    .scale = 1e-3,
	                                    .below = below};
	strcpy(p->nulls[0].control[0], "Ra");
	strcpy(p->nulls[0].control[1], "Rb");
	return p;
}

/* Wien bridge at 1 kHz: series arm a and 10 nF, shunt arm 15.915 kohm and 10 nF, ratio arm b (its
 * share of the drive).  Null where w^2 R1 R2 C1 C2 = 1, a = 15.915 kohm, and b = 1/(1 + R1/R2 +
 * C2/C1) = 1/3. */
static const double wien_r = 15915.494;

static double complex wien(double a, double b)
{
	const double w = 2 * acos(-1) * 1000, c = 10e-9;
	const double complex series = a * wien_r + 1 / (I * w * c);
	const double complex shunt = 1 / (1 / wien_r + I * w * c);

	return shunt / (series + shunt) - b / 3;
}

/* The bridge itself, away from its null: an ac analysis of the same circuit by ngspice-39. */
Test(null_hunt, wien_bridge_as_simulated)
{
	cr_assert(near(cabs(wien(1.3, 0.8)), 4.352417e-2, 1e-8));
}

Test(null_hunt, wien_bridge_down_to_its_noise)
{
	struct entry e[ENTRIES_MAX];
	struct bench q = {.unbalance = wien,
	                  .a = 1.3,
	                  .b = 0.8,
	                  .step = 1e-5,
	                  .floor = 2e-5,
	                  .noise = 0.02,
	                  .seed = 1};
	struct profile *p = with_null(1e-6);
	struct null_hunt *h = calloc(1, sizeof *h);
	const size_t n = hunt_for(&q, 20, e);
	bool fell = false;

	for (size_t k = 5; k <= n; k++) {
		null_hunt_make(h, p, "bridge", e, k);
		fell |= h->state == NULL_FALLING;
		cr_assert(!fell || h->state != NULL_TOO_FEW);
		/* never called wandering while a factor of two is still to be had */
		if (h->state == NULL_WANDERING)
			cr_assert(h->best < 2 * q.floor, "%zu: %g", k, h->best);
	}
	cr_assert(fell && h->state == NULL_WANDERING && h->idle_rounds >= 2);
	cr_assert(near(h->best, q.floor, 0.2 * q.floor), "%g", h->best);
	cr_assert(isnan(h->rounds_to_go), "no promise while it wanders");
	/* turning R1 moves it by -(1 + j)/9 of the drive, turning b by -1/3: 45 degrees, half a
	 * round */
	null_hunt_make(h, p, "bridge", e, 15);
	cr_assert(near(h->rate, 0.5, 0.03), "%g", h->rate);
	null_hunt_make(h, p, "bridge", e, n);
	/* where the null is by theory */
	cr_assert(near(h->control[0].best_position, 1, 1e-3), "%g", h->control[0].best_position);
	cr_assert(near(h->control[1].best_position, 1, 1e-3));
	cr_assert(h->n_controls == 2 && h->rounds >= 19 && h->foreign == 0);
	free(h);
	free(p);
}

/* Near its null any bridge is u = A da + B db with complex A, B at an angle t; each turn leaves the
 * part of the rest at right angles, so a round multiplies by cos(t)^2 ("convergence").  At 30
 * degrees a sliding null: 0.75 a round. */
static double slope_angle;

static double complex sliding(double a, double b)
{
	return (a - 1) + (b - 1) * cexp(I * slope_angle);
}

Test(null_hunt, rate_of_a_sliding_null)
{
	static const double degrees[] = {30, 45, 60};

	for (size_t i = 0; i < 3; i++) {
		struct entry e[ENTRIES_MAX];
		struct bench q = {.unbalance = sliding,
		                  .a = 1.5,
		                  .b = 0.7,
		                  .step = 1e-8,
		                  .floor = 0,
		                  .seed = 1};
		struct profile *p = with_null(1e-3);
		struct null_hunt *h = calloc(1, sizeof *h);
		double expected;
		size_t n;

		slope_angle = degrees[i] * acos(-1) / 180;
		expected = pow(cos(slope_angle), 2);
		n = hunt_for(&q, 4, e);
		null_hunt_make(h, p, "bridge", e, n);
		cr_assert(h->state == NULL_FALLING);
		cr_assert(near(h->rate, expected, 0.03), "%g degrees: %g", degrees[i], h->rate);
		cr_assert(near(h->rounds_to_go, log(1e-3 / h->best) / log(h->rate), 1e-9));
		/* and it is there when that was foretold */
		n = hunt_for(&q, (int)ceil(h->rounds_to_go) + 1, e);
		null_hunt_make(h, p, "bridge", e, n);
		cr_assert(h->state == NULL_REACHED, "%g degrees: %g", degrees[i], h->best);
		free(h);
		free(p);
	}
}

/* ---- what is kept ---- */

static struct entry put(const char *control, double reads, double position)
{
	return (struct entry){.kind = ENTRY_NULL,
	                      .subject = control,
	                      .word = "bridge",
	                      .note = "",
	                      .number = {reads, position, NAN, NAN}};
}

Test(null_hunt, best_and_the_way_back)
{
	struct profile *p = with_null(NAN);
	struct null_hunt *h = calloc(1, sizeof *h);
	char text[NULL_TEXT_MAX];
	const struct entry e[] = {put("Ra", 0.1, 40),  put("Rb", 0.05, 12), put("ra", 0.02, 41.5),
	                          put("Rb", 0.03, 14), put("Ra", 0.04, 43), put("Rb", 0.2, NAN)};

	null_hunt_make(h, p, "bridge", e, 3);
	cr_assert(h->best_entry == 2 && near(h->best, 0.02, 0) && h->gained_last == 0);
	cr_assert_str_eq(null_way_back(h, text, sizeof text), "");
	null_hunt_make(h, p, "bridge", e, 5);
	cr_assert(h->best_entry == 2 && near(h->last, 0.04, 0));
	cr_assert_str_eq(null_way_back(h, text, sizeof text),
	                 "Ra to 41.5 (now 43), Rb to 12 (now 14)");
	null_hunt_make(h, p, "bridge", e, 6);
	cr_assert_str_eq(null_way_back(h, text, sizeof text), "Ra to 41.5 (now 43), Rb to 12");
	cr_assert_str_eq(null_print(h, h->best, text, sizeof text), "20 mV");
	/* a control that was moved before the best without saying where to */
	{
		const struct entry lost[] = {put("Rb", 0.1, 12), put("Rb", 0.08, NAN),
		                             put("Ra", 0.05, 40), put("Rb", 0.06, 20)};

		null_hunt_make(h, p, "bridge", lost, 4);
		cr_assert(isnan(h->control[1].best_position));
		cr_assert_str_eq(null_way_back(h, text, sizeof text),
		                 "Rb (turned 1 time since; where it stood was not told)");
	}
	free(h);
	free(p);
}

Test(null_hunt, rounds_end_when_a_control_comes_up_again)
{
	struct profile *p = with_null(NAN);
	struct null_hunt *h = calloc(1, sizeof *h);
	const struct entry e[] = {put("Ra", 100, NAN), put("Ra", 80, NAN), put("Ra", 90, NAN),
	                          put("Rb", 50, NAN),  put("Rb", 40, NAN), put("Ra", 30, NAN),
	                          put("Rb", 39, NAN),  put("Ra", 39, NAN), put("Rb", 39, NAN)};

	null_hunt_make(h, p, "bridge", e, 3);
	cr_assert(h->rounds == 0 && h->state == NULL_TOO_FEW);
	null_hunt_make(h, p, "bridge", e, 5);
	cr_assert(h->rounds == 1 && near(h->round[0].lowest, 40, 0));
	cr_assert(near(h->round[0].change, 0.4, 1e-12), "from the first reading");
	null_hunt_make(h, p, "bridge", e, 6);
	cr_assert(h->rounds == 1);
	null_hunt_make(h, p, "bridge", e, 7);
	cr_assert(h->rounds == 2 && near(h->round[1].change, 0.75, 1e-12));
	cr_assert(h->state == NULL_FALLING);
	null_hunt_make(h, p, "bridge", e, 9);
	cr_assert(h->rounds == 3 && near(h->round[2].change, 1.3, 1e-12));
	cr_assert(h->state == NULL_SLOWING && h->gained_last == 0);
	free(h);
	free(p);
}

/* In dB a reading twenty lower is a tenth; a galvanometer may read below nought. */
Test(null_hunt, levels_and_signs)
{
	struct profile *p = with_null(-60);
	struct null_hunt *h = calloc(1, sizeof *h);
	const struct entry level[] = {put("Ra", -10, NAN), put("Rb", -20, NAN), put("Ra", -40, NAN),
	                              put("Rb", -40, NAN)};
	const struct entry sign[] = {put("x", -50, NAN), put("y", 20, NAN), put("x", -3, NAN)};

	p->nulls[0].unit = UNIT_DECIBEL;
	p->nulls[0].scale = 1;
	null_hunt_make(h, p, "bridge", level, 4);
	cr_assert(near(h->best, -40, 0) && h->rounds == 2);
	cr_assert(near(h->round[1].change, 0.1, 1e-9), "%g", h->round[1].change);
	p->n_nulls = 0;
	null_hunt_make(h, p, "bridge", sign, 3);
	cr_assert(h->profile == NULL && near(h->best, -3, 0) && h->n_controls == 2);
	free(h);
	free(p);
}

Test(null_hunt, odd_entries)
{
	struct profile *p = with_null(NAN);
	struct null_hunt *h = calloc(1, sizeof *h);
	struct entry e[8];
	const char *names[4];

	e[0] = put("Ra", NAN, NAN);
	e[1] = put("Ra", INFINITY, NAN);
	for (int i = 2; i < 6; i++) {
		static const char *const controls[] = {"a", "b", "c", "d"};

		e[i] = put(controls[i - 2], 1, NAN);
	}
	e[6] = put("Ra", 0, NAN);
	e[7] = put("Rb", 0, NAN);
	e[7].word = "other";
	null_hunt_make(h, p, "bridge", e, 8);
	cr_assert(h->entries == 3 && h->foreign == 2, "two of the profile, two more fit");
	cr_assert(near(h->best, 0, 0) && h->n_controls == NULL_CONTROLS_MAX);
	cr_assert(null_names(p, e, 8, names, 4) == 2);
	cr_assert_str_eq(names[0], "bridge");
	cr_assert_str_eq(names[1], "other");
	null_hunt_make(h, p, "none such", e, 0);
	cr_assert(h->entries == 0 && isnan(h->best) && h->state == NULL_TOO_FEW);
	free(h);
	free(p);
}

/* ---- typed lines ---- */

static enum entry_line type(const struct null_hunt *h, const char *line, struct entry_draft *d,
                            char echo[200])
{
	entry_draft_init(d, ENTRY_NULL);
	return null_understand(h, line, d, echo);
}

Test(null_hunt, typed_lines)
{
	struct profile *p = with_null(2e-3);
	struct null_hunt *h = calloc(1, sizeof *h);
	struct entry_draft d;
	char echo[200];
	const struct entry e[] = {put("Ra", 0.1, 40)};

	null_hunt_make(h, p, "bridge", e, 1);
	cr_assert(type(h, "45", &d, echo) == ENTRY_LINE_TAKEN, "%s", echo);
	cr_assert_str_eq(d.entry.subject, "Rb", "the next in turn");
	cr_assert_str_eq(d.entry.word, "bridge");
	cr_assert(near(d.entry.number[0], 0.045, 1e-12) && isnan(d.entry.number[1]));
	cr_assert_str_eq(echo, "45 mV after turning Rb");
	cr_assert(type(h, "ra 41.5: 0.05 V", &d, echo) == ENTRY_LINE_TAKEN, "%s", echo);
	cr_assert_str_eq(d.entry.subject, "Ra");
	cr_assert(near(d.entry.number[0], 0.05, 1e-12) && near(d.entry.number[1], 41.5, 0));
	cr_assert_str_eq(echo, "50 mV after turning Ra at 41.5");
	cr_assert(type(h, "Rb at 12 45", &d, echo) == ENTRY_LINE_TAKEN, "%s", echo);
	cr_assert(near(d.entry.number[0], 0.045, 1e-12) && near(d.entry.number[1], 12, 0));
	cr_assert(type(h, "C9 45", &d, echo) == ENTRY_LINE_ASK, "not in the profile");
	cr_assert(type(h, "Ra 4500", &d, echo) == ENTRY_LINE_ASK, "45 times more");
	cr_assert(type(h, "Ra", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(h, "Ra 4,5", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(h, "Ra 3 ohm", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(h, "Ra x: 3", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(h, "", &d, echo) == ENTRY_LINE_WRONG);
	/* of a null that the profile does not know: plain numbers, and the control is named */
	p->n_nulls = 0;
	null_hunt_make(h, p, "bridge", NULL, 0);
	cr_assert(type(h, "3.2", &d, echo) == ENTRY_LINE_WRONG);
	cr_assert(type(h, "R5 3.2", &d, echo) == ENTRY_LINE_TAKEN);
	cr_assert(type(h, "R5 3.2 mV", &d, echo) == ENTRY_LINE_WRONG);
	free(h);
	free(p);
}

Test(null_hunt, advice)
{
	struct profile *p = with_null(2e-3);
	struct null_hunt *h = calloc(1, sizeof *h);
	char text[NULL_TEXT_MAX];
	const struct entry e[] = {
	        put("Ra", 0.1, NAN),    put("Rb", 0.04, NAN),   put("Ra", 0.03, NAN),
	        put("Rb", 0.0199, NAN), put("Ra", 0.0199, NAN), put("Rb", 0.0199, NAN),
	        put("Ra", 0.0199, NAN), put("Rb", 0.0198, NAN), put("Ra", 0.001, NAN)};

	null_hunt_make(h, p, "bridge", e, 4);
	cr_assert_str_eq(null_advice(h, text, sizeof text),
	                 "still falling: the last round took it to 50 % of what it was; at this "
	                 "rate 3 more rounds to 2 mV; Rb gained last");
	null_hunt_make(h, p, "bridge", e, 6);
	cr_assert(strstr(null_advice(h, text, sizeof text), "smaller steps"));
	null_hunt_make(h, p, "bridge", e, 8);
	cr_assert_str_eq(null_advice(h, text, sizeof text),
	                 "the last 2 rounds only wander: 19.8 mV is as low as it goes here; Rb "
	                 "gained last");
	null_hunt_make(h, p, "bridge", e, 9);
	cr_assert_str_eq(null_advice(h, text, sizeof text),
	                 "reached: 1 mV, where 2 mV was asked; Ra gained last");
	free(h);
	free(p);
}
