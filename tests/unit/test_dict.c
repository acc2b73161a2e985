/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <stdio.h>
#include <sys/socket.h>
#include <unistd.h>

#include "display/terminal/dict.h"

/* A message needs a bus to belong to: one that leads nowhere. */
static sd_bus *nowhere(int fd[2])
{
	sd_bus *bus = NULL;

	assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, fd), 0);
	assert_true(sd_bus_new(&bus) >= 0);
	assert_true(sd_bus_set_fd(bus, fd[0], fd[0]) >= 0);
	assert_true(sd_bus_start(bus) >= 0);
	return bus;
}

static sd_bus_message *message(sd_bus *bus)
{
	sd_bus_message *m = NULL;

	assert_true(sd_bus_message_new_signal(bus, &m, "/x", "x.y", "Z") >= 0);
	return m;
}

static void read_into(sd_bus_message *m, struct dict *dict, int expected)
{
	assert_true(sd_bus_message_seal(m, 1, 0) >= 0);
	assert_int_equal(dict_read(m, dict), expected);
	sd_bus_message_unref(m);
}

static void what_is_nested_is_flattened_and_replaced_as_a_whole(void **state)
{
	static struct dict dict;
	sd_bus_message *m;
	double number;
	int fd[2];
	sd_bus *bus = nowhere(fd);

	(void)state;
	m = message(bus);
	assert_true(sd_bus_message_append(m, "a{sv}", 3, "Step", "s", "cup", "Id", "x",
	                                  INT64_C(1) << 60, "Quantities", "a{sv}", 2, "A", "d", 1.5,
	                                  "B", "d", 2.5) >= 0);
	dict.n = 0;
	read_into(m, &dict, 1);
	assert_string_equal(dict_text(&dict, "Step"), "cup");
	assert_true(dict_whole(&dict, "Id") == INT64_C(1) << 60);
	assert_true(dict_number(&dict, "Quantities.A", &number) && number == 1.5);
	assert_false(dict_number(&dict, "Step", &number));

	/* A quantity that is absent now is unknown now. */
	m = message(bus);
	assert_true(sd_bus_message_append(m, "a{sv}", 1, "Quantities", "a{sv}", 1, "B", "d", 3.5) >=
	            0);
	read_into(m, &dict, 1);
	assert_false(dict_number(&dict, "Quantities.A", &number));
	assert_true(dict_number(&dict, "Quantities.B", &number) && number == 3.5);
	assert_string_equal(dict_text(&dict, "Step"), "cup");
	sd_bus_unref(bus);
	close(fd[1]);
}

static void what_is_no_dictionary_or_too_large_is_refused(void **state)
{
	static struct dict dict;
	char key[16];
	int fd[2], r;
	sd_bus *bus = nowhere(fd);
	sd_bus_message *m = message(bus);

	(void)state;
	assert_true(sd_bus_message_append(m, "s", "text") >= 0);
	dict.n = 0;
	assert_true(sd_bus_message_seal(m, 1, 0) >= 0);
	assert_true(dict_read(m, &dict) <= 0);
	sd_bus_message_unref(m);

	m = message(bus);
	assert_true(sd_bus_message_open_container(m, 'a', "{sv}") >= 0);
	for (unsigned i = 0; i <= DICT_ENTRIES_MAX; i++) {
		snprintf(key, sizeof key, "k%u", i);
		r = sd_bus_message_append(m, "{sv}", key, "b", 1);
		assert_true(r >= 0);
	}
	assert_true(sd_bus_message_close_container(m) >= 0);
	read_into(m, &dict, -ENOSPC);
	assert_int_equal(dict.n, DICT_ENTRIES_MAX);
	sd_bus_unref(bus);
	close(fd[1]);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(what_is_nested_is_flattened_and_replaced_as_a_whole),
	        cmocka_unit_test(what_is_no_dictionary_or_too_large_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
