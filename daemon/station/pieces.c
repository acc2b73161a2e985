/* SPDX-License-Identifier: MIT */
#include "pieces.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bus.h"
#include "elapsed.h"
#include "piece_file.h"
#include "pieces_inside.h"

/* Within this of full the cavity is full: what comes then is a top coat. */
#define FULL_MM 0.3
/* An event that was told and now lies so far ahead was put off. */
#define PUT_OFF_S 60.0

size_t pieces_count(const struct pieces *pieces)
{
	return pieces->n_pieces;
}

const struct live_piece *pieces_at(const struct pieces *pieces, size_t i)
{
	return &pieces->pieces[i];
}

const struct live_piece *pieces_find(const struct pieces *pieces, const char *name)
{
	for (size_t i = 0; i < pieces->n_pieces; i++)
		if (strcmp(pieces->pieces[i].piece.name, name) == 0)
			return &pieces->pieces[i];
	return NULL;
}

size_t pieces_layers(const struct pieces *pieces, const struct live_layer **ret)
{
	*ret = pieces->layers;
	return pieces->n_layers;
}

const struct store_pour *pieces_pour(const struct pieces *pieces, size_t i)
{
	return &pieces->pours[i];
}

const struct casting_system *pieces_system(const struct pieces *pieces, const char *id)
{
	for (size_t i = 0; i < pieces->n_systems; i++)
		if (strcmp(pieces->systems[i].id, id) == 0)
			return &pieces->systems[i];
	return NULL;
}

size_t pieces_systems(const struct pieces *pieces, const struct casting_system **ret)
{
	*ret = pieces->systems;
	return pieces->n_systems;
}

double pieces_usual_loss_g(const struct pieces *pieces, const struct casting_system *system)
{
	const double learnt = pieces->loss_g[system - pieces->systems];

	return isnan(learnt) ? system->label.cup_loss_g : learnt;
}

double pieces_holds_s(const struct pieces *pieces, const char *system_id)
{
	const struct casting_system *system = pieces_system(pieces, system_id);

	return system == NULL ? 0.0 : pieces->holds_s[system - pieces->systems];
}

double pieces_room_degc(const struct pieces *pieces, const struct piece *piece)
{
	return pieces->n_rooms > 0 ? pieces->rooms[pieces->n_rooms - 1].degc : piece->room_degc;
}

double pieces_filled_mm(const struct pieces *pieces, const struct live_piece *piece,
                        const struct live_layer **ret_last)
{
	double filled = 0.0;

	*ret_last = NULL;
	for (size_t i = 0; i < pieces->n_layers; i++) {
		const struct live_layer *layer = &pieces->layers[i];

		if (&pieces->pieces[layer->piece] != piece || !layer->known)
			continue;
		filled += layer->poured.depth_mm;
		*ret_last = layer;
	}
	return filled;
}

int64_t pieces_event_boottime_us(const struct live_layer *layer, int event)
{
	const double at_s = layer->course.at_s[event];

	if (!layer->known || isnan(at_s))
		return 0;
	return layer->computed.boottime_us + (int64_t)((at_s - layer->age_s) * 1e6);
}

double pieces_age_s(const struct live_layer *layer, const struct store_stamp *now)
{
	return layer->age_s + (double)(now->boottime_us - layer->computed.boottime_us) * 1e-6;
}

/* The room since a pour, told by how long ago each was read. */
size_t pieces_rooms_since(const struct pieces *pieces, const struct piece *piece, double age_s,
                          const struct store_stamp *now, struct room_reading *ret)
{
	size_t n = 0;

	for (size_t i = 0; i < pieces->n_rooms; i++) {
		struct elapsed ago;
		double t_s;

		elapsed_between(&pieces->rooms[i].stamp, now, &ago);
		t_s = age_s - (double)ago.us * 1e-6;
		/* Of those before the pour only the last counts. */
		if (t_s <= 0.0)
			n = 0;
		if (n > 0 && t_s < ret[n - 1].t_s)
			continue; /* a clock that was put right in between */
		ret[n++] = (struct room_reading){t_s, pieces->rooms[i].degc};
	}
	if (n > 0 && ret[0].t_s <= 0.0)
		return n;
	/* Read for the first time after the pour: before it, as the piece says. */
	memmove(&ret[1], &ret[0], n * sizeof(ret[0]));
	ret[0] = (struct room_reading){0.0, piece->room_degc};
	return n + 1;
}

/* The coat that this layer is of. */
static bool is_edge_taped(const struct piece *piece, const struct live_layer *layer)
{
	const double middle_mm = layer->poured.from_mm + layer->poured.depth_mm / 2.0;
	double top_mm = 0.0;

	for (size_t i = 0; i < piece->n_coats; i++) {
		top_mm += piece->coats[i].top_coat ? 0.0 : piece->coats[i].depth_mm;
		if (piece->coats[i].top_coat ? layer->top_coat
		                             : !layer->top_coat && middle_mm < top_mm)
			return piece->coats[i].edge_tape;
	}
	return false;
}

