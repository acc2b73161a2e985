/* SPDX-License-Identifier: MIT */
#include "piece_rows.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

#include "terminal.h"

/* "tue 25 14:05" by this machine's local time. */
static const char *piece_wall_time(int64_t realtime_us, char buffer[32])
{
	static const char *const days[] = {"sun", "mon", "tue", "wed", "thu", "fri", "sat"};
	const time_t seconds = (time_t)((realtime_us + 59999999) / 60000000 * 60);
	struct tm local;

	localtime_r(&seconds, &local);
	snprintf(buffer, 32, "%s %02d %02d:%02d", days[local.tm_wday], local.tm_mday, local.tm_hour,
	         local.tm_min);
	return buffer;
}

static double number(const struct dict *row, const char *key)
{
	double value = 0.0;

	dict_number(row, key, &value);
	return value;
}

static void person_list(const struct dict *row)
{
	printf("%s: %lld layer(s), %.1f mm poured, %.1f mm and %.0f ml left%s\n",
	       dict_text(row, "Name"), (long long)dict_whole(row, "Layers"),
	       number(row, "FilledMillimetres"), number(row, "LeftMillimetres"),
	       number(row, "LeftMillilitres"), dict_bool(row, "Finished") ? "; finished" : "");
}

static void person_layers(const struct dict *row)
{
	char when[32];

	printf("Layer %lld, %s, %s", (long long)dict_whole(row, "Layer"), dict_text(row, "System"),
	       piece_wall_time(dict_whole(row, "PouredRealtimeMicroseconds"), when));
	if (!dict_bool(row, "Known")) {
		printf(": nothing can be computed of it\n");
		return;
	}
	printf(": %.1f mm (from %.1f), %.1f g, ratio %+.1f %%, %.0f C at its peak%s\n",
	       number(row, "DepthMillimetres"), number(row, "FromMillimetres"),
	       number(row, "InPieceGrams"), number(row, "DeviationPercent"),
	       number(row, "PeakDegreesCelsius"),
	       dict_bool(row, "Runaway") ? "; RUNAWAY: keep away, let air in" : "");
	if (!dict_bool(row, "AgeKnown"))
		printf("  how long ago is not sure: a clock was not set right\n");
}

static void person_plan(const struct dict *row)
{
	char when[32];

	printf("Layer %lld, %s: %.1f mm (%s), A %.1f g, B %.1f g",
	       (long long)dict_whole(row, "Layer"), dict_text(row, "Coat"),
	       number(row, "DepthMillimetres"), dict_text(row, "Rule"), number(row, "AGrams"),
	       number(row, "BGrams"));
	if (number(row, "TintGrams") > 0.0)
		printf(", tint %.2f g", number(row, "TintGrams"));
	if (dict_whole(row, "Batches") > 1)
		printf(", in %lld batches", (long long)dict_whole(row, "Batches"));
	printf(", up to %.0f C; %s%s\n", number(row, "PeakP95DegreesCelsius"),
	       piece_wall_time(dict_whole(row, "SessionRealtimeMicroseconds"), when),
	       dict_bool(row, "SandFirst") ? ", sand first" : "");
}

static void person_clock(const struct dict *row)
{
	const int64_t at_us = dict_whole(row, "AtRealtimeMicroseconds");
	const double left_s = (double)at_us * 1e-6 - (double)time(NULL);
	char when[32], left[32] = "", cup[32] = "";
	double mass_g;

	if (left_s >= 5400.0)
		snprintf(left, sizeof left, "in %.1f h", left_s / 3600.0);
	else if (left_s > 0.0)
		snprintf(left, sizeof left, "in %.0f min", left_s / 60.0);
	else
		snprintf(left, sizeof left, "since");
	if (dict_number(row, "MassGrams", &mass_g))
		snprintf(cup, sizeof cup, " (%.0f g)", mass_g);
	printf("%-12s %s  %s%s%s\n", left, piece_wall_time(at_us, when), dict_text(row, "Sentence"),
	       cup, dict_bool(row, "AgeKnown") ? "" : " (not sure: a clock was not set right)");
}

static void person_check(const struct dict *row)
{
	printf("[%s] Layer %lld, %s%s: %s\n",
	       !dict_find(row, "Done")  ? " "
	       : dict_bool(row, "Done") ? "x"
	                                : "!",
	       (long long)dict_whole(row, "Layer"), dict_text(row, "When"),
	       dict_bool(row, "Due") ? "" : " (not yet)", dict_text(row, "Sentence"));
}

static void person_photo(const struct dict *row)
{
	char when[32];

	printf("Photo %lld, layer %lld, %s, %.1f MB, attached %s\n",
	       (long long)dict_whole(row, "Id"), (long long)dict_whole(row, "Layer"),
	       dict_text(row, "Kind"), (double)dict_whole(row, "Bytes") * 1e-6,
	       piece_wall_time(dict_whole(row, "TakenRealtimeMicroseconds"), when));
}

