/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_CODE_READER_H
#define AMBO_DRIVERS_CODE_READER_H

#include "code_keys.h"

/* A keyboard-type code reader as the kernel's input device, taken for Ambo alone so
 * that no code is typed into somebody's terminal. */
struct code_reader;

#define CODE_READER_MESSAGE_MAX 512u

/* path: best a stable one under /dev/input/by-id. On 0 the caller owns *ret
 * (code_reader_close). -errno with one sentence in message. */
int code_reader_open(const char *path, char *message, struct code_reader **ret);
void code_reader_close(struct code_reader *reader); /* NULL does nothing */

int code_reader_fd(const struct code_reader *reader); /* readable: call read. Borrowed */

/* Reads what is there: 1 with a code in ret (CODE_KEYS_MAX + 1), call again; 0 nothing
 * more; -ENODEV when it was unplugged, another -errno. Does not block. */
int code_reader_read(struct code_reader *reader, char *ret);

#endif
