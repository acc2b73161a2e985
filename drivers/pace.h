/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_PACE_H
#define AMBO_DRIVERS_PACE_H

#include <stdbool.h>
#include <stdint.h>

/* Lets a time of its own run along CLOCK_MONOTONIC, `speed` times as fast. */
struct pace {
	double speed; /* 0: as fast as it can, never waits */
	bool begun;
	int64_t own_us, real_us; /* where both stood together */
};

int64_t pace_now_us(void); /* CLOCK_MONOTONIC */
void pace_sleep_until_us(int64_t real_us); /* not at all when that has passed */

/* Sleeps until t_us of the own time is due, but never past deadline_us of the real
 * one. true when it is due. More than a second late (the machine slept), the own time
 * stands still for what was missed rather than run after it. */
bool pace_wait(struct pace *pace, int64_t t_us, int64_t deadline_us);

/* The own time now, not past limit_us; limit_us itself when it never waits. */
int64_t pace_own_us(const struct pace *pace, int64_t limit_us);

#endif
