/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_INPUTS_FOLDER_H
#define AMBO_RECORDS_INPUTS_FOLDER_H

#include <stdbool.h>
#include <stdint.h>

/* The folder of kept inputs on the disk: one folder a batch, named by its id and
 * holding plain files. Anything else in there is left alone. */

/* Bytes of all files of all batches. */
int64_t folder_bytes_of_all(int folder_fd);
unsigned folder_count(int folder_fd);
/* The lowest batch id for which skip() is false; 0 when there is none. */
int64_t folder_oldest(int folder_fd, bool (*skip)(int64_t id, void *context), void *context);
/* Removes a batch's files and its folder. Returns the bytes freed, -errno. */
int64_t folder_remove(int folder_fd, int64_t id);
/* Cuts fd's file after its last whole line, takes what went off *bytes. Returns the
 * size left, -errno. */
int64_t folder_trim_last_line(int fd, int64_t *bytes);

#endif
