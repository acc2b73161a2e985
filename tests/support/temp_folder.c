/* SPDX-License-Identifier: MIT */
#include "temp_folder.h"

#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "assert_close.h"

int temp_folder_make(void **state)
{
	const char *base = getenv("TMPDIR");
	char *path = malloc(TEMP_PATH_MAX);

	snprintf(path, TEMP_PATH_MAX, "%s/ambo-test-XXXXXX", base && base[0] ? base : "/tmp");
	if (!mkdtemp(path)) {
		free(path);
		return -1;
	}
	*state = path;
	return 0;
}

static int remove_entry(const char *path, const struct stat *info, int kind, struct FTW *where)
{
	(void)info;
	(void)kind;
	(void)where;
	return remove(path);
}

int temp_folder_remove(void **state)
{
	int r = nftw(*state, remove_entry, 16, FTW_DEPTH | FTW_PHYS);

	free(*state);
	return r;
}

void temp_path(void *const *state, const char *name, char *ret_path)
{
	int length = snprintf(ret_path, TEMP_PATH_MAX, "%s/%s", (const char *)*state, name);

	assert_in_range(length, 1, TEMP_PATH_MAX - 1);
}

char *read_whole_file(const char *path, size_t *ret_length)
{
	FILE *file = fopen(path, "rb");
	char *bytes;
	long size;

	assert_non_null(file);
	assert_int_equal(fseek(file, 0, SEEK_END), 0);
	size = ftell(file);
	assert_true(size >= 0);
	rewind(file);
	bytes = malloc((size_t)size + 1);
	assert_non_null(bytes);
	assert_int_equal(fread(bytes, 1, (size_t)size, file), size);
	bytes[size] = '\0';
	fclose(file);
	*ret_length = (size_t)size;
	return bytes;
}

void write_whole_file(const char *path, const void *bytes, size_t length)
{
	FILE *file = fopen(path, "wb");

	assert_non_null(file);
	assert_int_equal(fwrite(bytes, 1, length, file), length);
	assert_int_equal(fclose(file), 0);
}
