/* The report's writers: escaping, scales, a document in every format against golden files
 * (tests/golden/report; GOLDEN_UPDATE=1 writes them: read the difference). */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/csv.h"
#include "report/document.h"
#include "report/escape.h"
#include "report/html.h"
#include "report/parts.h"
#include "report/plain.h"
#include "report/scale.h"
#include "report/svg.h"

TestSuite(report, .timeout = 20);

/* --- escaping --------------------------------------------------------------------------------- */

typedef void escape(struct buf *out, const char *s, size_t n);

static void same(escape *how, const char *in, size_t n, const char *wanted)
{
	struct buf out = BUF_INIT;

	how(&out, in, n);
	cr_assert(strcmp(out.data, wanted) == 0, "got %s, wanted %s", out.data, wanted);
	buf_release(&out);
}

#define SAME(how, in, wanted) same(how, in, sizeof in - 1, wanted)

Test(report, html_is_defused)
{
	SAME(escape_html, "plain", "plain");
	SAME(escape_html, "<script>alert(1)</script>", "&lt;script&gt;alert(1)&lt;/script&gt;");
	SAME(escape_html, "a & b &amp; c", "a &amp; b &amp;amp; c");
	SAME(escape_html, "\" onload='x'", "&quot; onload=&#39;x&#39;");
	SAME(escape_html, "]]> --> <!--", "]]&gt; --&gt; &lt;!--");
	SAME(escape_html, "</style></svg>", "&lt;/style&gt;&lt;/svg&gt;");
	SAME(escape_html, "\xc2\xb5\xe2\x84\xa6", "\xc2\xb5\xe2\x84\xa6"); /* micro, ohm */
}

Test(report, what_is_no_text_is_shown)
{
	SAME(escape_html, "a\0b", "a\\x00b");
	SAME(escape_html, "\033[2J\r\n\t", "\\x1b[2J\\x0d\\x0a\\x09");
	SAME(escape_html, "\xff\xc0\x80\xed\xa0\x80", "\\xff\\xc0\\x80\\xed\\xa0\\x80");
	SAME(escape_html, "\xe2\x80\xae", "\\xe2\\x80\\xae"); /* right-to-left override */
	SAME(escape_html, "\xef\xbf\xbe\xef\xb7\x90", "\\xef\\xbf\\xbe\\xef\\xb7\\x90");
	SAME(escape_html, "\xf0\x9f\xbf\xbf", "\\xf0\\x9f\\xbf\\xbf"); /* U+1FFFF */
	SAME(escape_html, "\xc2\x85\xe2\x80\xa8", "\\xc2\\x85\\xe2\\x80\\xa8");
	SAME(escape_html, "cut \xe2\x84", "cut \\xe2\\x84");
	SAME(escape_plain, "<\033>", "<\\x1b>");
}

/* RFC 4180, 2; what begins a formula: CWE-1236, "Improper Neutralization of Formula Elements in a
 * CSV File" (from memory). */
Test(report, csv_cells)
{
	SAME(escape_csv, "", "");
	SAME(escape_csv, "plain", "plain");
	SAME(escape_csv, "a,b", "\"a,b\"");
	SAME(escape_csv, "say \"hum\"", "\"say \"\"hum\"\"\"");
	SAME(escape_csv, "two\nlines", "two\\x0alines");
	SAME(escape_csv, "=1+1", "'=1+1");
	SAME(escape_csv, "+1", "'+1");
	SAME(escape_csv, "-1 dB low", "'-1 dB low");
	SAME(escape_csv, "@SUM(A1)", "'@SUM(A1)");
	SAME(escape_csv, "  =1", "\"'  =1\"");
	SAME(escape_csv, "\t=1", "'\\x09=1");
	SAME(escape_csv,
	     "\xef\xbc\x9d"
	     "1",
	     "'\xef\xbc\x9d"
	     "1"); /* full-width equals sign */
	SAME(escape_csv, "=HYPERLINK(\"x\",\"y\")", "\"'=HYPERLINK(\"\"x\"\",\"\"y\"\")\"");
	SAME(escape_csv, "1-2", "1-2");
}

/* --- scales ----------------------------------------------------------------------------------- */

static void sound(const struct scale *s)
{
	cr_assert(s->low < s->high);
	cr_assert(s->n_ticks >= 2 && s->n_ticks <= SCALE_TICKS_MAX, "%d ticks", s->n_ticks);
	for (int i = 0; i < s->n_ticks; i++) {
		const double at = scale_at(s, s->tick[i]);

		cr_assert(at >= s->from - 1e-6 && at <= s->to + 1e-6, "tick %g at %g", s->tick[i],
		          at);
		cr_assert(i == 0 || s->tick[i] > s->tick[i - 1]);
	}
}