/* A layer's pours; more than there is room for count with the last. */
static size_t take_batches(const struct pieces *pieces, struct live_layer *layer, double usual_g,
                           struct poured_batch *ret)
{
	const struct store_pour *first = &pieces->pours[layer->first];
	size_t n = 0;

	layer->n_pours = 0;
	for (size_t i = layer->first; i < pieces->n_pours; i++) {
		const struct store_pour *pour = &pieces->pours[i];
		const double stayed_g = isnan(pour->stayed_g) ? usual_g : pour->stayed_g;
		struct elapsed since;

		if (pour->piece_id != first->piece_id || pour->layer != first->layer)
			continue;
		layer->n_pours++;
		if (n == POURED_BATCHES_MAX) {
			ret[n - 1].a_g += pour->a_g;
			ret[n - 1].b_g += pour->b_g;
			ret[n - 1].tint_g += pour->tint_g;
			ret[n - 1].stayed_g += stayed_g;
			continue;
		}
		elapsed_between(&first->stamp, &pour->stamp, &since);
		ret[n++] = (struct poured_batch){.a_g = pour->a_g,
		                                 .b_g = pour->b_g,
		                                 .tint_g = pour->tint_g,
		                                 .stayed_g = stayed_g,
		                                 .resin_degc = pour->resin_degc,
		                                 .cup_s = pour->cup_s,
		                                 .poured_s = (double)since.us * 1e-6};
	}
	return n;
}

static void compute_layer(struct pieces *pieces, struct live_layer *layer, double from_mm,
                          struct room_reading *rooms)
{
	const struct store_pour *first = &pieces->pours[layer->first];
	const struct live_piece *piece = &pieces->pieces[layer->piece];
	const struct casting_system *system = pieces_system(pieces, first->system_id);
	struct poured_batch batches[POURED_BATCHES_MAX];
	const double usual_g = system != NULL ? pieces_usual_loss_g(pieces, system) : 0.0;
	struct elapsed age;
	size_t n, n_rooms;

	n = take_batches(pieces, layer, usual_g, batches);
	store_stamp_now(&layer->computed);
	elapsed_between(&first->stamp, &layer->computed, &age);
	layer->age_s = (double)age.us * 1e-6;
	layer->age_known = age.known;
	n_rooms = pieces_rooms_since(pieces, &piece->piece, layer->age_s, &layer->computed, rooms);
	layer->top_coat = from_mm >= piece_filled_mm(&piece->piece) - FULL_MM;
	layer->known =
	        system != NULL &&
	        poured_layer(&piece->piece, system, layer->top_coat, from_mm, batches, n, usual_g,
	                     room_degc_at(rooms, n_rooms, 0.0), &layer->poured) == 0 &&
	        poured_course(&layer->poured, system, pieces_holds_s(pieces, system->id), rooms,
	                      n_rooms, &layer->course) == 0;
	if (!layer->known)
		return;
	if (!is_edge_taped(&piece->piece, layer))
		layer->course.at_s[LAYER_TAPE_OFF] = (double)NAN;
	/* What was told of the first batch is told again when a later one put it off. */
	for (int event = 0; event < LAYER_EVENTS; event++)
		if (layer->course.at_s[event] > layer->age_s + PUT_OFF_S)
			layer->told &= ~(1u << event);
}

/* A layer for each (piece, number) that anything was poured into, lowest first. */
static void find_layers(struct pieces *pieces)
{
	pieces->n_layers = 0;
	for (size_t p = 0; p < pieces->n_pieces; p++) {
		const int64_t id = pieces->pieces[p].id;
		int64_t last = 0;

		if (pieces->pieces[p].finished)
			continue;
		for (;;) {
			struct live_layer *layer = &pieces->layers[pieces->n_layers];
			size_t lowest = pieces->n_pours;

			for (size_t i = 0; i < pieces->n_pours; i++) {
				const struct store_pour *pour = &pieces->pours[i];

				if (pour->piece_id == id && pour->layer > last &&
				    (lowest == pieces->n_pours ||
				     pour->layer < pieces->pours[lowest].layer))
					lowest = i;
			}
			if (lowest == pieces->n_pours || pieces->n_layers == PIECES_LAYERS_MAX)
				break;
			last = pieces->pours[lowest].layer;
			*layer = (struct live_layer){.piece = p,
			                             .layer = last,
			                             .first = lowest,
			                             .told = pieces->pours[lowest].told};
			pieces->n_layers++;
		}
	}
}

