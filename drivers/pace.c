/* SPDX-License-Identifier: MIT */
#include "pace.h"

#include <errno.h>
#include <time.h>

#define LATE_MAX_US 1000000

int64_t pace_now_us(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

void pace_sleep_until_us(int64_t real_us)
{
	struct timespec until = {(time_t)(real_us / 1000000), (long)(real_us % 1000000) * 1000};

	while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL) == EINTR)
		;
}

bool pace_wait(struct pace *pace, int64_t t_us, int64_t deadline_us)
{
	int64_t now_us, due_us;

	if (pace->speed <= 0.0)
		return true;
	now_us = pace_now_us();
	if (!pace->begun) {
		pace->begun = true;
		pace->own_us = t_us;
		pace->real_us = now_us;
	}
	due_us = pace->real_us + (int64_t)((double)(t_us - pace->own_us) / pace->speed);
	if (due_us > deadline_us) {
		pace_sleep_until_us(deadline_us);
		return false;
	}
	if (due_us > now_us) {
		pace_sleep_until_us(due_us);
	} else if (now_us - due_us > LATE_MAX_US) {
		pace->own_us = t_us;
		pace->real_us = now_us;
	}
	return true;
}

int64_t pace_own_us(const struct pace *pace, int64_t limit_us)
{
	int64_t own_us;

	if (!pace->begun)
		return limit_us;
	own_us = pace->own_us + (int64_t)((double)(pace_now_us() - pace->real_us) * pace->speed);
	return own_us < limit_us ? own_us : limit_us;
}
