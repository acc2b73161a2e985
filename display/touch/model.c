/* SPDX-License-Identifier: MIT */
#include "model.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "model_fields.h"

/* The rows of a list: how many there are, where they begin and how large each is; NULL
 * for a part that is no list. */
static uint32_t *rows_of(struct model *model, enum model_part part, char **ret_first,
                         size_t *ret_size, uint32_t *ret_most)
{
#define ROWS(list, count, most)                                                                    \
	*ret_first = (char *)model->list, *ret_size = sizeof *model->list, *ret_most = most;       \
	return &model->count
	switch (part) {
	case MODEL_OPEN:
		ROWS(open, n_open, MODEL_OPEN_MAX);
	case MODEL_SYSTEM:
		ROWS(systems, n_systems, MODEL_SYSTEMS_MAX);
	case MODEL_RECORDS:
		ROWS(records, n_records, MODEL_RECORDS_MAX);
	case MODEL_PIECES:
		ROWS(pieces, n_pieces, MODEL_PIECES_MAX);
	case MODEL_LAYERS:
		ROWS(layers, n_layers, MODEL_LAYERS_MAX);
	case MODEL_PLAN:
		ROWS(plan, n_plan, MODEL_LAYERS_MAX);
	case MODEL_CLOCKS:
		ROWS(clocks, n_clocks, MODEL_CLOCKS_MAX);
	case MODEL_CHECKS:
		ROWS(checks, n_checks, MODEL_CHECKS_MAX);
	case MODEL_DRYING:
		ROWS(drying, n_drying, MODEL_DRYING_MAX);
	case MODEL_SCALE:
	case MODEL_READING:
	case MODEL_BATCH:
	case MODEL_RECORD:
	case MODEL_SHOP:
		break;
	}
	return NULL;
#undef ROWS
}

void model_empty(struct model *model, enum model_part part)
{
	char *first;
	size_t size;
	uint32_t most, *count = rows_of(model, part, &first, &size, &most);

	if (count)
		*count = 0;
}

/* The place of a row. NULL: no room. */
static void *find_row(struct model *model, enum model_part part, uint32_t row)
{
	char *first;
	size_t size;
	uint32_t most;

	switch (part) {
	case MODEL_SCALE:
		return &model->scale;
	case MODEL_READING:
		return &model->reading;
	case MODEL_BATCH:
		return &model->batch;
	case MODEL_RECORD:
		return &model->record;
	case MODEL_SHOP:
		return &model->shop;
	case MODEL_OPEN:
	case MODEL_SYSTEM:
	case MODEL_RECORDS:
	case MODEL_PIECES:
	case MODEL_LAYERS:
	case MODEL_PLAN:
	case MODEL_CLOCKS:
	case MODEL_CHECKS:
	case MODEL_DRYING:
		break;
	}
	if (!rows_of(model, part, &first, &size, &most) || row >= most)
		return NULL;
	return first + row * size;
}

static void forget_fields(void *place, const struct field *fields, const char *group)
{
	size_t n = strlen(group);

	for (const struct field *field = fields; field->name; field++) {
		if (n > 0 && (strncmp(field->name, group, n) != 0 || field->name[n] != '.'))
			continue;
		if (field->text)
			((char *)place)[field->offset] = '\0';
		else
			*(double *)(void *)((char *)place + field->offset) = NAN;
	}
}

void model_forget(struct model *model, enum model_part part, uint32_t row, const char *group)
{
	void *place = find_row(model, part, row);

	if (place)
		forget_fields(place, model_fields(part), group);
}

static void *find_field(struct model *model, enum model_part part, uint32_t row, const char *name,
                        bool text, size_t *ret_size)
{
	const struct field *fields = model_fields(part);
	char *place = find_row(model, part, row), *first;
	size_t size;
	uint32_t most, *count = rows_of(model, part, &first, &size, &most);

	if (!place)
		return NULL;
	while (count && *count <= row)
		forget_fields(find_row(model, part, (*count)++), fields, "");
	*ret_size = 0;
	for (; fields->name; fields++)
		if (fields->text == text && strcmp(fields->name, name) == 0) {
			*ret_size = fields->size;
			return place + fields->offset;
		}
	return place;
}

int model_put_number(struct model *model, enum model_part part, uint32_t row, const char *name,
                     double value)
{
	size_t size;
	double *place = find_field(model, part, row, name, false, &size);

	if (!place)
		return -ENOSPC;
	if (size > 0)
		*place = value;
	return 0;
}

int model_put_text(struct model *model, enum model_part part, uint32_t row, const char *name,
                   const char *value)
{
	size_t size;
	char *place = find_field(model, part, row, name, true, &size);

	if (!place)
		return -ENOSPC;
	if (size > 0)
		snprintf(place, size, "%s", value);
	return 0;
}

void model_init(struct model *model)
{
	memset(model, 0, sizeof *model);
	model_forget(model, MODEL_SCALE, 0, "");
	model_forget(model, MODEL_READING, 0, "");
	model_forget(model, MODEL_BATCH, 0, "");
	model_forget(model, MODEL_RECORD, 0, "");
	model_forget(model, MODEL_SHOP, 0, "");
	model->now_realtime_us = NAN;
	model->batch.id = 0.0;
}

void model_curve_clear(struct model *model)
{
	model->n_curve = 0;
}

void model_curve_add(struct model *model, double t_s, double gross_g)
{
	if (!isfinite(t_s) || !isfinite(gross_g))
		return;
	if (model->n_curve == MODEL_CURVE_MAX) {
		/* Every second one goes: still the whole of the curve. */
		for (uint32_t i = 0; i < MODEL_CURVE_MAX / 2; i++) {
			model->curve_s[i] = model->curve_s[2 * i];
			model->curve_g[i] = model->curve_g[2 * i];
		}
		model->n_curve = MODEL_CURVE_MAX / 2;
	}
	model->curve_s[model->n_curve] = t_s;
	model->curve_g[model->n_curve++] = gross_g;
}

const struct model_system *model_system_find(const struct model *model, const char *id)
{
	for (uint32_t i = 0; i < model->n_systems; i++)
		if (strcmp(model->systems[i].id, id) == 0)
			return &model->systems[i];
	return NULL;
}

bool model_calibrated(const struct model *model)
{
	/* A station that does not say is of a time when all were. */
	return !(model->scale.calibrated == 0.0);
}

bool model_finding(const struct model *model, const char *id)
{
	for (unsigned i = 0; i < MODEL_FINDINGS; i++)
		if (strcmp(model->scale.finding[i], id) == 0)
			return true;
	return false;
}

double model_remaining_g(const struct model *model)
{
	/* A reading that carries none, while the batch does, is from before the charge. */
	if (isfinite(model->reading.remaining_g) && isfinite(model->batch.target_g))
		return model->reading.remaining_g;
	return model->batch.remaining_g;
}

const char *model_cue(const struct model *model)
{
	return model->reading.cue[0] ? model->reading.cue : model->batch.cue;
}
