/* SPDX-License-Identifier: MIT */
#include "model_fields.h"

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
        NUMBER(model_scale, "Calibration.Calibrated", calibrated),
        NUMBER(model_scale, "Calibration.ApprovedSeconds", approved_s),
        NUMBER(model_scale, "Calibration.UnderWay", calibrating),
        TEXT(model_scale, "Calibration.Step", run.step),
        TEXT(model_scale, "Calibration.Message", run.message),
        TEXT(model_scale, "Calibration.Sentence", run.sentence),
        NUMBER(model_scale, "Calibration.Value", run.value),
        NUMBER(model_scale, "Calibration.Other", run.other),
        NUMBER(model_scale, "Calibration.Count", run.count),
        NUMBER(model_scale, "Calibration.Of", run.of),
        NUMBER(model_scale, "Calibration.Taken", run.taken),
        NUMBER(model_scale, "Calibration.Loads", run.loads),
        NUMBER(model_scale, "Calibration.Settled", run.settled),
        NUMBER(model_scale, "Calibration.Warm", run.warm),
        NUMBER(model_scale, "Calibration.ResidualGrams", run.residual_g),
        NUMBER(model_scale, "Calibration.HysteresisGrams", run.hysteresis_g),
        NUMBER(model_scale, "Calibration.RepeatabilityGrams", run.repeatability_g),
        NUMBER(model_scale, "Calibration.FrontGrams", run.off_centre_g[0]),
        NUMBER(model_scale, "Calibration.RightGrams", run.off_centre_g[1]),
        NUMBER(model_scale, "Calibration.BackGrams", run.off_centre_g[2]),
        NUMBER(model_scale, "Calibration.LeftGrams", run.off_centre_g[3]),
        NUMBER(model_scale, "Calibration.LimitGrams", run.limit_g),
        TEXT(model_scale, "Calibration.Notes.0.Sentence", run.note[0]),
        TEXT(model_scale, "Calibration.Notes.1.Sentence", run.note[1]),
        NUMBER(model_scale, "Health.ClockSynchronised", synchronised),
        NUMBER(model_scale, "Health.SmallestBatchGrams", smallest_g),
        TEXT(model_scale, "Health.Findings.0.Id", finding[0]),
        TEXT(model_scale, "Health.Findings.1.Id", finding[1]),
        TEXT(model_scale, "Health.Findings.2.Id", finding[2]),
        TEXT(model_scale, "Health.Findings.3.Id", finding[3]),
        TEXT(model_scale, "Health.CheckVerdict", check_verdict),
        NUMBER(model_scale, "Health.CheckErrorGrams", check_error_g),
        NUMBER(model_scale, "Health.CheckLimitGrams", check_limit_g),
        NUMBER(model_scale, "Health.CheckRealtimeMicroseconds", check_realtime_us),
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
        NUMBER(model_system, "Demo", demo),
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

static const struct field shop_fields[] = {
        NUMBER(model_shop, "Room.DegreesCelsius", room_degc),
        END,
};

static const struct field piece_fields[] = {
        TEXT(model_piece, "Name", name),
        TEXT(model_piece, "System", system),
        NUMBER(model_piece, "Finished", finished),
        NUMBER(model_piece, "Layers", layers),
        NUMBER(model_piece, "FilledMillimetres", filled_mm),
        NUMBER(model_piece, "LeftMillimetres", left_mm),
        NUMBER(model_piece, "LeftMillilitres", left_ml),
        END,
};

static const struct field layer_fields[] = {
        NUMBER(model_layer, "Layer", layer),
        TEXT(model_layer, "Coat", coat),
        TEXT(model_layer, "Tint", tint),
        TEXT(model_layer, "System", system),
        NUMBER(model_layer, "TopCoat", top_coat),
        NUMBER(model_layer, "SandFirst", sand_first),
        NUMBER(model_layer, "FromMillimetres", from_mm),
        NUMBER(model_layer, "DepthMillimetres", depth_mm),
        NUMBER(model_layer, "BottomWidthMillimetres", bottom_mm),
        NUMBER(model_layer, "TopWidthMillimetres", top_mm),
        NUMBER(model_layer, "TotalGrams", total_g),
        NUMBER(model_layer, "TintGrams", tint_g),
        NUMBER(model_layer, "Batches", batches),
        NUMBER(model_layer, "Pours", pours),
        NUMBER(model_layer, "PeakDegreesCelsius", peak_degc),
        NUMBER(model_layer, "SessionRealtimeMicroseconds", session_realtime_us),
        END,
};

static const struct field clock_fields[] = {
        TEXT(model_clock, "Piece", piece),
        TEXT(model_clock, "Event", event),
        NUMBER(model_clock, "Layer", layer),
        NUMBER(model_clock, "AgeKnown", age_known),
        NUMBER(model_clock, "AtRealtimeMicroseconds", at_realtime_us),
        END,
};

static const struct field check_fields[] = {
        TEXT(model_check, "Check", check),
        TEXT(model_check, "When", when),
        TEXT(model_check, "Sentence", sentence),
        NUMBER(model_check, "Layer", layer),
        NUMBER(model_check, "Due", due),
        NUMBER(model_check, "Done", done),
        END,
};

static const struct field drying_fields[] = {
        TEXT(model_drying, "Name", name),
        TEXT(model_drying, "Verdict", verdict),
        NUMBER(model_drying, "Weighings", weighings),
        NUMBER(model_drying, "LastGrams", last_g),
        NUMBER(model_drying, "SinceSeconds", since_s),
        NUMBER(model_drying, "DryInSeconds", dry_in_s),
        END,
};

const struct field *model_fields(enum model_part part)
{
	switch (part) {
	case MODEL_SCALE:
		return scale_fields;
	case MODEL_READING:
		return reading_fields;
	case MODEL_BATCH:
		return batch_fields;
	case MODEL_OPEN:
		return open_fields;
	case MODEL_SYSTEM:
		return system_fields;
	case MODEL_RECORDS:
	case MODEL_RECORD:
		return record_fields;
	case MODEL_SHOP:
		return shop_fields;
	case MODEL_PIECES:
		return piece_fields;
	case MODEL_LAYERS:
	case MODEL_PLAN:
		return layer_fields;
	case MODEL_CLOCKS:
		return clock_fields;
	case MODEL_CHECKS:
		return check_fields;
	case MODEL_DRYING:
		return drying_fields;
	}
	return NULL;
}