static const struct column list_columns[] = {
        {"name", "Name"},
        {"system", "System"},
        {"finished", "Finished"},
        {"layers", "Layers"},
        {"room_degc", "RoomDegreesCelsius"},
        {"filled_mm", "FilledMillimetres"},
        {"left_mm", "LeftMillimetres"},
        {"left_ml", "LeftMillilitres"},
};
static const struct column layer_columns[] = {
        {"layer", "Layer"},
        {"system", "System"},
        {"pours", "Pours"},
        {"poured_realtime_us", "PouredRealtimeMicroseconds"},
        {"age_known", "AgeKnown"},
        {"known", "Known"},
        {"top_coat", "TopCoat"},
        {"from_mm", "FromMillimetres"},
        {"depth_mm", "DepthMillimetres"},
        {"over_ml", "OverMillilitres"},
        {"in_piece_g", "InPieceGrams"},
        {"ratio", "Ratio"},
        {"deviation_pct", "DeviationPercent"},
        {"peak_degc", "PeakDegreesCelsius"},
        {"runaway", "Runaway"},
};
static const struct column plan_columns[] = {
        {"layer", "Layer"},
        {"coat", "Coat"},
        {"system", "System"},
        {"rule", "Rule"},
        {"change", "Change"},
        {"top_coat", "TopCoat"},
        {"sand_first", "SandFirst"},
        {"from_mm", "FromMillimetres"},
        {"depth_mm", "DepthMillimetres"},
        {"volume_ml", "VolumeMillilitres"},
        {"total_g", "TotalGrams"},
        {"a_g", "AGrams"},
        {"b_g", "BGrams"},
        {"tint_g", "TintGrams"},
        {"batches", "Batches"},
        {"peak_degc", "PeakDegreesCelsius"},
        {"peak_p95_degc", "PeakP95DegreesCelsius"},
        {"heat_limit_degc", "HeatLimitDegreesCelsius"},
        {"next_pour_opens_s", "NextPourOpensSeconds"},
        {"bond_closes_s", "BondClosesSeconds"},
        {"handle_s", "HandleSeconds"},
        {"full_cure_s", "FullCureSeconds"},
        {"session_realtime_us", "SessionRealtimeMicroseconds"},
        {"poured_realtime_us", "PouredRealtimeMicroseconds"},
};
static const struct column clock_columns[] = {
        {"batch", "Batch"},
        {"mass_g", "MassGrams"},
        {"resin_degc", "ResinDegreesCelsius"},
        {"piece", "Piece"},
        {"layer", "Layer"},
        {"event", "Event"},
        {"sentence", "Sentence"},
        {"told", "Told"},
        {"age_known", "AgeKnown"},
        {"at_realtime_us", "AtRealtimeMicroseconds"},
        {"at_boottime_us", "AtBoottimeMicroseconds"},
};
static const struct column check_columns[] = {
        {"layer", "Layer"},       {"check", "Check"}, {"when", "When"},
        {"sentence", "Sentence"}, {"due", "Due"},     {"done", "Done"},
};
static const struct column photo_columns[] = {
        {"id", "Id"},       {"layer", "Layer"},
        {"kind", "Kind"},   {"sha256", "Sha256"},
        {"bytes", "Bytes"}, {"taken_realtime_us", "TakenRealtimeMicroseconds"},
};
#define TABLE(columns, person, none)                                                               \
	{                                                                                          \
		columns, sizeof columns / sizeof *columns, person, none                            \
	}
const struct piece_table piece_table_list = TABLE(
        list_columns, person_list, "There is no piece yet: describe one with `ambo piece new`.");
const struct piece_table piece_table_layers =
        TABLE(layer_columns, person_layers, "No layer of it is poured yet.");
const struct piece_table piece_table_plan =
        TABLE(plan_columns, person_plan, "Nothing is left to pour.");
const struct piece_table piece_table_checks =
        TABLE(check_columns, person_check, "There is no check yet.");
const struct piece_table piece_table_photos =
        TABLE(photo_columns, person_photo, "There is no photo yet.");
const struct piece_table piece_table_clocks =
        TABLE(clock_columns, person_clock, "No layer is curing.");

void piece_print_row(const struct dict *row, void *context)
{
	struct piece_printer *printer = context;

	printer->printed++;
	if (!printer->as_json) {
		printer->table->person(row);
		return;
	}
	json_open(printer->json, NULL, '{');
	rows_json(printer->json, row, printer->table->columns, printer->table->n);
	json_close(printer->json, '}');
}

void piece_print_end(const struct piece_printer *printer)
{
	if (printer->printed == 0 && !printer->as_json && terminal_out())
		printf("%s\n", printer->table->none);
}
