/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_TEMP_FOLDER_H
#define AMBO_TESTS_SUPPORT_TEMP_FOLDER_H

#include <stddef.h>

#define TEMP_PATH_MAX 512u

/* A new folder under $TMPDIR (or /tmp), as cmocka set-up and tear-down: the path is
 * *state. Removing goes through whatever the test left in it. */
int temp_folder_make(void **state);
int temp_folder_remove(void **state);

/* folder/name into ret_path (TEMP_PATH_MAX). */
void temp_path(void *const *state, const char *name, char *ret_path);

/* A whole file; the caller frees it. Fails the test when it cannot be read. */
char *read_whole_file(const char *path, size_t *ret_length);
void write_whole_file(const char *path, const void *bytes, size_t length);

#endif
