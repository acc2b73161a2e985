/* SPDX-License-Identifier: MIT */
/* /org/ambo/pieces: pieces, what was poured into them, their clocks. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bus_inside.h"
#include "keeper.h"
#include "pieces.h"

#define FILE_MAX_BYTES 65536u /* of a piece's description */

/* Ends a call that waited for a fact to be stored. */
static void fact_told(void *context, int result, const char *why)
{
	struct bus_call *call = context;

	if (result < 0)
		bus_refuse(call->message, bus_error_name(result), "%s", why);
	else
		sd_bus_reply_method_return(call->message, "");
	bus_call_drop(call);
}

/* For a fact that was refused at once. */
static int refused(sd_bus_message *message, struct bus_call *call, int result, const char *why)
{
	bus_call_drop(call);
	return bus_refuse(message, result == -ENOENT ? "NotFound" : bus_error_name(result), "%s",
	                  why);
}

const struct live_piece *bus_find_piece(const struct bus *bus, sd_bus_message *message,
                                        const char *name, int *ret_refused)
{
	const struct live_piece *piece = pieces_find(bus->station->pieces, name);

	if (piece == NULL)
		*ret_refused =
		        bus_refuse(message, "NotFound", "There is no piece \"%.60s\" here.", name);
	return piece;
}

const struct live_piece *bus_read_piece(const struct bus *bus, sd_bus_message *message,
                                        int *ret_refused)
{
	const char *name;

	*ret_refused = sd_bus_message_read(message, "s", &name);
	return *ret_refused < 0 ? NULL : bus_find_piece(bus, message, name, ret_refused);
}

static int keep(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[PIECES_WHY_MAX];
	struct bus_call *call;
	const char *file;
	int r = sd_bus_message_read(message, "s", &file);

	(void)error;
	if (r < 0)
		return r;
	if (strlen(file) > FILE_MAX_BYTES)
		return bus_refuse(message, "OutOfRange",
		                  "The description has %zu bytes; expected "
		                  "at most %u.",
		                  strlen(file), FILE_MAX_BYTES);
	call = bus_call_keep(bus, message);
	if (call == NULL)
		return 1;
	r = pieces_keep(bus->station->pieces, "piece", file, fact_told, call, why);
	return r < 0 ? refused(message, call, r, why) : 1;
}

/* What is done to the piece that the call names. */
static int named(sd_bus_message *message, struct bus *bus,
                 int (*act)(struct pieces *, const char *, pieces_done *, void *, char *))
{
	char why[PIECES_WHY_MAX];
	struct bus_call *call;
	const char *name;
	int r = sd_bus_message_read(message, "s", &name);

	if (r < 0)
		return r;
	call = bus_call_keep(bus, message);
	if (call == NULL)
		return 1;
	r = act(bus->station->pieces, name, fact_told, call, why);
	return r < 0 ? refused(message, call, r, why) : 1;
}

static int finish(sd_bus_message *message, void *context, sd_bus_error *error)
{
	(void)error;
	return named(message, context, pieces_finish);
}

static int delete (sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;

	(void)error;
	if (keeper_may(message, bus->station->config->system_bus) <= 0)
		return bus_refuse(message, "NotAllowed",
		                  "Only members of the group " KEEPER_GROUP
		                  " may delete a piece; ambo piece finish ends its clocks.");
	return named(message, bus, pieces_delete);
}

static int set_room(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[PIECES_WHY_MAX];
	struct bus_call *call;
	double degc;
	int r = sd_bus_message_read(message, "d", &degc);

	(void)error;
	if (r < 0)
		return r;
	call = bus_call_keep(bus, message);
	if (call == NULL)
		return 1;
	r = pieces_room(bus->station->pieces, degc, fact_told, call, why);
	return r < 0 ? refused(message, call, r, why) : 1;
}

static int holds_now(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[PIECES_WHY_MAX];
	struct bus_call *call;
	const char *name;
	int64_t layer;
	int r = sd_bus_message_read(message, "sx", &name, &layer);

	(void)error;
	if (r < 0)
		return r;
	call = bus_call_keep(bus, message);
	if (call == NULL)
		return 1;
	r = pieces_holds_now(bus->station->pieces, name, layer, fact_told, call, why);
	return r < 0 ? refused(message, call, r, why) : 1;
}

