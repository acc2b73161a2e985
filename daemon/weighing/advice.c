/* SPDX-License-Identifier: MIT */
#include "advice.h"

const char *advice_name(enum advice_id id)
{
	static const char *const names[] = {
#define ADVICE_NAME(id, name) [ADVICE_##id] = name,
	        ADVICE_TABLE(ADVICE_NAME)
#undef ADVICE_NAME
	};

	return (unsigned)id < ADVICE_COUNT ? names[id] : names[ADVICE_NONE];
}
