/* SPDX-License-Identifier: MIT */
#include "options.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char usage[] =
        "usage: ambo-display [options]\n"
        "       ambo-display --render SCREEN STATE.json -o FILE.png [options]\n"
        "\n"
        "The touch display of an Ambo station. Space, Return and the function keys are the\n"
        "foot switch; Ctrl-Q leaves.\n"
        "\n"
        "  --bus session|system  default: the session's, else the system's\n"
        "  --size WIDTHxHEIGHT   of the window in pixels (1024x600)\n"
        "  --mm WIDTHxHEIGHT     of the glass in millimetres, as it hangs unturned\n"
        "  --full                the whole screen\n"
        "  --turn DEGREES        the picture clockwise: 0, 90, 180, 270\n"
        "  --settings FILE       what is set on the display\n"
        "  --language CODE, --theme dark|day, --hand right|left\n"
        "                        for this time instead of what is set\n"
        "  --languages FOLDER    the message catalogues\n"
        "  --render SCREEN STATE a screen as a picture, without a window or a station;\n"
        "                        SCREEN auto: the one the state names\n"
        "  -o FILE               where the picture goes\n"
        "  --touches FILE        finger events, a line each: down X Y [FINGER],\n"
        "                        up X Y [FINGER] (shares of the window), wait MS; a pipe too\n"
        "  --tell                a line for each change of what is shown, for tests\n"
        "  --stamp               \"stamp T_US CAME_US SHOWN_US N\" for each reading shown: the\n"
        "                        station's time of it, when it came and when it was on the\n"
        "                        screen (CLOCK_MONOTONIC), how many rectangles\n"
        "  --shots FOLDER        a picture of each such change\n";

static int pair(const char *text, double low, double high, double *ret_first, double *ret_second)
{
	char *end;
	double first = strtod(text, &end), second;

	if (*end != 'x' || end == text)
		return -EINVAL;
	text = end + 1;
	second = strtod(text, &end);
	if (*end != '\0' || end == text || !(first >= low && first <= high) ||
	    !(second >= low && second <= high))
		return -EINVAL;
	*ret_first = first;
	*ret_second = second;
	return 0;
}

static int wrong(const char *option, const char *expected)
{
	fprintf(stderr, "ambo-display: %s: expected %s\n", option, expected);
	return -EINVAL;
}

static int one_of(const char *option, const char *value, const char *first, const char *second)
{
	char expected[64];

	if (strcmp(value, first) == 0 || strcmp(value, second) == 0)
		return 0;
	snprintf(expected, sizeof expected, "%s or %s", first, second);
	return wrong(option, expected);
}

static int take(struct options *options, const char *option, const char *value)
{
	double w, h;

	if (strcmp(option, "--bus") == 0) {
		options->bus = strcmp(value, "system") == 0 ? BUS_SYSTEM : BUS_SESSION;
		return one_of(option, value, "session", "system");
	}
	if (strcmp(option, "--size") == 0) {
		if (pair(value, 64.0, 8192.0, &w, &h) < 0)
			return wrong(option, "WIDTHxHEIGHT in pixels, as in 800x480");
		options->width_px = (int)w;
		options->height_px = (int)h;
		return 0;
	}
	if (strcmp(option, "--mm") == 0)
		return pair(value, 10.0, 3000.0, &options->width_mm, &options->height_mm) < 0
		               ? wrong(option, "WIDTHxHEIGHT in millimetres, as in 154x86")
		               : 0;
	if (strcmp(option, "--turn") == 0) {
		char *end;
		long deg = strtol(value, &end, 10);

		if (*end || end == value || deg < 0 || deg > 270 || deg % 90 != 0)
			return wrong(option, "0, 90, 180 or 270");
		options->turn_deg = (int)deg;
		return 0;
	}
	if (strcmp(option, "--theme") == 0) {
		options->theme = value;
		return one_of(option, value, "dark", "day");
	}
	if (strcmp(option, "--hand") == 0) {
		options->hand = value;
		return one_of(option, value, "right", "left");
	}
	return 1;
}

static const char **text_option(struct options *options, const char *option)
{
	if (strcmp(option, "--settings") == 0)
		return &options->settings;
	if (strcmp(option, "--languages") == 0)
		return &options->languages;
	if (strcmp(option, "--language") == 0)
		return &options->language;
	if (strcmp(option, "--touches") == 0)
		return &options->touches;
	if (strcmp(option, "--shots") == 0)
		return &options->shots;
	if (strcmp(option, "-o") == 0)
		return &options->out;
	return NULL;
}

int options_parse(int argc, char **argv, struct options *ret)
{
	*ret = (struct options){.width_px = 1024, .height_px = 600, .turn_deg = -1};
	for (int i = 1; i < argc; i++) {
		const char *option = argv[i];
		const char **text = text_option(ret, option);
		int r;

		if (strcmp(option, "--help") == 0 || strcmp(option, "-h") == 0)
			return fputs(usage, stdout), 1;
		if (strcmp(option, "--version") == 0)
			return printf("ambo-display %s\n", AMBO_VERSION), 1;
		if (strcmp(option, "--full") == 0) {
			ret->full = true;
			continue;
		}
		if (strcmp(option, "--tell") == 0) {
			ret->tell = true;
			continue;
		}
		if (strcmp(option, "--stamp") == 0) {
			ret->stamp = true;
			continue;
		}
		if (strcmp(option, "--render") == 0) {
			if (i + 2 >= argc)
				return wrong(option, "a screen and a state file");
			ret->render = argv[++i];
			ret->state = argv[++i];
			continue;
		}
		if (i + 1 >= argc)
			return wrong(option, "a value after it; --help lists the options");
		r = text ? (*text = argv[i + 1], 0) : take(ret, option, argv[i + 1]);
		if (r > 0)
			return wrong(option, "an option; --help lists them");
		if (r < 0)
			return r;
		i++;
	}
	if (ret->render && !ret->out)
		return wrong("--render", "-o FILE.png as well");
	return 0;
}
