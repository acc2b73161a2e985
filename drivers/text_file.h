/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_TEXT_FILE_H
#define AMBO_DRIVERS_TEXT_FILE_H

#include <stddef.h>

/* The kernel's one-value files: a line of text. -errno. */

/* The line without its end; -EMSGSIZE when it does not fit. */
int text_file_read(const char *path, char *ret, size_t size);
int text_file_read_number(const char *path, double *ret); /* -EBADMSG: no number */
int text_file_write(const char *path, const char *text);

/* The first folder below `parent` whose file `name` holds this name: its path in ret.
 * -ENOENT when there is none; names_ret lists those there are, for a message. */
int text_file_find_device(const char *parent, const char *name, char *ret, size_t size,
                          char *names_ret, size_t names_size);

#endif