void pieces_compute(struct pieces *pieces)
{
	struct room_reading *rooms = calloc(pieces->n_rooms + 1, sizeof(*rooms));
	double from_mm = 0.0;
	size_t piece = PIECES_MAX;

	if (rooms == NULL) {
		station_log("no memory for the clocks; they stand as they were");
		return;
	}
	find_layers(pieces);
	for (size_t i = 0; i < pieces->n_layers; i++) {
		struct live_layer *layer = &pieces->layers[i];

		if (layer->piece != piece)
			from_mm = 0.0;
		piece = layer->piece;
		compute_layer(pieces, layer, from_mm, rooms);
		if (layer->known)
			from_mm += layer->poured.depth_mm;
	}
	free(rooms);
	pieces_tell(pieces);
	if (pieces->station->bus != NULL)
		bus_pieces_changed(pieces->station->bus);
}

int pieces_add_pour(struct pieces *pieces, const struct store_pour *pour)
{
	struct store_pour *more = realloc(pieces->pours, (pieces->n_pours + 1) * sizeof(*more));

	if (more == NULL)
		return -ENOMEM;
	pieces->pours = more;
	pieces->pours[pieces->n_pours++] = *pour;
	return 0;
}

int pieces_add_room(struct pieces *pieces, const struct store_room *room)
{
	struct store_room *more;

	/* As many as the next start would read: a sensor never ends. */
	if (pieces->n_rooms == STORE_ROOMS_MAX)
		memmove(&pieces->rooms[0], &pieces->rooms[1],
		        --pieces->n_rooms * sizeof(pieces->rooms[0]));
	more = realloc(pieces->rooms, (pieces->n_rooms + 1) * sizeof(*more));
	if (more == NULL)
		return -ENOMEM;
	pieces->rooms = more;
	pieces->rooms[pieces->n_rooms++] = *room;
	return 0;
}

int pieces_add_piece(struct pieces *pieces, int64_t id, const char *file, const struct piece *piece,
                     bool finished)
{
	struct live_piece *live = NULL;
	char *copy = strdup(file);

	if (copy == NULL)
		return -ENOMEM;
	for (size_t i = 0; i < pieces->n_pieces; i++)
		if (pieces->pieces[i].id == id)
			live = &pieces->pieces[i];
	if (live == NULL && pieces->n_pieces == PIECES_MAX) {
		free(copy);
		return -ENOSPC;
	}
	if (live == NULL)
		live = &pieces->pieces[pieces->n_pieces++];
	free(live->file);
	*live = (struct live_piece){.id = id, .piece = *piece, .finished = finished, .file = copy};
	return 0;
}

/* Its pours are facts of no piece that is known from now on. */
void pieces_remove_piece(struct pieces *pieces, int64_t id)
{
	for (size_t i = 0; i < pieces->n_pieces; i++) {
		if (pieces->pieces[i].id != id)
			continue;
		free(pieces->pieces[i].file);
		memmove(&pieces->pieces[i], &pieces->pieces[i + 1],
		        (--pieces->n_pieces - i) * sizeof(pieces->pieces[0]));
		return;
	}
}

static void say_stored(void *context, const char *sentence)
{
	(void)context;
	station_log("%s", sentence);
}

static int load_pieces(struct pieces *pieces, struct store *store)
{
	struct store_piece *rows = NULL;
	size_t n = 0;
	int r = store_pieces(store, &rows, &n);

	for (size_t i = 0; i < n; i++) {
		struct conf_report report = {.say = say_stored};
		struct piece piece;

		/* One that a newer Ambo described is left out, and said. */
		if (r == 0 && rows[i].file != NULL &&
		    piece_file_text(rows[i].name, rows[i].file, &report, &piece) == 0)
			r = pieces_add_piece(pieces, rows[i].id, rows[i].file, &piece,
			                     rows[i].finished);
		if (r == 0 && pieces->n_pieces > 0 &&
		    pieces->pieces[pieces->n_pieces - 1].id == rows[i].id)
			pieces->pieces[pieces->n_pieces - 1].kept_realtime_us =
			        rows[i].kept_realtime_us;
		free(rows[i].file);
	}
	free(rows);
	return r == -ENOSPC ? 0 : r;
}

static void load_systems(struct pieces *pieces, struct store *store)
{
	const struct station_config *config = pieces->station->config;

	for (size_t i = 0; i < config->n_systems; i++) {
		struct casting_system *system = &pieces->systems[pieces->n_systems];
		char sentence[CASTING_SENTENCE_MAX];
		double number;

		if (station_config_casting(config, config->systems[i].id, system, sentence) < 0)
			continue; /* it mixes, but nothing can be computed of its cure */
		pieces->holds_s[pieces->n_systems] = system->course.holds_s;
		if (store_report_last(store, system->id, &number) == 0)
			pieces->holds_s[pieces->n_systems] = number;
		pieces->loss_g[pieces->n_systems] = (double)NAN;
		if (store_cup_loss(store, system->id, &number) == 0)
			pieces->loss_g[pieces->n_systems] = number;
		pieces->n_systems++;
	}
}

