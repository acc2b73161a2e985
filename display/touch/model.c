/* SPDX-License-Identifier: MIT */
#include "model.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

struct field {
	const char *name;
	bool text;
	size_t offset, size;
};

#define NUMBER(type, name, member)                                                                 \
	{                                                                                          \
		name, false, offsetof(struct type, member), sizeof(double)                         \
	}
#define TEXT(type, name, member)                                                                   \
	{                                                                                          \
		name, true, offsetof(struct type, member), sizeof(((struct type *)0)->member)      \
	}
#define END                                                                                        \
	{                                                                                          \
		NULL, false, 0, 0                                                                  \
	}

static const struct field scale_fields[] = {
        TEXT(model_scale, "Driver", driver),
        TEXT(model_scale, "State", state),
        TEXT(model_scale, "Condition", condition),
        NUMBER(model_scale, "MaxGrams", max_g),
        NUMBER(model_scale, "IntervalGrams", interval_g),
        NUMBER(model_scale, "Quantities.GrossGrams", gross_g),
        NUMBER(model_scale, "Quantities.NetGrams", net_g),
        NUMBER(model_scale, "Quantities.RateGramsPerSecond", rate_g_per_s),
        NUMBER(model_scale, "Quantities.DoubtGrams", doubt_g),
        NUMBER(model_scale, "Sensors.AirCelsius", air_degc),
        NUMBER(model_scale, "Sensors.AirHumidityPercent", air_pct),
        END,
};

static const struct field reading_fields[] = {
        NUMBER(model_reading, "t_us", t_us),
        TEXT(model_reading, "state", state),
        TEXT(model_reading, "cue", cue),
        NUMBER(model_reading, "NetGrams", net_g),
        NUMBER(model_reading, "GrossGrams", gross_g),
        NUMBER(model_reading, "RateGramsPerSecond", rate_g_per_s),
        NUMBER(model_reading, "DoubtGrams", doubt_g),
        NUMBER(model_reading, "PredictedGrams", predicted_g),
        NUMBER(model_reading, "RemainingGrams", remaining_g),
        END,
};

static const struct field batch_fields[] = {
        NUMBER(model_batch, "Id", id),
        TEXT(model_batch, "System", system),
        TEXT(model_batch, "Step", step),
        TEXT(model_batch, "Component", component),
        TEXT(model_batch, "ComponentLabel", component_label),
        TEXT(model_batch, "Message", message),
        TEXT(model_batch, "Headline", headline),
        TEXT(model_batch, "Sentence", sentence),
        TEXT(model_batch, "Caution", caution),
        TEXT(model_batch, "Verdict", verdict),
        TEXT(model_batch, "Cue", cue),
        TEXT(model_batch, "PressMeans", press),
        NUMBER(model_batch, "Provisional", provisional),
        NUMBER(model_batch, "Arguments.MassGrams", mass_g),
        NUMBER(model_batch, "Arguments.OtherMassGrams", other_mass_g),
        NUMBER(model_batch, "Arguments.Percent", pct),
        NUMBER(model_batch, "Arguments.OtherPercent", other_pct),
        NUMBER(model_batch, "Arguments.Seconds", seconds),
        NUMBER(model_batch, "Arguments.OtherSeconds", other_seconds),
        TEXT(model_batch, "Arguments.Component", argument_component),
        TEXT(model_batch, "Arguments.Other", argument_other),
        TEXT(model_batch, "Arguments.Text", argument_text),
        NUMBER(model_batch, "Quantities.TargetGrams", target_g),
        NUMBER(model_batch, "Quantities.RemainingGrams", remaining_g),
        NUMBER(model_batch, "Quantities.BandLowGrams", low_g),
        NUMBER(model_batch, "Quantities.BandHighGrams", high_g),
        NUMBER(model_batch, "Quantities.DispensedGrams", dispensed_g),
        NUMBER(model_batch, "Quantities.PredictedGrams", predicted_g),
        NUMBER(model_batch, "Quantities.DeviationPercent", deviation_pct),
        NUMBER(model_batch, "Quantities.DeviationDoubtPercent", doubt_pct),
        NUMBER(model_batch, "Quantities.WorkingLifeLeftSeconds", life_left_s),
        NUMBER(model_batch, "Quantities.StirLeftSeconds", stir_left_s),
        NUMBER(model_batch, "Quantities.BeforeAGrams", before_a_g),
        NUMBER(model_batch, "Quantities.BeforeBGrams", before_b_g),
        END,
};

