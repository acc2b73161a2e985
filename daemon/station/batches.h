/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_BATCHES_H
#define AMBO_STATION_BATCHES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "commit.h"
#include "daemon/records/inputs.h"
#include "daemon/records/store_thread.h"

/* The open batches: which one the pan belongs to, what each is told, and what of it
 * goes to the store. Main loop only. */

#define BATCHES_MAX         4u
#define BATCHES_CURVE_BLOCK 64u /* points a transaction: about 6 s */

struct batch {
	bool used;
	bool beginning; /* the store has not given it an id yet: nothing reaches it */
	int64_t id, parent_id;
	int64_t base_us;  /* station time of its time 0 */
	uint64_t touched; /* greater: later */
	struct commit commit;
	struct store_curve_point curve[BATCHES_CURVE_BLOCK];
	size_t n_curve;
	bool curve_under_way;
	double taken_g;    /* a divided batch: what has been taken off its parent */
	bool deferred;     /* its commit waits for one of its parent's */
	bool in_piece;     /* poured into the piece it was begun for */
	double resin_degc; /* as told or measured when it began; NaN: not known */
	bool shelved;      /* what its bottles weigh now has been kept */
};

struct batches {
	struct batch batch[BATCHES_MAX];
	uint64_t touches;
	struct store_thread *records;
	struct inputs *inputs; /* NULL: none are kept */
	/* Told after each commit, when the change may be shown; message of a failure. */
	void (*told)(void *context, struct batch *batch, const char *failure);
	void *context;
};

/* Open: neither done nor discarded. */
bool batch_open(const struct batch *batch);
int64_t batch_time_us(const struct batch *batch, int64_t now_us);

/* The batch the pan belongs to (also one that waits to start, or for the empty pan
 * after its cup was lifted), else NULL. */
struct batch *batches_pan(struct batches *batches);
/* That one, else the one last touched, also when it is finished; NULL: none. */
struct batch *batches_shown(struct batches *batches);
/* id 0: batches_shown(). NULL when there is none. */
struct batch *batches_find(struct batches *batches, int64_t id);
/* Whether a commit or a beginning is under way anywhere. */
bool batches_waiting(const struct batches *batches);
size_t batches_count_open(const struct batches *batches);

/* A free slot, else that of the finished batch touched longest ago; NULL when all
 * are open. The slot is cleared. */
struct batch *batches_reserve(struct batches *batches);
void batches_touch(struct batches *batches, struct batch *batch);

/* Sets event->t_us from now_us and feeds it; stores what must be stored, a divided
 * batch's mass together with its parent's loss of it. As commit_feed(), which see. */
int batches_feed(struct batches *batches, struct batch *batch, struct guide_event *event,
                 int64_t now_us);

/* A point of the pour's own curve, and its block to the store when it is full. */
void batches_curve(struct batches *batches, struct batch *batch, double gross_g, int64_t now_us);
void batches_curve_flush(struct batches *batches, struct batch *batch);

#endif
