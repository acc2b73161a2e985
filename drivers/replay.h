/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_REPLAY_H
#define AMBO_DRIVERS_REPLAY_H

#include "scale.h"

/* Plays a recorded trace (trace.h) as if it were a scale; its time is the trace's.
 * Options:
 *   file     path of the trace; required
 *   speed    1: true speed; 10: ten times as fast; 0: as fast as it can. Default 1
 *   columns  t_us=NAME,raw24=NAME where the file calls them otherwise
 *   presses  path of what was pressed (trace_presses_open); read by the station
 * At the end of the trace read() returns -ENODATA. */
extern const struct scale_driver replay_driver;

#endif
