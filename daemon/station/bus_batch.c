/* SPDX-License-Identifier: MIT */
/* /org/ambo/batch: begin, press, hold, discard; what is shown of it. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "action_text.h"
#include "bus_inside.h"
#include "cup_clock.h"

/* What begins is answered when the store has it. */
static void begun(void *context, const struct begin_answer *answer)
{
	struct bus_call *call = context;

	if (answer->result < 0)
		bus_refuse(call->message, answer->error, "%s", answer->sentence);
	else
		sd_bus_reply_method_return(call->message, "xs", answer->id, answer->sentence);
	bus_call_drop(call);
}

static void divided(void *context, const struct begin_answer *answer)
{
	struct bus_call *call = context;

	if (answer->result < 0)
		bus_refuse(call->message, answer->error, "%s", answer->sentence);
	else
		sd_bus_reply_method_return(call->message, "x", answer->id);
	bus_call_drop(call);
}

/* Told in a word where nobody has a thermometer. Cool: as parts come from a shelf by the
 * wall or the floor (design choice). */
#define COOL_UNDER_ROOM_K 5.0
#define COOL_DEGC         15.0 /* where the room is not known either */

static int take_resin(const struct bus *bus, const char *word, struct recipe_request *recipe,
                      char *why)
{
	const double room_degc = cup_clock_room_degc(bus->station, recipe->piece);
	const bool cool = strcmp(word, "cool") == 0;

	if (word[0] == '\0')
		return 0;
	if ((!cool && strcmp(word, "room") != 0) || !isnan(recipe->resin_degc)) {
		snprintf(why, DICT_WHY_MAX,
		         "Resin: \"%.40s\"; expected \"cool\" or \"room\", or ResinCelsius "
		         "instead.",
		         word);
		return -EINVAL;
	}
	/* As warm as a room that nobody knows: not known, so the label's. */
	recipe->resin_degc = !cool              ? room_degc
	                     : isnan(room_degc) ? COOL_DEGC
	                                        : room_degc - COOL_UNDER_ROOM_K;
	return 0;
}

static int take_request(const struct bus *bus, sd_bus_message *message, struct begin_request *ret,
                        char *why)
{
	struct recipe_request *recipe = &ret->recipe;
	char resin[SYSTEM_LABEL_MAX] = "";
	const struct dict_key keys[] = {
	        {"System", NULL, 0, 0, ret->system_id, sizeof(ret->system_id)},
	        {"TotalGrams", &recipe->total_g, 0.0, 1e9, NULL, 0},
	        {"VolumeMillilitres", &recipe->volume_ml, 0.0, 1e9, NULL, 0},
	        {"CupLimitGrams", &recipe->cup_limit_g, 0.0, 1e9, NULL, 0},
	        {"TintPercent", &recipe->tint_pct, 0.0, 100.0, NULL, 0},
	        {"TintLabel", NULL, 0, 0, recipe->tint_label, sizeof(recipe->tint_label)},
	        {"ResinCelsius", &recipe->resin_degc, -100.0, 200.0, NULL, 0},
	        {"Resin", NULL, 0, 0, resin, sizeof(resin)},
	        {"Piece", NULL, 0, 0, recipe->piece, sizeof(recipe->piece)},
	        {"Layer", NULL, 0, 0, recipe->layer, sizeof(recipe->layer)},
	};
	int r;

	memset(ret, 0, sizeof(*ret));
	recipe->resin_degc = NAN;
	r = dict_take(message, keys, sizeof(keys) / sizeof(keys[0]), why);
	if (r >= 0 && ret->system_id[0] == '\0') {
		snprintf(why, DICT_WHY_MAX,
		         "System is missing; expected the id of a resin system.");
		return -EINVAL;
	}
	return r < 0 ? r : take_resin(bus, resin, recipe, why);
}

static int begin(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	struct begin_request request;
	char why[DICT_WHY_MAX] = "";
	struct bus_call *call;
	int r = take_request(bus, message, &request, why);

	(void)error;
	if (r < 0)
		return why[0] != '\0' ? bus_refuse(message, "BadRequest", "%s", why) : r;
	call = bus_call_keep(bus, message);
	if (call != NULL)
		begin_batch(bus->station, &request, begun, call);
	return 1;
}

