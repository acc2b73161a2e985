/* SPDX-License-Identifier: MIT */
#include "message.h"

#include <string.h>

const char *component_name(enum component component)
{
	switch (component) {
	case COMPONENT_A:
		return "a";
	case COMPONENT_B:
		return "b";
	case COMPONENT_TINT:
		return "tint";
	case COMPONENT_FILLER:
		return "filler";
	case COMPONENT_MIXED:
		return "mixed";
	}
	return "a";
}

static const char *const names[MESSAGE_COUNT] = {
#define MESSAGE_ROW(id, name) [MESSAGE_##id] = name,
        MESSAGE_TABLE(MESSAGE_ROW)
#undef MESSAGE_ROW
};

const char *message_name(enum message_id id)
{
	return (unsigned)id < (unsigned)MESSAGE_COUNT ? names[id] : "none";
}

int message_from_name(const char *name)
{
	for (int i = 0; i < MESSAGE_COUNT; i++)
		if (strcmp(names[i], name) == 0)
			return i;
	return -1;
}
