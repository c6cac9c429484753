/* The record as text: what goes in comes out, and what was hurt is known to be. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "mainstair/proto/record_text.h"

TestSuite(record_text, .timeout = 60);

static unsigned random_state = 1;

static unsigned pick(unsigned n)
{
	random_state = random_state * 1664525u + 1013904223u;
	return (random_state >> 8) % n;
}

/* The check value of CRC-32 over "123456789" is 0xcbf43926 (Williams, A Painless Guide to CRC Error
 * Detection Algorithms, 1993, appendix "CRC-32"); RFC 1952, section 8, gives the algorithm. */
Test(record_text, crc_is_the_one_of_gzip)
{
	cr_assert_eq(record_crc32(0, "123456789", 9), 0xcbf43926u);
	cr_assert_eq(record_crc32(record_crc32(0, "1234", 4), "56789", 5), 0xcbf43926u);
	cr_assert_eq(record_crc32(0, "", 0), 0u);
	for (unsigned byte = 0; byte < 256; byte++) { /* bit by bit, from the polynomial */
		const unsigned char text = (unsigned char)byte;
		uint32_t c = 0xffffffffu ^ byte;

		for (int k = 0; k < 8; k++)
			c = c & 1 ? 0xedb88320u ^ c >> 1 : c >> 1;
		cr_assert_eq(record_crc32(0, &text, 1), ~c);
	}
}

Test(record_text, stamps_agree_with_the_c_library)
{
	static const long long some[] = { 0, 1, -1, 86399, 86400, 951782400 /* 2000-02-29 */,
		1000000000, 2147483648, 4102444800, -2208988800 /* 1900 */, 253402300799 /* 9999 */,
		-62135596800 /* 0001-01-01 */ };
	char ours[RECORD_STAMP_MAX], theirs[80];

	for (int i = 0; i < 20000; i++) {
		const long long s = i < (int)(sizeof some / sizeof *some) ? some[i] :
			((long long)pick(1u << 24) << 14) - 62135596800 + pick(1u << 14);
		const time_t t = (time_t)s;
		struct tm tm;
		int64_t back;

		gmtime_r(&t, &tm);
		snprintf(theirs, sizeof theirs, "%04d-%02d-%02dT%02d:%02d:%02dZ", tm.tm_year + 1900,
			 tm.tm_mon + 1, tm.tm_mday, tm.tm_hour, tm.tm_min, tm.tm_sec);
		record_stamp(ours, s);
		cr_assert_str_eq(ours, theirs, "%lld", s);
		cr_assert_eq(record_stamp_parse(ours, strlen(ours), &back), 0);
		cr_assert_eq(back, s);
	}
}

Test(record_text, what_is_no_stamp)
{
	static const char *const bad[] = { "", "2026-03-01", "2026-02-29T00:00:00Z",
		"2026-13-01T00:00:00Z", "2026-00-01T00:00:00Z", "2026-01-01T24:00:00Z",
		"2026-01-01 00:00:00Z", "2026-01-01T00:00:00", "2026-01-01T00:00:60Z",
		"0000-01-01T00:00:00Z", "2026-01-32T00:00:00Z", "2o26-01-01T00:00:00Z" };
	int64_t t;

	for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
		cr_assert_eq(record_stamp_parse(bad[i], strlen(bad[i]), &t), -1, "%s", bad[i]);
}

static struct event through(const struct event *ev)
{
	struct buf text = BUF_INIT, scratch = BUF_INIT;
	struct record_line line;
	struct event back;

	record_text_put_event(&text, ev);
	cr_assert(text.len < RECORD_LINE_MAX);
	cr_assert_eq(text.data[text.len - 1], '\n');
	cr_assert_null(memchr(text.data, '\n', text.len - 1));
	cr_assert_eq(record_text_scan(text.data, text.len - 1, &line), RECORD_LINE_EVENT, "%s",
		     text.data);
	record_text_get_event(&line, &scratch, &back);
	buf_release(&text);
	buf_release(&scratch);
	return back;
}