Test(report, scales_hold_what_they_are_made_for)
{
	for (int low = -9; low <= 9; low++)
		for (int span = 0; span < 12; span++)
			for (int log = 0; log < 2; log++) {
				const double from = pow(10, low) * 1.7,
				             to = from * (1 + pow(10, span - 4));
				struct scale s;

				scale_make(&s, log == 1, from, to, 0, 100, 6);
				sound(&s);
				cr_assert(s.low <= from * (1 + 1e-8) && s.high >= to * (1 - 1e-8),
				          "%g..%g in %g..%g", from, to, s.low, s.high);
			}
}

Test(report, scales_of_nothing)
{
	const double odd[][2] = {{NAN, NAN},    {0, 0}, {5, 5},  {-3, -3},
	                         {INFINITY, 1}, {1, 0}, {-1, 1}, {0, 1e300}};

	for (size_t i = 0; i < sizeof odd / sizeof *odd; i++)
		for (int log = 0; log < 2; log++) {
			struct scale s;

			scale_make(&s, log == 1, odd[i][0], odd[i][1], 0, 100, 6);
			sound(&s);
		}
	struct scale s;
	scale_make(&s, true, 1, 100, 0, 100, 6);
	cr_assert(fabs(scale_at(&s, 10) - 50) < 1e-9);
	cr_assert(isnan(scale_at(&s, 0)) && isnan(scale_at(&s, NAN)));
}

/* --- words ------------------------------------------------------------------------------------ */

Test(report, times)
{
	char out[WHEN_MAX];

	cr_assert(strcmp(when(out, 1772388131.25), "2026-03-01 18:02") == 0);
	cr_assert(strcmp(when(out, NAN), "–") == 0);
	cr_assert(strcmp(when(out, -5), "–") == 0);
	cr_assert(strcmp(when(out, 1e300), "–") == 0);
	cr_assert(strcmp(how_long(out, 45), "45 s") == 0);
	cr_assert(strcmp(how_long(out, 90 * 60), "90 min") == 0);
	cr_assert(strcmp(how_long(out, 3 * 3600 + 600), "3 h 10 min") == 0);
	cr_assert(strcmp(how_long(out, 51 * 3600), "2 days 3 h") == 0);
	cr_assert(strcmp(how_long(out, INFINITY), "–") == 0);
}

/* What a garbled file or a needle at its stop may give is said in words, and never at length. */
Test(report, values_that_are_no_measure)
{
	const struct doc_column decimals = {
	        .unit = UNIT_WATT, .style = DOC_DECIMALS, .digits = 2, .infinite = ""};
	const struct doc_column prefix = {
	        .unit = UNIT_VOLT, .style = DOC_PREFIX, .digits = 3, .infinite = "does not"};
	char out[FIGURE_TEXT_MAX];
	struct buf text = BUF_INIT;

	cr_assert(strcmp(with_unit(out, NAN, UNIT_VOLT, 3), "–") == 0);
	cr_assert(strcmp(with_unit(out, INFINITY, UNIT_VOLT, 3), "over-range") == 0);
	cr_assert(strcmp(with_unit(out, -INFINITY, UNIT_NONE, 3), "over-range") == 0);
	cr_assert(strcmp(with_unit(out, 117, UNIT_VOLT, 3), "117 V") == 0);
	cr_assert(strcmp(with_unit(out, 1e22, UNIT_VOLT, 3), "1e22 V") == 0, "%s", out);
	cr_assert(strcmp(with_unit(out, -1e22, UNIT_NONE, 3), "-1e22") == 0, "%s", out);
	cr_assert(strcmp(with_unit(out, 1.7e308, UNIT_OHM, 3), "1.7e308 ohm") == 0, "%s", out);
	document_show_number(&text, &decimals, INFINITY);
	buf_addc(&text, ' ');
	document_show_number(&text, &decimals, 1e22);
	buf_addc(&text, ' ');
	document_show_number(&text, &prefix, INFINITY);
	buf_addc(&text, ' ');
	document_show_number(&text, &prefix, 1e22);
	buf_addc(&text, ' ');
	document_plain_number(&text, &prefix, 1.25e22);
	cr_assert(strcmp(text.data, "– 1e22 does not 1e22 V 1.25e22") == 0, "%s",
	          text.data);
	buf_release(&text);
}

/* --- a document in every format -----------------------------------------------------------------
 */

