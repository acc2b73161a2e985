/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_BRIGHTNESS_H
#define AMBO_TOUCH_BRIGHTNESS_H

/* How bright the glass is. Where the kernel has a backlight that this user may set, that;
 * else what is shown is dimmed. */

#define BRIGHTNESS_FOLDER "/sys/class/backlight"

/* pct of the greatest, never 0: a black glass cannot be set again. Each device under
 * folder. Returns how many were set; 0: none is there, or none may be written. */
int brightness_set(const char *folder, int pct);

/* What a channel is multiplied by, of 255, where the picture is dimmed instead. */
int brightness_factor(int pct);

#endif
