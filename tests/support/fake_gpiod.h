/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_FAKE_GPIOD_H
#define AMBO_TESTS_SUPPORT_FAKE_GPIOD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Stands in for the few functions of libgpiod that gpio_lines uses: fake_gpiod_v1.c for
 * those of 1.6, fake_gpiod_v2.c for those of 2.x, linked before the library. One chip,
 * "/dev/gpiochip0", label "bench"; failures on demand; what is held is counted. */
#define FAKE_LINES 12u

struct fake_line {
	const char *name;    /* NULL: none */
	const char *used_by; /* NULL: free */
	bool held, output, falling, rising, active_low, pull_up;
	int level;       /* of the pin */
	unsigned edges;  /* raised and not taken */
	int64_t edge_ns; /* the newest one's */
};

struct fake_gpiod {
	struct fake_line line[FAKE_LINES];
	int open_error;              /* errno of opening any chip; 0: none */
	unsigned calls, fail_at;     /* the call of this number (1..) fails... */
	int fail_errno;              /* ... so */
	int chips, requests, others; /* held now: chips, lines or requests, other objects */
	unsigned waits;
	/* Instead of the level above; NULL: none. */
	void *context;
	void (*on_set)(void *context, unsigned line, int level);
	int (*on_get)(void *context, unsigned line);
	/* May raise edges; called when a wait finds none. */
	void (*on_wait)(void *context, unsigned line, int64_t timeout_ns);
};

extern struct fake_gpiod fake_gpiod;

void fake_gpiod_reset(void);
void fake_gpiod_level(unsigned line, int level, int64_t t_ns); /* from outside: raises edges */

/* For fake_gpiod_v*.c. */
bool fake_fails(void); /* sets errno */
int fake_get(unsigned line);
void fake_set(unsigned line, int value);
bool fake_wait(unsigned line, int64_t timeout_ns);    /* true: there is an edge */
int fake_hold(unsigned line, bool output, int value); /* 0, or -1 with errno */

#endif
