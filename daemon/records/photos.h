/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_PHOTOS_H
#define AMBO_RECORDS_PHOTOS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Photos beside the store: a folder of files named by the SHA-256 of what is in them.
 * A file is whole or not there: it is written under another name, synchronised, then
 * renamed; the store's row follows. A row that went takes its file with it at the next
 * sweep, so neither order loses a photo. Any thread; one at a time. */

#define PHOTO_BYTES_MAX  (16 << 20)
#define PHOTO_HASH_BYTES 32u

enum photo_kind { PHOTO_JPEG, PHOTO_PNG };
const char *photo_kind_name(enum photo_kind kind); /* "jpeg", "png" */

struct photo_file {
	enum photo_kind kind;
	uint8_t sha256[PHOTO_HASH_BYTES];
	int64_t bytes;
};

/* Copies what fd holds from its beginning. The folder is made where it is missing. fd stays
 * the caller's. 0; -EINVAL no plain file, empty, or neither JPEG nor PNG by its first bytes;
 * -EFBIG over PHOTO_BYTES_MAX; another -errno. */
int photos_add(const char *folder, int fd, struct photo_file *ret);

/* A descriptor to read it with, the caller's; -ENOENT; -EBADMSG where the file is not what
 * was stored. */
int photos_open(const char *folder, const struct photo_file *photo);

/* Whether the file is there, whatever is in it: a sweep may have been between the copy and
 * its row. */
bool photos_there(const char *folder, const struct photo_file *photo);

/* Removes what belongs to no photo of the list, and copies that were never finished.
 * Returns how many; a folder that is not there is empty. -errno. */
int photos_sweep(const char *folder, const struct photo_file *photos, size_t n);

#endif
