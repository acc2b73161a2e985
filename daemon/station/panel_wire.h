/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_PANEL_WIRE_H
#define AMBO_STATION_PANEL_WIRE_H

struct station;

/* Foot switch, lamp, buzzer, vibration and code reader as the configuration's group
 * `panel` has them, wired to the batches: a press is a press, a long one holds, a code
 * is a scan; the newest cue goes out. Main loop only. A panel that fails in mid-work is
 * told of once and tried again; the station works without it. */
struct panel_wire;

/* *ret NULL when nothing is configured. -errno when something is that cannot be had:
 * said, with what to change. */
int panel_wire_new(struct station *station, struct panel_wire **ret);
void panel_wire_free(struct panel_wire *wire); /* dark and quiet; NULL does nothing */

/* The cue may have changed: costs next to nothing when it has not. NULL does nothing. */
void panel_wire_touch(struct panel_wire *wire);

#endif