static int again(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	struct bus_call *call = bus_call_keep(bus, message);

	(void)error;
	if (call != NULL)
		begin_again(bus->station, begun, call);
	return 1;
}

static struct batch *find(struct bus *bus, int64_t id)
{
	return batches_find(&bus->station->batches, id);
}

static int no_batch(sd_bus_message *message, int64_t id)
{
	if (id == 0)
		return bus_refuse(message, "NoBatch", "There is no batch: begin one first.");
	return bus_refuse(message, "NoBatch", "Batch %lld is not open.", (long long)id);
}

/* Answered when what it led to is in the store: whoever asks next sees it. */
static int act(struct bus *bus, sd_bus_message *message, struct batch *batch,
               enum guide_event_kind kind, const char *text, const char *log)
{
	char why[ACTION_WHY_MAX];
	struct bus_call *call;
	int r = action_event(bus->station, batch, kind, text, log, why);

	if (r < 0)
		return bus_refuse(message, bus_error_name(r), "%s", why);
	if (!batch->commit.waiting)
		return sd_bus_reply_method_return(message, "");
	call = bus_call_keep(bus, message);
	if (call != NULL)
		call->batch_id = batch->id;
	return 1;
}

static int event(struct bus *bus, sd_bus_message *message, enum guide_event_kind kind,
                 const char *log)
{
	struct batch *batch;
	int64_t id;
	int r;

	r = sd_bus_message_read(message, "x", &id);
	if (r < 0)
		return r;
	batch = find(bus, id);
	if (batch == NULL)
		return no_batch(message, id);
	return act(bus, message, batch, kind, "", log);
}

static int press(sd_bus_message *message, void *context, sd_bus_error *error)
{
	(void)error;
	return event(context, message, GUIDE_PRESS, "press");
}

static int other_part(sd_bus_message *message, void *context, sd_bus_error *error)
{
	(void)error;
	return event(context, message, GUIDE_OTHER_PART, "other-part");
}

static int hold(sd_bus_message *message, void *context, sd_bus_error *error)
{
	(void)error;
	return event(context, message, GUIDE_HOLD, "hold");
}

static int discard(sd_bus_message *message, void *context, sd_bus_error *error)
{
	(void)error;
	return event(context, message, GUIDE_DISCARD, "discard");
}

static int scan(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	struct action action = {.kind = ACTION_SCAN};
	char line[ACTION_TEXT_MAX];
	struct batch *batch = batches_shown(&bus->station->batches);
	const char *code;
	int r;

	(void)error;
	r = sd_bus_message_read(message, "s", &code);
	if (r < 0)
		return r;
	if (code[0] == '\0' || strlen(code) >= sizeof(action.code))
		return bus_refuse(message, "BadRequest",
		                  "The code has %zu bytes; expected 1 to %zu.", strlen(code),
		                  sizeof(action.code) - 1);
	if (batch == NULL)
		return no_batch(message, 0);
	snprintf(action.code, sizeof(action.code), "%s", code);
	action_write(&action, line, sizeof(line));
	return act(bus, message, batch, GUIDE_SCAN, code, line);
}

static int divide(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	struct bus_call *call;
	struct batch *batch;
	double mass_g, tint_pct;
	const char *label;
	int64_t id;
	int r;

	(void)error;
	r = sd_bus_message_read(message, "xdds", &id, &mass_g, &tint_pct, &label);
	if (r < 0)
		return r;
	if (!isfinite(mass_g) || mass_g <= 0.0 || !isfinite(tint_pct) || tint_pct < 0.0 ||
	    tint_pct > 100.0 || strlen(label) >= SYSTEM_LABEL_MAX)
		return bus_refuse(message, "BadRequest",
		                  "A division is %g g with %g %% tint; expected a mass above 0, a "
		                  "tint from 0 to 100 and a label of at most %u bytes.",
		                  mass_g, tint_pct, SYSTEM_LABEL_MAX - 1);
	batch = find(bus, id);
	if (batch == NULL)
		return no_batch(message, id);
	call = bus_call_keep(bus, message);
	if (call != NULL)
		begin_divided(bus->station, batch, mass_g, tint_pct, label, divided, call);
	return 1;
}