static bool same_number(double a, double b)
{
	return isnan(a) ? isnan(b) : !(a < b) && !(a > b) && !isnan(b);
}

static double random_number(void)
{
	union {
		double d;
		unsigned char bytes[8];
	} any;

	switch (pick(6)) {
	case 0:
		return pick(100000) / 10.0;
	case 1:
		return pick(1000000) / 1000.0;
	case 2:
		return (double)(float)(pick(1000000) / 997.0); /* as a register meter gives it */
	case 3:
		return pick(1000000) / 997.0 * (pick(2) ? 1 : -1);
	case 4:
		return (double)NAN;
	default:
		for (int i = 0; i < 8; i++)
			any.bytes[i] = (unsigned char)pick(256);
		return fpclassify(any.d) == FP_SUBNORMAL ? 0.0 : any.d;
	}
}

Test(record_text, every_number_survives_exactly)
{
	for (int i = 0; i < 200000; i++) {
		struct event ev = { .kind = EVENT_READING, .stage = (int)pick(25) - 1 };
		struct event back;

		ev.seconds = fabs(random_number());
		if (!isfinite(ev.seconds))
			ev.seconds = i;
		ev.volts = random_number();
		ev.watts = random_number();
		ev.amps = random_number();
		ev.power_factor = random_number();
		ev.verdict = (enum verdict)pick(VERDICT_ABORT + 1);
		back = through(&ev);
		cr_assert(same_number(ev.seconds, back.seconds), "%a", ev.seconds);
		cr_assert(same_number(ev.volts, back.volts), "%a", ev.volts);
		cr_assert(same_number(ev.watts, back.watts), "%a", ev.watts);
		cr_assert(same_number(ev.amps, back.amps), "%a", ev.amps);
		cr_assert(same_number(ev.power_factor, back.power_factor), "%a", ev.power_factor);
		cr_assert_eq(ev.stage, back.stage);
		cr_assert_eq(ev.verdict, back.verdict);
	}
}

Test(record_text, less_than_any_number_is_nought)
{
	const struct event ev = { .kind = EVENT_READING, .stage = -1, .volts = 5e-324,
				  .watts = -1e-310, .amps = -0.0, .power_factor = 2.3e-308 };
	const struct event back = through(&ev);

	cr_assert(same_number(back.volts, 0) && same_number(back.watts, 0));
	cr_assert(same_number(back.amps, 0) && same_number(back.power_factor, 2.3e-308));
}

Test(record_text, every_kind_and_any_note_survives)
{
	for (int i = 0; i < 20000; i++) {
		struct event ev = { .seconds = i, .kind = (enum event_kind)pick(EVENT_KINDS),
				    .stage = -1, .volts = NAN, .watts = NAN, .amps = NAN,
				    .power_factor = NAN };
		const size_t n = i % 50 == 0 ? sizeof ev.note - 1 : pick(60);
		struct event back;

		for (size_t k = 0; k < n; k++)
			ev.note[k] =
				pick(3) ? (char)(1 + pick(255)) : "\t\n\\\r x\xc2\x9b"[pick(8)];
		back = through(&ev);
		cr_assert_eq(back.kind, ev.kind);
		cr_assert_str_eq(back.note, ev.note);
	}
}

static const char good[] = "12.5\treading\t2\t50\t5.2\t-\t-\tin-band\ttyped";

static enum record_line_is scan_with_sum(const char *text, struct record_line *ret)
{
	static char line[RECORD_LINE_MAX]; /* a line borrows its note from it */

	snprintf(line, sizeof line, "%s\t%08x", text,
		 (unsigned)record_crc32(0, text, strlen(text)));
	return record_text_scan(line, strlen(line), ret);
}

