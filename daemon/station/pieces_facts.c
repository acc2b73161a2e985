/* SPDX-License-Identifier: MIT */
/* New facts about pieces: checked, stored, and only then true. */
#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "elapsed.h"
#include "piece_file.h"
#include "pieces_inside.h"

/* Sooner a report is a slip of the hand. */
#define SOONEST_HOLDS_S 60.0
/* Of what was to be kept back: more than this in the cup is no mere film. */
#define KEPT_SHARE 0.5

enum fact_kind { FACT_PIECE, FACT_FINISHED, FACT_DELETED, FACT_POUR, FACT_ROOM, FACT_HOLDS };

struct fact {
	struct pieces *pieces;
	enum fact_kind kind;
	pieces_done *done; /* NULL: nobody waits */
	void *context;
	int64_t result;
	int64_t id;
	char *file;
	struct piece piece;
	struct store_pour pour;
	struct store_room room;
	char system_id[SYSTEM_ID_MAX];
	double equivalent_s, loss_g;
};

__attribute__((format(printf, 3, 4))) static int refuse(char *why, int error, const char *format,
                                                        ...)
{
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(why, PIECES_WHY_MAX, format, arguments);
	va_end(arguments);
	return error;
}

static struct fact *fact_new(struct pieces *pieces, enum fact_kind kind, pieces_done *done,
                             void *context)
{
	struct fact *fact = calloc(1, sizeof(*fact));

	if (fact != NULL) {
		fact->pieces = pieces;
		fact->kind = kind;
		fact->done = done;
		fact->context = context;
	}
	return fact;
}

static void fact_free(struct fact *fact)
{
	if (fact == NULL)
		return;
	free(fact->file);
	free(fact);
}

/* What cannot be removed now is removed at the next start. */
static void sweep_photos(struct store *store, const char *folder)
{
	struct photo_file *files = NULL;
	size_t n = 0;

	if (store_photo_files(store, &files, &n) == 0)
		(void)photos_sweep(folder, files, n);
	free(files);
}

static void fact_run(struct store *store, void *context)
{
	struct fact *fact = context;
	struct store_stamp now;

	store_stamp_now(&now);
	fact->loss_g = (double)NAN;
	switch (fact->kind) {
	case FACT_PIECE:
		fact->result = store_piece_keep(store, fact->piece.name, fact->file, &now);
		break;
	case FACT_FINISHED:
		fact->result = store_piece_finish(store, fact->id);
		break;
	case FACT_DELETED:
		fact->result = store_piece_delete(store, fact->id);
		if (fact->result == 0)
			sweep_photos(store, fact->file);
		break;
	case FACT_POUR:
		fact->result = store_pour_add(store, &fact->pour);
		if (store_cup_loss(store, fact->pour.system_id, &fact->loss_g) < 0)
			fact->loss_g = (double)NAN;
		break;
	case FACT_ROOM:
		fact->result = store_room_add(store, fact->room.degc, &fact->room.stamp);
		break;
	case FACT_HOLDS:
		fact->result = store_report_add(store, fact->id, fact->system_id,
		                                fact->equivalent_s, &now);
		break;
	}
}

/* Stored: now it counts. */
static int take(struct fact *fact)
{
	struct pieces *pieces = fact->pieces;
	const struct casting_system *system;

	switch (fact->kind) {
	case FACT_PIECE:
		return pieces_add_piece(pieces, fact->result, fact->file, &fact->piece, false);
	case FACT_FINISHED:
		for (size_t i = 0; i < pieces->n_pieces; i++)
			if (pieces->pieces[i].id == fact->id)
				pieces->pieces[i].finished = true;
		return 0;
	case FACT_DELETED:
		pieces_remove_piece(pieces, fact->id);
		return 0;
	case FACT_POUR:
		fact->pour.id = fact->result;
		system = pieces_system(pieces, fact->pour.system_id);
		if (system != NULL)
			pieces->loss_g[system - pieces->systems] = fact->loss_g;
		return pieces_add_pour(pieces, &fact->pour);
	case FACT_ROOM:
		return pieces_add_room(pieces, &fact->room);
	case FACT_HOLDS:
		system = pieces_system(pieces, fact->system_id);
		if (system != NULL)
			pieces->holds_s[system - pieces->systems] = fact->equivalent_s;
		return 0;
	}
	return 0;
}

