/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#include "daemon/mixing/system.h"

static struct resin_system fern(void)
{
	return (struct resin_system){
	        .id = "fern-cast",
	        .name = "Fern Cast",
	        .part = {{.label = "resin",
	                  .parts = 100.0,
	                  .density_g_per_ml = 1.16,
	                  .available_g = -1.0,
	                  .bottle_gross_g = -1.0},
	                 {.label = "hardener",
	                  .parts = 45.0,
	                  .density_g_per_ml = 0.96,
	                  .available_g = -1.0,
	                  .bottle_gross_g = -1.0}},
	        .hardener = PART_B,
	        .basis = BASIS_WEIGHT,
	        .tolerance_pct = 3.0,
	        .working_life_s = 2400.0,
	        .working_life_mass_g = 100.0,
	        .working_life_degc = 20.0,
	};
}

struct complaints {
	int count;
	char key[64], sentence[SYSTEM_SENTENCE_MAX];
};

static void keep(void *context, const char *key, const char *sentence)
{
	struct complaints *complaints = context;

	complaints->count++;
	strncpy(complaints->key, key, sizeof(complaints->key) - 1);
	strncpy(complaints->sentence, sentence, sizeof(complaints->sentence) - 1);
}

/* Exactly one complaint, about this key, and with this in its sentence. */
static void assert_refused(const struct resin_system *system, const char *key, const char *part)
{
	struct complaints complaints = {0};

	assert_int_equal(system_check(system, keep, &complaints), 1);
	assert_int_equal(complaints.count, 1);
	assert_string_equal(complaints.key, key);
	if (strstr(complaints.sentence, part) == NULL)
		fail_msg("\"%s\" does not say \"%s\"", complaints.sentence, part);
	assert_non_null(strstr(complaints.sentence, "expected"));
}

static void ratio_by_weight_is_what_the_label_prints(void **state)
{
	struct resin_system system = fern();

	(void)state;
	assert_close(system_ratio(&system), 0.45, 1e-15);
	system.hardener = PART_A;
	assert_close(system_ratio(&system), 100.0 / 45.0, 1e-15);
}

static void ratio_by_volume_differs_by_the_densities(void **state)
{
	struct resin_system system = fern();

	(void)state;
	system.basis = BASIS_VOLUME;
	assert_close(system_ratio(&system), 0.45 * 0.96 / 1.16, 1e-15);
	system.hardener = PART_A;
	assert_close(system_ratio(&system), 100.0 / 45.0 * 1.16 / 0.96, 1e-15);
	system.hardener = PART_B;
	system.part[PART_B].density_g_per_ml = 1.16; /* equal densities: no difference */
	assert_close(system_ratio(&system), 0.45, 1e-15);
	system.part[PART_B].density_g_per_ml = 0.0;
	assert_within(system_ratio(&system), 0.0, 0.0);
	system.basis = BASIS_NONE;
	assert_within(system_ratio(&system), 0.0, 0.0);
}

/* Two volumes that do not shrink on mixing: their masses over their volumes. */
static void mixed_density_is_mass_over_volume(void **state)
{
	struct resin_system system = fern();

	(void)state;
	assert_close(system_mixed_density_g_per_ml(&system), 145.0 / (100.0 / 1.16 + 45.0 / 0.96),
	             1e-15);
	system.basis = BASIS_VOLUME;
	assert_close(system_mixed_density_g_per_ml(&system), (100.0 * 1.16 + 45.0 * 0.96) / 145.0,
	             1e-15);
	system.part[PART_A].density_g_per_ml = 0.0;
	assert_within(system_mixed_density_g_per_ml(&system), 0.0, 0.0);
}

static void a_right_system_gives_no_complaint(void **state)
{
	struct resin_system system = fern();
	struct complaints complaints = {0};

	(void)state;
	assert_int_equal(system_check(&system, keep, &complaints), 0);
	strcpy(system.part[PART_A].label, "Harz \xc3\xbc");
	strcpy(system.part[PART_A].expiry, "2028-02-29");
	strcpy(system.notes, "warm to 22 C first\nstir slowly");
	system.basis = BASIS_VOLUME;
	assert_int_equal(system_check(&system, keep, &complaints), 0);
	assert_int_equal(complaints.count, 0);
}