Test(record_text, a_line_says_what_its_header_says)
{
	struct record_line line;

	cr_assert_eq(scan_with_sum(good, &line), RECORD_LINE_EVENT);
	cr_assert_eq(line.kind, EVENT_READING);
	cr_assert_eq(line.stage, 1, "stages count from 1 in the file");
	cr_assert_float_eq(line.seconds, 12.5, 0);
	cr_assert_float_eq(line.watts, 5.2, 0);
	cr_assert(isnan(line.amps));
	cr_assert_eq(line.verdict, VERDICT_IN_BAND);
	cr_assert_eq(line.note_len, 5);
	cr_assert_eq(line.extra_columns, 0);
}

Test(record_text, newer_lines_are_passed_over_or_read_as_far_as_they_are_known)
{
	struct record_line line;

	cr_assert_eq(
		scan_with_sum("1\treading\t-\t50\t5.2\t-\t-\tin-band\tnote\tnew\tnewer", &line),
		RECORD_LINE_EVENT);
	cr_assert_eq(line.extra_columns, 2);
	cr_assert_eq(line.note_len, 4);
	cr_assert_eq(scan_with_sum("1\tsparkle\t-\t-\t-\t-\t-\t-\t", &line), RECORD_LINE_UNKNOWN);
	cr_assert_eq(scan_with_sum("x\tsparkle\t?\t\t\t\t\t\t\t", &line), RECORD_LINE_UNKNOWN);
}

Test(record_text, wrong_columns_are_garbled_whatever_their_sum)
{
	static const char *const bad[] = {
		"",
		"1",
		"1\treading",
		"1\treading\t-\t50\t5.2\t-\t-\tin-band",
		"\treading\t-\t50\t5.2\t-\t-\tin-band\t",
		"nan\treading\t-\t50\t5.2\t-\t-\tin-band\t",
		"inf\treading\t-\t50\t5.2\t-\t-\tin-band\t",
		"-\treading\t-\t50\t5.2\t-\t-\tin-band\t",
		"1\treading\t0\t50\t5.2\t-\t-\tin-band\t",
		"1\treading\t-1\t50\t5.2\t-\t-\tin-band\t",
		"1\treading\t1001\t50\t5.2\t-\t-\tin-band\t",
		"1\treading\tx\t50\t5.2\t-\t-\tin-band\t",
		"1\treading\t-\t50V\t5.2\t-\t-\tin-band\t",
		"1\treading\t-\t50\t5,2\t-\t-\tin-band\t",
		"1\treading\t-\t50\t\t-\t-\tin-band\t",
		"1\treading\t-\t50\t5.2\t4k7\t-\tin-band\t",
		"1\treading\t-\t50\t5.2\t-\t-\tfine\t",
		"1\treading\t-\t0x1p3\t5.2\t-\t-\tin-band\t",
		"1\treading\t-\t50\t5.2\tnan\t-\tin-band\t",
	};
	struct record_line line;

	for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
		cr_assert_eq(scan_with_sum(bad[i], &line), RECORD_LINE_GARBLED, "%s", bad[i]);
}

/* A CRC-32 finds every burst of up to 32 bits: no changed byte, no swapped neighbours pass. */
Test(record_text, every_changed_or_missing_byte_is_noticed)
{
	char line[200], hurt[200];
	struct record_line ret;
	size_t n;

	n = (size_t)snprintf(line, sizeof line, "%s\t%08x", good,
			     (unsigned)record_crc32(0, good, strlen(good)));
	cr_assert_eq(record_text_scan(line, n, &ret), RECORD_LINE_EVENT);
	for (size_t cut = 0; cut < n; cut++)
		cr_assert_eq(record_text_scan(line, cut, &ret), RECORD_LINE_GARBLED);
	for (size_t i = 0; i < n; i++) {
		for (int bit = 0; bit < 8; bit++) {
			memcpy(hurt, line, n);
			hurt[i] = (char)(hurt[i] ^ 1 << bit);
			cr_assert_eq(record_text_scan(hurt, n, &ret), RECORD_LINE_GARBLED,
				     "byte %zu bit %d", i, bit);
		}
		if (i + 1 < n && line[i] != line[i + 1]) {
			memcpy(hurt, line, n);
			hurt[i] = line[i + 1];
			hurt[i + 1] = line[i];
			cr_assert_eq(record_text_scan(hurt, n, &ret), RECORD_LINE_GARBLED);
		}
	}
}

