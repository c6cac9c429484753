/*
 * core/job.c - phases, progress, and what blocks power, from the profile and the entries
 *
 * Blocks are collected by one function of the first so many entries.  Whether an override still
 * holds is then asked of the same function: what did it say when the override was entered?
 */
#include "mainstair/core/job.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/core/calibrate.h"
#include "mainstair/core/compare.h"
#include "mainstair/core/desk.h"
#include "mainstair/core/look.h"
#include "mainstair/core/null_hunt.h"
#include "mainstair/core/ohms_results.h"
#include "mainstair/core/tube_test.h"

/* What must be known of the unit to judge its entries; made once. */
struct rules {
	const struct profile *profile;
	struct look_list looks;
	struct tube_list tubes;
	struct ohms_list ohms;
};

struct blocks {
	struct job_block block[JOB_BLOCKS_MAX];
	int left[JOB_BLOCKS_MAX]; /* of a phase that is not done: how many are left; else -1 */
	int n;
	bool cut;
};

const char *job_phase_word(enum job_phase phase)
{
	static const char *const words[] = {
	        [JOB_LOOK] = "look",       [JOB_TUBES] = "tubes",
	        [JOB_OHMS] = "ohms",       [JOB_CAPACITORS] = "capacitors",
	        [JOB_POWER] = "power",     [JOB_CALIBRATE] = "calibrate",
	        [JOB_COMPARE] = "compare",
	};

	return phase < JOB_PHASES ? words[phase] : "";
}

const char *job_phase_title(enum job_phase phase)
{
	static const char *const titles[] = {
	        [JOB_LOOK] = "Look it over, unplugged",
	        [JOB_TUBES] = "Test the tubes",
	        [JOB_OHMS] = "Ohms before volts",
	        [JOB_CAPACITORS] = "Re-form the capacitors",
	        [JOB_POWER] = "Power up in stages",
	        [JOB_CALIBRATE] = "Calibrate",
	        [JOB_COMPARE] = "Compare with another unit",
	};

	return phase < JOB_PHASES ? titles[phase] : "";
}

/* --- blocks ------------------------------------------------------------------------------- */

static void block(struct blocks *b, enum job_phase phase, int left, const char *key,
                  const char *format, ...) __attribute__((format(printf, 5, 6)));
static void block(struct blocks *b, enum job_phase phase, int left, const char *key,
                  const char *format, ...)
{
	struct job_block *one;
	va_list ap;

	if (b->n == JOB_BLOCKS_MAX) {
		b->cut = true;
		return;
	}
	one = &b->block[b->n];
	*one = (struct job_block){.phase = phase};
	b->left[b->n++] = left;
	(void)snprintf(one->key, sizeof one->key, "%s", key);
	va_start(ap, format);
	(void)vsnprintf(one->what, sizeof one->what, format, ap);
	va_end(ap);
}

/* A list of names that says when there were more: "the plug, the fuse, ...". */
struct names {
	char text[JOB_TEXT_MAX / 2];
	bool full;
};

static void add_name(struct names *names, const char *name)
{
	const size_t used = strlen(names->text);

	if (names->full)
		return;
	if (used + strlen(", ") + strlen(name) + sizeof ", ..." > sizeof names->text) {
		names->full = true;
		(void)snprintf(names->text + used, sizeof names->text - used, "%s...",
		               used ? ", " : "");
		return;
	}
	(void)snprintf(names->text + used, sizeof names->text - used, "%s%s", used ? ", " : "",
	               name);
}

/* "14 of 16 looked at, 1 finding": what there is none of is left out. */
static void sum_up(struct job_progress *p, const char *done)
{
	if (p->of > 0)
		(void)snprintf(p->summary, sizeof p->summary, "%d of %d %s", p->done, p->of, done);
	else
		(void)snprintf(p->summary, sizeof p->summary, "none in the profile");
}