static void each_wrong_value_is_named_with_its_number(void **state)
{
	struct resin_system system;

	(void)state;
#define REFUSED(field, value, key, says)                                                           \
	do {                                                                                       \
		system = fern();                                                                   \
		system.field = (value);                                                            \
		assert_refused(&system, key, says);                                                \
	} while (0)
	REFUSED(part[PART_B].parts, 0.0, "part_b.parts", "0");
	REFUSED(part[PART_A].parts, -100.0, "part_a.parts", "-100");
	REFUSED(part[PART_A].parts, (double)NAN, "part_a.parts", "nan");
	REFUSED(part[PART_A].parts, (double)INFINITY, "part_a.parts", "inf");
	REFUSED(part[PART_B].parts, 0.5, "parts", "0.005");
	REFUSED(part[PART_A].density_g_per_ml, -1.16, "part_a.density_g_per_ml", "-1.16");
	REFUSED(part[PART_A].density_g_per_ml, 1160.0, "part_a.density_g_per_ml", "0.5 to 3");
	REFUSED(part[PART_B].density_g_per_ml, (double)NAN, "part_b.density_g_per_ml", "nan");
	REFUSED(part[PART_B].available_g, (double)NAN, "part_b.available_g", "nan");
	REFUSED(part[PART_B].bottle_gross_g, (double)INFINITY, "part_b.bottle_gross_g", "inf");
	REFUSED(part[PART_A].label[0], '\0', "part_a.label", "no text");
	REFUSED(part[PART_A].label[1], '\x1b', "part_a.label", "byte 2 (0x1b)");
	REFUSED(part[PART_A].label[0], '\xc0', "part_a.label", "byte 1 (0xc0)");
	REFUSED(name[0], '\n', "name", "byte 1");
	REFUSED(id[0], 'F', "id", "character 1");
	REFUSED(id[0], '\0', "id", "0 characters");
	REFUSED(basis, BASIS_NONE, "basis", "weight");
	REFUSED(tolerance_pct, 80.0, "tolerance_pct", "80");
	REFUSED(tolerance_pct, -2.0, "tolerance_pct", "-2");
	REFUSED(tolerance_pct, (double)NAN, "tolerance_pct", "nan");
	REFUSED(working_life_s, 0.0, "working_life_s", "0");
	REFUSED(working_life_mass_g, -100.0, "working_life_mass_g", "-100");
	REFUSED(working_life_degc, 293.15, "working_life_degc", "293.15");
	REFUSED(stir_s, -1.0, "stir_s", "-1");
	REFUSED(tint_max_pct, 50.0, "tint_max_pct", "50");
	REFUSED(hardener, (enum part)2, "hardener", "missing");
#undef REFUSED
	system = fern();
	strcpy(system.part[PART_B].expiry, "2027-02-29");
	assert_refused(&system, "part_b.expiry", "2027-02-29");
	system = fern();
	system.basis = BASIS_VOLUME;
	system.part[PART_A].density_g_per_ml = 0.0;
	assert_refused(&system, "part_a.density_g_per_ml", "by volume");
	system = fern();
	memset(system.part[PART_A].lot, 'x', sizeof(system.part[PART_A].lot));
	assert_refused(&system, "part_a.lot", "too long");
}

static void every_wrong_value_is_reported_at_once(void **state)
{
	struct resin_system system = fern();
	struct complaints complaints = {0};

	(void)state;
	system.part[PART_A].parts = 0.0;
	system.part[PART_B].density_g_per_ml = -1.0;
	system.tolerance_pct = 80.0;
	system.working_life_s = -5.0;
	assert_int_equal(system_check(&system, keep, &complaints), 4);
	assert_int_equal(complaints.count, 4);
	assert_int_equal(system_check(&system, NULL, NULL), 4);
}

/* A written 0 is the reader's to refuse; the value 0 means "not on the label". */
static void a_written_tolerance_has_its_own_check(void **state)
{
	(void)state;
	assert_false(system_tolerance_ok(0.0));
	assert_false(system_tolerance_ok(80.0));
	assert_false(system_tolerance_ok((double)NAN));
	assert_false(system_tolerance_ok((double)INFINITY));
	assert_true(system_tolerance_ok(2.0));
	assert_true(system_tolerance_ok(SYSTEM_TOLERANCE_MAX_PCT));
}

static void the_entry_is_read_back_as_on_the_label(void **state)
{
	struct resin_system system = fern();
	char sentence[SYSTEM_SENTENCE_MAX];

	(void)state;
	system_read_back(&system, sentence);
	assert_string_equal(sentence, "for 100 g of resin, 45 g of hardener, as on the label?");
	system.basis = BASIS_VOLUME;
	system.part[PART_A].parts = 2.0;
	system.part[PART_B].parts = 1.05;
	system_read_back(&system, sentence);
	assert_string_equal(sentence, "for 2 ml of resin, 1.05 ml of hardener, as on the label?");
}

static void a_part_expires_the_day_after_its_date(void **state)
{
	struct system_part part = {.expiry = "2027-05-31"};

	(void)state;
	assert_int_equal(system_part_expired(&part, "2027-05-30"), 0);
	assert_int_equal(system_part_expired(&part, "2027-05-31"), 0);
	assert_true(system_part_expired(&part, "2027-06-01") > 0);
	assert_true(system_part_expired(&part, "2028-01-01") > 0);
	assert_int_equal(system_part_expired(&part, "today"), -EINVAL);
	strcpy(part.expiry, "31.05.2027");
	assert_int_equal(system_part_expired(&part, "2027-06-01"), -EINVAL);
	part.expiry[0] = '\0';
	assert_int_equal(system_part_expired(&part, "2027-06-01"), 0);
}

/* Gregorian: every fourth year, not the hundredth, again the four-hundredth. */
static void dates_are_days_that_exist(void **state)
{
	(void)state;
	assert_true(system_date_ok("2028-02-29"));
	assert_false(system_date_ok("2027-02-29"));
	assert_true(system_date_ok("2000-02-29"));
	assert_false(system_date_ok("2100-02-29"));
	assert_false(system_date_ok("2027-04-31"));
	assert_false(system_date_ok("2027-13-01"));
	assert_false(system_date_ok("2027-00-10"));
	assert_false(system_date_ok("2027-1-10"));
	assert_false(system_date_ok("2027-01-100"));
	assert_false(system_date_ok(""));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(ratio_by_weight_is_what_the_label_prints),
	        cmocka_unit_test(ratio_by_volume_differs_by_the_densities),
	        cmocka_unit_test(mixed_density_is_mass_over_volume),
	        cmocka_unit_test(a_right_system_gives_no_complaint),
	        cmocka_unit_test(each_wrong_value_is_named_with_its_number),
	        cmocka_unit_test(every_wrong_value_is_reported_at_once),
	        cmocka_unit_test(a_written_tolerance_has_its_own_check),
	        cmocka_unit_test(the_entry_is_read_back_as_on_the_label),
	        cmocka_unit_test(a_part_expires_the_day_after_its_date),
	        cmocka_unit_test(dates_are_days_that_exist),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
