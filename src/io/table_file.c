#include "io/table_file.h"

#include <string.h>

#include "io/data_path.h"
#include "io/whole_file.h"
#include "mainstair/base/text.h"

enum { TABLE_BYTES_MAX = 4 * 1024 * 1024, PATH_BYTES = 4096 };

typedef int parse_table(struct tables *t, const char *text, size_t n, struct err *err);

static int load(struct tables *t, const char *name, parse_table *parse, struct err *err)
{
	struct buf text = BUF_INIT;
	char path[PATH_BYTES];
	char shown[128];
	struct err why;
	int status = -1;

	if (data_path(name, path, sizeof path, err) != 0)
		return -1;
	if (whole_file_read(path, TABLE_BYTES_MAX, &text, err) != 0)
		goto out;
	if (parse(t, text.data, text.len, &why) != 0) {
		(void)text_show(shown, sizeof shown, path, strlen(path));
		err_set(err, why.code, "%s: %.380s", shown, why.text);
		goto out;
	}
	status = 0;
out:
	buf_release(&text);
	return status;
}

int table_file_load(struct tables *ret, struct err *err)
{
	*ret = (struct tables){ 0 };
	if (load(ret, "tubes.csv", tables_parse_tubes, err) == 0 &&
	    load(ret, "lamps.csv", tables_parse_lamps, err) == 0)
		return 0;
	tables_release(ret);
	return -1;
}