static void add_count(struct job_progress *p, int n, const char *what)
{
	const size_t used = strlen(p->summary);

	if (n > 0)
		(void)snprintf(p->summary + used, sizeof p->summary - used, ", %d %s", n, what);
}

/* --- look --------------------------------------------------------------------------------- */

/* The complement's finding may be that of a place, which is listed by itself. */
static bool own_finding(const struct look_check *check, const struct look_state *state)
{
	return state->result == LOOK_FINDING &&
	       (check->kind != LOOK_COMPLEMENT ||
	        (state->entry && strcmp(state->entry->word, look_word(LOOK_FINDING)) == 0));
}

static void collect_looks(const struct rules *rules, const struct entry *entries, size_t n,
                          struct blocks *b, struct job_progress *progress)
{
	struct look_state states[LOOK_CHECKS_MAX];
	struct names left = {"", false};
	int must = 0, missing = 0;

	look_states(&rules->looks, entries, n, states);
	for (int i = 0; i < rules->looks.n; i++) {
		const struct look_check *c = &rules->looks.check[i];

		progress->findings += own_finding(c, &states[i]);
		if (own_finding(c, &states[i]) && look_blocks(c, LOOK_FINDING))
			block(b, JOB_LOOK, -1, c->block[0] ? c->block : c->key, "%s: %.120s",
			      c->what, states[i].entry->note);
		if (!look_blocks(c, LOOK_NOT_LOOKED))
			continue;
		must++;
		if (states[i].result != LOOK_NOT_LOOKED)
			continue;
		missing++;
		add_name(&left, c->what);
	}
	if (missing > 0)
		block(b, JOB_LOOK, missing, "look-not-done",
		      "look: %d left of %d that must be looked at: %s", missing, must, left.text);
	progress->of = look_of(&rules->looks);
	progress->done = look_done(&rules->looks, states);
	sum_up(progress, "looked at");
	add_count(progress, progress->findings, progress->findings == 1 ? "finding" : "findings");
}

/* --- tubes -------------------------------------------------------------------------------- */

static void collect_tubes(const struct rules *rules, const struct entry *entries, size_t n,
                          struct blocks *b, struct job_progress *progress)
{
	struct tube_state states[PROFILE_TUBES_MAX];
	struct names left = {"", false};
	int count[TUBE_SHORTED + 1] = {0};

	tube_states(&rules->tubes, entries, n, states);
	for (int i = 0; i < rules->tubes.n; i++) {
		const struct tube_place *p = &rules->tubes.place[i];
		const struct tube_state *s = &states[i];
		char key[ENTRY_SUBJECT_MAX];

		count[s->result]++;
		if (s->result == TUBE_NOT_TESTED)
			add_name(&left, p->place);
		if (!tube_blocks(p, s->result))
			continue;
		(void)snprintf(key, sizeof key, "tube-test %s", p->place);
		block(b, JOB_TUBES, -1, key, "%s%s%s: %s%s%.100s", p->place, p->type[0] ? " " : "",
		      p->type, tube_word(s->result), s->entry->note[0] ? ": " : "", s->entry->note);
	}
	if (count[TUBE_NOT_TESTED] > 0)
		block(b, JOB_TUBES, count[TUBE_NOT_TESTED], "tubes-not-tested",
		      "tubes: %d of %d not tested: %s", count[TUBE_NOT_TESTED], rules->tubes.n,
		      left.text);
	progress->of = rules->tubes.n;
	progress->done = progress->of - count[TUBE_NOT_TESTED];
	progress->findings = count[TUBE_WEAK] + count[TUBE_BAD] + count[TUBE_SHORTED];
	sum_up(progress, "tested");
	add_count(progress, count[TUBE_WEAK], "weak");
	add_count(progress, count[TUBE_BAD], "bad");
	add_count(progress, count[TUBE_SHORTED], "shorted");
}

/* --- ohms --------------------------------------------------------------------------------- */