static const struct field system_fields[] = {
        TEXT(model_system, "System", id),
        TEXT(model_system, "Name", name),
        TEXT(model_system, "ReadBack", read_back),
        TEXT(model_system, "LabelA", label_a),
        TEXT(model_system, "LabelB", label_b),
        TEXT(model_system, "Hardener", hardener),
        TEXT(model_system, "Basis", basis),
        TEXT(model_system, "Notes", notes),
        NUMBER(model_system, "Ratio", ratio),
        NUMBER(model_system, "TolerancePercent", tolerance_pct),
        NUMBER(model_system, "MixedDensityGramsPerMillilitre", density_g_per_ml),
        NUMBER(model_system, "WorkingLifeSeconds", working_life_s),
        NUMBER(model_system, "PartsA", parts_a),
        NUMBER(model_system, "PartsB", parts_b),
        END,
};

static const struct field open_fields[] = {
        NUMBER(model_open, "Id", id),
        NUMBER(model_open, "WorkingLifeLeftSeconds", life_left_s),
        TEXT(model_open, "System", system),
        TEXT(model_open, "Step", step),
        END,
};

static const struct field record_fields[] = {
        NUMBER(model_record, "Id", id),
        NUMBER(model_record, "BegunRealtimeMicroseconds", begun_realtime_us),
        NUMBER(model_record, "EndedRealtimeMicroseconds", ended_realtime_us),
        NUMBER(model_record, "Synchronised", synchronised),
        TEXT(model_record, "System", system),
        TEXT(model_record, "SystemName", system_name),
        TEXT(model_record, "Piece", piece),
        TEXT(model_record, "Layer", layer),
        TEXT(model_record, "Step", step),
        TEXT(model_record, "Verdict", verdict),
        NUMBER(model_record, "ResinGrams", resin_g),
        NUMBER(model_record, "HardenerGrams", hardener_g),
        NUMBER(model_record, "TintGrams", tint_g),
        NUMBER(model_record, "TotalGrams", total_g),
        NUMBER(model_record, "TargetTotalGrams", target_total_g),
        NUMBER(model_record, "TargetRatio", target_ratio),
        NUMBER(model_record, "TolerancePercent", tolerance_pct),
        NUMBER(model_record, "Ratio", ratio),
        NUMBER(model_record, "DeviationPercent", deviation_pct),
        NUMBER(model_record, "DeviationDoubtPercent", doubt_pct),
        END,
};

/* The place of a row and its table; grows the list up to that row. NULL: no room. */
static void *find_row(struct model *model, enum model_part part, uint32_t row,
                      const struct field **ret_fields)
{
	switch (part) {
	case MODEL_SCALE:
		*ret_fields = scale_fields;
		return &model->scale;
	case MODEL_READING:
		*ret_fields = reading_fields;
		return &model->reading;
	case MODEL_BATCH:
		*ret_fields = batch_fields;
		return &model->batch;
	case MODEL_RECORD:
		*ret_fields = record_fields;
		return &model->record;
	case MODEL_OPEN:
		*ret_fields = open_fields;
		return row < MODEL_OPEN_MAX ? &model->open[row] : NULL;
	case MODEL_SYSTEM:
		*ret_fields = system_fields;
		return row < MODEL_SYSTEMS_MAX ? &model->systems[row] : NULL;
	case MODEL_RECORDS:
		*ret_fields = record_fields;
		return row < MODEL_RECORDS_MAX ? &model->records[row] : NULL;
	}
	return NULL;
}

static uint32_t *row_count(struct model *model, enum model_part part)
{
	switch (part) {
	case MODEL_OPEN:
		return &model->n_open;
	case MODEL_SYSTEM:
		return &model->n_systems;
	case MODEL_RECORDS:
		return &model->n_records;
	case MODEL_SCALE:
	case MODEL_READING:
	case MODEL_BATCH:
	case MODEL_RECORD:
		break;
	}
	return NULL;
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
	const struct field *fields;
	void *place = find_row(model, part, row, &fields);

	if (place)
		forget_fields(place, fields, group);
}

static void *find_field(struct model *model, enum model_part part, uint32_t row, const char *name,
                        bool text, size_t *ret_size)
{
	const struct field *fields;
	char *place = find_row(model, part, row, &fields);
	uint32_t *count = row_count(model, part);

	if (!place)
		return NULL;
	while (count && *count <= row)
		forget_fields(find_row(model, part, (*count)++, &fields), fields, "");
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
