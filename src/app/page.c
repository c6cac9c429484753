#include "app/page.h"

/* A row per page, as each is ready. */
const struct page_ops *const job_pages[] = {
	&page_look,
	&page_tubes,
	&page_ohms,
	&page_capacitors,
	&page_calibrate,
	&page_nulls,
	&page_compare,
	NULL,
};