static void collect_ohms(const struct rules *rules, const struct entry *entries, size_t n,
                         struct blocks *b, struct job_progress *progress)
{
	struct ohms_state states[OHMS_CHECKS_MAX];
	struct names left = {"", false};
	int must = 0, missing = 0;

	ohms_states(&rules->ohms, entries, n, states);
	for (int i = 0; i < rules->ohms.n; i++) {
		const struct ohms_check *c = &rules->ohms.check[i];
		const enum ohms_verdict verdict = states[i].verdict;
		char said[32], range[OHMS_RANGE_MAX], key[OHMS_WHAT_MAX];

		progress->of += !states[i].worked_out;
		progress->done += !states[i].worked_out && verdict != OHMS_UNKNOWN;
		progress->findings += verdict == OHMS_LOW || verdict == OHMS_HIGH;
		must += ohms_blocks(c, OHMS_UNKNOWN);
		if (!ohms_blocks(c, verdict))
			continue;
		if (verdict != OHMS_UNKNOWN) {
			block(b, JOB_OHMS, -1, ohms_key(c, key), "%s: %s, %s expected", c->what,
			      ohms_say(c, states[i].reading, said), ohms_say_range(c, range));
			continue;
		}
		missing++;
		add_name(&left, c->what);
	}
	if (missing > 0)
		block(b, JOB_OHMS, missing, "ohms-not-read",
		      "ohms: %d left of %d that must be read: %s", missing, must, left.text);
	sum_up(progress, "read");
	add_count(progress, progress->findings, "out of range");
}

/* --- capacitors --------------------------------------------------------------------------- */

static bool was_done(enum desk_state state)
{
	return state == DESK_FORMED || state == DESK_OLDER_ONLY || state == DESK_ACCEPTED ||
	       state == DESK_REPLACED;
}

static void collect_capacitors(const struct rules *rules, const struct entry *entries, size_t n,
                               struct blocks *b, struct job_progress *progress)
{
	const struct profile *p = rules->profile;
	struct names left = {"", false};
	int missing = 0;

	for (int i = 0; i < p->n_capacitors; i++) {
		struct desk_section s;
		const char *place = p->capacitors[i].place;
		char key[ENTRY_SUBJECT_MAX];

		desk_section_make(&s, p, i, entries, n);
		desk_judge(&s, NULL);
		progress->of++;
		(void)snprintf(key, sizeof key, "capacitor %s", place);
		if (s.state == DESK_FAILING) {
			progress->findings++;
			block(b, JOB_CAPACITORS, -1, key, "%s: %.160s", place, s.words);
		} else if (!was_done(s.state)) {
			missing++;
			add_name(&left, place);
		} else {
			progress->done++;
			if (s.blocks) /* charged, or still on the supply */
				block(b, JOB_CAPACITORS, -1, key, "%s: %.160s", place, s.words);
		}
	}
	if (missing > 0)
		block(b, JOB_CAPACITORS, missing, "capacitors-not-formed",
		      "capacitors: %d of %d not re-formed: %s", missing, progress->of, left.text);
	sum_up(progress, "formed, accepted or replaced");
	add_count(progress, progress->findings, "failing");
}

/* --- power -------------------------------------------------------------------------------- */

static bool ended_in_alarm(const struct entry *power)
{
	return strcmp(power->word, "abort") == 0 || strcmp(power->word, "stop") == 0;
}

/* Opened and left before anything was read: it says nothing of the unit. */
static bool read_nothing(const struct entry *power)
{
	return strcmp(power->word, "left") == 0 && isnan(power->number[0]);
}

/* ", up to 96 V"; "" where no volts were read.  Returns out. */
static const char *say_top(const struct entry *power, char out[48])
{
	char volts[32];

	out[0] = '\0';
	if (isfinite(power->number[0]) && power->number[0] >= 0) {
		(void)num_print_unit(volts, sizeof volts, power->number[0], UNIT_VOLT, 3);
		(void)snprintf(out, 48, ", up to %.31s", volts);
	}
	return out;
}

