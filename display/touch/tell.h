/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_TELL_H
#define AMBO_TOUCH_TELL_H

#include "screens.h"
#include "touch.h"

/* What is shown, as a line for tests:
 *   shown SCREEN STEP MESSAGE PRESS link=up sound=near amount=330 targets= KIND/VALUE@X,Y ...
 * with the middle of each target in pixels of the window, then " said=" and what the notice
 * says; " lit" in quiet mode, while the edge is. Returns its length. */
#define TELL_MAX 2048u
size_t tell_line(const struct model *model, const struct ui *ui, const struct scene *scene,
                 const struct touch_frame *frame, char buffer[TELL_MAX]);

#endif