/* Which system a pour told by hand is of, where it does not say. */
static void usual_system(const struct bus *bus, const char *name, char ret[SYSTEM_ID_MAX])
{
	const struct live_piece *piece = pieces_find(bus->station->pieces, name);
	const struct live_layer *last;

	if (ret[0] != '\0' || piece == NULL)
		return;
	snprintf(ret, SYSTEM_ID_MAX, "%s", piece->piece.system);
	if (pieces_filled_mm(bus->station->pieces, piece, &last) <
	    piece_filled_mm(&piece->piece) - 0.3)
		return;
	for (size_t i = piece->piece.n_coats; i-- > 0;)
		if (piece->piece.coats[i].top_coat)
			snprintf(ret, SYSTEM_ID_MAX, "%s", piece->piece.coats[i].system);
}

static int pour(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct store_pour new = {.stayed_g = (double)NAN, .resin_degc = (double)NAN};
	char why[PIECES_WHY_MAX] = "";
	const struct dict_key keys[] = {
	        {.key = "AGrams", .number = &new.a_g, .low = 0.0, .high = 1e6},
	        {.key = "BGrams", .number = &new.b_g, .low = 0.0, .high = 1e6},
	        {.key = "TintGrams", .number = &new.tint_g, .low = 0.0, .high = 1e5},
	        {.key = "StayedGrams", .number = &new.stayed_g, .low = 0.0, .high = 1e6},
	        {.key = "ResinDegreesCelsius", .number = &new.resin_degc, .low = 0.0, .high = 80.0},
	        {.key = "CupSeconds", .number = &new.cup_s, .low = 0.0, .high = 1e6},
	        {.key = "System", .text = new.system_id, .size = sizeof(new.system_id)},
	};
	struct bus *bus = context;
	struct bus_call *call;
	const char *name;
	int r = sd_bus_message_read(message, "sx", &name, &new.layer);

	(void)error;
	if (r >= 0)
		r = dict_take(message, keys, sizeof(keys) / sizeof(keys[0]), why);
	if (why[0] != '\0')
		return bus_refuse(message, "BadRequest", "%s", why);
	if (r < 0)
		return r;
	if (new.layer < 0 || !(new.a_g > 0.0) || !(new.b_g > 0.0))
		return bus_refuse(message, "BadRequest",
		                  "Layer %lld with %g g of A and %g g of B; expected a layer from "
		                  "1 (0: the next) and both parts as weighed.",
		                  (long long)new.layer, new.a_g, new.b_g);
	usual_system(bus, name, new.system_id);
	store_stamp_now(&new.stamp);
	call = bus_call_keep(bus, message);
	if (call == NULL)
		return 1;
	r = pieces_pour_add(bus->station->pieces, name, &new, fact_told, call, why);
	return r < 0 ? refused(message, call, r, why) : 1;
}

static int put_piece(sd_bus_message *reply, const struct pieces *pieces,
                     const struct live_piece *live)
{
	const double whole = piece_filled_mm(&live->piece);
	struct inclusion in[PIECE_INCLUSIONS_MAX];
	const size_t n = piece_displacing(&live->piece, in);
	const struct live_layer *last;
	const double filled = fmin(pieces_filled_mm(pieces, live, &last), whole);
	int r = dict_begin(reply);

	if (r < 0)
		return r;
	dict_put_text(reply, "Name", live->piece.name);
	dict_put_text(reply, "System", live->piece.system);
	dict_put_bool(reply, "Finished", live->finished);
	dict_put_whole(reply, "Layers", last == NULL ? 0 : last->layer);
	dict_put_double(reply, "RoomDegreesCelsius", pieces_room_degc(pieces, &live->piece));
	dict_put_double(reply, "FilledMillimetres", filled);
	dict_put_double(reply, "LeftMillimetres", whole - filled);
	dict_put_double(reply, "LeftMillilitres",
	                cavity_volume_ml(&live->piece.cavity, filled, whole) -
	                        cavity_displaced_ml(in, n, filled, whole));
	return dict_end(reply);
}

static int reply_rows(sd_bus_message *message, const struct bus *bus, const char *name,
                      int (*put)(sd_bus_message *reply, const struct bus *bus, const char *name))
{
	sd_bus_message *reply = NULL;
	int r = bus_rows_begin(message, &reply);

	if (r >= 0)
		r = put(reply, bus, name);
	return bus_rows_end(reply, r);
}

