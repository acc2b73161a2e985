/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_PANEL_OPTIONS_H
#define AMBO_DRIVERS_PANEL_OPTIONS_H

#include "gpio_panel.h"
#include "options.h"

/* The configuration's group `panel`, as text: all of it is optional.
 *   chip                        the GPIO chip: path, name or label
 *   foot                        the foot switch's line: offset or name
 *   red, yellow, green          the lamp's lines
 *   buzzer, vibration           theirs
 *   foot_active, outputs_active "low" or "high": the level that means pressed, or on;
 *                               foot low (a switch to ground), outputs high when absent
 *   codes                       a code reader's device, /dev/input/by-id/... */
struct panel_options {
	struct gpio_panel_config gpio; /* chip NULL: no lines */
	const char *codes;             /* NULL: none */
	const char *where;             /* of the first option, for messages */
};

/* Returns the number of mistakes, each reported once. Texts stay the options'. */
int panel_options_read(const struct scale_option *options, size_t n_options, option_report *report,
                       void *context, struct panel_options *ret);

#endif
