/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_WEIGHER_H
#define AMBO_WEIGHING_WEIGHER_H

#include "calibration.h"
#include "reading.h"

/* The whole way from a raw code to a reading: spike gate, calibration, tracker,
 * settling, zero, tare. No clock and no I/O: the same samples give the same
 * readings. */
struct weigher;

struct weigher_config {
	struct calibration calibration; /* counts to grams, see calibration.h */
	double max_g;                   /* Max of the scale, > 0 */
	double interval_g;              /* scale interval d = e, > 0 */
	double noise_g;                 /* sd of one sample; 0: learnt from the samples */
	double rate_hz;     /* samples a second; 0: learnt. A hint only: measured time rules */
	double silent_s;    /* so long without a fresh sample is silence; 0: 3 periods */
	bool zero_tracking; /* at most 0.5 d/s, only at zero and settled (R 76, from memory) */
};

struct weigher_sample {
	int64_t t_us;
	int32_t counts;
	bool rail;    /* the driver says so; the end codes are recognised without it */
	bool corrupt; /* the driver knows this conversion to be void */
	bool repeat;  /* the conversion before once more: neither evidence nor a sign of life */
	bool moving;  /* the unit judges for itself, and says: not settled */
};

/* On 0 the caller owns *ret (weigher_free). -EINVAL for a value out of range,
 * -ENOMEM; *ret untouched. Allocates here only, never per sample. */
int weigher_new(const struct weigher_config *config, struct weigher **ret);
void weigher_free(struct weigher *weigher); /* NULL does nothing */

/* Forget the past but keep zero and tare: the next sample is the first. */
void weigher_clear(struct weigher *weigher);

/* Always sets *ret. Time must not run backwards or stand: such a sample is held. A
 * sample at a rail, the driver's or the end codes, makes that reading a fault and
 * leaves the estimate alone; the next good one goes on from it. A repeat leaves
 * everything alone and is held, unless it is at a rail. While the unit says that it
 * moves nothing is settled, only provisional. There is no estimate before the third
 * sample: one of two may be corrupt. */
void weigher_feed(struct weigher *weigher, const struct weigher_sample *sample,
                  struct reading *ret);

/* Called when nothing came: with the source silent for silent_s, or 3 periods and
 * never less than 100 ms, the reading becomes a silent fault. After a conversion that
 * was void, or may have been cut off (spike_gate.h), a converter restarts and settles:
 * then it is 5.5 periods. Sets *ret to the newest belief and returns 1 when that
 * changed, else 0. */
int weigher_tick(struct weigher *weigher, int64_t t_us, struct reading *ret);

/* From when on a tick would tell of silence; INT64_MAX: not known, or told already. */
int64_t weigher_silent_us(const struct weigher *weigher);

/* -EAGAIN unless settled; zero also -ERANGE outside 20 % of Max around the
 * calibration's zero (R 76-1, 4.5.1 initial zero-setting range). Zero is for an
 * empty pan, so it clears the tare. */
int weigher_zero(struct weigher *weigher);
int weigher_tare(struct weigher *weigher);
void weigher_clear_tare(struct weigher *weigher);

double weigher_zero_g(const struct weigher *weigher);             /* what zero takes off, g */
void weigher_set_zero_g(struct weigher *weigher, double zero_g);  /* as kept from before */
void weigher_set_zero_tracking(struct weigher *weigher, bool on); /* off from cup to done */

#endif
