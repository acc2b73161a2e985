/* SPDX-License-Identifier: MIT */
#include "period.h"

/* Intervals in a row that must not fit before the rate is held to have changed. */
#define STRANGE_MAX 5u
/* The newest interval's share in the long run: the oscillator drifts slowly. */
#define GAIN_MIN 0.01

void period_init(struct period *period, double rate_hz)
{
	*period = (struct period){0};
	if (rate_hz > 0.0) {
		period->us = 1e6 / rate_hz;
		period->n = 1;
	}
}

/* The lower median: of an even number the shorter, because gaps only lengthen. */
static double median_us(const struct period *period)
{
	int64_t sorted[PERIOD_RECENT];
	uint32_t i, j;

	for (i = 0; i < period->fill; i++) {
		for (j = i; j > 0 && sorted[j - 1] > period->recent_us[i]; j--)
			sorted[j] = sorted[j - 1];
		sorted[j] = period->recent_us[i];
	}
	return (double)sorted[(period->fill - 1) / 2];
}

void period_feed(struct period *period, int64_t interval_us)
{
	const double interval = (double)interval_us;
	double gain;

	period->recent_us[period->next] = interval_us;
	period->next = (period->next + 1) % PERIOD_RECENT;
	if (period->fill < PERIOD_RECENT)
		period->fill++;

	if (period->n > 0 && interval > 0.5 * period->us && interval < 1.5 * period->us) {
		period->strange = 0;
		period->n++;
		gain = 1.0 / (double)period->n;
		if (gain < GAIN_MIN)
			gain = GAIN_MIN;
		period->us += gain * (interval - period->us);
		return;
	}
	/* Too few to trust the estimate yet, or a rate that truly changed. */
	if (++period->strange >= STRANGE_MAX || period->n < 3) {
		if (period->n > 0 && period->strange < 2)
			return; /* one gap against a hint or a young estimate */
		period->us = median_us(period);
		period->n = 1;
		period->strange = 0;
	}
}
