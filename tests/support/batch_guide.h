/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_BATCH_GUIDE_H
#define AMBO_TESTS_SUPPORT_BATCH_GUIDE_H

#include "daemon/mixing/guide.h"

/* A guide filled by hand, for tests of what is done with one: 330 g of an invented
 * system, 100 : 45 by weight. n_dispenses: 0, 1 (227.5 g of A), 2 (and 102.4 g of B),
 * 3 (and 0.25 g of tint, by eye). */
void batch_guide(enum guide_step step, uint32_t n_dispenses, struct guide *ret);

/* The stamp of a clock that is sure of itself, at second t of its boot. */
struct store_stamp;
void batch_stamp(int64_t t_us, struct store_stamp *ret);

#endif
