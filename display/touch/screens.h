/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_SCREENS_H
#define AMBO_TOUCH_SCREENS_H

#include "layout.h"
#include "ui.h"

/* The whole glass as a scene: a pure function of what the station says and what the
 * person has chosen. (Which language speaks is the process's: say_language().) */
void screens_draw(const struct model *model, const struct ui *ui, double width_mm, double height_mm,
                  struct scene *ret);

#endif
