/* SPDX-License-Identifier: MIT */
/* Photos beside the store: whole or not there. Hashes are the FIPS 180-4 sum as libmd's own
 * SHA256Data() has it. */
#include "daemon/records/photos.h"

#include <sys/types.h>

#include <errno.h>
#include <fcntl.h>
#include <sha2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../support/assert_close.h"
#include "../support/temp_folder.h"

static const char jpeg[] = "\xff\xd8\xff\xe0 a fern, seen from above";
static const char png[] = "\x89PNG\r\n\x1a\n sea glass";

static int source(void **state, const void *bytes, size_t length)
{
	char path[TEMP_PATH_MAX];
	int fd;

	temp_path(state, "source", path);
	fd = open(path, O_RDWR | O_CREAT | O_TRUNC, 0600);
	assert_true(fd >= 0);
	assert_int_equal(write(fd, bytes, length), (ssize_t)length);
	return fd; /* at its end: a copy begins at the beginning all the same */
}

static int exists(const char *folder, const struct photo_file *photo)
{
	int fd = photos_open(folder, photo);

	if (fd >= 0)
		close(fd);
	return fd < 0 ? fd : 0;
}

static void a_photo_comes_back_as_it_went_in(void **state)
{
	char folder[TEMP_PATH_MAX], hash[SHA256_DIGEST_STRING_LENGTH], found[3], back[64];
	struct photo_file photo, other;
	int fd = source(state, jpeg, sizeof jpeg - 1);

	temp_path(state, "photos", folder);
	assert_int_equal(photos_add(folder, fd, &photo), 0);
	close(fd);
	assert_int_equal(photo.kind, PHOTO_JPEG);
	assert_int_equal(photo.bytes, sizeof jpeg - 1);
	SHA256Data((const uint8_t *)jpeg, sizeof jpeg - 1, hash);
	for (size_t i = 0; i < PHOTO_HASH_BYTES; i++) {
		snprintf(found, sizeof found, "%02x", photo.sha256[i]);
		assert_memory_equal(found, hash + 2 * i, 2);
	}
	fd = photos_open(folder, &photo);
	assert_int_equal(read(fd, back, sizeof back), sizeof jpeg - 1);
	assert_memory_equal(back, jpeg, sizeof jpeg - 1);
	assert_true(write(fd, "x", 1) < 0); /* to read only */
	close(fd);
	fd = source(state, png, sizeof png - 1);
	assert_int_equal(photos_add(folder, fd, &other), 0);
	close(fd);
	assert_int_equal(other.kind, PHOTO_PNG);
	assert_int_equal(exists(folder, &photo), 0);
	assert_int_equal(exists(folder, &other), 0);
}

static void what_is_no_photo_is_refused_and_leaves_nothing(void **state)
{
	char folder[TEMP_PATH_MAX], path[TEMP_PATH_MAX + 32];
	struct photo_file photo;
	int ends[2], fd;

	temp_path(state, "photos", folder);
	fd = source(state, "a letter", 8);
	assert_int_equal(photos_add(folder, fd, &photo), -EINVAL);
	close(fd);
	fd = source(state, "", 0);
	assert_int_equal(photos_add(folder, fd, &photo), -EINVAL);
	close(fd);
	assert_int_equal(pipe(ends), 0); /* nobody writes: it must not be waited for */
	assert_int_equal(photos_add(folder, ends[0], &photo), -EINVAL);
	close(ends[0]);
	close(ends[1]);
	fd = source(state, jpeg, sizeof jpeg - 1);
	assert_int_equal(ftruncate(fd, PHOTO_BYTES_MAX), 0);
	assert_int_equal(photos_add(folder, fd, &photo), 0); /* the limit itself */
	assert_int_equal(photos_sweep(folder, NULL, 0), 1);
	assert_int_equal(ftruncate(fd, PHOTO_BYTES_MAX + 1), 0);
	assert_int_equal(photos_add(folder, fd, &photo), -EFBIG);
	close(fd);
	snprintf(path, sizeof path, "%s/unfinished", folder);
	assert_int_equal(access(path, F_OK), -1);
	assert_int_equal(photos_sweep(folder, NULL, 0), 0);
}

static void one_that_was_changed_is_not_handed_out(void **state)
{
	char folder[TEMP_PATH_MAX], command[2 * TEMP_PATH_MAX];
	struct photo_file photo;
	int fd = source(state, jpeg, sizeof jpeg - 1);

	temp_path(state, "photos", folder);
	assert_int_equal(photos_add(folder, fd, &photo), 0);
	close(fd);
	snprintf(command, sizeof command, "for f in %s/*.jpeg; do printf x >> \"$f\"; done",
	         folder);
	assert_int_equal(system(command), 0);
	assert_int_equal(photos_open(folder, &photo), -EBADMSG);
}

static void a_sweep_takes_what_belongs_to_nothing(void **state)
{
	char folder[TEMP_PATH_MAX], path[TEMP_PATH_MAX + 32];
	struct photo_file keep, go;
	int fd;

	temp_path(state, "photos", folder);
	assert_int_equal(photos_sweep(folder, NULL, 0), 0); /* no folder yet */
	fd = source(state, jpeg, sizeof jpeg - 1);
	assert_int_equal(photos_add(folder, fd, &keep), 0);
	close(fd);
	fd = source(state, png, sizeof png - 1);
	assert_int_equal(photos_add(folder, fd, &go), 0);
	close(fd);
	/* A copy that a power cut ended. */
	snprintf(path, sizeof path, "%s/unfinished", folder);
	close(open(path, O_WRONLY | O_CREAT, 0600));
	assert_int_equal(photos_sweep(folder, &keep, 1), 2);
	assert_int_equal(exists(folder, &keep), 0);
	assert_int_equal(exists(folder, &go), -ENOENT);
	assert_int_equal(access(path, F_OK), -1);
}

#define test(name) cmocka_unit_test_setup_teardown(name, temp_folder_make, temp_folder_remove)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        test(a_photo_comes_back_as_it_went_in),
	        test(what_is_no_photo_is_refused_and_leaves_nothing),
	        test(one_that_was_changed_is_not_handed_out),
	        test(a_sweep_takes_what_belongs_to_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
