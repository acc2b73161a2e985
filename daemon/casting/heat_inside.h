/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_HEAT_INSIDE_H
#define AMBO_CASTING_HEAT_INSIDE_H

#include <stdbool.h>

#include "heat.h"
#include "mesh.h"
#include "stepper.h"

/* One layer on its way: heat.c moves it on and cuts it finer, heat_watch.c keeps what is
 * to be told. Only these two include this. */

struct heat_run {
	const struct heat_case *heat;
	struct heat_wanted wanted;
	struct mesh_cut cut;
	struct mesh mesh;
	struct stepper stepper;
	struct heat_result *result;
	double peak_k; /* of the nodes alone */
	bool jumps;    /* temperature or flux is not smooth at the pour */
	/* Until then a jump at the pour still rings through the polynomials, up to a tenth of
	 * a kelvin over the warmer side: no peak is believed. */
	double rough_s;
	size_t next_at;
};

/* At the pour, the stepper holding its temperatures. */
void heat_watch_begin(struct heat_run *run);
/* After each step: what became known. Returns whether nothing else is wanted. */
bool heat_watch(struct heat_run *run);

#endif
