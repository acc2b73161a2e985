/* SPDX-License-Identifier: MIT */
/* Pieces in the store: what goes in comes out, unknown stays unknown. */
#include "daemon/records/store_pieces.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/assert_close.h"
#include "../support/batch_guide.h"
#include "../support/temp_folder.h"

static struct store *open_store(void **state)
{
	char path[TEMP_PATH_MAX], message[STORE_MESSAGE_MAX];
	struct store *store;

	temp_path(state, "ambo.db", path);
	assert_int_equal(store_open(path, false, message, &store), 0);
	return store;
}

static void free_pieces(struct store_piece *pieces, size_t n)
{
	for (size_t i = 0; i < n; i++)
		free(pieces[i].file);
	free(pieces);
}

static void pieces_pours_rooms_and_weighings_come_back_as_they_went_in(void **state)
{
	struct store *store = open_store(state);
	struct store_pour pour = {.layer = 1,
	                          .system_id = "s",
	                          .a_g = 100.5,
	                          .b_g = 40.25,
	                          .tint_g = 0.5,
	                          .stayed_g = (double)NAN,
	                          .resin_degc = 21.5,
	                          .cup_s = 600.0};
	struct store_piece *pieces;
	struct store_pour *pours;
	struct store_room *rooms;
	struct store_drying *drying;
	struct store_stamp stamp;
	double number;
	size_t n;

	batch_stamp(5, &stamp);
	pour.stamp = stamp;
	pour.piece_id = store_piece_keep(store, "clock", "name = \"clock\";", &stamp);
	assert_true(pour.piece_id > 0);
	assert_int_equal(store_pour_add(store, &pour), 1);
	pour.stayed_g = 3.0;
	pour.layer = 2;
	pour.resin_degc = (double)NAN;
	assert_int_equal(store_pour_add(store, &pour), 2);
	assert_int_equal(store_pour_told(store, 1, 1u << 2), 0);
	assert_int_equal(store_pour_told(store, 1, 1u << 4), 0);
	assert_int_equal(store_room_add(store, 22.5, &stamp), 0);
	assert_int_equal(store_report_last(store, "s", &number), -ENOENT);
	assert_int_equal(store_report_add(store, 1, "s", 5400.0, &stamp), 0);
	assert_int_equal(store_drying_add(store, "roses", 12.5, &stamp), 0);
	store_close(store);

	store = open_store(state);
	assert_int_equal(store_pieces(store, &pieces, &n), 0);
	assert_int_equal(n, 1);
	assert_string_equal(pieces[0].name, "clock");
	assert_string_equal(pieces[0].file, "name = \"clock\";");
	assert_false(pieces[0].finished);
	free_pieces(pieces, n);
	assert_int_equal(store_pours(store, &pours, &n), 0);
	assert_int_equal(n, 2);
	assert_close(pours[0].a_g, 100.5, 0.0);
	assert_true(isnan(pours[0].stayed_g));
	assert_close(pours[0].resin_degc, 21.5, 0.0);
	assert_int_equal(pours[0].told, 1u << 2 | 1u << 4);
	assert_int_equal(pours[0].stamp.boottime_us, stamp.boottime_us);
	assert_string_equal(pours[0].stamp.boot_id, stamp.boot_id);
	assert_close(pours[1].stayed_g, 3.0, 0.0);
	assert_true(isnan(pours[1].resin_degc));
	free(pours);
	assert_int_equal(store_rooms(store, &rooms, &n), 0);
	assert_int_equal(n, 1);
	assert_close(rooms[0].degc, 22.5, 0.0);
	free(rooms);
	assert_int_equal(store_report_last(store, "s", &number), 0);
	assert_close(number, 5400.0, 0.0);
	assert_int_equal(store_cup_loss(store, "s", &number), 0);
	assert_close(number, 3.0, 0.0); /* of those weighed back only */
	assert_int_equal(store_cup_loss(store, "t", &number), -ENOENT);
	assert_int_equal(store_drying(store, "roses", &drying, &n), 0);
	assert_int_equal(n, 1);
	free(drying);
	store_close(store);
}

static void a_batch_is_poured_once(void **state)
{
	struct store *store = open_store(state);
	struct store_pour pour = {.layer = 1, .system_id = "s", .a_g = 1.0, .b_g = 1.0};
	struct store_stamp stamp;
	struct guide guide;

	batch_stamp(0, &stamp);
	batch_guide(GUIDE_DONE, 2, &guide);
	pour.batch_id = store_begin(store, &guide, 0, &stamp);
	pour.piece_id = store_piece_keep(store, "clock", "x", &stamp);
	assert_true(store_pour_add(store, &pour) > 0);
	assert_int_equal(store_pour_add(store, &pour), -EEXIST);
	pour.batch_id = 0; /* by hand as often as it is told */
	assert_true(store_pour_add(store, &pour) > 0);
	assert_true(store_pour_add(store, &pour) > 0);
	store_close(store);
}

static void a_piece_described_anew_keeps_its_pours_and_is_open_again(void **state)
{
	struct store *store = open_store(state);
	struct store_piece *pieces;
	struct store_stamp stamp;
	int64_t id;
	size_t n;

	batch_stamp(0, &stamp);
	id = store_piece_keep(store, "clock", "one", &stamp);
	assert_int_equal(store_piece_finish(store, id), 0);
	assert_int_equal(store_piece_finish(store, 99), -ENOENT);
	assert_int_equal(store_pieces(store, &pieces, &n), 0);
	assert_true(pieces[0].finished);
	free_pieces(pieces, n);
	assert_int_equal(store_piece_keep(store, "clock", "two", &stamp), id);
	assert_int_equal(store_pieces(store, &pieces, &n), 0);
	assert_int_equal(n, 1);
	assert_string_equal(pieces[0].file, "two");
	assert_false(pieces[0].finished);
	free_pieces(pieces, n);
	store_close(store);
}

#define test(name) cmocka_unit_test_setup_teardown(name, temp_folder_make, temp_folder_remove)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        test(pieces_pours_rooms_and_weighings_come_back_as_they_went_in),
	        test(a_batch_is_poured_once),
	        test(a_piece_described_anew_keeps_its_pours_and_is_open_again),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
