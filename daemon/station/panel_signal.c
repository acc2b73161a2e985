/* SPDX-License-Identifier: MIT */
#include "panel_signal.h"

enum panel_signal panel_signal_of(const struct guide_view *view, bool silent)
{
	if (view->step == GUIDE_DONE || view->step == GUIDE_DISCARDED)
		return PANEL_DARK;
	switch (view->cue) {
	case CUE_HAZARD:
		return PANEL_HAZARD; /* it does not need the scale */
	case CUE_SILENT:
		return PANEL_SILENT;
	case CUE_HELD:
		return silent ? PANEL_SILENT : PANEL_HELD;
	case CUE_TOO_MUCH:
		return silent ? PANEL_SILENT : PANEL_TOO_MUCH;
	case CUE_IN_BAND:
		return silent ? PANEL_SILENT : PANEL_IN_BAND;
	case CUE_TIP_BACK:
		return silent ? PANEL_SILENT : PANEL_TIP_BACK;
	case CUE_NEAR:
		return silent ? PANEL_SILENT : PANEL_NEAR;
	case CUE_POUR:
		return silent ? PANEL_SILENT : PANEL_POUR;
	case CUE_NONE:
		break;
	}
	/* Off the pan nobody needs the scale. */
	if (silent && view->step != GUIDE_STIR && view->step != GUIDE_POUR)
		return PANEL_SILENT;
	return view->step == GUIDE_HELD ? PANEL_HELD : PANEL_READY;
}
