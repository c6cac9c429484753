#include "mainstair/base/num.h"

#include <assert.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/text.h"

enum {
	DIGITS_MAX = 100, /* characters of one number; more is refused, not cut */
	WORD_MAX = 24,
	SHOWN_MAX = 48
};

/* Every way to write a unit.  Exact spelling first; then without letter case, which must not
 * turn milli into mega: words with a prefix m or M are only taken as they stand. */
static const struct word {
	const char *word;
	enum unit unit;
	double scale;
} words[] = {
	{"V", UNIT_VOLT, 1}, {"kV", UNIT_VOLT, 1e3}, {"mV", UNIT_VOLT, 1e-3},
	{"uV", UNIT_VOLT, 1e-6}, {"\u00b5V", UNIT_VOLT, 1e-6}, {"\u03bcV", UNIT_VOLT, 1e-6},
	{"A", UNIT_AMPERE, 1}, {"mA", UNIT_AMPERE, 1e-3}, {"uA", UNIT_AMPERE, 1e-6},
	{"\u00b5A", UNIT_AMPERE, 1e-6}, {"\u03bcA", UNIT_AMPERE, 1e-6},
	{"ohm", UNIT_OHM, 1}, {"ohms", UNIT_OHM, 1}, {"R", UNIT_OHM, 1},
	{"\u03a9", UNIT_OHM, 1}, {"\u2126", UNIT_OHM, 1},
	{"k", UNIT_OHM, 1e3}, {"kohm", UNIT_OHM, 1e3}, {"kohms", UNIT_OHM, 1e3},
	{"k\u03a9", UNIT_OHM, 1e3}, {"k\u2126", UNIT_OHM, 1e3},
	{"M", UNIT_OHM, 1e6}, {"Mohm", UNIT_OHM, 1e6}, {"Mohms", UNIT_OHM, 1e6},
	{"M\u03a9", UNIT_OHM, 1e6}, {"M\u2126", UNIT_OHM, 1e6},
	{"mohm", UNIT_OHM, 1e-3}, {"mohms", UNIT_OHM, 1e-3},
	{"m\u03a9", UNIT_OHM, 1e-3}, {"m\u2126", UNIT_OHM, 1e-3},
	{"uF", UNIT_FARAD, 1e-6}, {"\u00b5F", UNIT_FARAD, 1e-6}, {"\u03bcF", UNIT_FARAD, 1e-6},
	{"nF", UNIT_FARAD, 1e-9}, {"pF", UNIT_FARAD, 1e-12}, {"F", UNIT_FARAD, 1},
	{"u", UNIT_FARAD, 1e-6}, {"\u00b5", UNIT_FARAD, 1e-6}, {"\u03bc", UNIT_FARAD, 1e-6},
	{"n", UNIT_FARAD, 1e-9}, {"p", UNIT_FARAD, 1e-12},
	{"H", UNIT_HENRY, 1}, {"mH", UNIT_HENRY, 1e-3},
	{"W", UNIT_WATT, 1}, {"mW", UNIT_WATT, 1e-3}, {"kW", UNIT_WATT, 1e3},
	{"s", UNIT_SECOND, 1}, {"ms", UNIT_SECOND, 1e-3}, {"min", UNIT_SECOND, 60},
	{"h", UNIT_SECOND, 3600},
	{"Hz", UNIT_HERTZ, 1}, {"kHz", UNIT_HERTZ, 1e3}, {"MHz", UNIT_HERTZ, 1e6},
	{"%", UNIT_PERCENT, 0.01},
	{"dB", UNIT_DECIBEL, 1}, {"dBm", UNIT_DBM, 1},
};

/* Words that are met in the trade and that are not taken, with what to write instead. */
static const struct {
	const char *word, *instead;
} refused_words[] = {
	{"mF", "mF is both millifarad and old writing for microfarad: write uF"},
	{"mfd", "write uF"}, {"mmfd", "write pF"}, {"mmf", "write pF"}, {"uuF", "write pF"},
	{"VA", "VA is not W: a nameplate's watts are wanted"},
	{"VAC", "write V"}, {"VDC", "write V"}, {"Vrms", "write V"},
	{"amp", "write A"}, {"amps", "write A"}, {"volt", "write V"}, {"volts", "write V"},
	{"watt", "write W"}, {"watts", "write W"}, {"sec", "write s"}, {"cycles", "write Hz"},
	{"percent", "write %"},
	{"dBV", "write dB, or the volts"}, {"dBu", "write dB, or the volts"},
};

