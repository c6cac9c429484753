/* ui/utf8.c - see utf8.h */
#include "ui/utf8.h"

#include "mainstair/base/text.h"

uint32_t utf8_next(const char **p, const char *end)
{
	uint32_t code;
	size_t n = text_next(*p, (size_t)(end - *p), &code);

	*p += n > 0 ? n : 1;
	return n > 0 ? code : UTF8_BAD;
}

size_t utf8_put(uint32_t code, char *ret)
{
	if (code < 0x80) {
		ret[0] = (char)code;
		return 1;
	}
	if (code < 0x800) {
		ret[0] = (char)(0xc0 | code >> 6);
		ret[1] = (char)(0x80 | (code & 0x3f));
		return 2;
	}
	if (code < 0x10000) {
		ret[0] = (char)(0xe0 | code >> 12);
		ret[1] = (char)(0x80 | (code >> 6 & 0x3f));
		ret[2] = (char)(0x80 | (code & 0x3f));
		return 3;
	}
	ret[0] = (char)(0xf0 | code >> 18);
	ret[1] = (char)(0x80 | (code >> 12 & 0x3f));
	ret[2] = (char)(0x80 | (code >> 6 & 0x3f));
	ret[3] = (char)(0x80 | (code & 0x3f));
	return 4;
}

struct range {
	uint32_t first, last;
};

static const struct range never[] = {
	{0x0000, 0x001f}, {0x007f, 0x009f}, {0x061c, 0x061c}, {0x200e, 0x200f},
	{0x2028, 0x202e}, {0x2066, 0x206f}, {0xfff9, 0xfffb}, {0xd800, 0xdfff},
	{0xe0000, 0xe0fff}, {0x110000, 0xffffffff},
};
static const struct range combining[] = {
	{0x0300, 0x036f}, {0x0483, 0x0489}, {0x0591, 0x05bd}, {0x0610, 0x061a},
	{0x064b, 0x065f}, {0x0e31, 0x0e31}, {0x0e34, 0x0e3a}, {0x0e47, 0x0e4e},
	{0x093a, 0x093a}, {0x093c, 0x093c}, {0x0941, 0x0948}, {0x094d, 0x094d},
	{0x1ab0, 0x1aff}, {0x1dc0, 0x1dff}, {0x200b, 0x200d}, {0x2060, 0x2065},
	{0x20d0, 0x20ff}, {0x302a, 0x302d}, {0x3099, 0x309a}, {0xfe00, 0xfe0f},
	{0xfe20, 0xfe2f}, {0xfeff, 0xfeff},
};
static const struct range wide[] = {
	{0x1100, 0x115f}, {0x2329, 0x232a}, {0x2e80, 0x303e}, {0x3041, 0x33ff},
	{0x3400, 0x4dbf}, {0x4e00, 0x9fff}, {0xa000, 0xa4cf}, {0xa960, 0xa97f},
	{0xac00, 0xd7a3}, {0xf900, 0xfaff}, {0xfe10, 0xfe19}, {0xfe30, 0xfe6f},
	{0xff00, 0xff60}, {0xffe0, 0xffe6}, {0x1f300, 0x1f64f}, {0x1f680, 0x1f6ff},
	{0x1f900, 0x1f9ff}, {0x20000, 0x3fffd},
};

static int lies_in(const struct range *ranges, size_t n, uint32_t code)
{
	for (size_t i = 0; i < n; i++)
		if (code >= ranges[i].first && code <= ranges[i].last)
			return 1;
	return 0;
}

int utf8_columns(uint32_t code)
{
	if (code >= 0x20 && code < 0x7f)
		return 1;
	if (lies_in(never, sizeof never / sizeof *never, code))
		return -1;
	if (lies_in(combining, sizeof combining / sizeof *combining, code))
		return 0;
	return lies_in(wide, sizeof wide / sizeof *wide, code) ? 2 : 1;
}
