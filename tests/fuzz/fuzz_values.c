/* Lists of values: whatever the bytes, a list within bounds or complaints, never both. */
#include <stdint.h>
#include <stdlib.h>
#include <math.h>

#include "mainstair/proto/values_text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct complaints c;
	struct values v;

	complaints_init(&c, "v.csv");
	if (values_parse((const char *)data, size, &v, &c) == 0) {
		if (complaints_count(&c) > 0 || v.n == 0)
			abort();
		for (size_t i = 0; i < v.n; i++)
			if (!v.list[i].name[0] || !isfinite(v.list[i].value) ||
			    !(isnan(v.list[i].expanded) || v.list[i].expanded > 0))
				abort();
		values_release(&v);
	} else if (complaints_count(&c) == 0 || v.list) {
		abort();
	}
	complaints_release(&c);
	return 0;
}
