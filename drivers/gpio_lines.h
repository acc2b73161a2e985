/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_GPIO_LINES_H
#define AMBO_DRIVERS_GPIO_LINES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A few lines of one GPIO chip, held together: set, get, wait for an edge. Everything
 * Ambo wants from libgpiod, which gpio_lines_v1.c (1.6) and gpio_lines_v2.c (2.x)
 * alone include; one of the two is compiled. */
struct gpio_lines;

#define GPIO_LINES_MAX   8u
#define GPIO_MESSAGE_MAX 512u /* bytes, with the NUL */

enum gpio_use {
	GPIO_OUTPUT,
	GPIO_INPUT,
	GPIO_FALLING, /* an input whose falling edges can be waited for */
	GPIO_BOTH,    /* an input whose edges both ways can be waited for */
};

struct gpio_line_want {
	const char *line; /* its offset on the chip ("17"), or its name */
	enum gpio_use use;
	bool active_low; /* value 1 is the low level */
	bool pull_up;    /* inputs: the chip's own, where it has one; else it is ignored */
	int value;       /* outputs: at first */
};

/* chip: a path ("/dev/gpiochip0"), a name ("gpiochip0") or a label. Lines are known
 * from then on by their place in wants. On 0 the caller owns *ret (gpio_lines_close).
 * -errno with one sentence in message (GPIO_MESSAGE_MAX): which chip or line, why, and
 * what to change. *ret untouched. */
int gpio_lines_open(const char *chip, const char *consumer, const struct gpio_line_want *wants,
                    size_t n_wants, char *message, struct gpio_lines **ret);
void gpio_lines_close(struct gpio_lines *lines); /* NULL does nothing */

int gpio_lines_set(struct gpio_lines *lines, size_t i, int value); /* 0, -errno */
int gpio_lines_get(struct gpio_lines *lines, size_t i);            /* 0 or 1, -errno */

/* Sleeps until line i has an edge that was not taken yet, and takes it: 1 with the
 * kernel's time of it (CLOCK_MONOTONIC; before Linux 5.7 the wall clock: check it); 0
 * after timeout_us without; -errno. Edges of other lines may be lost: read levels. */
int gpio_lines_wait(struct gpio_lines *lines, size_t i, int64_t timeout_us, int64_t *ret_edge_ns);
/* Throws away the edges that line i has raised so far: 0, -errno. */
int gpio_lines_drain(struct gpio_lines *lines, size_t i);
/* Readable when line i has an edge: for an event loop, which then drains. Borrowed. */
int gpio_lines_fd(struct gpio_lines *lines, size_t i);

#endif
