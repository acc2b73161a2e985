/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_HX711_DRIVER_H
#define AMBO_DRIVERS_HX711_DRIVER_H

#include "scale.h"

/* HX711 converters on GPIO lines, over gpio_lines. Options:
 *   chip       the GPIO chip: path, name or label; required
 *   clock      the line PD_SCK: offset or name; required
 *   data       the line DOUT; of up to four converters on one clock "5,6"; required
 *   input      "A128" (default), "A64" or "B32": channel and gain
 *   rate_hz    10 (default) or 80, as the RATE pin says
 *   combine    "sum" (default) or the number of the one cell that counts, from 1
 *   idle_s     powers down after so many seconds of idleness; 0 (default): never
 * A sum is handed over divided by the number of cells, so that it stays in 24 bits;
 * the calibration does not mind.
 * act: "idle" 1 nobody weighs, 0 somebody does. Powered down it is silent, and needs
 * its settling time, and the cell its warm-up, to be back. */
extern const struct scale_driver hx711_driver;

#endif