/* A batch that was finished, and the power went before its pour was kept: its guide as it
 * was stored, and the stamp of its last step, tell it. */
static int catch_up(struct pieces *pieces, struct store *store, const struct store_row *row)
{
	const struct live_piece *piece = pieces_find(pieces, row->piece);
	struct store_pour pour;
	struct store_step_row *steps = NULL;
	struct guide guide;
	int64_t last = 0;
	size_t n = 0;
	int r;

	/* What was mixed before the piece was kept had a label, not a piece. */
	if (piece == NULL || pieces_system(pieces, row->system_id) == NULL || piece->finished ||
	    row->begun_realtime_us < piece->kept_realtime_us || strcmp(row->step, "done") != 0)
		return 0;
	for (size_t i = 0; i < pieces->n_pours; i++) {
		if (pieces->pours[i].batch_id == row->id)
			return 0;
		if (pieces->pours[i].piece_id == piece->id && last < pieces->pours[i].layer)
			last = pieces->pours[i].layer;
	}
	if (store_guide(store, row->id, &guide) < 0 || !pieces_pour_of(&guide, &pour))
		return 0;
	r = store_steps(store, row->id, &steps, &n);
	if (r < 0 || n == 0)
		return r;
	pour.stamp = steps[n - 1].stamp;
	free(steps);
	if (pour.layer < last || pour.layer == 0 || pour.layer > last + 1)
		pour.layer = last + 1;
	pour.piece_id = piece->id;
	pour.batch_id = row->id;
	pour.id = store_pour_add(store, &pour);
	return pour.id < 0 ? (int)pour.id : pieces_add_pour(pieces, &pour);
}

#define CATCH_UP_ROWS 16 /* more cannot be open at once, nor finish within a moment */

static int load_missed(struct pieces *pieces, struct store *store)
{
	struct store_row rows[CATCH_UP_ROWS];
	int64_t next;
	int n = store_list(store, 0, rows, CATCH_UP_ROWS, &next), r = 0;

	for (int i = n - 1; r >= 0 && i >= 0; i--) /* oldest first */
		r = catch_up(pieces, store, &rows[i]);
	return n < 0 ? n : r;
}

/* Photos of pieces that went, and copies that a power cut ended. */
static void sweep_photos(struct pieces *pieces, struct store *store)
{
	struct photo_file *files = NULL;
	char folder[PATH_MAX];
	size_t n = 0;

	station_photos_folder(pieces->station, folder);
	if (store_photo_files(store, &files, &n) == 0)
		(void)photos_sweep(folder, files, n);
	free(files);
}

int pieces_load(struct station *station, struct store *store, struct pieces **ret)
{
	struct pieces *pieces = calloc(1, sizeof(*pieces));
	int r;

	if (pieces == NULL)
		return -ENOMEM;
	pieces->station = station;
	load_systems(pieces, store);
	r = load_pieces(pieces, store);
	if (r == 0)
		r = store_pours(store, &pieces->pours, &pieces->n_pours);
	if (r == 0)
		r = store_rooms(store, &pieces->rooms, &pieces->n_rooms);
	if (r == 0)
		r = load_missed(pieces, store);
	if (r == 0)
		sweep_photos(pieces, store);
	if (r < 0) {
		pieces_free(pieces);
		return r;
	}
	*ret = pieces;
	return 0;
}

static int on_timer(sd_event_source *source, uint64_t due_us, void *context)
{
	(void)source;
	(void)due_us;
	pieces_tell(context);
	return 0;
}

int pieces_start(struct pieces *pieces)
{
	/* CLOCK_BOOTTIME: a layer cures while the machine sleeps. */
	int r = sd_event_add_time(pieces->station->event, &pieces->timer, CLOCK_BOOTTIME, 0, 1000,
	                          on_timer, pieces);

	if (r < 0)
		return r;
	sd_event_source_set_exit_on_failure(pieces->timer, true);
	sd_event_source_set_enabled(pieces->timer, SD_EVENT_OFF);
	pieces_compute(pieces);
	return 0;
}

void pieces_free(struct pieces *pieces)
{
	if (pieces == NULL)
		return;
	for (size_t i = 0; i < pieces->n_pieces; i++)
		free(pieces->pieces[i].file);
	free(pieces->pours);
	free(pieces->rooms);
	sd_event_source_disable_unref(pieces->timer);
	free(pieces);
}
