/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_CODE_KEYS_H
#define AMBO_DRIVERS_CODE_KEYS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What a keyboard-type code reader types, put together to codes: the keys of a US
 * keyboard, which is how such readers are delivered (common practice, no source), until
 * Enter or Tab. No device and no clock: events and times come in. */
#define CODE_KEYS_MAX      64u              /* characters; a longer code is dropped whole */
#define CODE_KEYS_PAUSE_US INT64_C(1000000) /* a code typed slower is dropped */

struct code_keys {
	char text[CODE_KEYS_MAX + 1];
	size_t length;
	bool shift, spoilt;
	int64_t last_us;
};

void code_keys_clear(struct code_keys *keys);

/* One event of the kernel's input interface: type, code and value as in
 * linux/input.h. 1 when it ends a code, which is then in ret (CODE_KEYS_MAX + 1); else 0. */
int code_keys_feed(struct code_keys *keys, unsigned type, unsigned code, int value, int64_t t_us,
                   char *ret);

#endif