static int put_system(sd_bus_message *reply, const struct station_config *config,
                      const struct resin_system *system)
{
	const double density = system_mixed_density_g_per_ml(system);
	char read_back[SYSTEM_SENTENCE_MAX];
	int r;

	system_read_back(system, read_back);
	r = dict_begin(reply);
	if (r < 0)
		return r;
	dict_put_text(reply, "System", system->id);
	dict_put_text(reply, "Name", system->name);
	dict_put_text(reply, "ReadBack", read_back);
	dict_put_text(reply, "LabelA", system->part[PART_A].label);
	dict_put_text(reply, "LabelB", system->part[PART_B].label);
	dict_put_text(reply, "Hardener", system->hardener == PART_A ? "a" : "b");
	dict_put_double(reply, "PartsA", system->part[PART_A].parts);
	dict_put_double(reply, "PartsB", system->part[PART_B].parts);
	dict_put_text(reply, "Basis", system->basis == BASIS_VOLUME ? "volume" : "weight");
	dict_put_double(reply, "Ratio", system_ratio(system));
	dict_put_double(reply, "TolerancePercent",
	                system->tolerance_pct > 0.0 ? system->tolerance_pct
	                                            : config->default_tolerance_pct);
	if (density > 0.0)
		dict_put_double(reply, "MixedDensityGramsPerMillilitre", density);
	dict_put_double(reply, "WorkingLifeSeconds", system->working_life_s);
	dict_put_double(reply, "WorkingLifeGrams", system->working_life_mass_g);
	dict_put_double(reply, "WorkingLifeCelsius", system->working_life_degc);
	if (system->stir_s > 0.0)
		dict_put_double(reply, "StirSeconds", system->stir_s);
	dict_put_text(reply, "Notes", system->notes);
	if (config->demo[system - config->systems])
		dict_put_bool(reply, "Demo", true);
	return dict_end(reply);
}

static int systems(sd_bus_message *message, void *context, sd_bus_error *error)
{
	const struct bus *bus = context;
	const struct station_config *config = bus->station->config;
	sd_bus_message *reply = NULL;
	int r = bus_rows_begin(message, &reply);

	(void)error;
	for (size_t i = 0; r >= 0 && i < config->n_systems; i++)
		r = put_system(reply, config, &config->systems[i]);
	return bus_rows_end(reply, r);
}

/* Properties: all from one snapshot. */
static int get_text(sd_bus *connection, const char *path, const char *interface,
                    const char *property, sd_bus_message *reply, void *context, sd_bus_error *error)
{
	const struct batch_shown *shown = bus_shown(context);
	const struct {
		const char *property, *text;
	} texts[] = {
	        {"System", shown->system},
	        {"Step", shown->step},
	        {"Component", shown->component},
	        {"ComponentLabel", shown->component_label},
	        {"Message", shown->id != 0 ? message_name(shown->message.id) : ""},
	        {"Headline", shown->headline},
	        {"Sentence", shown->sentence},
	        {"Caution", shown->caution},
	        {"Verdict", shown->verdict},
	        {"Cue", shown->cue},
	        {"PressMeans", shown->press},
	};

	(void)connection, (void)path, (void)interface, (void)error;
	for (size_t i = 0; i < sizeof(texts) / sizeof(texts[0]); i++)
		if (strcmp(texts[i].property, property) == 0)
			return sd_bus_message_append(reply, "s", texts[i].text);
	return -ENOENT;
}

static int get_id(sd_bus *connection, const char *path, const char *interface, const char *property,
                  sd_bus_message *reply, void *context, sd_bus_error *error)
{
	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	return sd_bus_message_append(reply, "x", bus_shown(context)->id);
}

static int get_provisional(sd_bus *connection, const char *path, const char *interface,
                           const char *property, sd_bus_message *reply, void *context,
                           sd_bus_error *error)
{
	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	return sd_bus_message_append(reply, "b", (int)bus_shown(context)->provisional);
}

