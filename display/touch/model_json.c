/* SPDX-License-Identifier: MIT */
#include "model_json.h"

#include <errno.h>
#include <json-c/json.h>
#include <stdio.h>
#include <string.h>

static int put(struct model *model, enum model_part part, uint32_t row, const char *name,
               struct json_object *value)
{
	char inner[96];
	int r = 0;

	switch (json_object_get_type(value)) {
	case json_type_double:
	case json_type_int:
	case json_type_boolean:
		return model_put_number(model, part, row, name, json_object_get_double(value));
	case json_type_string:
		return model_put_text(model, part, row, name, json_object_get_string(value));
	case json_type_object: {
		json_object_object_foreach(value, key, member)
		{
			snprintf(inner, sizeof inner, "%s%s%s", name, *name ? "." : "", key);
			r = r < 0 ? r : put(model, part, row, inner, member);
		}
		return r;
	}
	case json_type_array:
		for (size_t i = 0; i < json_object_array_length(value); i++) {
			snprintf(inner, sizeof inner, "%.80s.%u", name, (unsigned)i);
			r = r < 0 ? r
			          : put(model, part, row, inner,
			                json_object_array_get_idx(value, i));
		}
		break;
	case json_type_null:
		break;
	}
	return 0;
}

static int put_rows(struct model *model, enum model_part part, struct json_object *rows)
{
	size_t n = json_object_is_type(rows, json_type_array) ? json_object_array_length(rows) : 0;

	for (size_t i = 0; i < n; i++)
		if (put(model, part, (uint32_t)i, "", json_object_array_get_idx(rows, i)) < 0)
			return -ENOSPC;
	return 0;
}

static void put_curve(struct model *model, struct json_object *points)
{
	size_t n =
	        json_object_is_type(points, json_type_array) ? json_object_array_length(points) : 0;

	for (size_t i = 0; i < n; i++) {
		struct json_object *point = json_object_array_get_idx(points, i);

		if (json_object_is_type(point, json_type_array) &&
		    json_object_array_length(point) == 2)
			model_curve_add(
			        model, json_object_get_double(json_object_array_get_idx(point, 0)),
			        json_object_get_double(json_object_array_get_idx(point, 1)));
	}
}

static const char *text(struct json_object *object, const char *key)
{
	struct json_object *member;

	return json_object_object_get_ex(object, key, &member) &&
	                       json_object_is_type(member, json_type_string)
	               ? json_object_get_string(member)
	               : "";
}

static void put_ui(struct ui *ui, struct json_object *object)
{
	struct json_object *member;
	int screen = screen_from_name(text(object, "screen"));

	if (screen >= 0)
		ui->screen = (enum screen)screen;
	ui->ask_heard = screen == SCREEN_HEARD;
	if (strcmp(text(object, "theme"), "day") == 0)
		ui->settings.theme = THEME_DAY;
	if (strcmp(text(object, "hand"), "left") == 0)
		ui->settings.hand = HAND_LEFT;
	snprintf(ui->system, sizeof ui->system, "%s", text(object, "system"));
	snprintf(ui->notice, sizeof ui->notice, "%s", text(object, "notice"));
	if (json_object_object_get_ex(object, "amount_g", &member))
		ui->amount_g = json_object_get_double(member);
	if (json_object_object_get_ex(object, "page", &member))
		ui->page = json_object_get_int(member);
	if (json_object_object_get_ex(object, "wipe", &member))
		ui->wipe = json_object_get_boolean(member);
}

static double number(struct json_object *object, const char *key, double otherwise)
{
	struct json_object *member;

	return json_object_object_get_ex(object, key, &member) ? json_object_get_double(member)
	                                                       : otherwise;
}

/* "ticks": {"level": 3} for the piece. */
static void put_ticks(struct ui *ui, struct json_object *object)
{
	struct json_object *ticks;

	if (!json_object_object_get_ex(object, "ticks", &ticks) ||
	    !json_object_is_type(ticks, json_type_object))
		return;
	memcpy(ui->ticks.piece, ui->piece, sizeof ui->ticks.piece);
	json_object_object_foreach(ticks, check, layer)
	{
		int at = ui_layer_check(check);

		if (at >= 0)
			ui->ticks.layer[at] = json_object_get_double(layer);
	}
}