/* What the power-ups have come to. */
struct powers {
	const struct entry *last;  /* the newest in which something was read; NULL: none */
	const struct entry *alarm; /* the newest that ended in an alarm; NULL: none */
	int alarm_number;          /* from 1, as the report counts them */
	const struct entry *mended; /* behind it; NULL: nobody has said what it was */
	double top_volts;          /* of all; NAN: none */
	bool full_line;            /* the last stage was passed in one of them */
	bool answered;             /* it was passed in one after the alarm */
};

static struct powers power_ups(const struct entry *entries, size_t n)
{
	struct powers ret = {.top_volts = NAN};
	int number = 0;

	for (size_t i = 0; i < n; i++) {
		const struct entry *e = &entries[i];

		if (e->kind == ENTRY_MENDED)
			ret.mended = e;
		if (e->kind != ENTRY_POWER)
			continue;
		number++;
		if (read_nothing(e))
			continue;
		ret.last = e;
		ret.top_volts = fmax(ret.top_volts, e->number[0]);
		ret.answered |= strcmp(e->word, "full-line") == 0;
		ret.full_line |= ret.answered || e->number[1] >= 0;
		if (!ended_in_alarm(e))
			continue;
		ret.alarm = e;
		ret.alarm_number = number;
		ret.mended = NULL;
		ret.answered = false;
	}
	return ret;
}

/* What is to be said of the newest power-up beside its word and its volts. */
static void sum_up_power(const struct powers *p, double line_volts, struct job_progress *progress)
{
	static const double there_share = 0.97; /* a variac's dial is no better */
	char top[48], alarm[48], before[96] = "", more[80] = "";

	if (!p->last) {
		(void)snprintf(progress->summary, sizeof progress->summary, "not yet");
		return;
	}
	if (progress->findings > 0 && p->alarm != p->last)
		(void)snprintf(before, sizeof before, "; before it %.20s%s", p->alarm->word,
		               say_top(p->alarm, alarm));
	if (progress->findings > 0 && p->mended)
		(void)snprintf(more, sizeof more, "; mended: %.60s", p->mended->note);
	else if (progress->findings > 0)
		(void)snprintf(more, sizeof more, ": find out why before the next one");
	else if (!p->full_line)
		(void)snprintf(more, sizeof more, p->top_volts >= there_share * line_volts
		               ? "; full line was reached, but not passed"
		               : "; full line not reached yet");
	(void)snprintf(progress->summary, sizeof progress->summary, "last: %.20s%s%s%s",
	               p->last->word, say_top(p->last, top), before, more);
}

static void collect_power(const struct rules *rules, const struct entry *entries, size_t n,
                          struct blocks *b, struct job_progress *progress)
{
	const struct powers p = power_ups(entries, n);
	char top[48];

	progress->of = 1;
	progress->done = p.full_line;
	progress->findings = p.alarm && !p.answered;
	sum_up_power(&p, rules->profile->line_volts.value, progress);
	if (!p.alarm || p.mended)
		return;
	if (strcmp(p.alarm->word, "abort") == 0)
		block(b, JOB_POWER, -1, "aborted",
		      "power-up %d ended in an abort%s; what it was has not been said",
		      p.alarm_number, say_top(p.alarm, top));
	else
		block(b, JOB_POWER, -1, "stopped",
		      "power-up %d was ended by the stop key%s; what it was has not been said",
		      p.alarm_number, say_top(p.alarm, top));
}

/* The phases that can block power. */
static void (*const collectors[JOB_POWER + 1])(const struct rules *, const struct entry *, size_t,
                                           struct blocks *, struct job_progress *) = {
        [JOB_LOOK] = collect_looks,
        [JOB_TUBES] = collect_tubes,
        [JOB_OHMS] = collect_ohms,
        [JOB_CAPACITORS] = collect_capacitors,
        [JOB_POWER] = collect_power,
};

