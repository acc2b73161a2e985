/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_GUIDE_FIELDS_H
#define AMBO_MIXING_GUIDE_FIELDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Every member of a guide that is kept as text: key, offset, kind. One row a member;
 * guide_text.c writes and reads by them. */

enum field_kind {
	FIELD_INT32,
	FIELD_UINT32,
	FIELD_INT64,
	FIELD_BYTE,
	FIELD_BOOL,
	FIELD_DOUBLE,
	FIELD_TEXT,
	FIELD_NAME
};

struct field {
	const char *key;
	size_t offset;
	enum field_kind kind;
	size_t size;              /* FIELD_TEXT: bytes with the NUL; FIELD_NAME: how many */
	const char *(*name)(int); /* FIELD_NAME */
};

/* Rows of one kind: "prefix.index.key". */
struct field_table {
	const char *prefix; /* "": the guide's own members, key alone */
	size_t offset, stride;
	uint32_t rows;
	size_t rows_used_offset; /* a uint32_t in the guide; SIZE_MAX: all rows, always */
	const struct field *fields;
	size_t n_fields;
};

extern const struct field_table guide_tables[];
extern const size_t n_guide_tables;

#endif
