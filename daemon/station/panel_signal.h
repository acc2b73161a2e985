/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_PANEL_SIGNAL_H
#define AMBO_STATION_PANEL_SIGNAL_H

#include <stdbool.h>

#include "daemon/mixing/guide.h"
#include "drivers/panel.h"

/* What the panel has to say of one batch; the most urgent of several batches is that
 * with the highest number. Pure. silent: the scale is, or failed. */
enum panel_signal panel_signal_of(const struct guide_view *view, bool silent);

#endif
