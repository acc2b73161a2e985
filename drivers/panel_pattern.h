/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_PANEL_PATTERN_H
#define AMBO_DRIVERS_PANEL_PATTERN_H

#include <stdbool.h>
#include <stdint.h>

#include "panel.h"

/* From a signal and the time since it began to the levels of lamp, buzzer and
 * vibration. No clock, no lines. However fast signals change, the lamps never flash more
 * than three times in any second (WCAG 2.2, success criterion 2.3.1). */
#define PANEL_SLOT_US     INT64_C(100000)
#define PANEL_FLASHES_MAX 3 /* in a second */

struct panel_show {
	enum panel_signal signal;
	int64_t since_us;
	bool level[PANEL_OUTPUTS];         /* as now put out */
	int64_t lit_us[PANEL_FLASHES_MAX]; /* when a lamp last went on; [0] the oldest */
};

void panel_show_init(struct panel_show *show); /* dark */

/* The signal from now on; one that goes on keeps its beat. */
void panel_show_set(struct panel_show *show, enum panel_signal signal, int64_t now_us);

/* Brings show->level to now_us. When it may change next; INT64_MAX: never. */
int64_t panel_show_step(struct panel_show *show, int64_t now_us);

/* The level the signal has at a time since it began, without the limit on flashes. */
bool panel_pattern_level(enum panel_signal signal, enum panel_output output, int64_t since_us);

#endif
