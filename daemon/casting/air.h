/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_AIR_H
#define AMBO_CASTING_AIR_H

/* Moisture in the room's air. */

/* Magnus' formula over water with Sonntag's coefficients (1990; 17.62 and 243.12 C, from
 * memory), -45..60 C, within 0.1 K. NaN outside it or for a humidity outside 0..100 %,
 * 0 excluded. */
double air_dew_point_degc(double air_degc, double humidity_pct);

#define AIR_HUMIDITY_MAX_PCT   85.0 /* ISO 8502-4 practice */
#define AIR_OVER_DEW_MIN_K     3.0  /* the surface over dew point; ISO 8502-4 practice */
#define AIR_HUMIDITY_CLEAR_PCT 65.0 /* for clear casting: blush above (memory, 60..65) */

/* Bits; 0: nothing to warn of. */
enum air_warning { AIR_BLUSH = 1, AIR_TOO_HUMID = 2, AIR_NEAR_DEW = 4 };

/* Warnings for a surface in this air, or -EINVAL where the dew point is unknown. */
int air_warnings(double air_degc, double humidity_pct, double surface_degc);

#endif
