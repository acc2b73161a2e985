/* SPDX-License-Identifier: MIT */
/* What can be wrong with a resin system, each thing in one sentence. */
#include "system.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "printable.h"

struct checking {
	void (*report)(void *context, const char *key, const char *sentence);
	void *context;
	int found;
};

__attribute__((format(printf, 3, 4))) static void wrong(struct checking *checking, const char *key,
                                                        const char *format, ...)
{
	char sentence[SYSTEM_SENTENCE_MAX];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(sentence, sizeof(sentence), format, arguments);
	va_end(arguments);
	checking->found++;
	if (checking->report != NULL)
		checking->report(checking->context, key, sentence);
}

static void check_text(struct checking *checking, const char *key, const char *text, size_t size,
                       bool needed, bool lines)
{
	size_t fault;

	if (memchr(text, '\0', size) == NULL) {
		wrong(checking, key, "the text is too long; expected at most %zu bytes", size - 1);
		return;
	}
	if (needed && text[0] == '\0') {
		wrong(checking, key, "there is no text; expected what the label says");
		return;
	}
	fault = printable_fault(text, lines);
	if (fault > 0)
		wrong(checking, key,
		      "byte %zu (0x%02x) is no printable character; expected UTF-8 text", fault,
		      (unsigned char)text[fault - 1]);
}

static void check_id(struct checking *checking, const char *id)
{
	const char *end = memchr(id, '\0', SYSTEM_ID_MAX);
	size_t length = end == NULL ? SYSTEM_ID_MAX : (size_t)(end - id);

	if (length == 0 || length == SYSTEM_ID_MAX) {
		wrong(checking, "id", "the name has %zu characters; expected 1 to %u", length,
		      SYSTEM_ID_MAX - 1);
		return;
	}
	for (size_t i = 0; i < length; i++)
		if (!(id[i] >= 'a' && id[i] <= 'z') && !(id[i] >= '0' && id[i] <= '9') &&
		    id[i] != '-') {
			wrong(checking, "id",
			      "character %zu cannot be used; expected a to z, 0 to 9 and '-' only",
			      i + 1);
			return;
		}
}

/* NaN is outside every range. */
static void check_range(struct checking *checking, const char *key, double value, double low,
                        double high, const char *unit)
{
	if (!(value >= low && value <= high))
		wrong(checking, key, "the value is %g; expected %g to %g%s%s", value, low, high,
		      unit[0] != '\0' ? " " : "", unit);
}

static void check_part(struct checking *checking, const struct system_part *part, char letter,
                       enum basis basis)
{
	char key[64];
	const double density = part->density_g_per_ml;

#define KEY(name) (snprintf(key, sizeof(key), "part_%c.%s", letter, name), key)
	check_text(checking, KEY("label"), part->label, sizeof(part->label), true, false);
	check_text(checking, KEY("lot"), part->lot, sizeof(part->lot), false, false);
	check_text(checking, KEY("code"), part->code, sizeof(part->code), false, false);
	if (!(part->parts > 0.0 && part->parts <= 10000.0))
		wrong(checking, KEY("parts"),
		      "the value is %g; expected the number on the label, above 0 and at most "
		      "10000",
		      part->parts);
	if (density == 0.0 && basis == BASIS_VOLUME)
		wrong(checking, KEY("density_g_per_ml"),
		      "it is missing; expected the label's density, since the ratio is by volume");
	else if (density != 0.0)
		check_range(checking, KEY("density_g_per_ml"), density, SYSTEM_DENSITY_MIN_G_PER_ML,
		            SYSTEM_DENSITY_MAX_G_PER_ML, "g/ml");
	if (part->expiry[0] != '\0' && !system_date_ok(part->expiry))
		wrong(checking, KEY("expiry"), "\"%.*s\" is no date; expected YYYY-MM-DD",
		      (int)SYSTEM_DATE_MAX - 1, part->expiry);
	if (!isfinite(part->available_g))
		wrong(checking, KEY("available_g"), "the value is %g; expected grams",
		      part->available_g);
	if (!isfinite(part->bottle_gross_g))
		wrong(checking, KEY("bottle_gross_g"), "the value is %g; expected grams",
		      part->bottle_gross_g);
#undef KEY
}

static void check_mixing(struct checking *checking, const struct resin_system *system)
{
	double ratio;

	if (system->basis != BASIS_WEIGHT && system->basis != BASIS_VOLUME)
		wrong(checking, "basis",
		      "it is missing; expected \"weight\" or \"volume\", as on the label: the two "
		      "differ unless the densities are equal");
	if (system->hardener != PART_A && system->hardener != PART_B) {
		wrong(checking, "hardener", "it is missing; expected \"A\" or \"B\"");
		return;
	}
	ratio = system_ratio(system);
	if (ratio > 0.0)
		check_range(checking, "parts", ratio, SYSTEM_RATIO_MIN, SYSTEM_RATIO_MAX,
		            "g of hardener for each gram of resin");
	if (system->tolerance_pct != 0.0 && !system_tolerance_ok(system->tolerance_pct))
		check_range(checking, "tolerance_pct", system->tolerance_pct,
		            SYSTEM_TOLERANCE_MIN_PCT, SYSTEM_TOLERANCE_MAX_PCT,
		            "% of the ratio (2 to 5 are usual)");
}

int system_check(const struct resin_system *system,
                 void (*report)(void *context, const char *key, const char *sentence),
                 void *context)
{
	struct checking checking = {.report = report, .context = context};

	check_id(&checking, system->id);
	check_text(&checking, "name", system->name, sizeof(system->name), true, false);
	check_text(&checking, "notes", system->notes, sizeof(system->notes), false, true);
	check_part(&checking, &system->part[PART_A], 'a', system->basis);
	check_part(&checking, &system->part[PART_B], 'b', system->basis);
	check_mixing(&checking, system);
	check_range(&checking, "working_life_s", system->working_life_s, 30.0, 7.0 * 86400.0, "s");
	check_range(&checking, "working_life_mass_g", system->working_life_mass_g, 1.0, 100000.0,
	            "g");
	check_range(&checking, "working_life_degc", system->working_life_degc, -20.0, 80.0,
	            "degrees Celsius");
	check_range(&checking, "stir_s", system->stir_s, 0.0, 3600.0, "s");
	check_range(&checking, "tint_max_pct", system->tint_max_pct, 0.0, 30.0,
	            "% of the mixed mass");
	return checking.found;
}