static void fill(struct document *d)
{
	struct figure *f;

	document_title(d, "Unit <7> & \"others\"", "A lead ]]> with \033[2J in it");
	document_section(d, 2, "first", "The %s", "first");
	document_fact(d, "line", "117 V, 60 Hz");
	document_fact(d, "a rather long name of a fact",
	              "with a text that is long enough to go on in "
	              "the next line of a page of eighty characters, and then in one more");
	document_para(d, DOC_DANGER, "Keep it unplugged");
	document_item(d, DOC_OPEN, "not looked at: <b>bold</b>");
	document_item(d, DOC_PLAIN, "an ordinary line");
	document_table(d, "ohms", "Read, unplugged");
	document_column(d, "between");
	document_number_column(d, "read", UNIT_OHM, DOC_PREFIX, 3, "over range");
	document_number_column(d, "watts", UNIT_WATT, DOC_DECIMALS, 2, "");
	document_column(d, "verdict");
	document_cell(d, DOC_PLAIN, "=cmd|'/c calc'!A1");
	document_number(d, DOC_PLAIN, 4700);
	document_number(d, DOC_PLAIN, -0.004);
	document_cell(d, DOC_GOOD, "pass");
	document_cell(d, DOC_PLAIN,
	              "rail \"main\", to chassis, with a name that does not fit a cell");
	document_number(d, DOC_CAUTION, INFINITY);
	document_number(d, DOC_PLAIN, NAN);
	document_cell(d, DOC_OPEN, "not read");
	document_section(d, 3, "second", "Within it");
	document_table(d, "ohms", "The same name again, and no rows");
	document_column(d, "\xc2\xb5"
	                   "F");
	document_data_table(d, "raw", "For machines");
	document_number_column(d, "share", UNIT_PERCENT, DOC_PREFIX, 3, "");
	document_number(d, DOC_PLAIN, 0.125);
	f = document_figure(d);
	snprintf(f->title, sizeof f->title, "Watts <over> volts");
	snprintf(f->desc, sizeof f->desc, "One line & a band.");
	snprintf(f->x.title, sizeof f->x.title, "volts (V)");
	snprintf(f->y.title, sizeof f->y.title, "watts (W)");
	snprintf(f->band_name, sizeof f->band_name, "band");
	snprintf(f->line_name[LINE_READINGS], sizeof f->line_name[0], "read");
	snprintf(f->mark_name[MARK_ABORT], sizeof f->mark_name[0], "abort");
	figure_band(f, 0, 0, 1);
	figure_band(f, 10, 8, 12);
	figure_band(f, NAN, NAN, NAN);
	figure_band(f, 12, 9, 13);
	figure_band(f, 20, 18, 25);
	figure_line(f, LINE_READINGS);
	for (int i = 0; i <= 20; i++)
		figure_point(f, i, i == 7 ? (double)NAN : i * 1.1);
	for (int i = 0; i < FIGURE_MARKS; i++)
		figure_dot(f, 3 * i, 2 * i, (enum figure_mark)i);
	figure_level(f, 20, "limit <1>");
}

/* Without the style sheet, which is looked at by eye and by the test of its contrast. */
static void drop_style(struct buf *html)
{
	char *from = strstr(html->data, "<style>"), *to = strstr(html->data, "</style>");
	struct buf rest = BUF_INIT;

	cr_assert(from && to && from < to);
	buf_add(&rest, to, html->len - (size_t)(to - html->data));
	buf_cut(html, (size_t)(from - html->data) + strlen("<style>"));
	buf_add(html, rest.data, rest.len);
	buf_release(&rest);
}

static void against_golden(const struct buf *got, const char *name)
{
	char path[600];
	struct buf wanted = BUF_INIT;
	char part[4096];
	FILE *f;
	size_t n;

	snprintf(path, sizeof path, "%s/golden/report/%s", getenv("MAINSTAIR_TESTS"), name);
	if (getenv("GOLDEN_UPDATE")) {
		f = fopen(path, "wb");
		cr_assert(f);
		cr_assert(fwrite(got->data, 1, got->len, f) == got->len);
		cr_assert(fclose(f) == 0);
		return;
	}
	f = fopen(path, "rb");
	cr_assert(f, "%s is missing", path);
	while ((n = fread(part, 1, sizeof part, f)) > 0)
		buf_add(&wanted, part, n);
	fclose(f);
	cr_assert(wanted.len == got->len && memcmp(wanted.data, got->data, got->len) == 0,
	          "%s differs; got:\n%s", name, got->data);
	buf_release(&wanted);
}

