/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_PIECES_H
#define AMBO_STATION_PIECES_H

#include "batches.h"
#include "daemon/casting/plan.h"
#include "daemon/casting/poured.h"
#include "daemon/records/store_pieces.h"

/* The pieces under way: what was poured into them and the clocks that run since. Main
 * loop only. The store keeps facts; what they come to is computed here, at the start and
 * when a fact changes, and never in between: the next event's time is known. */
struct station;
struct pieces;

#define PIECES_MAX        64u
#define PIECES_LAYERS_MAX 512u /* of all pieces */
#define PIECES_WHY_MAX    CONF_SENTENCE_MAX

struct live_piece {
	int64_t id;
	struct piece piece;
	bool finished;
	int64_t kept_realtime_us; /* of the store, as the daemon began; else 0 */
	char *file;
};

struct live_layer {
	size_t piece;  /* index */
	int64_t layer; /* from 1 */
	size_t first;  /* its earliest pour, of pieces_pours() */
	size_t n_pours;
	bool top_coat;
	bool known;     /* the rest could be computed */
	bool age_known; /* both clocks were right since the pour */
	double age_s;   /* when it was computed ... */
	struct store_stamp computed;
	uint32_t told; /* a bit a clock event */
	struct poured_layer poured;
	struct layer_course course;
};

/* pieces.c. Before the store's thread runs. -errno. */
int pieces_load(struct station *station, struct store *store, struct pieces **ret);
/* Once the loop, the bus and the store's thread are there: tells what came meanwhile. */
int pieces_start(struct pieces *pieces);
void pieces_free(struct pieces *pieces); /* NULL does nothing */

size_t pieces_count(const struct pieces *pieces);
const struct live_piece *pieces_at(const struct pieces *pieces, size_t i);
const struct live_piece *pieces_find(const struct pieces *pieces, const char *name);
size_t pieces_layers(const struct pieces *pieces, const struct live_layer **ret);
const struct store_pour *pieces_pour(const struct pieces *pieces, size_t i);
double pieces_room_degc(const struct pieces *pieces, const struct piece *piece);
/* event: layer_clocks.h. When one of the layer comes or came, on the clock that nobody sets;
 * 0: never or unknown. */
int64_t pieces_event_boottime_us(const struct live_layer *layer, int event);
double pieces_age_s(const struct live_layer *layer, const struct store_stamp *now);
/* What is poured of a piece, and the last of its layers (NULL: none). */
double pieces_filled_mm(const struct pieces *pieces, const struct live_piece *piece,
                        const struct live_layer **ret_last);
/* What usually stays in a cup of this system. */
double pieces_usual_loss_g(const struct pieces *pieces, const struct casting_system *system);
/* "holds": kept for the system; 0: unknown. */
double pieces_holds_s(const struct pieces *pieces, const char *system_id);
const struct casting_system *pieces_system(const struct pieces *pieces, const char *id);
/* All systems that casting can use; borrowed. */
size_t pieces_systems(const struct pieces *pieces, const struct casting_system **ret);

/* pieces_facts.c: new facts. Each is stored, then counts, then done is told: 0, or
 * -errno with one sentence. A fact that cannot be meant is refused at once: then the
 * return is negative and done is not called. why: PIECES_WHY_MAX. */
typedef void pieces_done(void *context, int result, const char *why);
int pieces_keep(struct pieces *pieces, const char *name, const char *file, pieces_done *done,
                void *context, char *why);
int pieces_finish(struct pieces *pieces, const char *name, pieces_done *done, void *context,
                  char *why);
/* Its description, layers and photos go; batches stay, and what they taught of a system. */
int pieces_delete(struct pieces *pieces, const char *name, pieces_done *done, void *context,
                  char *why);
/* layer 0: the next one. */
int pieces_pour_add(struct pieces *pieces, const char *name, struct store_pour *pour,
                    pieces_done *done, void *context, char *why);
/* Whether a batch may begin for a piece's layer; 0 for a piece nobody described. layer: "2",
 * or any other text for the next. */
int pieces_may_pour(const struct pieces *pieces, const char *name, const char *layer,
                    const char *system_id, char *why);
/* Seconds until the layer below the one that a batch is for may be poured on, or sanded where
 * its bond has closed; at the soonest where its age is not known. NaN: it is ready, or nobody
 * knows. */
double pieces_early_s(const struct pieces *pieces, const char *name, const char *layer,
                      bool *ret_age_known);
int pieces_room(struct pieces *pieces, double degc, pieces_done *done, void *context, char *why);
int pieces_holds_now(struct pieces *pieces, const char *name, int64_t layer, pieces_done *done,
                     void *context, char *why);
/* A batch was committed: poured, it goes into the piece and layer it was begun for. */
void pieces_batch(struct pieces *pieces, struct batch *batch);

/* Clock events, as told on the bus: "gel" and a sentence. */
void pieces_sentence(const struct pieces *pieces, const struct live_layer *layer, int event,
                     char *ret, size_t size);

#endif
