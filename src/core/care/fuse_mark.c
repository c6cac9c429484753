#include "core/care/fuse_mark.h"

#include <math.h>
#include <string.h>

#include "mainstair/base/num.h"
#include "mainstair/base/text.h"

enum { WORD_MAX = 24 };

static const char digits[] = "0123456789";

static bool one_of(const char *word, const char *const *words)
{
	for (; *words; words++)
		if (text_same(word, *words))
			return true;
	return false;
}

/* A word that says how fast, or says nothing that matters here.  false for any other. */
static bool take_word(const char *word, enum fuse_speed *speed)
{
	static const char *const slow[] = {"slow",    "slow-blow", "time", "time-lag", "delay",
	                                   "delayed", "t",         "tt",   "mdl",      NULL};
	static const char *const fast[] = {"fast", "fast-blow", "quick", "f", "ff", "agc", NULL};
	static const char *const rest[] = {"blow", "acting", "lag", "fuse", "l", "h", "e", NULL};

	if (one_of(word, slow))
		*speed = FUSE_SLOW;
	else if (one_of(word, fast))
		*speed = FUSE_FAST;
	else
		return one_of(word, rest);
	return true;
}

/* The word at *at, up to a blank, digit or separator; its end in *at.  false when too long. */
static bool next_word(const char **at, char word[WORD_MAX])
{
	const size_t n = strcspn(*at, " \t,;.()0123456789");

	if (n >= WORD_MAX)
		return false;
	memcpy(word, *at, n);
	word[n] = '\0';
	*at += n;
	return true;
}

/* The unit behind a number: 1 for mA or A (factor set), 0 for volts and sizes (3AG), -1 for none.
 * Letters that follow without a blank, as in "mAL", are left at *at. */
static int next_unit(const char **at, double *factor)
{
	const char *s = *at + strspn(*at, " \t");

	*factor = 1.0;
	if (strncmp(s, "AG", 2) == 0 && s[2] != 'C') {
		*at = s + 2;
		return 0;
	}
	if (*s == 'V' || *s == 'v') {
		*at = s + strcspn(s, " \t,;.()0123456789");
		return 0;
	}
	if (*s == 'm' && (s[1] == 'A' || s[1] == 'a')) {
		*factor = 1e-3;
		s++;
	}
	if ((*s != 'A' && *s != 'a') || strncmp(s, "AGC", 3) == 0)
		return -1;
	*at = s + 1;
	return 1;
}

static int take_number(const char **at, struct fuse_mark *ret, struct err *err)
{
	size_t n = strspn(*at, "0123456789.,/");
	char number[WORD_MAX];
	struct quantity q;
	double factor;
	int unit;

	while (n > 1 && !strchr(digits, (*at)[n - 1]))
		n--; /* a separator, or a point that ends the sentence */
	if (n >= sizeof number)
		return 0;
	memcpy(number, *at, n);
	number[n] = '\0';
	*at += n;
	if (strchr(number, '/'))
		return err_set(err, ERR_INPUT, "`%s`: write a decimal, as 0.5 A for 1/2", number);
	if (num_parse(number, UNIT_NONE, &q, err) < 0)
		return -1;
	unit = next_unit(at, &factor);
	if (unit == 0)
		return 1;
	if (!isnan(ret->amps) || !(q.value > 0.0))
		return 0;
	ret->amps = factor * q.value;
	ret->bare = unit < 0;
	return 1;
}

int fuse_mark_read(const char *line, struct fuse_mark *ret, struct err *err)
{
	char word[WORD_MAX];

	*ret = (struct fuse_mark){.amps = (double)NAN};
	while (*line) {
		if (strchr(" \t,;.()", *line) &&
		    !(*line == '.' && line[1] && strchr(digits, line[1]))) {
			line++;
		} else if (*line == '.' || strchr(digits, *line)) {
			const int got = take_number(&line, ret, err);

			if (got <= 0)
				return got;
		} else if (!next_word(&line, word) || !take_word(word, &ret->speed)) {
			return 0;
		}
	}
	return isnan(ret->amps) ? 0 : 1;
}
