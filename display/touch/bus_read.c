/* SPDX-License-Identifier: MIT */
#include "bus_read.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

struct place {
	struct model *model;
	enum model_part part;
	uint32_t row;
};

static int read_members(sd_bus_message *message, const struct place *place, const char *prefix);

static int read_basic(sd_bus_message *message, const struct place *place, char type,
                      const char *name)
{
	union {
		double d;
		int64_t x;
		uint64_t t;
		int32_t i;
		uint32_t u;
		int b;
		const char *s;
	} value;
	double number;
	int r = sd_bus_message_read_basic(message, type, &value);

	if (r < 0)
		return r;
	switch (type) {
	case SD_BUS_TYPE_DOUBLE:
		number = value.d;
		break;
	case SD_BUS_TYPE_INT64:
		number = (double)value.x;
		break;
	case SD_BUS_TYPE_UINT64:
		number = (double)value.t;
		break;
	case SD_BUS_TYPE_INT32:
		number = value.i;
		break;
	case SD_BUS_TYPE_UINT32:
		number = value.u;
		break;
	case SD_BUS_TYPE_BOOLEAN:
		number = value.b;
		break;
	default:
		model_put_text(place->model, place->part, place->row, name, value.s);
		return 0;
	}
	model_put_number(place->model, place->part, place->row, name, number);
	return 0;
}

/* "Notes" of dictionaries becomes Notes.0.Id, Notes.1.Id ... */
static int read_list(sd_bus_message *message, const struct place *place, const char *name)
{
	unsigned i = 0;
	int r = sd_bus_message_enter_container(message, 'a', "a{sv}");

	while (r >= 0 && (r = sd_bus_message_at_end(message, false)) == 0) {
		char element[80];

		snprintf(element, sizeof element, "%.60s.%u", name, i++);
		r = read_members(message, place, element);
	}
	return r < 0 ? r : sd_bus_message_exit_container(message);
}

static int read_value(sd_bus_message *message, const struct place *place, const char *name)
{
	const char *contents;
	char type;
	int r = sd_bus_message_peek_type(message, &type, &contents);

	if (r <= 0)
		return r < 0 ? r : -EBADMSG;
	if (type == SD_BUS_TYPE_ARRAY && strcmp(contents, "{sv}") == 0) {
		model_forget(place->model, place->part, place->row, name);
		return read_members(message, place, name);
	}
	if (type == SD_BUS_TYPE_ARRAY && strcmp(contents, "a{sv}") == 0) {
		if (place->part == MODEL_BATCH && strcmp(name, "Open") == 0)
			return bus_read_rows(message, place->model, MODEL_OPEN);
		if (place->part == MODEL_SHOP && strcmp(name, "Clocks") == 0)
			return bus_read_rows(message, place->model, MODEL_CLOCKS);
		return read_list(message, place, name);
	}
	if (strchr("dxtiubsog", type))
		return read_basic(message, place, type, name);
	return sd_bus_message_skip(message, NULL);
}

static int read_members(sd_bus_message *message, const struct place *place, const char *prefix)
{
	char name[96];
	const char *key;
	int r = sd_bus_message_enter_container(message, 'a', "{sv}");

	while (r >= 0 && (r = sd_bus_message_enter_container(message, 'e', "sv")) > 0) {
		const char *contents;

		r = sd_bus_message_read(message, "s", &key);
		if (r >= 0)
			r = sd_bus_message_peek_type(message, NULL, &contents);
		if (r >= 0)
			r = sd_bus_message_enter_container(message, 'v', contents);
		if (r < 0)
			break;
		snprintf(name, sizeof name, "%s%s%s", prefix, *prefix ? "." : "", key);
		r = read_value(message, place, name);
		if (r >= 0)
			r = sd_bus_message_exit_container(message);
		if (r >= 0)
			r = sd_bus_message_exit_container(message);
	}
	return r < 0 ? r : sd_bus_message_exit_container(message);
}

int bus_read_dict(sd_bus_message *message, struct model *model, enum model_part part, uint32_t row)
{
	const struct place place = {model, part, row};

	return read_members(message, &place, "");
}

int bus_read_rows(sd_bus_message *message, struct model *model, enum model_part part)
{
	uint32_t row = 0;
	int r = sd_bus_message_enter_container(message, 'a', "a{sv}");

	model_empty(model, part);
	while (r >= 0 && (r = sd_bus_message_at_end(message, false)) == 0) {
		r = bus_read_dict(message, model, part, row++);
	}
	return r < 0 ? r : sd_bus_message_exit_container(message);
}
