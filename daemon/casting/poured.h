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
};

struct poured_layer {
	double in_piece_g, volume_ml;
	double from_mm, depth_mm;
	double over_ml;              /* what the cavity could not hold; 0: it fitted */
	double ratio, deviation_pct; /* of what was weighed, against the label's */
	struct heat_case heat;       /* of the weighed resin, already cured as in the cup */
};

/* All batches of one layer on from_mm; a top coat's spreads over the rim. The first
 * batch's age counts: the earliest clock governs. n >= 1.
 * @usual_loss_g: what stays in a cup where it was not weighed.
 * 0; -EINVAL for masses that are none; -ERANGE. */
int poured_layer(const struct piece *piece, const struct casting_system *system, bool top_coat,
                 double from_mm, const struct poured_batch *batches, size_t n, double usual_loss_g,
                 double room_degc, struct poured_layer *ret);

/* Its clocks, the room as it was logged. layer_clocks.h. */
int poured_course(const struct poured_layer *layer, const struct casting_system *system,
                  double holds_equivalent_s, const struct room_reading *room, size_t n_room,
                  struct layer_course *ret);

#endif
