/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_TOUCH_FILE_H
#define AMBO_TOUCH_TOUCH_FILE_H

#include <stdint.h>

/* Finger and key events out of a file or pipe, pushed through SDL's own queue, so that a
 * test goes the way a finger or a foot goes. A line each: down X Y [FINGER], up X Y [FINGER]
 * with shares of the window; press KEY, release KEY by SDL's names ("Space", "F1"); wait MS;
 * mark WORD tells on the standard output that it has come this far. A line that is none of
 * these is said and passed. */
struct touch_file;

int touch_file_open(const char *path, struct touch_file **ret); /* -errno */
void touch_file_close(struct touch_file *file);
/* Pushes what is due. */
void touch_file_run(struct touch_file *file, int64_t now_us);
/* When something is due, CLOCK_MONOTONIC; INT64_MAX: not before more has come. */
int64_t touch_file_until_us(const struct touch_file *file);
/* For poll(); -1 while nothing can come or nothing more be taken. */
int touch_file_fd(const struct touch_file *file);

#endif
