/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_GPIO_REFUSE_H
#define AMBO_DRIVERS_GPIO_REFUSE_H

/* What to tell a person when a chip or a line cannot be had. Both return -error and
 * fill message (GPIO_MESSAGE_MAX). */
int gpio_refuse_chip(const char *chip, int error, char *message);
/* user: who has the line, when it is busy; NULL or "" when nobody knows. */
int gpio_refuse_line(const char *chip, const char *line, int error, const char *user,
                     char *message);

/* A line given by its offset: 0 with *ret, or -EINVAL when it is a name. */
int gpio_line_offset(const char *line, unsigned *ret);

#endif
