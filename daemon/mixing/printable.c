/* SPDX-License-Identifier: MIT */
#include "printable.h"

/* How many bytes the UTF-8 character at text takes, 0 when it is none: overlong
 * forms, surrogates and what lies past U+10FFFF are none (RFC 3629, 4). */
static size_t utf8_length(const unsigned char *text)
{
	size_t n = text[0] < 0x80u   ? 1
	           : text[0] < 0xc2u ? 0
	           : text[0] < 0xe0u ? 2
	           : text[0] < 0xf0u ? 3
	           : text[0] < 0xf5u ? 4
	                             : 0;

	for (size_t i = 1; i < n; i++)
		if ((text[i] & 0xc0u) != 0x80u)
			return 0;
	if ((text[0] == 0xe0u && text[1] < 0xa0u) || (text[0] == 0xedu && text[1] > 0x9fu) ||
	    (text[0] == 0xf0u && text[1] < 0x90u) || (text[0] == 0xf4u && text[1] > 0x8fu))
		return 0;
	return n;
}

size_t printable_fault(const char *text, bool lines)
{
	for (size_t i = 0, n; text[i] != '\0'; i += n) {
		unsigned char byte = (unsigned char)text[i];

		n = utf8_length((const unsigned char *)text + i);
		if (n == 0 || ((byte < 0x20u || byte == 0x7fu) && !(lines && byte == '\n')))
			return i + 1;
	}
	return 0;
}
