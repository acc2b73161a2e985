/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_MODEL_FIELDS_H
#define AMBO_TOUCH_MODEL_FIELDS_H

#include "model.h"

/* The bus's names and where in the model each belongs. */
struct field {
	const char *name;
	bool text;
	size_t offset, size;
};

/* The table of a part, ended by a NULL name. */
const struct field *model_fields(enum model_part part);

#endif
