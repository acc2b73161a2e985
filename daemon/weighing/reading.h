/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_READING_H
#define AMBO_WEIGHING_READING_H

#include <stdbool.h>
#include <stdint.h>

/* What weighing believes after one sample, by value. */
enum reading_state {
	READING_UNSETTLED,   /* moving, or too soon to say */
	READING_PROVISIONAL, /* looks still; a first value, may yet move */
	READING_SETTLED,     /* still: the average of everything since the last change */
	READING_FAULT,       /* at the rails, or silent: there is no mass */
};

/* "unsettled", "provisional", "settled", "fault". */
const char *reading_state_name(enum reading_state state);

struct reading {
	int64_t t_us; /* of the newest sample used */
	enum reading_state state;
	bool known;     /* false before the first estimate: the masses below say nothing */
	bool held;      /* this sample was held back or rejected: the estimate before is repeated */
	bool silent;    /* with READING_FAULT: no sample came, rather than a rail */
	bool overload;  /* above Max + 9 e (OIML R 76-1, 4.2.3): show no mass */
	bool underload; /* over 20 e below zero: the pan is off, or the wires are swapped */
	bool warm;      /* the zero has stopped drifting, as far as can be told */

	double gross_g;      /* calibrated, zero removed, before tare */
	double net_g;        /* gross_g less tare */
	double rate_g_per_s; /* 0 while settled or provisional */
	double sd_g;         /* of gross_g as an estimate: noise only */
	double rate_sd_g_per_s;
	double noise_g;         /* sd of one sample, given or learnt */
	uint32_t n_averaged;    /* samples in a settled or provisional value, else 0 */
	int64_t still_since_us; /* since when the value averages; t_us while it moves */
};

#endif
