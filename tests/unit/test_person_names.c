/* SPDX-License-Identifier: MIT */
/* The simulated person reads the same names that the guide writes: drivers may include
 * nothing of mixing, so the source itself is looked through. */
#include "tests/support/assert_close.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/mixing/guide.h"

#define NAME_MAX_LENGTH 32u

static const char *step_at(int i)
{
	return i <= GUIDE_DISCARDED ? guide_step_name((enum guide_step)i) : NULL;
}

static const char *message_at(int i)
{
	return i < MESSAGE_COUNT ? message_name((enum message_id)i) : NULL;
}

static const char *cue_at(int i)
{
	return i <= CUE_HAZARD ? cue_name((enum cue)i) : NULL;
}

static const char *press_at(int i)
{
	return i <= PRESS_ACCEPT ? press_meaning_name((enum press_meaning)i) : NULL;
}

static const char *component_at(int i)
{
	return i <= COMPONENT_MIXED ? component_name((enum component)i) : NULL;
}

/* Where a name stands in the source, and whose it must be. */
static const struct {
	const char *before, *end;
	const char *(*at)(int i);
	int at_least; /* so many there */
} places[] = {
        {"sight->step, ", ")", step_at, 7},
        {"sight->message, ", ")", message_at, 10},
        {"sight->cue, ", ")", cue_at, 0},
        {"sight->press, ", ")", press_at, 4},
        {"sight->component, ", ")", component_at, 1},
        {"stops[] = {", "NULL", cue_at, 6},
        {"decided[] = {", "NULL", message_at, 4},
        {"doubtful[] = {", "NULL", message_at, 2},
};

static char *source(void)
{
	const long most = 65536;
	char *text = calloc(1, (size_t)most);
	FILE *file = fopen(AMBO_TOP "/drivers/person.c", "r");

	assert_non_null(text);
	assert_non_null(file);
	assert_in_range(fread(text, 1, (size_t)most - 1, file), 5000, most - 2);
	fclose(file);
	return text;
}

static bool is_one(const char *name, const char *(*at)(int i))
{
	for (int i = 0; at(i) != NULL; i++)
		if (strcmp(at(i), name) == 0)
			return true;
	return false;
}

/* The quoted names from here to end. Returns how many; all must be known. */
static int check_names(const char *text, const char *end, const char *(*at)(int i))
{
	const char *stop = strstr(text, end);
	int n = 0;

	assert_non_null(stop);
	while ((text = memchr(text, '"', (size_t)(stop - text))) != NULL) {
		char name[NAME_MAX_LENGTH] = "";
		const size_t length = strcspn(++text, "\"");

		assert_in_range(length, 1, sizeof(name) - 1);
		memcpy(name, text, length);
		if (!is_one(name, at))
			fail_msg("the person reads '%s', which nobody writes", name);
		text += length + 1;
		n++;
	}
	return n;
}

static void every_name_the_person_reads_is_one_that_the_guide_writes(void **state)
{
	char *text = source();

	(void)state;
	for (size_t i = 0; i < sizeof(places) / sizeof(places[0]); i++) {
		int n = 0;

		for (const char *at = text; (at = strstr(at, places[i].before)) != NULL;) {
			at += strlen(places[i].before);
			n += check_names(at, places[i].end, places[i].at);
		}
		assert_in_range(n, places[i].at_least, 100);
	}
	free(text);
}

/* ... and those are all its ways of reading one. */
static void a_name_is_read_in_no_other_way(void **state)
{
	static const char *const fields[] = {"step", "message", "cue", "press", "component"};
	char *text = source(), way[64];

	(void)state;
	for (size_t i = 0; i < sizeof(fields) / sizeof(fields[0]); i++) {
		snprintf(way, sizeof(way), "strcmp(sight->%s", fields[i]);
		assert_null(strstr(text, way));
		snprintf(way, sizeof(way), ", sight->%s) == 0", fields[i]);
		assert_null(strstr(text, way));
	}
	assert_false(is_one("add-pwder", message_at));
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(every_name_the_person_reads_is_one_that_the_guide_writes),
	        cmocka_unit_test(a_name_is_read_in_no_other_way),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