/* --- overrides ---------------------------------------------------------------------------- */

/* Whether what blocks now was there, the same or worse, when it was overridden: fewer left undone
 * is the same block, another reading or another finding is not. */
static bool was_there(const struct blocks *then, const struct job_block *now, int left)
{
	for (int i = 0; i < then->n; i++)
		if (strcmp(then->block[i].key, now->key) == 0)
			return left >= 0 ? left <= then->left[i]
			                 : strcmp(then->block[i].what, now->what) == 0;
	return false;
}

/* What is left undone, and limits of readings, are the profile's: with another profile they are not
 * what was overridden. */
static bool outlived(const struct blocks *b, int i, const struct entry *override,
                     const struct entry *entries, size_t n)
{
	const struct entry *profile = entry_last(entries, n, ENTRY_PROFILE, NULL);

	return (b->left[i] >= 0 || b->block[i].phase == JOB_OHMS) && profile && profile > override;
}

static void apply_overrides(const struct rules *rules, const struct entry *entries, size_t n,
                            struct blocks *b)
{
	struct blocks then;

	for (int i = 0; i < b->n; i++) {
		const struct entry *override =
		        entry_last(entries, n, ENTRY_OVERRIDE, b->block[i].key);

		if (!override || !override->note[0] || outlived(b, i, override, entries, n))
			continue;
		const enum job_phase phase = b->block[i].phase;
		struct job_progress progress = {.summary = ""};

		then.n = 0;
		collectors[phase](rules, entries, (size_t)(override - entries), &then, &progress);
		if (was_there(&then, &b->block[i], b->left[i]))
			b->block[i].override_reason = override->note;
	}
}

/* --- after power --------------------------------------------------------------------------- */

/* Nulls of the profile that are as low as asked, or as low as they go. */
static int nulls_done(const struct profile *profile, const struct entry *entries, size_t n)
{
	struct null_hunt hunt;
	int done = 0;

	for (int i = 0; i < profile->n_nulls; i++) {
		null_hunt_make(&hunt, profile, profile->nulls[i].name, entries, n);
		done += hunt.state == NULL_REACHED || hunt.state == NULL_WANDERING;
	}
	return done;
}

static void look_at_calibration(const struct rules *rules, const struct entry *entries, size_t n,
                                struct job_progress *progress)
{
	struct cal_sheet sheet;

	cal_sheet_make(&sheet, rules->profile, entries, n);
	progress->of = sheet.n + rules->profile->n_nulls;
	progress->done = sheet.done + nulls_done(rules->profile, entries, n);
	progress->findings = sheet.count[CAL_FAIL] + sheet.count[CAL_CONDITIONAL_FAIL];
	sum_up(progress, rules->profile->n_nulls > 0 ? "points and nulls" : "points");
	add_count(progress, progress->findings, progress->findings == 1 ? "fails" : "fail");
}

static void look_at_comparison(const struct rules *rules, const struct entry *entries, size_t n,
                               struct job_progress *progress)
{
	struct compare_list list;

	compare_list_make(&list, rules->profile, entries, n);
	progress->of = progress->done = list.n + list.beyond;
	progress->findings = list.count[COMPARE_DIFFER];
	if (list.n > 0) {
		(void)snprintf(progress->summary, sizeof progress->summary, "%d compared",
		               progress->done);
		add_count(progress, progress->findings, "differ");
	} else {
		(void)snprintf(progress->summary, sizeof progress->summary, "optional");
	}
}

/* --- what can still kill -------------------------------------------------------------------- */