Test(record_text, a_note_longer_than_an_event_holds_is_cut_at_a_character)
{
	struct buf text = BUF_INIT, scratch = BUF_INIT;
	struct record_line line;
	struct event ev;

	buf_adds(&text, "1\tnote\t-\t-\t-\t-\t-\t-\tx");
	for (int i = 0; i < 300; i++)
		buf_adds(&text, "\u03a9");
	buf_addf(&text, "\t%08x", (unsigned)record_crc32(0, text.data, text.len));
	cr_assert_eq(record_text_scan(text.data, text.len, &line), RECORD_LINE_EVENT);
	record_text_get_event(&line, &scratch, &ev);
	cr_assert_eq(strlen(ev.note), 479);
	cr_assert_eq((unsigned char)ev.note[478], 0xa9);
	buf_release(&text);
	buf_release(&scratch);
}

Test(record_text, an_escape_of_another_program_is_shown_as_it_stands)
{
	struct buf scratch = BUF_INIT;
	struct record_line line;
	struct event ev;

	cr_assert_eq(scan_with_sum("1\tnote\t-\t-\t-\t-\t-\t-\twhat is \\q", &line),
		     RECORD_LINE_EVENT);
	record_text_get_event(&line, &scratch, &ev);
	cr_assert_str_eq(ev.note, "what is \\q");
	buf_release(&scratch);
}

/* --- heads ------------------------------------------------------------------------------- */

static const struct record_block no_bench = { "", "", 0, false };

static void head_survives(const char *profile, size_t n)
{
	const struct record_head head = {
		.started_s = 1772388131, .program = "mainstair 0.1.0",
		.profile = { "bench \t oscillator.ini", profile, n, false }, .bench = no_bench,
	};
	struct buf text = BUF_INIT, store = BUF_INIT;
	struct record_head back;
	struct err err = { 0 };

	record_text_put_head(&text, &head);
	cr_assert_eq(record_text_head_size(text.data, text.len), text.len);
	for (size_t cut = 0; cut < text.len; cut += 1 + text.len / 64)
		cr_assert_eq(record_text_head_size(text.data, cut), 0);
	cr_assert_eq(record_text_get_head(text.data, text.len, &back, &store, &err), 0, "%s",
		     err.text);
	cr_assert_eq(back.started_s, head.started_s);
	cr_assert_str_eq(back.program, head.program);
	cr_assert_str_eq(back.profile.name, head.profile.name);
	cr_assert_eq(back.profile.len, n);
	cr_assert_eq(memcmp(back.profile.text, profile, n), 0);
	cr_assert_eq(back.bench.len, 0);
	cr_assert_not(back.damaged || back.profile.damaged || back.bench.damaged);
	cr_assert_eq(back.passed_over, 0);
	buf_release(&text);
	buf_release(&store);
}

Test(record_text, a_profile_survives_whatever_is_in_it)
{
	static const char *const profiles[] = {
		"",
		"\n",
		"\n\n",
		"x",
		"[instrument]\nname = a\n",
		"[instrument]\r\nname = a\r\n",
		"no end",
		"a\n\nb",
		"|pipe\n||\n",
		"seconds\tkind\tstage\n",
		"bench\t\t0\t00000000\n",
		"mainstair record 1\n",
		"tab\there\\and there\n",
		"\xce\xa9 \xff\xfe\n",
	};
	char bytes[3000];

	for (size_t i = 0; i < sizeof profiles / sizeof *profiles; i++)
		head_survives(profiles[i], strlen(profiles[i]));
	for (int i = 0; i < 300; i++) {
		const size_t n = pick(sizeof bytes);

		for (size_t k = 0; k < n; k++)
			bytes[k] = pick(4) ? (char)pick(256) : "\n\r\t|\\"[pick(5)];
		head_survives(bytes, n);
	}
}

