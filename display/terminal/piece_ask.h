/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_PIECE_ASK_H
#define AMBO_TERMINAL_PIECE_ASK_H

#include <stddef.h>
#include <stdio.h>

#include "daemon/casting/piece.h"

/* Asks a person for the plain kind of piece, line by line, and writes it down as a file
 * would have it: what is not asked can be added there. */

#define PIECE_TEXT_MAX 8192u

/* in: where answers come from; questions go to standard output. An enum exit_status: the
 * input ended, or the answers cannot be meant, which was said. */
int piece_ask(FILE *in, char ret_text[PIECE_TEXT_MAX], struct piece *ret_piece);

#endif
