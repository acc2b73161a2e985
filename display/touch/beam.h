/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_BEAM_H
#define AMBO_TOUCH_BEAM_H

#include <stdbool.h>

/* The two-armed balance whose arms are in the mixing ratio: where the masses are in
 * ratio it hangs level, for A, for B and for a top-up alike. A hangs left.
 *
 * The lever's law: arm_a * m_A = arm_b * m_B, so arm_a / arm_b = m_B / m_A, drawn
 * true between 1:4 and 4:1 (beyond that a weight would hang under the pivot).
 *
 * The pointer stands where the mass of the present charge stands, left while the left
 * side is the heavier: linear inside the band, logarithmic outside of it, so that one
 * picture holds the whole charge and the band is never under BEAM_NOTCHES_MM wide.
 * How it magnifies is fixed when a charge begins (beam_scale_begin) and a monotonic
 * function of the mass from then on: more mass, further over, never back. */

#define BEAM_NOTCHES_MM 20.0 /* between the two notches, at least */
#define BEAM_TILT_RAD   0.10 /* at the pointer's full travel */

enum beam_side { BEAM_A, BEAM_B };

/* Fixed for one charge. */
struct beam_scale {
	bool known;
	enum beam_side side;            /* which weight grows */
	double full_mm, notch_mm;       /* the pointer's travel and a notch, from the middle */
	double half_low_g, half_high_g; /* from the target to the band's ends */
	double k;                       /* of the logarithm; 0: linear throughout */
};

/* target_g > 0; low_g < target_g < high_g (both inside the charge: a band that is
 * wider than the target counts as wide as it). full_mm: the room to either side. */
void beam_scale_begin(enum beam_side side, double target_g, double low_g, double high_g,
                      double full_mm, struct beam_scale *ret);

/* Where the pointer stands, mm from the middle, right positive; remaining_g < 0: too
 * much. Within +-full_mm. */
double beam_pointer_mm(const struct beam_scale *scale, double remaining_g);
/* The grams that doubt_g makes at this place, mm to either side. */
double beam_doubt_mm(const struct beam_scale *scale, double remaining_g, double doubt_g);
/* Radians, positive: the right side hangs lower. */
double beam_tilt_rad(const struct beam_scale *scale, double remaining_g);

/* Arm of A over the whole beam, 0.2..0.8. ratio_b_to_a: m_B / m_A by mass; what is
 * not above 0 counts as 1. */
double beam_arm_a_share(double ratio_b_to_a);

#endif
