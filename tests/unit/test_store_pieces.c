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

static void what_was_kept_back_teaches_no_loss(void **state)
{
	struct store *store = open_store(state);
	struct store_pour pour = {
	        .layer = 1, .system_id = "s", .a_g = 100.0, .b_g = 40.0, .stayed_g = 4.0};
	struct store_pour *pours;
	struct store_stamp stamp;
	double loss_g;
	size_t n;

	batch_stamp(0, &stamp);
	pour.piece_id = store_piece_keep(store, "clock", "x", &stamp);
	assert_true(store_pour_add(store, &pour) > 0);
	pour.stayed_g = 20.0;
	pour.kept_back_g = 16.0;
	assert_true(store_pour_add(store, &pour) > 0);
	assert_int_equal(store_cup_loss(store, "s", &loss_g), 0);
	assert_close(loss_g, 4.0, 0.0);
	assert_int_equal(store_pours(store, &pours, &n), 0);
	assert_int_equal(n, 2);
	assert_close(pours[1].kept_back_g, 16.0, 0.0);
	free(pours);
	store_close(store);
}

static struct photo_file file_of(uint8_t first)
{
	return (struct photo_file){.kind = PHOTO_PNG, .sha256 = {first}, .bytes = 1000};
}

static void photos_belong_to_a_layer_and_have_limits(void **state)
{
	struct store *store = open_store(state);
	struct photo_file file = file_of(1), *files;
	struct store_photo *photos, one;
	struct store_stamp stamp;
	int64_t clock, bowl, id;
	size_t n;

	batch_stamp(0, &stamp);
	clock = store_piece_keep(store, "clock", "x", &stamp);
	bowl = store_piece_keep(store, "bowl", "x", &stamp);
	id = store_photo_add(store, clock, 1, &file, &stamp);
	assert_true(id > 0);
	assert_int_equal(store_photo_add(store, clock, 1, &file, &stamp), id); /* told twice */
	assert_true(store_photo_add(store, bowl, 1, &file, &stamp) != id);
	assert_int_equal(store_photos(store, clock, &photos, &n), 0);
	assert_int_equal(n, 1);
	assert_int_equal(photos[0].layer, 1);
	assert_memory_equal(photos[0].file.sha256, file.sha256, PHOTO_HASH_BYTES);
	assert_int_equal(photos[0].file.kind, PHOTO_PNG);
	free(photos);
	assert_int_equal(store_photo_files(store, &files, &n), 0);
	assert_int_equal(n, 1); /* one file for both */
	free(files);
	for (uint8_t i = 2; i <= STORE_PHOTOS_MAX; i++) {
		file = file_of(i);
		assert_true(store_photo_add(store, clock, 1, &file, &stamp) > 0);
	}
	file = file_of(200);
	assert_int_equal(store_photo_add(store, clock, 1, &file, &stamp), -ENOSPC);
	file.bytes = STORE_PHOTOS_BYTES_MAX;
	assert_int_equal(store_photo_add(store, bowl, 1, &file, &stamp), -ENOSPC);
	assert_int_equal(store_photo_delete(store, id), 0);
	assert_int_equal(store_photo(store, id, &one), -ENOENT);
	assert_int_equal(store_photo_delete(store, id), -ENOENT);
	store_close(store);
}

static void a_deleted_piece_leaves_its_batches_and_what_they_taught(void **state)
{
	struct store *store = open_store(state);
	struct photo_file file = file_of(1), *files;
	struct store_pour pour = {
	        .layer = 1, .system_id = "s", .a_g = 100.0, .b_g = 40.0, .stayed_g = 4.0};
	struct store_piece *pieces;
	struct store_stamp stamp;
	struct store_row row;
	struct guide guide;
	double number;
	int64_t next;
	size_t n;

	batch_stamp(0, &stamp);
	batch_guide(GUIDE_DONE, 2, &guide);
	pour.batch_id = store_begin(store, &guide, 0, &stamp);
	pour.piece_id = store_piece_keep(store, "clock", "secret", &stamp);
	assert_true(store_pour_add(store, &pour) > 0);
	assert_int_equal(store_report_add(store, 1, "s", 5400.0, &stamp), 0);
	assert_true(store_photo_add(store, pour.piece_id, 1, &file, &stamp) > 0);
	assert_int_equal(store_piece_delete(store, pour.piece_id), 0);
	assert_int_equal(store_piece_delete(store, pour.piece_id), -ENOENT);
	assert_int_equal(store_pieces(store, &pieces, &n), 0);
	assert_int_equal(n, 0);
	free(pieces);
	assert_int_equal(store_photo_files(store, &files, &n), 0);
	assert_int_equal(n, 0);
	free(files);
	assert_int_equal(store_list(store, 0, &row, 1, &next), 1);
	assert_int_equal(row.id, pour.batch_id);
	assert_int_equal(store_cup_loss(store, "s", &number), 0);
	assert_int_equal(store_report_last(store, "s", &number), 0);
	/* The name is free. */
	assert_true(store_piece_keep(store, "clock", "y", &stamp) > pour.piece_id);
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
	        test(what_was_kept_back_teaches_no_loss),
	        test(photos_belong_to_a_layer_and_have_limits),
	        test(a_deleted_piece_leaves_its_batches_and_what_they_taught),
	        test(a_batch_is_poured_once),
	        test(a_piece_described_anew_keeps_its_pours_and_is_open_again),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
