/* SPDX-License-Identifier: MIT */
#include "gpio_panel.h"

#include <errno.h>
#include <stdlib.h>

#include "panel_button.h"
#include "panel_pattern.h"

#define NO_LINE (-1)

struct gpio_panel {
	struct gpio_lines *lines;
	struct panel_button button;
	struct panel_show show;
	int foot;                  /* place among lines, or NO_LINE */
	int output[PANEL_OUTPUTS]; /* likewise */
	int level[PANEL_OUTPUTS];  /* as set */
};

static size_t collect(const struct gpio_panel_config *config, struct gpio_line_want *wants,
                      struct gpio_panel *panel)
{
	int n = 0;

	panel->foot = NO_LINE;
	if (config->foot != NULL) {
		panel->foot = n;
		wants[n++] = (struct gpio_line_want){.line = config->foot,
		                                     .use = GPIO_BOTH,
		                                     .active_low = config->foot_active_low,
		                                     .pull_up = config->foot_active_low};
	}
	for (int i = 0; i < PANEL_OUTPUTS; i++) {
		panel->output[i] = NO_LINE;
		if (config->output[i] == NULL)
			continue;
		panel->output[i] = n;
		wants[n++] = (struct gpio_line_want){.line = config->output[i],
		                                     .use = GPIO_OUTPUT,
		                                     .active_low = config->outputs_active_low};
	}
	return (size_t)n;
}

int gpio_panel_open(const struct gpio_panel_config *config, int64_t now_us, char *message,
                    struct gpio_panel **ret)
{
	struct gpio_line_want wants[1 + PANEL_OUTPUTS];
	struct gpio_panel *panel = calloc(1, sizeof(*panel));
	size_t n;
	int r;

	if (panel == NULL)
		return -ENOMEM;
	n = collect(config, wants, panel);
	r = gpio_lines_open(config->chip, "ambo panel", wants, n, message, &panel->lines);
	if (r < 0)
		goto out;
	panel_show_init(&panel->show);
	if (panel->foot != NO_LINE) {
		r = gpio_lines_get(panel->lines, (size_t)panel->foot);
		if (r < 0)
			goto out;
		panel_button_init(&panel->button, r == 1, now_us);
	}
	*ret = panel;
	return 0;
out:
	gpio_lines_close(panel->lines);
	free(panel);
	return r;
}

/* Sets what differs from what was last set. The first error counts. */
static int put_out(struct gpio_panel *panel)
{
	int error = 0;

	for (int i = 0; i < PANEL_OUTPUTS; i++) {
		const int level = panel->show.level[i];
		int r;

		if (panel->output[i] == NO_LINE || level == panel->level[i])
			continue;
		r = gpio_lines_set(panel->lines, (size_t)panel->output[i], level);
		if (r == 0)
			panel->level[i] = level;
		else if (error == 0)
			error = r;
	}
	return error;
}

void gpio_panel_close(struct gpio_panel *panel)
{
	if (panel == NULL)
		return;
	panel_show_init(&panel->show);
	(void)put_out(panel); /* nothing more can be done where it fails */
	gpio_lines_close(panel->lines);
	free(panel);
}

int gpio_panel_fd(struct gpio_panel *panel)
{
	return panel->foot == NO_LINE ? -ENODEV : gpio_lines_fd(panel->lines, (size_t)panel->foot);
}

void gpio_panel_signal(struct gpio_panel *panel, enum panel_signal signal, int64_t now_us)
{
	panel_show_set(&panel->show, signal, now_us);
}

int gpio_panel_step(struct gpio_panel *panel, int64_t now_us, enum panel_event *ret_event,
                    int64_t *ret_due_us)
{
	int64_t due_us = panel_show_step(&panel->show, now_us);
	int r = put_out(panel);

	*ret_event = PANEL_NOTHING;
	if (panel->foot != NO_LINE) {
		int level = gpio_lines_drain(panel->lines, (size_t)panel->foot);

		if (level == 0)
			level = gpio_lines_get(panel->lines, (size_t)panel->foot);
		if (level < 0) {
			r = level;
		} else {
			*ret_event = panel_button_feed(&panel->button, level == 1, now_us);
			if (panel_button_due_us(&panel->button) < due_us)
				due_us = panel_button_due_us(&panel->button);
		}
	}
	*ret_due_us = due_us;
	return r;
}