static const char profile[] = "[instrument]\nname = Demonstration\n";

static void put_head(struct buf *text)
{
	const struct record_head head = {
		.started_s = 1772388131, .program = "mainstair 0.1.0",
		.profile = { "demo.ini", profile, sizeof profile - 1, false },
		.bench = { "bench.ini", "[line]\nvolts = 122\n", 19, false },
	};

	record_text_put_head(text, &head);
}

Test(record_text, a_changed_head_is_refused_or_told)
{
	struct buf text = BUF_INIT, store = BUF_INIT;
	struct record_head back;
	struct err err;

	put_head(&text);
	/* the line of columns is not summed: changed, the head has no end, or it does not matter */
	for (size_t i = 0; text.data + i < strstr(text.data, "seconds\tkind"); i++) {
		const char was = text.data[i];
		size_t size;

		text.data[i] = (char)(was ^ 1 << pick(7));
		size = record_text_head_size(text.data, text.len);
		size = size ? size : text.len;
		if (record_text_get_head(text.data, size, &back, &store, &err) == 0)
			cr_assert(back.damaged, "byte %zu", i);
		text.data[i] = was;
	}
	buf_release(&text);
	buf_release(&store);
}

Test(record_text, lines_of_a_newer_head_are_passed_over)
{
	struct buf text = BUF_INIT, longer = BUF_INIT, store = BUF_INIT;
	struct record_head back;
	struct err err;
	const char *at;

	put_head(&text);
	at = strstr(text.data, "program\t");
	buf_add(&longer, text.data, (size_t)(at - text.data));
	buf_adds(&longer, "weather\train\nmood\tgood\n");
	buf_adds(&longer, at);
	cr_assert_eq(record_text_get_head(longer.data, longer.len, &back, &store, &err), 0);
	cr_assert_eq(back.passed_over, 2);
	cr_assert_eq(back.profile.len, sizeof profile - 1);
	cr_assert(back.damaged, "this one was not written with the head's sum");
	cr_assert_not(back.profile.damaged);
	buf_release(&text);
	buf_release(&longer);
	buf_release(&store);
}

Test(record_text, what_is_no_record_is_told_in_words)
{
	static const struct {
		const char *text;
		enum err_code code;
		const char *says;
	} rows[] = {
		{ "", ERR_INPUT, "empty" },
		{ "line_volts,watts\n50,5.2\n", ERR_INPUT, "begins with `line_volts,watts`" },
		{ "\x1b[2Jbell", ERR_INPUT, "\\x1b[2Jbell" },
		{ "mainstair record 2\nstarted\t\n", ERR_UNSUPPORTED, "version 2" },
		{ "mainstair record 99999999\n", ERR_UNSUPPORTED, "version 99999999" },
		{ "mainstair record \n", ERR_INPUT, "not a record" },
		{ "mainstair record 1\r\n", ERR_INPUT, "not a record" },
		{ "mainstair record 1", ERR_INPUT, "cut short" },
		{ "mainstair record 1\nstarted\t2026-", ERR_INPUT, "cut short" },
		{ "mainstair record 1\nseconds\tkind\tstage\n", ERR_INPUT, "no profile" },
	};
	struct buf store = BUF_INIT;
	struct record_head head;
	struct err err;

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		cr_assert_eq(record_text_get_head(rows[i].text, strlen(rows[i].text), &head, &store,
						  &err), -1);
		cr_assert_eq(err.code, rows[i].code, "row %zu", i);
		cr_assert(strstr(err.text, rows[i].says), "row %zu: %s", i, err.text);
	}
	buf_release(&store);
}
