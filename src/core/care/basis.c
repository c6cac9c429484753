#include "mainstair/core/basis.h"

const char *basis_word(enum basis basis)
{
	static const char *const words[] = {
		[BASIS_READ] = "read",
		[BASIS_SECOND_HAND] = "second hand",
		[BASIS_FROM_MEMORY] = "from memory",
		[BASIS_PRACTICE] = "common practice",
	};

	return words[basis];
}
