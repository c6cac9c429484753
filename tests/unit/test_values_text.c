/* Lists of values as CSV: read, or refused in words. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "mainstair/proto/values_text.h"

TestSuite(values_text, .timeout = 60);

static int parse(const char *text, struct values *v, struct buf *said)
{
	struct complaints c;
	int result;

	complaints_init(&c, "v.csv");
	result = values_parse(text, strlen(text), v, &c);
	complaints_print(&c, said);
	complaints_release(&c);
	return result;
}

static bool near(double a, double b)
{
	return fabs(a - b) <= 1e-9 * (fabs(a) + fabs(b));
}

Test(values_text, reads)
{
	struct buf said = BUF_INIT;
	struct values v;

	cr_assert(parse("\xef\xbb\xbfQuantity,value,note,uncertainty\r\n"
	                "output,1.02 V,x,2 %\r\n"
	                "\"dial, upper\",1010 Hz,,5 Hz\r\n\r\n"
	                "gain,-20 dB,\"a \"\"b\"\"\",1 %\r\n"
	                "level,-10 dBm,,0.5 dB\r\n"
	                "depth,30 %,,2 %\r\n"
	                "divisions,50,,\r\n",
	                &v, &said) == 0,
	          "%s", said.data);
	cr_assert(v.n == 6);
	cr_assert_str_eq(v.list[1].name, "dial, upper");
	cr_assert(v.list[0].unit == UNIT_VOLT && near(v.list[0].expanded, 0.0204));
	cr_assert(v.list[1].unit == UNIT_HERTZ && near(v.list[1].expanded, 5) &&
	          v.list[1].line == 3);
	cr_assert(v.list[2].unit == UNIT_DECIBEL && near(v.list[2].expanded, 20 * log10(1.01)));
	cr_assert(v.list[3].unit == UNIT_DBM && near(v.list[3].expanded, 0.5));
	cr_assert(v.list[4].unit == UNIT_PERCENT && near(v.list[4].expanded, 0.02));
	cr_assert(v.list[5].unit == UNIT_NONE && isnan(v.list[5].expanded));
	values_release(&v);
	cr_assert(parse("value,quantity\n1,a\n", &v, &said) == 0);
	cr_assert(v.n == 1 && isnan(v.list[0].expanded));
	values_release(&v);
	buf_release(&said);
}

Test(values_text, refuses_in_words)
{
	static const struct {
		const char *text, *says;
	} rows[] = {
	        {"", "empty"},
	        {"\n \n", "empty"},
	        {"quantity,value\n", "no values"},
	        {"quantity\na\n", "no column value"},
	        {"a,b\n1,2\n", "no column quantity"},
	        {"quantity,value,value\na,1,2\n", "a column twice"},
	        {"quantity,value\na\n", "v.csv:2: 1 cells"},
	        {"quantity,value\na,1\n\nA,2\n", "v.csv:4: A: is there already, on line 2"},
	        {"quantity,value\n,1\n", "v.csv:2: quantity:"},
	        {"quantity,value\na,x\n", "v.csv:2: value:"},
	        {"quantity,value\na,\n", "value:"},
	        {"quantity,value\na,1 V +/- 2 %\n", "column uncertainty"},
	        {"quantity,value,uncertainty\na,1 V,1 Hz\n", "v.csv:2: uncertainty:"},
	        {"quantity,value,uncertainty\na,1 V,0\n", "above zero"},
	        {"quantity,value,uncertainty\na,0 V,2 %\n", "above zero"},
	        {"quantity,value,uncertainty\na,1 V,-1 V\n", "above zero"},
	        {"quantity,value\n\"a,1\n", "a quote"},
	        {"quantity,value\na\x01,1\n", "control"},
	        {"\"quantity,value\na,1\n", "a quote"},
	        {"quantity,value\na,nan\n", "value:"},
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct buf said = BUF_INIT;
		struct values v;

		cr_assert(parse(rows[i].text, &v, &said) == -1, "%s", rows[i].text);
		cr_assert(said.data && strstr(said.data, rows[i].says), "%s: %s", rows[i].text,
		          said.data);
		cr_assert(v.list == NULL && v.n == 0);
		buf_release(&said);
	}
}
