/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_POURED_H
#define AMBO_CASTING_POURED_H

#include "casting_system.h"
#include "layer_clocks.h"
#include "piece.h"

/* A layer as it was really poured: from weighed masses and ratio, one batch or several,
 * to its depth, its own resin and its clocks. */

struct poured_batch {
	double a_g, b_g, tint_g; /* as weighed; a + b > 0 */
	double stayed_g;         /* in the cup; NaN: not weighed back, the usual loss */
	double resin_degc;       /* before mixing; NaN: the room's */
	double cup_s;            /* from the hardener's first gram to the pour */
	double poured_s;         /* after the layer's first pour; >= 0 */
};

#define POURED_BATCHES_MAX 16u /* to a layer */

/* How far a batch had come in its own cup. */
struct poured_start {
	double poured_s, degc, conversion;
};

struct poured_layer {
	double in_piece_g, volume_ml;
	double from_mm, depth_mm;
	double over_ml;              /* what the cavity could not hold; 0: it fitted */
	double ratio, deviation_pct; /* of what was weighed, against the label's */
	struct heat_case heat;       /* of the weighed resin, as the first batch left its cup */
	struct poured_start start[POURED_BATCHES_MAX]; /* of each batch */
	size_t n;
};

/* All batches of one layer on from_mm, 1..POURED_BATCHES_MAX; a top coat's spreads over
 * the rim, and of it runs off what the piece says.
 * @usual_loss_g: what stays in a cup where it was not weighed.
 * 0; -EINVAL for masses that are none; -ERANGE. */
int poured_layer(const struct piece *piece, const struct casting_system *system, bool top_coat,
                 double from_mm, const struct poured_batch *batches, size_t n, double usual_loss_g,
                 double room_degc, struct poured_layer *ret);

/* Its clocks, the room as it was logged; layer_clocks.h. Times count from the first
 * pour. Each batch has its own clock, as if the whole layer were of it: the earliest
 * governs, so curve and heat are those of the batch that gels first, and so is each
 * deadline, while a permission waits for the last batch. */
int poured_course(const struct poured_layer *layer, const struct casting_system *system,
                  double holds_equivalent_s, const struct room_reading *room, size_t n_room,
                  struct layer_course *ret);

/* What "holds now", at_s after the first pour, is worth at 25 C: by the batch that has
 * come farthest, so that nothing is promised too early. */
int poured_holds_now(const struct poured_layer *layer, const struct casting_system *system,
                     const struct room_reading *room, size_t n_room, double at_s,
                     double *ret_equivalent_s);

#endif
