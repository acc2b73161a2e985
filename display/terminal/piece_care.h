/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_PIECE_CARE_H
#define AMBO_TERMINAL_PIECE_CARE_H

#include "ambo.h"

/* The parts of `ambo piece` that look after one: drying, photos, deleting. */
int piece_dry(const struct context *context, int argc, char **argv);
int piece_photo(const struct context *context, int argc, char **argv);
int piece_delete(const struct context *context, int argc, char **argv);

#endif
