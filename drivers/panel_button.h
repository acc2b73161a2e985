/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_PANEL_BUTTON_H
#define AMBO_DRIVERS_PANEL_BUTTON_H

#include <stdbool.h>
#include <stdint.h>

#include "panel.h"

/* From the level of a foot switch to what the foot meant: debounced, a short press or a
 * long one. No clock: levels and times come in.
 *
 *   up --level down for DEBOUNCE--> down --up again--> press
 *                                    '--LONG--> hold (at once, not on release) --> up
 *                                         '--APPROVE--> approve (at once) --> up
 *
 * Nothing a foot can do discards a batch. */
#define PANEL_DEBOUNCE_US INT64_C(30000) /* common practice, no source: contacts rest in 20 ms */
#define PANEL_LONG_US     INT64_C(1200000)
/* Longer than anybody stands on it by mistake. */
#define PANEL_APPROVE_US INT64_C(5000000)
/* Pressed longer than any foot means it: a jammed switch, or a bottle on it. */
#define PANEL_JAMMED_US INT64_C(20000000)

struct panel_button {
	bool down;  /* as debounced */
	bool raw;   /* as last seen */
	bool spent; /* this press has had its meaning */
	bool approved;
	bool jammed;
	int64_t raw_since_us, down_since_us;
};

/* The switch as it is at the start: held down then, it must be let go before it counts. */
void panel_button_init(struct panel_button *button, bool down, int64_t now_us);

/* The level now; call at every edge and when panel_button_due_us() says. */
enum panel_event panel_button_feed(struct panel_button *button, bool down, int64_t now_us);

/* When it wants to be fed again although no edge comes; INT64_MAX: never. */
int64_t panel_button_due_us(const struct panel_button *button);

#endif