static int put_pieces(sd_bus_message *reply, const struct bus *bus, const char *name)
{
	const struct pieces *pieces = bus->station->pieces;
	int r = 0;

	(void)name;
	for (size_t i = 0; r >= 0 && i < pieces_count(pieces); i++)
		r = put_piece(reply, pieces, pieces_at(pieces, i));
	return r;
}

static int list(sd_bus_message *message, void *context, sd_bus_error *error)
{
	(void)error;
	return reply_rows(message, context, NULL, put_pieces);
}

static int file_of(sd_bus_message *message, void *context, sd_bus_error *error)
{
	int r;
	const struct live_piece *piece = bus_read_piece(context, message, &r);

	(void)error;
	return piece == NULL ? r : sd_bus_reply_method_return(message, "s", piece->file);
}

/* What a round of that area would measure across: enough for a picture of the section. */
void bus_put_widths(sd_bus_message *reply, const struct cavity *cavity, double from_mm,
                    double depth_mm)
{
	const double top_mm = fmin(from_mm + depth_mm, cavity_height_mm(cavity));

	dict_put_double(reply, "BottomWidthMillimetres",
	                2.0 * sqrt(cavity_area_mm2(cavity, fmin(from_mm, top_mm)) / M_PI));
	dict_put_double(reply, "TopWidthMillimetres",
	                2.0 * sqrt(cavity_area_mm2(cavity, top_mm) / M_PI));
}

static int put_layer(sd_bus_message *reply, const struct bus *bus, const struct live_layer *layer)
{
	const struct store_pour *first = pieces_pour(bus->station->pieces, layer->first);
	int r = dict_begin(reply);

	if (r < 0)
		return r;
	dict_put_whole(reply, "Layer", layer->layer);
	dict_put_text(reply, "System", first->system_id);
	dict_put_whole(reply, "Pours", (int64_t)layer->n_pours);
	dict_put_whole(reply, "PouredRealtimeMicroseconds", first->stamp.realtime_us);
	dict_put_bool(reply, "AgeKnown", layer->age_known);
	dict_put_bool(reply, "Known", layer->known);
	if (layer->known) {
		dict_put_bool(reply, "TopCoat", layer->top_coat);
		dict_put_double(reply, "FromMillimetres", layer->poured.from_mm);
		bus_put_widths(reply, &pieces_at(bus->station->pieces, layer->piece)->piece.cavity,
		               layer->poured.from_mm, layer->poured.depth_mm);
		dict_put_double(reply, "DepthMillimetres", layer->poured.depth_mm);
		dict_put_double(reply, "OverMillilitres", layer->poured.over_ml);
		dict_put_double(reply, "InPieceGrams", layer->poured.in_piece_g);
		dict_put_double(reply, "Ratio", layer->poured.ratio);
		dict_put_double(reply, "DeviationPercent", layer->poured.deviation_pct);
		dict_put_double(reply, "PeakDegreesCelsius", layer->course.heat.peak_degc);
		dict_put_bool(reply, "Runaway", layer->course.heat.peak_degc > HEAT_RUNAWAY_DEGC);
	}
	return dict_end(reply);
}

static int put_layers(sd_bus_message *reply, const struct bus *bus, const char *name)
{
	const struct live_layer *layers;
	const size_t n = pieces_layers(bus->station->pieces, &layers);
	int r = 0;

	for (size_t i = 0; r >= 0 && i < n; i++)
		if (strcmp(pieces_at(bus->station->pieces, layers[i].piece)->piece.name, name) == 0)
			r = put_layer(reply, bus, &layers[i]);
	return r;
}

static int layers_of(sd_bus_message *message, void *context, sd_bus_error *error)
{
	int r;
	const struct live_piece *live = bus_read_piece(context, message, &r);

	(void)error;
	return live == NULL ? r : reply_rows(message, context, live->piece.name, put_layers);
}

static int get_room(sd_bus *connection, const char *path, const char *interface,
                    const char *property, sd_bus_message *reply, void *context, sd_bus_error *error)
{
	const struct pieces *pieces = ((const struct bus *)context)->station->pieces;
	const struct piece unused = {.room_degc = (double)NAN};
	int r = dict_begin(reply);

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	if (r >= 0)
		r = dict_put_double(reply, "DegreesCelsius", pieces_room_degc(pieces, &unused));
	return r < 0 ? r : dict_end(reply);
}

