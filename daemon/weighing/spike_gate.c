/* SPDX-License-Identifier: MIT */
#include "spike_gate.h"

#include <math.h>

void spike_gate_init(struct spike_gate *gate)
{
	*gate = (struct spike_gate){0};
}

void spike_gate_drop(struct spike_gate *gate)
{
	gate->pending = false;
	gate->held_in_row = 0;
	gate->passed_before = false;
}

/* Two departing samples belong together when they lie on one side and as near
 * each other as a pour or a filtered step leaves them. Two corrupt reads seldom
 * do: their codes end in different numbers of ones. */
static bool confirms(const struct spike_gate *gate, struct spike_gate_sample sample,
                     double departure_g, double width_g)
{
	const double larger_g = fmax(fabs(departure_g), fabs(gate->departure_g));
	const double poured_g =
	        SPIKE_GATE_POUR_G_PER_S * (double)(sample.t_us - gate->held.t_us) * 1e-6;
	const double near_g = fmax(fmax(width_g, poured_g), 0.5 * larger_g);

	return gate->pending && departure_g * gate->departure_g > 0.0 &&
	       fabs(sample.mass_g - gate->held.mass_g) <= near_g;
}

bool spike_gate_suspects(int32_t counts)
{
	const uint32_t ones = (UINT32_C(1) << SPIKE_GATE_ONES) - 1;

	return ((uint32_t)counts & ones) == ones;
}

static void pass(struct spike_gate *gate, struct spike_gate_verdict *verdict,
                 struct spike_gate_sample sample)
{
	verdict->pass[verdict->n++] = sample;
	gate->last_g = sample.mass_g;
	gate->passed_before = true;
	gate->pending = false;
	gate->held_in_row = 0;
}

struct spike_gate_verdict spike_gate_feed(struct spike_gate *gate, struct spike_gate_sample sample,
                                          double predicted_g, double width_g, bool gap)
{
	struct spike_gate_verdict verdict = {0};
	const double departure_g = sample.mass_g - predicted_g;
	const double fit_g = sample.suspect ? SPIKE_GATE_SUSPECT * width_g : width_g;

	if (gap) {
		gate->pending = false;
		gate->held_in_row = 0;
	}
	if (fabs(departure_g) <= fit_g ||
	    (gate->passed_before && fabs(sample.mass_g - gate->last_g) <= fit_g)) {
		verdict.departs = fabs(departure_g) > width_g;
		pass(gate, &verdict, sample);
	} else if (sample.suspect && gate->held_in_row < SPIKE_GATE_HELD_MAX) {
		gate->held_in_row++;
	} else if (confirms(gate, sample, departure_g, width_g)) {
		verdict.departs = true;
		pass(gate, &verdict, gate->held);
		pass(gate, &verdict, sample);
	} else if (gate->held_in_row >= SPIKE_GATE_HELD_MAX) {
		verdict.departs = true;
		pass(gate, &verdict, sample);
	} else {
		gate->pending = true;
		gate->held = sample;
		gate->departure_g = departure_g;
		gate->held_in_row++;
	}
	return verdict;
}
