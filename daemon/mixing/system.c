/* SPDX-License-Identifier: MIT */
#include "system.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

double system_ratio(const struct resin_system *system)
{
	const struct system_part *hardener = &system->part[system->hardener];
	const struct system_part *resin =
	        &system->part[system->hardener == PART_A ? PART_B : PART_A];

	if (!(hardener->parts > 0.0) || !(resin->parts > 0.0))
		return 0.0;
	switch (system->basis) {
	case BASIS_NONE:
		return 0.0;
	case BASIS_WEIGHT:
		return hardener->parts / resin->parts;
	case BASIS_VOLUME:
		if (!(hardener->density_g_per_ml > 0.0) || !(resin->density_g_per_ml > 0.0))
			return 0.0;
		return hardener->parts / resin->parts * hardener->density_g_per_ml /
		       resin->density_g_per_ml;
	}
	return 0.0;
}

double system_mixed_density_g_per_ml(const struct resin_system *system)
{
	double ratio = system_ratio(system);
	double hardener = system->part[system->hardener].density_g_per_ml;
	double resin = system->part[system->hardener == PART_A ? PART_B : PART_A].density_g_per_ml;

	if (!(ratio > 0.0) || !(hardener > 0.0) || !(resin > 0.0))
		return 0.0;
	return (1.0 + ratio) / (ratio / hardener + 1.0 / resin);
}

bool system_tolerance_ok(double tolerance_pct)
{
	return tolerance_pct >= SYSTEM_TOLERANCE_MIN_PCT &&
	       tolerance_pct <= SYSTEM_TOLERANCE_MAX_PCT;
}

void system_read_back(const struct resin_system *system, char *ret_sentence)
{
	const struct system_part *a = &system->part[PART_A], *b = &system->part[PART_B];
	const char *unit = system->basis == BASIS_VOLUME ? "ml" : "g";

	snprintf(ret_sentence, SYSTEM_SENTENCE_MAX,
	         "for %.10g %s of %s, %.10g %s of %s, as on the label?", a->parts, unit, a->label,
	         b->parts, unit, b->label);
}

/* The value of exactly n digits, or -1. */
static int digits(const char *text, int n)
{
	int value = 0;

	for (int i = 0; i < n; i++) {
		if (text[i] < '0' || text[i] > '9')
			return -1;
		value = 10 * value + (text[i] - '0');
	}
	return value;
}

bool system_date_ok(const char *date)
{
	static const int days_of[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
	const char *end = memchr(date, '\0', SYSTEM_DATE_MAX);
	int year, month, day, leap;

	if (end == NULL || end - date != SYSTEM_DATE_MAX - 1 || date[4] != '-' || date[7] != '-')
		return false;
	year = digits(date, 4);
	month = digits(date + 5, 2);
	day = digits(date + 8, 2);
	if (year < 1 || month < 1 || month > 12 || day < 1)
		return false;
	leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
	return day <= days_of[month - 1] + (month == 2 && leap);
}

int system_part_expired(const struct system_part *part, const char *today)
{
	if (!system_date_ok(today))
		return -EINVAL;
	if (part->expiry[0] == '\0')
		return 0;
	if (!system_date_ok(part->expiry))
		return -EINVAL;
	return strcmp(part->expiry, today) < 0; /* ISO 8601 sorts as text */
}