static void list_charged(const struct profile *profile, const struct entry *entries, size_t n,
                         char out[JOB_TEXT_MAX])
{
	size_t used = 0;
	int left = 0;

	out[0] = '\0';
	for (int i = 0; i < profile->n_capacitors; i++) {
		struct desk_section s;
		char one[PROFILE_NAME_MAX + 64], volts[32];

		desk_section_make(&s, profile, i, entries, n);
		if (!s.on && !s.must_discharge)
			continue;
		(void)num_print_unit(volts, sizeof volts, s.charged_volts, UNIT_VOLT, 3);
		if (!s.on)
			(void)snprintf(one, sizeof one, "%s holds %s", s.capacitor->place, volts);
		else
			(void)snprintf(one, sizeof one, "%s on the supply%s%s", s.capacitor->place,
			               s.charged_volts > 0.0 ? " at " : "",
			               s.charged_volts > 0.0 ? volts : "");
		if (left > 0 || used + strlen(one) + sizeof "; and 99 more" > JOB_TEXT_MAX)
			left++;
		else
			used += (size_t)snprintf(out + used, JOB_TEXT_MAX - used, "%s%s",
			                         used > 0 ? "; " : "", one);
	}
	if (left > 0)
		(void)snprintf(out + used, JOB_TEXT_MAX - used, "; and %d more", left);
}

/* --- what is next ------------------------------------------------------------------------- */

/* The standing block to begin with: of the first phase that has one, what is left undone before
 * what is to be mended.  -1: none stands. */
static int first_block(const struct job *job, const struct blocks *b)
{
	int first = -1;

	for (int i = 0; i < b->n; i++) {
		if (b->block[i].override_reason)
			continue;
		if (first < 0)
			first = i;
		if (b->left[i] >= 0 && b->block[i].phase == job->block[first].phase)
			return i;
	}
	return first;
}

static void choose_next(struct job *job, const struct blocks *b)
{
	const int first = first_block(job, b);

	job->next = JOB_PHASES;
	(void)snprintf(job->next_words, sizeof job->next_words,
	               "all is done: the report says what was, and what was not");
	if (first >= 0) {
		job->next = job->block[first].phase;
		(void)snprintf(job->next_words, sizeof job->next_words, "%s%.180s",
		               b->left[first] < 0 ? "to mend: " : "", job->block[first].what);
		return;
	}
	for (int phase = JOB_POWER; phase <= JOB_CALIBRATE; phase++) {
		const struct job_progress *p = &job->progress[phase];

		/* full line of some time ago is no answer to the last one's abort */
		if (p->done >= p->of && !(phase == JOB_POWER && p->findings > 0))
			continue;
		job->next = (enum job_phase)phase;
		(void)snprintf(job->next_words, sizeof job->next_words, "%s: %.150s",
		               job_phase_title(job->next), p->summary);
		return;
	}
}

void job_make(struct job *ret, const struct profile *profile, const struct network *net,
              const struct tables *tables, const struct entry *entries, size_t n)
{
	struct rules rules = {.profile = profile};
	struct blocks b = {.n = 0};

	look_list_make(&rules.looks, profile);
	tube_list_make(&rules.tubes, profile, tables);
	ohms_list_make(&rules.ohms, net, profile);
	for (int phase = 0; phase < JOB_PHASES; phase++) {
		ret->progress[phase] = (struct job_progress){.summary = ""};
		if (phase <= JOB_POWER)
			collectors[phase](&rules, entries, n, &b, &ret->progress[phase]);
	}
	apply_overrides(&rules, entries, n, &b);
	look_at_calibration(&rules, entries, n, &ret->progress[JOB_CALIBRATE]);
	look_at_comparison(&rules, entries, n, &ret->progress[JOB_COMPARE]);
	list_charged(profile, entries, n, ret->charged);
	memcpy(ret->block, b.block, sizeof ret->block);
	ret->n_blocks = b.n;
	ret->cut = b.cut;
	ret->n_standing = 0;
	for (int i = 0; i < b.n; i++)
		ret->n_standing += !b.block[i].override_reason;
	choose_next(ret, &b);
}
