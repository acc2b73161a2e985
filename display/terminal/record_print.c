/* SPDX-License-Identifier: MIT */
#include "record_print.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "words/words.h"

const struct column record_columns[] = {
        {"id", "Id"},
        {"parent_id", "ParentId"},
        {"system", "System"},
        {"system_name", "SystemName"},
        {"piece", "Piece"},
        {"layer", "Layer"},
        {"step", "Step"},
        {"verdict", "Verdict"},
        {"provisional", "Provisional"},
        {"begun_realtime_us", "BegunRealtimeMicroseconds"},
        {"ended_realtime_us", "EndedRealtimeMicroseconds"},
        {"synchronised", "Synchronised"},
        {"resin_g", "ResinGrams"},
        {"hardener_g", "HardenerGrams"},
        {"tint_g", "TintGrams"},
        {"total_g", "TotalGrams"},
        {"target_total_g", "TargetTotalGrams"},
        {"ratio", "Ratio"},
        {"target_ratio", "TargetRatio"},
        {"deviation_pct", "DeviationPercent"},
        {"deviation_doubt_pct", "DeviationDoubtPercent"},
        {"tolerance_pct", "TolerancePercent"},
};
const size_t record_n_columns = sizeof record_columns / sizeof *record_columns;

const struct column record_step_columns[] = {
        {"seq", "Sequence"},    {"t_us", "TimeMicroseconds"}, {"step", "Step"},
        {"message", "Message"}, {"verdict", "Verdict"},
};
const size_t record_n_step_columns = sizeof record_step_columns / sizeof *record_step_columns;

static void stamp(const struct dict *row, const char *key, char *buffer, size_t size)
{
	time_t seconds = (time_t)(dict_whole(row, key) / 1000000);
	struct tm tm;

	buffer[0] = '\0';
	if (seconds > 0 && localtime_r(&seconds, &tm))
		strftime(buffer, size, "%Y-%m-%d %H:%M", &tm);
}

/* "1.2 % too much", without a minus sign. */
static void deviation(const struct dict *row, char *buffer, size_t size)
{
	char number[WORDS_NUMBER_MAX];
	double pct;

	buffer[0] = '\0';
	if (!dict_number(row, "DeviationPercent", &pct))
		return;
	words_pct(pct, number);
	snprintf(buffer, size, "%s too %s", number, pct < 0.0 ? "little" : "much");
}

void record_print_heading(void)
{
	printf("%6s  %-16s  %-20s  %10s  %-17s  %-20s  %s\n", "batch", "begun", "system", "mass",
	       "hardener", "verdict", "step");
}

/* What may still be a spill is never said as a verdict that stands. */
static void verdict(const struct dict *row, char *buffer, size_t size)
{
	snprintf(buffer, size, "%s%s", dict_text(row, "Verdict"),
	         dict_bool(row, "Provisional") ? ", pan not read" : "");
}

void record_print_line(const struct dict *row)
{
	char begun[32], ratio[64], judged[48], mass[WORDS_NUMBER_MAX] = "";
	double total;

	stamp(row, "BegunRealtimeMicroseconds", begun, sizeof begun);
	deviation(row, ratio, sizeof ratio);
	verdict(row, judged, sizeof judged);
	if (dict_number(row, "TotalGrams", &total))
		words_mass(total, false, mass);
	printf("%6" PRId64 "  %-16s  %-20.20s  %10s  %-17s  %-20s  %s\n", dict_whole(row, "Id"),
	       begun, dict_text(row, "SystemName"), mass, ratio, judged, dict_text(row, "Step"));
}

static void mass_line(const struct dict *row, const char *what, const char *key)
{
	char number[WORDS_NUMBER_MAX];
	double mass_g;

	if (!dict_number(row, key, &mass_g) || mass_g == 0.0)
		return;
	words_mass(mass_g, false, number);
	printf("  %-12s %12s\n", what, number);
}

void record_print_whole(const struct dict *row)
{
	char begun[32], text[64], number[WORDS_NUMBER_MAX];
	double value, target;

	stamp(row, "BegunRealtimeMicroseconds", begun, sizeof begun);
	printf("Batch %" PRId64 ", %s, begun %s%s\n", dict_whole(row, "Id"),
	       dict_text(row, "SystemName"), begun,
	       dict_bool(row, "Synchronised") ? "" : ", clock not synchronised");
	if (dict_whole(row, "ParentId"))
		printf("  out of batch %" PRId64 "\n", dict_whole(row, "ParentId"));
	if (*dict_text(row, "Piece") || *dict_text(row, "Layer"))
		printf("  %-12s %s %s\n", "piece", dict_text(row, "Piece"),
		       dict_text(row, "Layer"));
	mass_line(row, "resin", "ResinGrams");
	mass_line(row, "hardener", "HardenerGrams");
	mass_line(row, "both parts", "TotalGrams");
	mass_line(row, "wanted", "TargetTotalGrams");
	mass_line(row, "tint", "TintGrams");
	if (dict_number(row, "Ratio", &value) && dict_number(row, "TargetRatio", &target))
		printf("  %-12s %10.4f    wanted %.4f\n", "ratio", value, target);
	deviation(row, text, sizeof text);
	if (*text)
		printf("  %-12s %s", "hardener", text);
	if (*text && dict_number(row, "DeviationDoubtPercent", &value)) {
		words_pct(2.0 * value, number);
		printf(", known to %s", number);
	}
	if (*text && dict_number(row, "TolerancePercent", &value))
		printf(", tolerance %.1f %%", value);
	if (*text)
		putchar('\n');
	verdict(row, text, sizeof text);
	printf("  %-12s %s\n  %-12s %s\n", "verdict", text, "step", dict_text(row, "Step"));
}

bool record_is_within(const struct dict *row)
{
	double pct, tolerance;

	return strcmp(dict_text(row, "Step"), "done") == 0 &&
	       strcmp(dict_text(row, "Verdict"), "within") == 0 && !dict_bool(row, "Provisional") &&
	       dict_number(row, "DeviationPercent", &pct) &&
	       dict_number(row, "TolerancePercent", &tolerance) && fabs(pct) <= tolerance;
}
