/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_PERIOD_H
#define AMBO_WEIGHING_PERIOD_H

#include <stdint.h>

/* The sample period as measured: converters run several percent off their
 * nominal rate, so the hint only serves until real intervals are seen. Gaps do
 * not spoil it; a rate that truly changed is learnt afresh. */

#define PERIOD_RECENT 7u /* intervals remembered, for the median */

struct period {
	double us;        /* the estimate; 0 while unknown */
	uint32_t n;       /* intervals averaged into it */
	uint32_t strange; /* intervals in a row that did not fit */
	uint32_t fill, next;
	int64_t recent_us[PERIOD_RECENT];
};

/* @rate_hz: samples a second as the converter is set, or 0. */
void period_init(struct period *period, double rate_hz);

/* @interval_us: since the sample before, > 0. */
void period_feed(struct period *period, int64_t interval_us);

#endif
