/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_PIECE_FILE_H
#define AMBO_STATION_PIECE_FILE_H

#include "conf_file.h"
#include "daemon/casting/piece.h"

/* A piece described in a file: ambo.conf(5) explains it key by key. */

/* On 0 *ret is complete (piece.h). Every mistake of meaning is said, one sentence each;
 * then -EINVAL, or conf_open()'s errors, *ret untouched. */
int piece_file_read(const char *path, struct conf_report *report, struct piece *ret);
/* The same of a text at hand, called name in sentences. */
int piece_file_text(const char *name, const char *text, struct conf_report *report,
                    struct piece *ret);

#endif
