#include "app/page.h"

/* In the order of the job; Tab goes through them. */
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