static void fact_done(void *context)
{
	struct fact *fact = context;
	char why[PIECES_WHY_MAX] = "";
	int r = fact->result < 0 ? (int)fact->result : take(fact);

	if (fact->result < 0)
		refuse(why, r, "It could not be stored (%s): nothing has changed.",
		       store_reason((int)fact->result));
	else if (r < 0)
		refuse(why, r,
		       "It is stored, and there is no room for it until ambod starts again.");
	if (fact->done != NULL)
		fact->done(fact->context, r, why);
	else if (r < 0)
		station_log("piece: %s", why);
	if (r == 0)
		pieces_compute(fact->pieces);
	fact_free(fact);
}

static int submit(struct fact *fact, char *why)
{
	if (store_thread_submit(fact->pieces->station->records, fact_run, fact_done, fact) >= 0)
		return 0;
	fact_free(fact);
	return refuse(why, -EBUSY, "The store is too slow now: wait, then try again.");
}

static int no_memory(char *why)
{
	return refuse(why, -ENOMEM, "There is no memory left.");
}

/* The first sentence about a description that cannot be meant. */
static void first_sentence(void *context, const char *sentence)
{
	char *why = context;

	if (why[0] == '\0')
		snprintf(why, PIECES_WHY_MAX, "%s", sentence);
}

int pieces_keep(struct pieces *pieces, const char *name, const char *file, pieces_done *done,
                void *context, char *why)
{
	struct conf_report report = {.say = first_sentence, .context = why};
	struct fact *fact = fact_new(pieces, FACT_PIECE, done, context);
	int r;

	why[0] = '\0';
	if (fact == NULL || (fact->file = strdup(file)) == NULL) {
		fact_free(fact);
		return no_memory(why);
	}
	r = piece_file_text(name, file, &report, &fact->piece);
	if (r < 0 && r != -ENOMEM)
		r = -EINVAL; /* its syntax too: why says which */
	if (r == 0 && pieces_find(pieces, fact->piece.name) == NULL &&
	    pieces->n_pieces == PIECES_MAX)
		r = refuse(why, -ENOSPC, "There are %u pieces already; finish one first.",
		           PIECES_MAX);
	for (size_t i = 0; r == 0 && i < fact->piece.n_coats; i++) {
		const struct casting_system *system =
		        pieces_system(pieces, fact->piece.coats[i].system);

		if (system == NULL || !(system->label.depth_max_mm > 0.0))
			r = refuse(why, -EINVAL, "Coat \"%s\" wants the system \"%s\", which %s.",
			           fact->piece.coats[i].name, fact->piece.coats[i].system,
			           system == NULL ? "this station does not have"
			                          : "has no pour depth from its label");
	}
	if (r < 0) {
		fact_free(fact);
		return r;
	}
	return submit(fact, why);
}

static int no_piece(char *why, const char *name)
{
	return refuse(why, -ENOENT, "There is no piece \"%.60s\" here.", name);
}

int pieces_finish(struct pieces *pieces, const char *name, pieces_done *done, void *context,
                  char *why)
{
	const struct live_piece *piece = pieces_find(pieces, name);
	struct fact *fact;

	if (piece == NULL)
		return no_piece(why, name);
	fact = fact_new(pieces, FACT_FINISHED, done, context);
	if (fact == NULL)
		return no_memory(why);
	fact->id = piece->id;
	return submit(fact, why);
}

int pieces_delete(struct pieces *pieces, const char *name, pieces_done *done, void *context,
                  char *why)
{
	const struct live_piece *piece = pieces_find(pieces, name);
	char folder[PATH_MAX];
	struct fact *fact;

	if (piece == NULL)
		return no_piece(why, name);
	station_photos_folder(pieces->station, folder);
	fact = fact_new(pieces, FACT_DELETED, done, context);
	if (fact == NULL || (fact->file = strdup(folder)) == NULL) {
		fact_free(fact);
		return no_memory(why);
	}
	fact->id = piece->id;
	return submit(fact, why);
}

static int64_t last_layer(const struct pieces *pieces, int64_t piece_id)
{
	int64_t last = 0;

	for (size_t i = 0; i < pieces->n_pours; i++)
		if (pieces->pours[i].piece_id == piece_id && pieces->pours[i].layer > last)
			last = pieces->pours[i].layer;
	return last;
}

/* More of the last layer, or the next (also 0); a lower one is covered. */
static int may_pour(const struct pieces *pieces, const struct live_piece *piece, int64_t layer,
                    char *why)
{
	const int64_t last = last_layer(pieces, piece->id);

	if (piece->finished)
		return refuse(why, -EALREADY, "\"%.60s\" is finished: nothing more is poured.",
		              piece->piece.name);
	if (layer != 0 && (layer < last || layer > last + 1))
		return refuse(why, -ERANGE,
		              "Layer %lld cannot be poured now: the last one is %lld; expected "
		              "more of it, or the next.",
		              (long long)layer, (long long)last);
	return 0;
}