void bus_pieces_changed(struct bus *bus)
{
	sd_bus_emit_properties_changed(bus->bus, BUS_PIECES_PATH, BUS_PIECES, "Clocks", "Room",
	                               NULL);
	sd_bus_emit_signal(bus->bus, BUS_PIECES_PATH, BUS_PIECES, "Changed", "");
}

void bus_clock_event(struct bus *bus, const char *piece, int64_t layer, const char *event,
                     const char *sentence)
{
	sd_bus_emit_signal(bus->bus, BUS_PIECES_PATH, BUS_PIECES, "ClockEvent", "sxss", piece,
	                   layer, event, sentence);
}

#define CHANGES SD_BUS_VTABLE_PROPERTY_EMITS_CHANGE
#define ANYONE  SD_BUS_VTABLE_UNPRIVILEGED
const sd_bus_vtable bus_pieces_vtable[] = {
        SD_BUS_VTABLE_START(0),
        SD_BUS_METHOD_WITH_NAMES("Keep", "s", SD_BUS_PARAM(file), "", "", keep, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Finish", "s", SD_BUS_PARAM(piece), "", "", finish, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Delete", "s", SD_BUS_PARAM(piece), "", "", delete, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("List", "", "", "aa{sv}", SD_BUS_PARAM(pieces), list, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("File", "s", SD_BUS_PARAM(piece), "s", SD_BUS_PARAM(file), file_of,
                                 ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Layers", "s", SD_BUS_PARAM(piece), "aa{sv}", SD_BUS_PARAM(layers),
                                 layers_of, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Plan", "sa{sv}", SD_BUS_PARAM(piece) SD_BUS_PARAM(what_if),
                                 "aa{sv}as", SD_BUS_PARAM(layers) SD_BUS_PARAM(warnings), bus_plan,
                                 ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Checks", "s", SD_BUS_PARAM(piece), "aa{sv}", SD_BUS_PARAM(checks),
                                 bus_checks, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("AttachPhoto", "sxh",
                                 SD_BUS_PARAM(piece) SD_BUS_PARAM(layer) SD_BUS_PARAM(file), "x",
                                 SD_BUS_PARAM(id), bus_attach_photo, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Photos", "s", SD_BUS_PARAM(piece), "aa{sv}", SD_BUS_PARAM(photos),
                                 bus_photos, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Photo", "x", SD_BUS_PARAM(id), "h", SD_BUS_PARAM(file), bus_photo,
                                 ANYONE),
        SD_BUS_METHOD_WITH_NAMES("RemovePhoto", "x", SD_BUS_PARAM(id), "", "", bus_remove_photo,
                                 ANYONE),
        SD_BUS_METHOD_WITH_NAMES(
                "PourCheck", "sdd",
                SD_BUS_PARAM(piece) SD_BUS_PARAM(mass_grams) SD_BUS_PARAM(deviation_percent), "ds",
                SD_BUS_PARAM(keep_back_grams) SD_BUS_PARAM(sentence), bus_pour_check, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Pour", "sxa{sv}",
                                 SD_BUS_PARAM(piece) SD_BUS_PARAM(layer) SD_BUS_PARAM(weighed), "",
                                 "", pour, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("HoldsNow", "sx", SD_BUS_PARAM(piece) SD_BUS_PARAM(layer), "", "",
                                 holds_now, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("SetRoom", "d", SD_BUS_PARAM(degrees_celsius), "", "", set_room,
                                 ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Dry", "sd", SD_BUS_PARAM(name) SD_BUS_PARAM(mass_grams), "a{sv}",
                                 SD_BUS_PARAM(drying), bus_drying, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Drying", "s", SD_BUS_PARAM(name), "a{sv}", SD_BUS_PARAM(drying),
                                 bus_drying, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Inclusions", "s", SD_BUS_PARAM(piece), "aa{sv}",
                                 SD_BUS_PARAM(drying), bus_inclusions, ANYONE),
        SD_BUS_PROPERTY("Clocks", "aa{sv}", bus_get_clocks, 0, CHANGES),
        SD_BUS_PROPERTY("Room", "a{sv}", get_room, 0, CHANGES),
        SD_BUS_SIGNAL("Changed", "", 0),
        SD_BUS_SIGNAL_WITH_NAMES("ClockEvent", "sxss",
                                 SD_BUS_PARAM(piece) SD_BUS_PARAM(layer) SD_BUS_PARAM(event)
                                         SD_BUS_PARAM(sentence),
                                 0),
        SD_BUS_VTABLE_END,
};
