/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_GPIO_PANEL_H
#define AMBO_DRIVERS_GPIO_PANEL_H

#include "gpio_lines.h"
#include "panel.h"

/* Foot switch, lamp, buzzer and vibration on the lines of one GPIO chip. Of the main
 * loop: it waits for gpio_panel_fd() and for the time gpio_panel_step() asks for. */
struct gpio_panel;

/* Lines by offset or name; NULL: there is none. */
struct gpio_panel_config {
	const char *chip;
	const char *foot;
	const char *output[PANEL_OUTPUTS];
	bool foot_active_low;    /* switches to ground, with a pull-up */
	bool outputs_active_low; /* the board's drivers invert */
};

/* On 0 the caller owns *ret (gpio_panel_close), everything is dark and quiet. -errno
 * with a sentence in message (GPIO_MESSAGE_MAX). */
int gpio_panel_open(const struct gpio_panel_config *config, int64_t now_us, char *message,
                    struct gpio_panel **ret);
void gpio_panel_close(struct gpio_panel *panel); /* dark and quiet; NULL does nothing */

/* Readable when the foot switch moved; -ENODEV without one. Borrowed. */
int gpio_panel_fd(struct gpio_panel *panel);

void gpio_panel_signal(struct gpio_panel *panel, enum panel_signal signal, int64_t now_us);

/* After the fd was readable, after a signal, and when it is due: reads the switch, sets
 * what has changed. 0 with *ret_event and *ret_due_us (INT64_MAX: never), or -errno when
 * the lines fail; what could be set is set all the same. */
int gpio_panel_step(struct gpio_panel *panel, int64_t now_us, enum panel_event *ret_event,
                    int64_t *ret_due_us);

#endif