int pieces_pour_add(struct pieces *pieces, const char *name, struct store_pour *pour,
                    pieces_done *done, void *context, char *why)
{
	const struct live_piece *piece = pieces_find(pieces, name);
	struct fact *fact;
	int r;

	if (piece == NULL)
		return no_piece(why, name);
	if (pieces_system(pieces, pour->system_id) == NULL)
		return refuse(why, -ENOENT, "There is no system \"%s\" here that can be cast.",
		              pour->system_id);
	r = may_pour(pieces, piece, pour->layer, why);
	if (r < 0)
		return r;
	if (pour->layer == 0)
		pour->layer = last_layer(pieces, piece->id) + 1;
	fact = fact_new(pieces, FACT_POUR, done, context);
	if (fact == NULL)
		return no_memory(why);
	pour->piece_id = piece->id;
	fact->pour = *pour;
	return submit(fact, why);
}

int pieces_room(struct pieces *pieces, double degc, pieces_done *done, void *context, char *why)
{
	struct fact *fact;

	if (!(degc >= -20.0 && degc <= 60.0))
		return refuse(why, -ERANGE, "The room is %g C; expected -20 to 60.", degc);
	fact = fact_new(pieces, FACT_ROOM, done, context);
	if (fact == NULL)
		return no_memory(why);
	fact->room.degc = degc;
	store_stamp_now(&fact->room.stamp);
	return submit(fact, why);
}

/* The layer's clocks as they stand now tell what "now" is worth at 25 C. */
static int worth_now(struct pieces *pieces, const struct live_layer *layer, double *ret_s)
{
	struct room_reading *rooms = calloc(pieces->n_rooms + 1, sizeof(*rooms));
	const struct piece *piece = &pieces->pieces[layer->piece].piece;
	const struct casting_system *system =
	        pieces_system(pieces, pieces->pours[layer->first].system_id);
	struct store_stamp now;
	double age_s;
	size_t n;
	int r;

	if (rooms == NULL || system == NULL) {
		free(rooms);
		return -ENOMEM;
	}
	store_stamp_now(&now);
	age_s = pieces_age_s(layer, &now);
	n = pieces_rooms_since(pieces, piece, age_s, &now, rooms);
	r = poured_holds_now(&layer->poured, system, rooms, n, age_s, ret_s);
	free(rooms);
	return r;
}

int pieces_holds_now(struct pieces *pieces, const char *name, int64_t number, pieces_done *done,
                     void *context, char *why)
{
	const struct live_piece *piece = pieces_find(pieces, name);
	const struct live_layer *layer = NULL;
	struct fact *fact;

	if (piece == NULL)
		return no_piece(why, name);
	for (size_t i = 0; i < pieces->n_layers; i++)
		if (&pieces->pieces[pieces->layers[i].piece] == piece && pieces->layers[i].known &&
		    (number == 0 || pieces->layers[i].layer == number))
			layer = &pieces->layers[i];
	if (layer == NULL)
		return refuse(why, -ENOENT, "Nothing is poured there yet: the clocks do not run.");
	fact = fact_new(pieces, FACT_HOLDS, done, context);
	if (fact == NULL)
		return no_memory(why);
	fact->id = pieces->pours[layer->first].id;
	snprintf(fact->system_id, sizeof(fact->system_id), "%s",
	         pieces->pours[layer->first].system_id);
	if (worth_now(pieces, layer, &fact->equivalent_s) < 0 ||
	    !(fact->equivalent_s >= SOONEST_HOLDS_S)) {
		fact_free(fact);
		return refuse(why, -ERANGE,
		              "The layer was poured less than a minute ago: it holds nothing yet.");
	}
	return submit(fact, why);
}

/* What a finished batch put into the piece: divided batches bring mixed resin, and what
 * was given to them is not in this cup any more. */
static bool masses(const struct guide *guide, struct store_pour *pour)
{
	const bool b_hardens = guide->recipe.system.hardener == PART_B;
	double mixed_g = 0.0, whole_g, kept;
	struct ratio ratio;

	if (guide_ratio(guide, &ratio) < 0)
		return false;
	for (uint32_t i = 0; i < guide->n_dispenses; i++) {
		const struct guide_dispense *one = &guide->dispense[i];

		if (one->component == COMPONENT_MIXED)
			mixed_g += one->mass_g;
		if (one->component == COMPONENT_TINT || one->component == COMPONENT_FILLER)
			pour->tint_g += one->mass_g;
	}
	whole_g = ratio.resin_g + ratio.hardener_g;
	if (!(whole_g > 0.0))
		return false;
	kept = guide->divided ? mixed_g / whole_g
	                      : fmax(1.0 - guide->given_g / (whole_g + pour->tint_g), 0.0);
	pour->a_g = kept * (b_hardens ? ratio.resin_g : ratio.hardener_g);
	pour->b_g = kept * (b_hardens ? ratio.hardener_g : ratio.resin_g);
	if (!guide->divided)
		pour->tint_g *= kept;
	return pour->a_g + pour->b_g > 0.0;
}

