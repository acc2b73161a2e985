/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_HUM_H
#define AMBO_WEIGHING_HUM_H

#include <stdbool.h>
#include <stdint.h>

/* The mains in the samples. At 80 samples/s 50 Hz stands at 30 Hz and 60 Hz at 20 Hz
 * (folded about the rate); the converter's filter lets a twentieth of 50 Hz through.
 * A block of samples is correlated with the mains' own frequency at the samples' true
 * times, which folds by itself. A slow trend is taken off first, so no rest is needed.
 * At 10 samples/s the filter has its zeros there: nothing to find, nothing looked for. */

#define HUM_BLOCK       256u /* samples: 3.2 s at 80/s */
#define HUM_RATE_MIN_HZ 40.0
#define HUM_SHARE       0.25 /* of the variance: by chance it is 2/HUM_BLOCK on average */

struct hum {
	uint32_t fill;
	int64_t t_us[HUM_BLOCK];
	double mass_g[HUM_BLOCK];
	/* Of the last whole block. */
	double hz; /* 50 or 60; 0: none */
	double amplitude_g;
	double share; /* of the variance, of the greatest line looked at */
};

void hum_init(struct hum *hum);
/* @rate_hz: as found; below HUM_RATE_MIN_HZ nothing is looked for. True when a block
 * was finished. */
bool hum_feed(struct hum *hum, int64_t t_us, double mass_g, double rate_hz);
void hum_break(struct hum *hum); /* a gap or a corrupt sample: the block begins anew */

#endif