static int get_arguments(sd_bus *connection, const char *path, const char *interface,
                         const char *property, sd_bus_message *reply, void *context,
                         sd_bus_error *error)
{
	const struct message *message = &bus_shown(context)->message;
	const struct {
		uint32_t has;
		const char *key;
		double value;
	} numbers[] = {
	        {MESSAGE_HAS_MASS_G, "MassGrams", message->mass_g},
	        {MESSAGE_HAS_OTHER_MASS_G, "OtherMassGrams", message->other_mass_g},
	        {MESSAGE_HAS_PCT, "Percent", message->pct},
	        {MESSAGE_HAS_OTHER_PCT, "OtherPercent", message->other_pct},
	        {MESSAGE_HAS_SECONDS, "Seconds", message->seconds},
	        {MESSAGE_HAS_OTHER_SECONDS, "OtherSeconds", message->other_seconds},
	};
	int r = dict_begin(reply);

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	if (r < 0)
		return r;
	for (size_t i = 0; i < sizeof(numbers) / sizeof(numbers[0]); i++)
		if (message->has & numbers[i].has)
			dict_put_double(reply, numbers[i].key, numbers[i].value);
	if (message->has & MESSAGE_HAS_COMPONENT)
		dict_put_text(reply, "Component", component_name(message->component));
	if (message->has & MESSAGE_HAS_OTHER)
		dict_put_text(reply, "Other", component_name(message->other));
	if (message->has & MESSAGE_HAS_TEXT)
		dict_put_text(reply, "Text", message->text);
	return dict_end(reply);
}

static int get_quantities(sd_bus *connection, const char *path, const char *interface,
                          const char *property, sd_bus_message *reply, void *context,
                          sd_bus_error *error)
{
	const struct batch_shown *shown = bus_shown(context);
	int r = dict_begin(reply);

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	for (uint32_t i = 0; r >= 0 && i < shown->n_quantities; i++)
		r = dict_put_double(reply, shown->quantity[i].name, shown->quantity[i].value);
	return r < 0 ? r : dict_end(reply);
}

static int put_open(sd_bus_message *reply, const struct batch *batch)
{
	struct guide_view view;
	int r = dict_begin(reply);

	if (r < 0)
		return r;
	guide_look(&batch->commit.committed, &view);
	dict_put_whole(reply, "Id", batch->id);
	if (batch->parent_id != 0)
		dict_put_whole(reply, "ParentId", batch->parent_id);
	dict_put_text(reply, "System", batch->commit.committed.recipe.system.id);
	dict_put_text(reply, "Step", guide_step_name(view.step));
	if (view.has & VIEW_HAS_LIFE)
		dict_put_double(reply, "WorkingLifeLeftSeconds", view.working_life_left_s);
	return dict_end(reply);
}

static int get_open(sd_bus *connection, const char *path, const char *interface,
                    const char *property, sd_bus_message *reply, void *context, sd_bus_error *error)
{
	const struct bus *bus = context;
	const struct batches *batches = &bus->station->batches;
	int r = sd_bus_message_open_container(reply, 'a', "a{sv}");

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	for (size_t i = 0; r >= 0 && i < BATCHES_MAX; i++)
		if (batch_open(&batches->batch[i]))
			r = put_open(reply, &batches->batch[i]);
	return r < 0 ? r : sd_bus_message_close_container(reply);
}

int bus_batch_changed(struct bus *bus, uint32_t differs, bool open_too)
{
	static const struct {
		uint32_t part;
		const char *property;
	} rows[] = {
	        {SHOWN_ID, "Id"},
	        {SHOWN_SYSTEM, "System"},
	        {SHOWN_STEP, "Step"},
	        {SHOWN_COMPONENT, "Component"},
	        {SHOWN_COMPONENT, "ComponentLabel"},
	        {SHOWN_MESSAGE, "Message"},
	        {SHOWN_ARGUMENTS, "Arguments"},
	        {SHOWN_MESSAGE, "Headline"},
	        {SHOWN_SENTENCE, "Sentence"},
	        {SHOWN_CAUTION, "Caution"},
	        {SHOWN_VERDICT, "Verdict"},
	        {SHOWN_PROVISIONAL, "Provisional"},
	        {SHOWN_CUE, "Cue"},
	        {SHOWN_PRESS, "PressMeans"},
	        {SHOWN_QUANTITIES, "Quantities"},
	        {SHOWN_ID | SHOWN_STEP, "PourAdvice"},
	};
	char *names[sizeof(rows) / sizeof(rows[0]) + 2] = {NULL};
	size_t n = 0;

	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
		if (differs & rows[i].part)
			names[n++] = (char *)rows[i].property;
	if (n == 0)
		return 0;
	if (open_too && (differs & (SHOWN_ID | SHOWN_STEP | SHOWN_QUANTITIES)))
		names[n++] = (char *)"Open";
	return sd_bus_emit_properties_changed_strv(bus->bus, BUS_BATCH_PATH, BUS_BATCH, names);
}