/* "2", or the name of a coat: then the next, as nothing says which. 0: the next. */
static int64_t layer_number(const char *text)
{
	char *end;
	const long number = strtol(text, &end, 10);

	return end != text && *end == '\0' && number > 0 ? number : 0;
}

bool pieces_pour_of(const struct guide *guide, struct store_pour *ret)
{
	struct store_pour pour = {.stayed_g = guide->weighed_back ? guide->stayed_g : (double)NAN,
	                          .resin_degc = guide->recipe.resin_known ? guide->recipe.resin_degc
	                                                                  : (double)NAN,
	                          .layer = layer_number(guide->recipe.layer)};

	if (!masses(guide, &pour))
		return false;
	snprintf(pour.system_id, sizeof(pour.system_id), "%s", guide->recipe.system.id);
	if (guide->life_start_us >= 0)
		pour.cup_s = fmax((double)(guide->t_us - guide->life_start_us) * 1e-6, 0.0);
	*ret = pour;
	return true;
}

int pieces_may_pour(const struct pieces *pieces, const char *name, const char *layer,
                    const char *system_id, char *why)
{
	const struct live_piece *piece = pieces_find(pieces, name);

	if (piece == NULL)
		return 0; /* a plain label, as ever */
	if (pieces_system(pieces, system_id) == NULL)
		return refuse(why, -ENOENT,
		              "\"%.60s\" cannot be cast of \"%s\": its file has no group "
		              "`casting`.",
		              name, system_id);
	return may_pour(pieces, piece, layer_number(layer), why);
}

double pieces_early_s(const struct pieces *pieces, const char *name, const char *layer,
                      bool *ret_age_known)
{
	const struct live_piece *piece = pieces_find(pieces, name);
	const struct live_layer *last = NULL;
	const double *at_s;
	struct store_stamp now;
	double age_s;

	*ret_age_known = true;
	if (piece != NULL)
		(void)pieces_filled_mm(pieces, piece, &last);
	if (last == NULL || layer_number(layer) == last->layer) /* more of the same */
		return (double)NAN;
	store_stamp_now(&now);
	age_s = pieces_age_s(last, &now);
	at_s = last->course.at_s;
	*ret_age_known = last->age_known;
	if (age_s < at_s[LAYER_OPENS])
		return at_s[LAYER_OPENS] - age_s;
	/* Too late to bond by itself, and too soft yet to be sanded. */
	return age_s > at_s[CLOCK_BOND_CLOSES] && age_s < at_s[CLOCK_HANDLE]
	               ? at_s[CLOCK_HANDLE] - age_s
	               : (double)NAN;
}

void pieces_batch(struct pieces *pieces, struct batch *batch)
{
	const struct guide *guide = &batch->commit.committed;
	struct store_pour pour;
	char why[PIECES_WHY_MAX] = "";
	int r;

	if (guide->step != GUIDE_DONE || batch->in_piece || guide->recipe.piece[0] == '\0' ||
	    pieces_find(pieces, guide->recipe.piece) == NULL)
		return; /* a plain label, as ever */
	for (size_t i = 0; i < pieces->n_pours; i++)
		if (pieces->pours[i].batch_id == batch->id)
			return;
	batch->in_piece = true;
	if (!pieces_pour_of(guide, &pour))
		return;
	pour.batch_id = batch->id;
	/* In the cup still, and on purpose, when that came back to the scale. */
	if (guide->weighed_back && guide->stayed_g > KEPT_SHARE * batch->keep_back_g)
		pour.kept_back_g = batch->keep_back_g;
	store_stamp_now(&pour.stamp);
	r = pieces_pour_add(pieces, guide->recipe.piece, &pour, NULL, NULL, why);
	/* Its layer was covered meanwhile: then it lies on top. */
	if (r == -ERANGE) {
		station_log("batch %lld: %s It counts as the next.", (long long)batch->id, why);
		pour.layer = 0;
		r = pieces_pour_add(pieces, guide->recipe.piece, &pour, NULL, NULL, why);
	}
	if (r < 0)
		station_log("batch %lld is not put into the piece \"%s\": %s", (long long)batch->id,
		            guide->recipe.piece, why);
}
