/* SPDX-License-Identifier: MIT */
#include "realtime.h"

#include <errno.h>
#include <pthread.h>
#include <sched.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>

/* Only what has been touched: a thread's whole stack need not be in memory. */
static int lock_memory(void)
{
#ifdef MCL_ONFAULT
	return mlockall(MCL_CURRENT | MCL_FUTURE | MCL_ONFAULT) < 0 ? errno : 0;
#else
	return mlockall(MCL_CURRENT | MCL_FUTURE) < 0 ? errno : 0;
#endif
}

int realtime_begin(char *message, size_t size)
{
	const struct sched_param priority = {.sched_priority = REALTIME_PRIORITY};
	const int no_priority = pthread_setschedparam(pthread_self(), SCHED_FIFO, &priority);
	const int no_lock = lock_memory();

	if (no_priority == 0 && no_lock == 0)
		return 0;
	snprintf(message, size,
	         "%s%s%s not allowed (%s): when the machine is busy more conversions are spoilt "
	         "and left out; a service allows it with LimitRTPRIO=%d, LimitMEMLOCK=infinity "
	         "and RestrictRealtime=no",
	         no_priority != 0 ? "real-time priority" : "",
	         no_priority != 0 && no_lock != 0 ? " and " : "",
	         no_lock != 0 ? "locked memory" : "",
	         strerror(no_priority != 0 ? no_priority : no_lock), REALTIME_PRIORITY);
	return -(no_priority != 0 ? no_priority : no_lock);
}
