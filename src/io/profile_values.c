#include "io/profile_values.h"

#include <stdio.h>
#include <string.h>

static bool is_blank(char c)
{
	return c == ' ' || c == '\t';
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

static int copy_value(char dst[VALUE_MAX], const char *text, struct err *err)
{
	size_t n = strlen(text);

	if (n >= VALUE_MAX)
		return err_set(err, ERR_RANGE, "longer than %d bytes", VALUE_MAX - 1);
	memcpy(dst, text, n + 1);
	return 0;
}

int words_of(const char *text, struct words *ret, struct err *err)
{
	char *s;

	ret->n = 0;
	if (copy_value(ret->text, text, err) < 0)
		return -1;
	s = ret->text;
	for (;;) {
		while (is_blank(*s))
			s++;
		if (!*s)
			return 0;
		if (ret->n == WORDS_MAX)
			return err_set(err, ERR_RANGE, "more than %d words", WORDS_MAX);
		ret->word[ret->n++] = s;
		while (*s && !is_blank(*s))
			s++;
		if (*s)
			*s++ = '\0';
	}
}

char *words_join(const struct words *w, int first, int last, char *dst, size_t size)
{
	size_t at = 0;

	dst[0] = '\0';
	for (int i = first; i < last && at < size; i++)
		at += (size_t)snprintf(dst + at, size - at, "%s%s", i > first ? " " : "",
		                       w->word[i]);
	return dst;
}

static int check_range(const struct quantity *q, const struct range *range, struct err *err)
{
	char found[32], least[32], most[32];

	if (q->value < range->least || q->value > range->most) {
		(void)num_print_unit(found, sizeof found, q->value, range->unit, 4);
		(void)num_print_unit(least, sizeof least, range->least, range->unit, 4);
		(void)num_print_unit(most, sizeof most, range->most, range->unit, 4);
		return err_set(err, ERR_RANGE, "%s cannot be: allowed are %s to %s", found, least,
		               most);
	}
	if (range->exact && q->tol >= 0)
		return err_set(err, ERR_INPUT, "a tolerance means nothing here");
	return 0;
}

static struct given give(const struct quantity *q)
{
	return (struct given){.given = true, .value = q->value, .tol = q->tol};
}

int value_quantity(const char *text, const struct range *range, struct given *ret,
                   struct err *err)
{
	struct quantity q;

	if (num_parse(text, range->unit, &q, err) < 0 || check_range(&q, range, err) < 0)
		return -1;
	*ret = give(&q);
	return 0;
}

int value_pair(const char *text, const struct range *a, const struct range *b, bool both,
               struct given *ret_a, struct given *ret_b, struct err *err)
{
	const struct range *ranges[2] = {a, b};
	struct given *rets[2] = {ret_a, ret_b};
	const char *s = text;

	*ret_a = *ret_b = (struct given){.tol = -1};
	while (*s) {
		struct quantity q;
		int k;

		s = num_scan(s, UNIT_ANY, &q, err);
		if (!s)
			return -1;
		k = q.unit == a->unit ? 0 : 1;
		if (q.unit != ranges[k]->unit)
			return err_set(err, ERR_INPUT,
			               "a value in %s is out of place: %s and %s are "
			               "expected",
			               unit_symbol(q.unit), unit_symbol(a->unit),
			               unit_symbol(b->unit));
		if (rets[k]->given)
			return err_set(err, ERR_INPUT, "two values in %s", unit_symbol(q.unit));
		if (check_range(&q, ranges[k], err) < 0)
			return -1;
		*rets[k] = give(&q);
	}
	if (!ret_a->given || (both && !ret_b->given))
		return err_set(err, ERR_INPUT, "a value in %s is missing",
		               unit_symbol(ret_a->given ? b->unit : a->unit));
	return 0;
}

int value_winding(const char *text, struct given *ret_volts, bool *ret_centre_tapped,
                  struct err *err)
{
	static const struct range range = {UNIT_VOLT, 0.5, 20e3, false};
	const char *tap = strstr(text, "-0-");
	char half[VALUE_MAX];
	struct quantity first, second;
	size_t n;

	*ret_centre_tapped = tap != NULL;
	if (!tap)
		return value_quantity(text, &range, ret_volts, err);
	if (copy_value(half, text, err) < 0)
		return -1;
	n = (size_t)(tap - text);
	half[n] = '\0';
	if (num_parse(half, UNIT_VOLT, &first, err) < 0 ||
	    num_parse(half + n + 3, UNIT_VOLT, &second, err) < 0)
		return -1;
	if (first.value > second.value || first.value < second.value)
		return err_set(err, ERR_INPUT,
		               "the halves differ: a centre-tapped winding is written "
		               "250-0-250");
	if (check_range(&second, &range, err) < 0)
		return -1;
	*ret_volts = give(&second);
	return 0;
}

int value_through(const char *text, struct given *ret_ohms, struct given *ret_henry,
                  struct given *ret_choke_ohms, struct err *err)
{
	static const struct range resistor = {UNIT_OHM, 0.01, 100e6, false};
	static const struct range henry = {UNIT_HENRY, 1e-4, 1000, false};
	static const struct range choke_ohms = {UNIT_OHM, 0.01, 50e3, false};
	struct quantity q;
	struct err other;

	/* one quantity, in ohm or bare: a resistor; with henries anywhere: a choke */
	for (const char *s = text; (s = num_scan(s, UNIT_ANY, &q, &other)) != NULL;) {
		if (q.unit == UNIT_HENRY)
			return value_pair(text, &henry, &choke_ohms, false, ret_henry,
			                  ret_choke_ohms, err);
		if (!*s)
			break;
	}
	return value_quantity(text, &resistor, ret_ohms, err);
}

int value_list(char *text, bool digits, char **items, int max, struct err *err)
{
	int n = 0;

	for (char *s = text; s;) {
		char *comma = strchr(s, ','), *end;

		if (comma && !digits && comma > text && is_digit(comma[-1]) && is_digit(comma[1]))
			return err_set(err, ERR_INPUT,
			               "a comma between two digits: write 2.5 for two "
			               "and a half, or `2, 5` for two values");
		while (is_blank(*s))
			s++;
		end = comma ? comma : s + strlen(s);
		while (end > s && is_blank(end[-1]))
			end--;
		if (end == s)
			return err_set(err, ERR_INPUT,
			               "nothing between two commas, or a comma at the "
			               "end");
		if (n == max)
			return err_set(err, ERR_RANGE, "more than %d values", max);
		items[n++] = s;
		*end = '\0';
		s = comma ? comma + 1 : NULL;
	}
	return n;
}

int value_can(const char *value, char text[CAN_SECTIONS_MAX][VALUE_MAX], struct err *err)
{
	const char *part[CAN_SECTIONS_MAX] = {value}, *rest;
	const char *end_of_ratings = strstr(value, " on ");
	struct quantity q;
	struct words on;
	int n = 1;

	/* the + of `+/- 20 %` is none, nor is one in a rail's name */
	for (const char *s = value; (s = strchr(s, '+')) != NULL; s++) {
		if (s[1] == '/' || (end_of_ratings && s > end_of_ratings))
			continue;
		if (n == CAN_SECTIONS_MAX)
			return err_set(err, ERR_RANGE, "more than %d sections in one can",
			               CAN_SECTIONS_MAX);
		part[n++] = s + 1;
	}
	if (n == 1)
		return 1;
	if (strlen(value) >= VALUE_MAX / 2)
		return err_set(err, ERR_RANGE, "longer than %d bytes", VALUE_MAX / 2 - 1);
	rest = num_scan(part[n - 1], UNIT_ANY, &q, err);
	if (!rest)
		return -1;
	const char *unit = part[n - 1] + strspn(part[n - 1], " \t0123456789.");
	const char *rails = strstr(rest, " on ");

	on.n = 0;
	if (rails && words_of(rails + 4, &on, err) < 0)
		return -1;
	if (rails && on.n != n)
		return err_set(err, ERR_INPUT, "%d sections: name a rail for each, as `50+50 uF 450 V on "
		               "main screen`, or none", n);
	for (int i = 0; i < n; i++) {
		const char *end = i + 1 < n ? part[i + 1] - 1 : rest, *behind;
		const size_t digits = strspn(part[i], " \t0123456789.");
		const bool bare = i + 1 < n && digits >= (size_t)(end - part[i]);
		char own[VALUE_MAX];

		(void)snprintf(own, sizeof own, "%.*s", (int)(end - part[i]), part[i]);
		/* volts of its own: it takes none of the last */
		behind = bare ? "" : num_scan(own, UNIT_ANY, &q, err);
		if (!behind)
			return -1;
		(void)snprintf(text[i], VALUE_MAX, "%.*s%.*s %.*s%s%s", (int)strlen(own), own,
		               bare ? (int)(rest - unit) : 0, unit,
		               *behind ? 0 : rails ? (int)(rails - rest) : (int)strlen(rest), rest,
		               rails ? " on " : "", rails ? on.word[i] : "");
	}
	return n;
}
