/* SPDX-License-Identifier: MIT */
#include "reading.h"

const char *reading_state_name(enum reading_state state)
{
	switch (state) {
	case READING_UNSETTLED:
		return "unsettled";
	case READING_PROVISIONAL:
		return "provisional";
	case READING_SETTLED:
		return "settled";
	case READING_FAULT:
		return "fault";
	}
	return "unknown";
}
