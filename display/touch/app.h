/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_APP_H
#define AMBO_TOUCH_APP_H

#include "options.h"

/* The display from its first picture to its last. Returns an exit status. */
int app_run(const struct options *options);

#endif
