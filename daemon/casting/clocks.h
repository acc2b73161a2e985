/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_CLOCKS_H
#define AMBO_CASTING_CLOCKS_H

#include "cure.h"

/* The clocks of a poured layer: one integration of the conversion at the temperature
 * that was logged, and the moments it passes. A value: keep it, store it, copy it to
 * look ahead. Nothing runs between two readings; what a reading changes is computed
 * when it comes, and the next event's time is known beforehand (clocks_ahead()). */

enum clock_event {
	CLOCK_HOLDS,       /* an inclusion stays where it is put; only where taught */
	CLOCK_STICKY,      /* sticky gel begins, at 0.7 of the conversion at gel (design choice) */
	CLOCK_GEL,         /* working life is over; the next pour opens; edge tape may come off */
	CLOCK_BOND_CLOSES, /* Tg passes T + 10 K: from here sand, wipe, pour; edge tape too late */
	CLOCK_HANDLE,      /* conversion 0.75: no fingerprints (design choice) */
	CLOCK_FULL_CURE,   /* handled, vitrified, gaining under 1 % a day (design choice) */
	CLOCK_EVENTS
};

#define CLOCKS_STICKY_SHARE   0.7
#define CLOCKS_BOND_K         10.0
#define CLOCKS_HANDLE         0.75
#define CLOCKS_FULL_PER_DAY   0.01
#define CLOCKS_REFERENCE_DEGC 25.0

struct clocks {
	double t_s, degc; /* the last reading */
	double conversion;
	double equivalent_s;       /* at CLOCKS_REFERENCE_DEGC, by the resin's own E2 */
	double holds_equivalent_s; /* learnt for the system; 0: unknown */
	double at_s[CLOCK_EVENTS]; /* when each came; NaN: not yet */
};

/* @t_s: any zero, the pour's or the station's; @degc: of the resin; conversion as it was
 * poured. The caller sets holds_equivalent_s where it is known. */
void clocks_init(struct clocks *clocks, double t_s, double degc, double conversion);

/* A reading: between two of them the temperature is taken to go straight. For a layer
 * that warms itself the caller adds the modelled rise of its surface to the room.
 * 0; -EINVAL for a time before the last reading or a temperature outside -60..250 C
 * (nothing changes); -ERANGE. Allocates nothing. */
int clocks_step(struct clocks *clocks, const struct cure *cure, double t_s, double degc);

/* The same clocks as they will stand if it stays at degc until until_s. */
int clocks_ahead(const struct clocks *clocks, const struct cure *cure, double degc, double until_s,
                 struct clocks *ret);

/* "holds now": what to keep for the system. Moves no other clock. */
double clocks_teach_holds(struct clocks *clocks);

const char *clock_event_name(enum clock_event event); /* "gel", for machines */

#endif
