/* SPDX-License-Identifier: MIT */
/* What every table of templates is written with. */
#include <string.h>

#include "words_inside.h"

void words_put(struct words_out *out, const char *text, size_t n)
{
	for (size_t i = 0; i < n && out->length + 1 < out->size; i++)
		out->buffer[out->length++] = text[i];
	out->buffer[out->length] = '\0';
}

const char *words_tr(const struct words_language *language, const char *english)
{
	return language && language->translate && *english ? language->translate(english) : english;
}

void words_localise(const struct words_language *language, char *number)
{
	char *point = strchr(number, '.');

	if (language && language->decimal && point)
		*point = language->decimal;
}

size_t words_characters(const char *text)
{
	size_t n = 0;

	for (; *text; text++)
		n += ((unsigned char)*text & 0xc0u) != 0x80u;
	return n;
}
