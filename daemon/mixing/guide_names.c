/* SPDX-License-Identifier: MIT */
#include "guide.h"

/* Machine names: on the bus, in records and in stored states. Never translated. */

const char *guide_step_name(enum guide_step step)
{
	switch (step) {
	case GUIDE_READY:
		return "ready";
	case GUIDE_CUP:
		return "cup";
	case GUIDE_CHARGE:
		return "charge";
	case GUIDE_TOP_UP:
		return "top-up";
	case GUIDE_STIR:
		return "stir";
	case GUIDE_POUR:
		return "pour";
	case GUIDE_DONE:
		return "done";
	case GUIDE_HELD:
		return "held";
	case GUIDE_DISCARDED:
		return "discarded";
	}
	return "ready";
}

const char *press_meaning_name(enum press_meaning meaning)
{
	switch (meaning) {
	case PRESS_NOTHING:
		return "nothing";
	case PRESS_START:
		return "start";
	case PRESS_NEXT:
		return "next";
	case PRESS_TOP_UP:
		return "top-up";
	case PRESS_IS_RESIN:
		return "is-resin";
	case PRESS_GO_ON:
		return "go-on";
	case PRESS_STIR:
		return "stir";
	case PRESS_STIRRED:
		return "stirred";
	case PRESS_POURED:
		return "poured";
	case PRESS_ACCEPT:
		return "accept";
	}
	return "nothing";
}

const char *cue_name(enum cue cue)
{
	switch (cue) {
	case CUE_NONE:
		return "none";
	case CUE_POUR:
		return "pour";
	case CUE_NEAR:
		return "near";
	case CUE_TIP_BACK:
		return "tip-back";
	case CUE_IN_BAND:
		return "in-band";
	case CUE_TOO_MUCH:
		return "too-much";
	case CUE_HELD:
		return "held";
	case CUE_SILENT:
		return "silent";
	case CUE_HAZARD:
		return "hazard";
	}
	return "none";
}

const char *identity_name(enum identity identity)
{
	switch (identity) {
	case IDENTITY_BY_HAND:
		return "by-hand";
	case IDENTITY_BOTTLE:
		return "bottle";
	case IDENTITY_CODE:
		return "code";
	}
	return "by-hand";
}