Test(report, every_format)
{
	struct document d;
	struct buf out = BUF_INIT;

	document_init(&d);
	fill(&d);
	cr_assert(!d.failed);
	html_write(&out, &d);
	drop_style(&out);
	against_golden(&out, "sample.html");
	buf_clear(&out);
	plain_write(&out, &d);
	against_golden(&out, "sample.txt");
	buf_clear(&out);
	csv_write(&out, &d, csv_find(&d, "ohms"));
	against_golden(&out, "ohms.csv");
	buf_clear(&out);
	csv_write_all(&out, &d);
	against_golden(&out, "all.csv");
	cr_assert(!out.failed);
	cr_assert(csv_find(&d, "ohms-2") && csv_find(&d, "raw") && !csv_find(&d, "none"));
	buf_release(&out);
	document_release(&d);
	document_release(&d); /* a zeroed one is fine */
}

Test(report, a_mark_before_other_than_ascii)
{
	struct document d;
	struct buf out = BUF_INIT;

	document_init(&d);
	fill(&d);
	csv_write(&out, &d, csv_find(&d, "ohms"));
	cr_assert(out.data[0] == 'b');
	buf_clear(&out);
	csv_write(&out, &d, csv_find(&d, "ohms-2"));
	cr_assert(memcmp(out.data, "\xef\xbb\xbf", 3) == 0);
	buf_release(&out);
	document_release(&d);
}

Test(report, an_empty_document_is_a_page)
{
	struct document d;
	struct buf out = BUF_INIT;

	document_init(&d);
	html_write(&out, &d);
	cr_assert(strstr(out.data, "</html>"));
	plain_write(&out, &d);
	csv_write_all(&out, &d);
	cr_assert(!out.failed);
	buf_release(&out);
	document_release(&d);
}

Test(report, a_figure_of_nothing_is_drawn)
{
	for (int log = 0; log < 2; log++) {
		struct buf out = BUF_INIT;
		struct figure f;

		figure_init(&f);
		f.x.log = f.y.log = log == 1;
		figure_band(&f, 1, NAN, 2);
		figure_dot(&f, 0, -1, MARK_GOOD);
		figure_line(&f, LINE_LIMIT);
		figure_point(&f, INFINITY, 1);
		svg_figure(&out, &f);
		svg_legend(&out, &f);
		cr_assert(!strstr(out.data, "nan") && !strstr(out.data, "inf"), "%s", out.data);
		buf_release(&out);
		figure_release(&f);
	}
}

/* So many points that a pixel holds dozens of them: a single one that stands out stays, on the line
 * and on both edges of the band, and the last point with it. */
Test(report, a_figure_keeps_what_stands_out_of_many_points)
{
	enum { N = 20000, AT = 7777, PATHS = 3 };
	static const char *const class[PATHS] = { "readings", "edge", "band" };
	static const double least[PATHS] = { 5, 20, 20 }, most[PATHS] = { 95, 40, 80 };
	struct buf out = BUF_INIT;
	struct figure f;

	figure_init(&f);
	f.y.low = 0;
	f.y.high = 100;
	for (int i = 0; i < N; i++)
		figure_band(&f, i, i == AT + 50 ? 20 : 40, i == AT + 100 ? 80 : 60);
	figure_line(&f, LINE_READINGS);
	for (int i = 0; i < N; i++)
		figure_point(&f, i, i == AT ? 95 : i == AT + 1 ? 5 : 50);
	svg_figure(&out, &f);
	for (int path = 0; path < PATHS; path++) {
		double x = 0, y = 0, top = 1e9, bottom = -1e9;
		char begin[40];
		const char *at;
		int n = 0, used;

		(void)snprintf(begin, sizeof begin, "class=\"%s\" d=\"", class[path]);
		at = strstr(out.data, begin);
		cr_assert(at);
		for (at += strlen(begin); sscanf(at, "%*1[ML]%lf,%lf%n", &x, &y, &used) == 2; n++) {
			top = fmin(top, y);
			bottom = fmax(bottom, y);
			at += used;
			if (path < 2 && *at == '"')
				cr_assert(x > 370, "the last point: %g", x);
		}
		/* as svg.c lays them: 0 W at 258, 100 W at 22 */
		cr_assert(fabs(bottom - (258 - 2.36 * least[path])) < 0.1, "%s: %g", class[path],
		          bottom);
		cr_assert(fabs(top - (258 - 2.36 * most[path])) < 0.1, "%s: %g", class[path], top);
		cr_assert(n > 500 && n < 4000, "%d points", n);
	}
	buf_release(&out);
	figure_release(&f);
}