/* What was chosen on the screens beside the batch. */
static void put_care(struct ui *ui, struct json_object *object)
{
	ui->first = (enum first_step)number(object, "first", 0);
	ui->entry.field = (enum entry_field)number(object, "field", 0);
	ui->entry.by_volume = number(object, "by_volume", 0) != 0.0;
	ui->check.step = (enum check_step)number(object, "check_step", 0);
	ui->check.error_g = number(object, "error_g", 0);
	ui->check.limit_g = number(object, "limit_g", 0);
	snprintf(ui->check.verdict, sizeof ui->check.verdict, "%s", text(object, "verdict"));
	ui->load_g = number(object, "load_g", 0);
	ui->loads_seen = number(object, "loads_seen", ui->loads_seen);
	ui->held = number(object, "held", ui->held);
	if (number(object, "down_share", 0) > 0.0) {
		ui->down = (struct act){(enum act_kind)number(object, "down", 0), 0};
		ui->down_share = number(object, "down_share", 0);
	}
	snprintf(ui->piece, sizeof ui->piece, "%s", text(object, "piece"));
	ui->away_id = number(object, "away_id", 0);
	ui->drying = (int32_t)number(object, "drying", 0);
	put_ticks(ui, object);
	if ((unsigned)ui->first >= FIRST_COUNT || (unsigned)ui->entry.field >= ENTRY_COUNT ||
	    (unsigned)ui->check.step > CHECK_TOLD)
		ui->first = 0, ui->entry.field = 0, ui->check.step = 0;
}

static int put_all(struct json_object *object, struct model *model, struct ui *ui)
{
	int r = 0;

	json_object_object_foreach(object, key, value)
	{
		if (strcmp(key, "scale") == 0)
			r = put(model, MODEL_SCALE, 0, "", value);
		else if (strcmp(key, "reading") == 0)
			r = put(model, MODEL_READING, 0, "", value);
		else if (strcmp(key, "batch") == 0)
			r = put(model, MODEL_BATCH, 0, "", value);
		else if (strcmp(key, "record") == 0)
			r = put(model, MODEL_RECORD, 0, "", value);
		else if (strcmp(key, "systems") == 0)
			r = put_rows(model, MODEL_SYSTEM, value);
		else if (strcmp(key, "records") == 0)
			r = put_rows(model, MODEL_RECORDS, value);
		else if (strcmp(key, "open") == 0)
			r = put_rows(model, MODEL_OPEN, value);
		else if (strcmp(key, "shop") == 0)
			r = put(model, MODEL_SHOP, 0, "", value);
		else if (strcmp(key, "pieces") == 0)
			r = put_rows(model, MODEL_PIECES, value);
		else if (strcmp(key, "layers") == 0)
			r = put_rows(model, MODEL_LAYERS, value);
		else if (strcmp(key, "plan") == 0)
			r = put_rows(model, MODEL_PLAN, value);
		else if (strcmp(key, "clocks") == 0)
			r = put_rows(model, MODEL_CLOCKS, value);
		else if (strcmp(key, "checks") == 0)
			r = put_rows(model, MODEL_CHECKS, value);
		else if (strcmp(key, "drying") == 0)
			r = put_rows(model, MODEL_DRYING, value);
		else if (strcmp(key, "now_realtime_us") == 0)
			model->now_realtime_us = json_object_get_double(value);
		else if (strcmp(key, "plan_warning") == 0)
			snprintf(model->plan_note, sizeof model->plan_note, "%s",
			         json_object_get_string(value));
		else if (strcmp(key, "curve") == 0)
			put_curve(model, value);
		else if (strcmp(key, "ui") == 0 && json_object_is_type(value, json_type_object))
			put_ui(ui, value), put_care(ui, value);
		if (r < 0)
			return r;
	}
	return 0;
}

int model_json_read(const char *path, struct model *model, struct ui *ui, char *ret_sentence,
                    size_t size)
{
	struct json_object *object = json_object_from_file(path);
	const char *link;
	int r;

	if (!object || !json_object_is_type(object, json_type_object)) {
		const char *why = json_util_get_last_err();

		snprintf(ret_sentence, size, "%s cannot be read as a state: %.120s", path,
		         object || !why ? "it is no JSON object" : why);
		for (char *c = ret_sentence; *c; c++)
			if (*c == '\n')
				*c = '\0';
		json_object_put(object);
		return -EINVAL;
	}
	r = put_all(object, model, ui);
	link = text(object, "link");
	model->link = strcmp(link, "lost") == 0   ? LINK_LOST
	              : strcmp(link, "none") == 0 ? LINK_NONE
	                                          : LINK_UP;
	if (r < 0)
		snprintf(ret_sentence, size, "%s has too many rows in a list", path);
	json_object_put(object);
	return r;
}
