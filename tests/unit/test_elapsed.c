/* SPDX-License-Identifier: MIT */
/* How long the station was away. */
#include "tests/support/assert_close.h"

#include <stdio.h>
#include <string.h>

#include "daemon/station/elapsed.h"

#define S INT64_C(1000000)

static struct store_stamp stamp(const char *boot, int64_t boot_s, int64_t wall_s, bool synchronised)
{
	struct store_stamp stamp = {
	        .boottime_us = boot_s * S, .realtime_us = wall_s * S, .synchronised = synchronised};

	snprintf(stamp.boot_id, sizeof(stamp.boot_id), "%s", boot);
	return stamp;
}

static void expect(struct store_stamp then, struct store_stamp now, int64_t seconds, bool known)
{
	struct elapsed elapsed;

	elapsed_between(&then, &now, &elapsed);
	assert_int_equal(elapsed.us, seconds * S);
	assert_int_equal(elapsed.known, known);
}

static void within_a_boot_the_wall_clock_does_not_matter(void **state)
{
	(void)state;
	expect(stamp("a", 100, 5000, false), stamp("a", 160, 999999, false), 60, true);
	expect(stamp("a", 100, 5000, true), stamp("a", 160, 1, true), 60, true);
	expect(stamp("a", 100, 0, true), stamp("a", 100, 0, true), 0, true);
}

static void over_a_reboot_two_synchronised_clocks_tell(void **state)
{
	(void)state;
	expect(stamp("a", 9000, 5000, true), stamp("b", 30, 5400, true), 400, true);
}

static void over_a_reboot_one_unsure_clock_leaves_it_unknown(void **state)
{
	(void)state;
	expect(stamp("a", 9000, 5000, false), stamp("b", 30, 5400, true), 400, false);
	expect(stamp("a", 9000, 5000, true), stamp("b", 30, 5400, false), 400, false);
	/* A clock that went on where it had stopped: at least this boot has passed. */
	expect(stamp("a", 9000, 5000, true), stamp("b", 30, 5001, false), 30, false);
	expect(stamp("a", 9000, 5000, true), stamp("b", 30, 40, false), 30, false);
}

static void clocks_that_contradict_each_other_are_not_believed(void **state)
{
	(void)state;
	/* Both say synchronised, yet this boot alone is longer, or time ran backwards. */
	expect(stamp("a", 9000, 5000, true), stamp("b", 600, 5400, true), 600, false);
	expect(stamp("a", 9000, 5000, true), stamp("b", 600, 4000, true), 600, false);
	/* One boot's id, but its clock lies behind: a copied store. */
	expect(stamp("a", 9000, 5000, true), stamp("a", 600, 6000, true), 1000, true);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(within_a_boot_the_wall_clock_does_not_matter),
	        cmocka_unit_test(over_a_reboot_two_synchronised_clocks_tell),
	        cmocka_unit_test(over_a_reboot_one_unsure_clock_leaves_it_unknown),
	        cmocka_unit_test(clocks_that_contradict_each_other_are_not_believed),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
