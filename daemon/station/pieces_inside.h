/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_PIECES_INSIDE_H
#define AMBO_STATION_PIECES_INSIDE_H

#include "pieces.h"
#include "station.h"

/* What the files of pieces share. */
struct pieces {
	struct station *station;
	struct live_piece pieces[PIECES_MAX];
	size_t n_pieces;
	struct store_pour *pours; /* oldest first */
	size_t n_pours;
	struct store_room *rooms;
	size_t n_rooms;
	struct live_layer layers[PIECES_LAYERS_MAX];
	size_t n_layers;
	struct casting_system systems[CONFIG_SYSTEMS_MAX];
	double holds_s[CONFIG_SYSTEMS_MAX];
	double loss_g[CONFIG_SYSTEMS_MAX]; /* NaN: nothing weighed back yet */
	size_t n_systems;
	sd_event_source *timer;
	bool telling; /* a job is under way that stores what is due */
};

/* pieces.c: everything anew, the timer too, and the bus hears of it. */
void pieces_compute(struct pieces *pieces);
/* The room since a pour that long ago; ret holds n_rooms + 1. Returns how many. */
size_t pieces_rooms_since(const struct pieces *pieces, const struct piece *piece, double age_s,
                          const struct store_stamp *now, struct room_reading *ret);
int pieces_add_pour(struct pieces *pieces, const struct store_pour *pour);
int pieces_add_room(struct pieces *pieces, const struct store_room *room);
int pieces_add_piece(struct pieces *pieces, int64_t id, const char *file, const struct piece *piece,
                     bool finished);
/* What a finished batch put into a layer; false: nothing was weighed into it. Without
 * piece, batch and stamp. */
bool pieces_pour_of(const struct guide *guide, struct store_pour *ret);
void pieces_remove_piece(struct pieces *pieces, int64_t id);
/* pieces_tell.c: stores what is due, tells it, and sets the timer for what comes next. */
void pieces_tell(struct pieces *pieces);

#endif