static int get_advice(sd_bus *connection, const char *path, const char *interface,
                      const char *property, sd_bus_message *reply, void *context,
                      sd_bus_error *error)
{
	struct bus *bus = context;
	const struct batch *batch = batches_shown(&bus->station->batches);
	const bool open = batch != NULL && batch_open(batch);

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	return sd_bus_message_append(reply, "s", open ? batch->advice : "");
}

void bus_advice_changed(struct bus *bus)
{
	sd_bus_emit_properties_changed(bus->bus, BUS_BATCH_PATH, BUS_BATCH, "PourAdvice", NULL);
}

#define CHANGES SD_BUS_VTABLE_PROPERTY_EMITS_CHANGE
#define ANYONE  SD_BUS_VTABLE_UNPRIVILEGED
#define OF_ID(name, handler)                                                                       \
	SD_BUS_METHOD_WITH_NAMES(name, "x", SD_BUS_PARAM(id), "", "", handler, ANYONE)
#define TEXT(name) SD_BUS_PROPERTY(name, "s", get_text, 0, CHANGES)
const sd_bus_vtable bus_batch_vtable[] = {
        SD_BUS_VTABLE_START(0),
        SD_BUS_METHOD_WITH_NAMES("Begin", "a{sv}", SD_BUS_PARAM(request), "xs",
                                 SD_BUS_PARAM(id) SD_BUS_PARAM(warning), begin, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Again", "", "", "xs", SD_BUS_PARAM(id) SD_BUS_PARAM(warning),
                                 again, ANYONE),
        OF_ID("Press", press),
        OF_ID("OtherPart", other_part),
        OF_ID("Hold", hold),
        OF_ID("Discard", discard),
        SD_BUS_METHOD_WITH_NAMES("Scan", "s", SD_BUS_PARAM(code), "", "", scan, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Divide", "xdds",
                                 SD_BUS_PARAM(id) SD_BUS_PARAM(mass_grams)
                                         SD_BUS_PARAM(tint_percent) SD_BUS_PARAM(tint_label),
                                 "x", SD_BUS_PARAM(child_id), divide, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("EnterSystem", "a{sv}", SD_BUS_PARAM(label), "s",
                                 SD_BUS_PARAM(system), bus_enter_system, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Systems", "", "", "aa{sv}", SD_BUS_PARAM(systems), systems,
                                 ANYONE),
        SD_BUS_PROPERTY("Id", "x", get_id, 0, CHANGES),
        TEXT("System"),
        TEXT("Step"),
        TEXT("Component"),
        TEXT("ComponentLabel"),
        TEXT("Message"),
        SD_BUS_PROPERTY("Arguments", "a{sv}", get_arguments, 0, CHANGES),
        TEXT("Headline"),
        TEXT("Sentence"),
        TEXT("Caution"),
        TEXT("Verdict"),
        SD_BUS_PROPERTY("Provisional", "b", get_provisional, 0, CHANGES),
        TEXT("Cue"),
        TEXT("PressMeans"),
        SD_BUS_PROPERTY("Quantities", "a{sv}", get_quantities, 0, CHANGES),
        SD_BUS_PROPERTY("Open", "aa{sv}", get_open, 0, CHANGES),
        SD_BUS_PROPERTY("PourAdvice", "s", get_advice, 0, CHANGES),
        SD_BUS_SIGNAL_WITH_NAMES("StepChanged", "xxssss",
                                 SD_BUS_PARAM(id) SD_BUS_PARAM(t_us) SD_BUS_PARAM(step)
                                         SD_BUS_PARAM(message) SD_BUS_PARAM(sentence)
                                                 SD_BUS_PARAM(verdict),
                                 0),
        SD_BUS_VTABLE_END,
};