static const struct {
	const char *symbol, *name, *example;
} unit_names[] = {
	[UNIT_NONE] = {"", "a plain number", "22"},
	[UNIT_VOLT] = {"V", "volts", "117 V"},
	[UNIT_AMPERE] = {"A", "amperes", "0.5 A"},
	[UNIT_OHM] = {"ohm", "ohms", "22 ohm or 4k7"},
	[UNIT_FARAD] = {"F", "a capacitance (uF)", "20 uF"},
	[UNIT_HENRY] = {"H", "henries", "8 H"},
	[UNIT_WATT] = {"W", "watts", "35 W"},
	[UNIT_SECOND] = {"s", "a time (s, min)", "60 s"},
	[UNIT_HERTZ] = {"Hz", "hertz", "60 Hz"},
	[UNIT_PERCENT] = {"%", "per cent", "12 %"},
	[UNIT_DECIBEL] = {"dB", "decibels", "-3 dB"},
	[UNIT_DBM] = {"dBm", "a level in dBm", "-20 dBm"},
};

const char *unit_symbol(enum unit unit)
{
	assert(unit >= UNIT_NONE && unit <= UNIT_DBM);
	return unit_names[unit].symbol;
}

bool unit_is_level(enum unit unit)
{
	return unit == UNIT_DECIBEL || unit == UNIT_DBM;
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

static bool is_blank(char c)
{
	return c == ' ' || c == '\t';
}

static const char *skip_blanks(const char *s)
{
	while (is_blank(*s))
		s++;
	return s;
}

static const char *skip_digits(const char *s)
{
	while (is_digit(*s))
		s++;
	return s;
}

/* A unit's word ends where a blank, digit, sign or separator begins. */
static size_t word_length(const char *s)
{
	static const char plus_minus[] = "\u00b1"; /* shares its first byte with the micro sign */
	size_t n = 0;

	while (s[n] && !strchr(" \t0123456789+-.,;:/=()", s[n]) &&
	       strncmp(s + n, plus_minus, sizeof plus_minus - 1) != 0)
		n++;
	return n;
}

static const char *shown(char dst[SHOWN_MAX], const char *s, size_t n)
{
	(void)text_show(dst, SHOWN_MAX, s, n);
	return dst;
}

/* The number at s..end (a sign, a point, an exponent at most) times ten to `tens` as a double,
 * rounded once, whatever the locale: the point is moved into the exponent, so that strtod() meets
 * none. */
static int to_double(const char *s, const char *end, int tens, double *ret, struct err *err)
{
	char digits[DIGITS_MAX + 16], show[SHOWN_MAX];
	const char *power = s;
	size_t n = 0;
	int behind = 0;
	long exponent = 0;
	bool point = false;

	if (end - s > DIGITS_MAX)
		return err_set(err, ERR_RANGE, "a number of more than %d characters", DIGITS_MAX);
	for (; power < end && *power != 'e' && *power != 'E'; power++) {
		if (*power == '.') {
			point = true;
			continue;
		}
		behind += point ? 1 : 0;
		digits[n++] = *power;
	}
	if (power < end)
		exponent = strtol(power + 1, NULL, 10);
	/* far beyond any double, and the sum below stays small */
	if (exponent > 100000 || exponent < -100000)
		exponent = exponent > 0 ? 100000 : -100000;
	(void)snprintf(digits + n, sizeof digits - n, "e%ld", exponent - behind + tens);
	errno = 0;
	*ret = strtod(digits, NULL);
	if (errno == ERANGE || !isfinite(*ret))
		return err_set(err, ERR_RANGE, "`%s` is beyond what a number can hold",
		               shown(show, s, (size_t)(end - s)));
	return 0;
}

/* The multiplier letter of IEC 60062 at s; its bytes in *len, 0 if there is none. */
static const struct word *mark_letter(const char *s, size_t *len)
{
	static const char *const letters[] = {"R", "r", "k", "K", "M", "n", "p", "u",
	                                      "\u00b5", "\u03bc"};

	for (size_t i = 0; i < sizeof letters / sizeof letters[0]; i++) {
		*len = strlen(letters[i]);
		if (strncmp(s, letters[i], *len) != 0)
			continue;
		for (size_t k = 0; k < sizeof words / sizeof words[0]; k++)
			if (text_same(words[k].word, letters[i]))
				return &words[k];
	}
	*len = 0;
	return NULL;
}

static int unknown_unit(const char *word, enum unit own, struct err *err)
{
	const char *wanted = own == UNIT_ANY ? "a unit such as V, mA, ohm, uF, H" :
	                                       unit_names[own].name;
	char show[SHOWN_MAX];

	for (size_t i = 0; i < sizeof refused_words / sizeof refused_words[0]; i++)
		if (text_same(refused_words[i].word, word))
			return err_set(err, ERR_INPUT, "unit `%s`: %s", word,
			               refused_words[i].instead);
	for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
		if (text_same(words[i].word, word))
			return err_set(err, ERR_INPUT, "unit `%s`: did you mean `%s`?", word,
			               words[i].word);
	return err_set(err, ERR_INPUT, "`%s` is no unit known here: expected %s",
	               shown(show, word, strlen(word)), wanted);
}

static const struct word *find_word(const char *word)
{
	size_t n = sizeof words / sizeof words[0];

	for (size_t i = 0; i < n; i++)
		if (strcmp(words[i].word, word) == 0)
			return &words[i];
	for (size_t i = 0; i < n; i++)
		if (text_same(words[i].word, word) && word[0] != 'm' && word[0] != 'M')
			return &words[i];
	return NULL;
}

/* Is the quantity, written in n bytes, of the kind that is wanted? */
static int check_kind(enum unit unit, enum unit own, const char *written, size_t n, struct err *err)
{
	char show[SHOWN_MAX];

	if (own == UNIT_ANY || unit == own)
		return 0;
	(void)shown(show, written, n);
	if (own == UNIT_NONE)
		return err_set(err, ERR_INPUT, "`%s`: a plain number is expected here, no unit",
		               show);
	return err_set(err, ERR_INPUT, "`%s` is %s: %s expected here (%s)", show,
	               unit_names[unit].name, unit_names[own].name, unit_symbol(own));
}

static int not_a_number(const char *text, enum unit own, struct err *err)
{
	const char *example = own == UNIT_ANY ? "22 ohm (a number with its unit)" :
	                      unit_names[own].example;
	char show[SHOWN_MAX];

	if (*text == '\0')
		return err_set(err, ERR_INPUT, "a number is missing, such as %s", example);
	return err_set(err, ERR_INPUT, "`%s` is not a number such as %s",
	               shown(show, text, strlen(text)), example);
}

/* The tolerance that may follow, "+/- 2%".  Returns where it ends. */
static const char *scan_tolerance(const char *s, double *ret, struct err *err)
{
	const char *digits, *end;

	*ret = -1;
	if (strncmp(s, "+/-", 3) == 0)
		s += 3;
	else if (strncmp(s, "\u00b1", strlen("\u00b1")) == 0)
		s += strlen("\u00b1");
	else
		return s;
	digits = skip_blanks(s);
	end = skip_digits(digits);
	if (*end == '.')
		end = skip_digits(end + 1);
	if (!is_digit(*digits) || *skip_blanks(end) != '%') {
		(void)err_set(err, ERR_INPUT, "a tolerance is written `+/- 2%%`");
		return NULL;
	}
	if (to_double(digits, end, 0, ret, err) < 0)
		return NULL;
	*ret /= 100;
	if (*ret >= 1) {
		(void)err_set(err, ERR_RANGE, "a tolerance lies below 100 %%");
		return NULL;
	}
	return skip_blanks(end) + 1;
}

/* Digits with a multiplier letter for the point: 4k7, R47.  Returns where it ends, s itself if
 * this is no such mark, NULL with err. */
static const char *scan_mark(const char *s, double *ret, const struct word **ret_word,
                             struct err *err)
{
	char digits[DIGITS_MAX + 1];
	const char *point = skip_digits(s), *end;
	const struct word *letter;
	size_t len, whole = (size_t)(point - s);

	letter = mark_letter(point, &len);
	if (!letter || !is_digit(point[len]))
		return s;
	end = skip_digits(point + len);
	if ((size_t)(end - s) >= sizeof digits) {
		(void)err_set(err, ERR_RANGE, "a number of more than %d characters", DIGITS_MAX);
		return NULL;
	}
	memcpy(digits, s, whole);
	digits[whole] = '.';
	memcpy(digits + whole + 1, point + len, (size_t)(end - point) - len);
	if (to_double(digits, digits + whole + 1 + ((size_t)(end - point) - len), 0, ret, err) < 0)
		return NULL;
	*ret_word = letter;
	return end;
}

/* A plain number: where it ends, s itself if none starts here. */
static const char *scan_digits(const char *s)
{
	const char *p = s + (*s == '+' || *s == '-' ? 1 : 0);
	const char *end = skip_digits(p);

	if (*end == '.')
		end = skip_digits(end + 1);
	if (!is_digit(*p) && !(p[0] == '.' && is_digit(p[1])))
		return s;
	if (*end == 'e' || *end == 'E') {
		const char *power = end + 1 + (end[1] == '+' || end[1] == '-' ? 1 : 0);

		if (is_digit(*power))
			end = skip_digits(power);
	}
	return end;
}

/* The unit behind the number that ends at `end`; *word is that of a mark's letter or NULL.  Returns
 * where the unit ends (`end` if there is none), with *word set; NULL with err. */
static const char *scan_unit(const char *end, enum unit own, const struct word **word,
                             struct err *err)
{
	const char *s = skip_blanks(end);
	const struct word *unit;
	char name[WORD_MAX + 1];
	size_t len = word_length(s);

	if (len == 0)
		return end;
	if (len > WORD_MAX)
		len = WORD_MAX;
	memcpy(name, s, len);
	name[len] = '\0';
	unit = find_word(name);
	if (!unit) {
		(void)unknown_unit(name, own, err);
		return NULL;
	}
	/* a mark may name its unit once more, without a second prefix: 4k7 ohm, 4u7 F */
	if (*word && ((*word)->unit != unit->unit || fabs(unit->scale - 1) > 0)) {
		(void)err_set(err, ERR_INPUT, "`%s` does not go behind a mark such as 4k7", name);
		return NULL;
	}
	if (!*word)
		*word = unit;
	return s + len;
}

/* The unit's scale to the number at start..end (NULL: a mark's, which is in *value).  A power of
 * ten goes into the exponent: 2.1 mA is 0.0021 A, and not a hair more. */
static int scale_it(const char *start, const char *end, const struct word *word, double *value,
                    struct err *err)
{
	const int tens = (int)lround(log10(word->scale));

	if (end && tens != 0 && fabs(pow(10, tens) / word->scale - 1) < 1e-12)
		return to_double(start, end, tens, value, err);
	*value *= word->scale;
	return 0;
}

const char *num_scan(const char *text, enum unit own, struct quantity *ret, struct err *err)
{
	const char *start = skip_blanks(text), *end, *digits_end = NULL;
	const struct word *word = NULL;
	struct quantity q = {.unit = own};
	char show[SHOWN_MAX];

	end = scan_mark(start, &q.value, &word, err);
	if (!end)
		return NULL;
	if (!word) {
		end = scan_digits(start);
		if (end == start || (*start == '0' && (*end == 'x' || *end == 'X'))) {
			(void)not_a_number(start, own, err);
			return NULL;
		}
		if (to_double(start, end, 0, &q.value, err) < 0)
			return NULL;
		digits_end = end;
	}
	if (*end == ',' && is_digit(end[1])) {
		const char *behind = skip_digits(end + 1);

		(void)err_set(err, ERR_INPUT, "`%s`: a decimal comma; write %.*s.%.*s",
		              shown(show, start, (size_t)(behind - start)), (int)(end - start),
		              start, (int)(behind - end - 1), end + 1);
		return NULL;
	}

	end = scan_unit(end, own, &word, err);
	if (!end)
		return NULL;
	if (word) {
		if (check_kind(word->unit, own, start, (size_t)(end - start), err) < 0)
			return NULL;
		if (scale_it(start, digits_end, word, &q.value, err) < 0)
			return NULL;
		q.unit = word->unit;
	} else if (own == UNIT_ANY) {
		(void)err_set(err, ERR_INPUT, "`%s`: a unit is missing behind the number",
		              shown(show, start, (size_t)(end - start)));
		return NULL;
	} else if (own == UNIT_PERCENT) {
		q.value /= 100;
	}
	if (!isfinite(q.value)) {
		(void)err_set(err, ERR_RANGE, "`%s` is beyond what a number can hold",
		              shown(show, start, (size_t)(end - start)));
		return NULL;
	}

	end = scan_tolerance(skip_blanks(end), &q.tol, err);
	if (!end)
		return NULL;
	*ret = q;
	return skip_blanks(end);
}

int num_parse(const char *text, enum unit own, struct quantity *ret, struct err *err)
{
	struct quantity q;
	const char *end = num_scan(text, own, &q, err);
	char show[SHOWN_MAX], all[SHOWN_MAX];

	if (!end)
		return -1;
	if (*end)
		return err_set(err, ERR_INPUT, "`%s`: `%s` behind the number is not understood",
		               shown(all, text, strlen(text)), shown(show, end, strlen(end)));
	*ret = q;
	return 0;
}

/* printf's "%.*f" with a point, whatever the locale: what stands between the digits is one. */
static void print_plain(char *dst, size_t size, int decimals, double value)
{
	char *point, *end;

	(void)snprintf(dst, size, "%.*f", decimals, value);
	point = dst + (dst[0] == '-' ? 1 : 0);
	while (is_digit(*point))
		point++;
	if (*point == '\0')
		return;
	for (end = point; *end && !is_digit(*end); end++)
		continue;
	*point = '.';
	memmove(point + 1, end, strlen(end) + 1);
}

/* "-0.00" says nothing but where the zero came from. */
static void drop_minus_zero(char *s)
{
	if (s[0] == '-' && s[strspn(s, "-0.")] == '\0')
		memmove(s, s + 1, strlen(s));
}

static size_t put(char *dst, size_t size, const char *s)
{
	size_t n = strlen(s);

	assert(size > 0);
	if (n >= size)
		n = size - 1;
	memcpy(dst, s, n);
	dst[n] = '\0';
	return n;
}

size_t num_print(char *dst, size_t size, double value, int decimals)
{
	char text[360]; /* DBL_MAX has 309 digits before its point */

	assert(decimals >= 0 && decimals <= 17);
	if (!isfinite(value))
		return put(dst, size, "nan");
	print_plain(text, sizeof text, decimals, value);
	drop_minus_zero(text);
	return put(dst, size, text);
}

/* "1.25e22 V": a number of which nobody would believe, or read, all the digits. */
static size_t print_huge(char *dst, size_t size, double value, enum unit unit, int digits)
{
	const int power = (int)floor(log10(fabs(value)));
	char mantissa[64], all[96];

	(void)num_print_unit(mantissa, sizeof mantissa, value / pow(10, power), UNIT_NONE, digits);
	(void)snprintf(all, sizeof all, "%se%d%s%s", mantissa,
	               unit == UNIT_PERCENT ? power + 2 : power, unit == UNIT_NONE ? "" : " ",
	               unit_symbol(unit));
	return put(dst, size, all);
}

size_t num_print_unit(char *dst, size_t size, double value, enum unit unit, int digits)
{
	static const struct {
		double scale;
		const char *prefix;
	} prefixes[] = {{1e6, "M"}, {1e3, "k"}, {1, ""}, {1e-3, "m"}, {1e-6, "u"},
	                {1e-9, "n"}, {1e-12, "p"}};
	const size_t last = sizeof prefixes / sizeof prefixes[0] - 1;
	const char *prefix = "";
	char text[360], all[384];
	int decimals;

	assert(digits >= 1 && digits <= 17);
	if (!isfinite(value))
		return put(dst, size, "nan");
	if (fabs(value) >= 1e15)
		return print_huge(dst, size, value, unit, digits);
	if (unit == UNIT_PERCENT) {
		value *= 100;
	} else if (unit != UNIT_NONE && !unit_is_level(unit) && fabs(value) > 0) {
		size_t i = unit == UNIT_SECOND ? 2 : 0; /* no kiloseconds */

		/* half a last digit below a step counts as the step: 999.96 V is 1 kV in 4 */
		while (i < last && fabs(value) < prefixes[i].scale * (1 - 0.5 * pow(10, -digits)))
			i++;
		prefix = prefixes[i].prefix;
		value /= prefixes[i].scale;
	}
	decimals = digits - 1;
	for (double step = 10; decimals > 0 && fabs(value) >= step; step *= 10)
		decimals--;
	for (double step = 1; fabs(value) > 0 && fabs(value) < step && decimals < 24; step /= 10)
		decimals++;
	print_plain(text, sizeof text, decimals, value);
	if (decimals > 0) {
		size_t n = strlen(text);

		while (text[n - 1] == '0')
			n--;
		text[text[n - 1] == '.' ? n - 1 : n] = '\0';
	}
	drop_minus_zero(text);
	(void)snprintf(all, sizeof all, "%s%s%s%s", text, unit == UNIT_NONE ? "" : " ", prefix,
	               unit_symbol(unit));
	return put(dst, size, all);
}
