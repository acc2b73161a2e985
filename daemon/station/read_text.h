/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_READ_TEXT_H
#define AMBO_STATION_READ_TEXT_H

#include <stddef.h>

/* Reads a whole text file of at most max bytes. On 0 the caller frees *ret_text (NUL
 * at the end). -EFBIG when it is larger, -EBADMSG when it holds a NUL, -EISDIR or
 * -ENOTSUP when it is no regular file, -errno of open or read; *ret_text untouched. */
int read_text(const char *path, size_t max, char **ret_text);

#endif
