/* SPDX-License-Identifier: MIT */
#include "panel_options.h"

#include <stdio.h>
#include <string.h>

struct reporting {
	const struct scale_option *options;
	size_t n_options;
	option_report *report;
	void *context;
	int n;
};

static void mistake(struct reporting *to, const char *key, const char *why)
{
	char sentence[SCALE_MESSAGE_MAX];
	const char *where = to->options[0].where;

	for (size_t i = 0; i < to->n_options; i++)
		if (strcmp(to->options[i].key, key) == 0)
			where = to->options[i].where;
	snprintf(sentence, sizeof(sentence), "%.200s: %s: %s", where, key, why);
	to->report(to->context, sentence);
	to->n++;
}

static void read_level(const char *text, const char *key, bool *ret_low, struct reporting *to)
{
	if (text == NULL)
		return;
	if (strcmp(text, "low") != 0 && strcmp(text, "high") != 0)
		mistake(to, key, "is no level; expected \"low\" or \"high\"");
	*ret_low = strcmp(text, "low") == 0;
}

int panel_options_read(const struct scale_option *options, size_t n_options, option_report *report,
                       void *context, struct panel_options *ret)
{
	static const char *const names[PANEL_OUTPUTS] = {"red", "yellow", "green", "buzzer",
	                                                 "vibration"};
	const char *foot_active = NULL, *outputs_active = NULL;
	struct gpio_panel_config *gpio = &ret->gpio;
	struct option_spec specs[5 + PANEL_OUTPUTS] = {
	        {"chip", OPTION_TEXT, false, 0, 0, "the path, name or label of a GPIO chip",
	         &gpio->chip},
	        {"foot", OPTION_TEXT, false, 0, 0, "the offset or name of a line", &gpio->foot},
	        {"foot_active", OPTION_TEXT, false, 0, 0, "low or high", &foot_active},
	        {"outputs_active", OPTION_TEXT, false, 0, 0, "low or high", &outputs_active},
	        {"codes", OPTION_TEXT, false, 0, 0, "a device under /dev/input/by-id", &ret->codes},
	};
	struct reporting to = {options, n_options, report, context, 0};
	bool any = false;

	*ret = (struct panel_options){.gpio = {.foot_active_low = true}};
	if (n_options == 0)
		return 0;
	ret->where = options[0].where;
	for (size_t i = 0; i < PANEL_OUTPUTS; i++)
		specs[5 + i] = (struct option_spec){.key = names[i],
		                                    .kind = OPTION_TEXT,
		                                    .unit = "the offset or name of a line",
		                                    .ret = &gpio->output[i]};
	to.n = options_read("panel", options, n_options, specs, 5 + PANEL_OUTPUTS, report, context);
	read_level(foot_active, "foot_active", &gpio->foot_active_low, &to);
	read_level(outputs_active, "outputs_active", &gpio->outputs_active_low, &to);
	for (size_t i = 0; i < PANEL_OUTPUTS; i++)
		any = any || gpio->output[i] != NULL;
	any = any || gpio->foot != NULL;
	if (any && gpio->chip == NULL)
		mistake(&to, "chip",
		        "is missing although lines are given; expected the path, name "
		        "or label of a GPIO chip");
	if (!any && gpio->chip != NULL)
		mistake(&to, "chip",
		        "is given without a line; expected foot, red, yellow, green, "
		        "buzzer or vibration");
	return to.n;
}
