#include "mainstair/base/err.h"

#include <stdarg.h>
#include <stdio.h>

int err_set(struct err *err, enum err_code code, const char *format, ...)
{
	va_list ap;

	err->code = code;
	va_start(ap, format);
	(void)vsnprintf(err->text, sizeof err->text, format, ap);
	va_end(ap);
	return -1;
}
