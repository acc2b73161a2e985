/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_TERMINAL_H
#define AMBO_TERMINAL_TERMINAL_H

#include <stdbool.h>

/* The terminal itself: what it can show, and keys without a return after each. */

bool terminal_out(void);    /* standard output is one */
bool terminal_in(void);     /* standard input is one */
bool terminal_utf8(void);   /* it shows UTF-8 */
int terminal_columns(void); /* 40..200; 80 where it does not say */

/* Keys come one at a time, unechoed; Ctrl-C still interrupts. Undone by
 * terminal_restore(), at exit too. 0 or -errno. */
int terminal_raw(void);
void terminal_restore(void);

/* The next key waiting, lower case, '\n' for return; 0 none, -1 the input ended.
 * Escape sequences (arrows, ...) are swallowed. */
int terminal_key(void);

#endif
