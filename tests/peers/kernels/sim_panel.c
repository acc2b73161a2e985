/* SPDX-License-Identifier: MIT */
/* sim_panel CHIP DEVICE: the panel on the kernel's gpio-sim. Presses the foot switch by
 * the kernel's file, looks at the lamps by it. Exit status 0: all as it should be. */
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "drivers/gpio_panel.h"

static const char *device;
static int wrong;

static void expect(int given, int expected, const char *what)
{
	if (given == expected)
		return;
	printf("%s: %d, expected %d\n", what, given, expected);
	wrong++;
}

static int lamp(int line)
{
	char path[300], text[4] = "";
	int fd;

	snprintf(path, sizeof(path), "%.250s/sim_gpio%d/value", device, line);
	fd = open(path, O_RDONLY);
	if (fd < 0 || read(fd, text, sizeof(text)) < 1)
		return -1;
	close(fd);
	return text[0] == '1';
}

static void foot(int down)
{
	const char *text = down ? "pull-down" : "pull-up"; /* to ground */
	char path[300];
	int fd;

	snprintf(path, sizeof(path), "%.250s/sim_gpio1/pull", device);
	fd = open(path, O_WRONLY);
	if (fd < 0 || write(fd, text, strlen(text)) < 0)
		wrong++;
	close(fd);
}

int main(int argc, char **argv)
{
	const struct gpio_panel_config config = {
	        .chip = argv[1],
	        .foot = "1",
	        .output = {"2", "3", "4", "5", "6"},
	        .foot_active_low = true,
	};
	char message[GPIO_MESSAGE_MAX] = "";
	struct gpio_panel *panel;
	enum panel_event event;
	struct pollfd wait;
	int64_t due_us;

	if (argc != 3)
		return 2;
	device = argv[2];
	foot(0);
	if (gpio_panel_open(&config, 0, message, &panel) < 0) {
		puts(message);
		return 1;
	}
	/* The same lines again: busy, and by whom. */
	{
		struct gpio_panel *second;

		expect(gpio_panel_open(&config, 0, message, &second) < 0, 1, "a second panel");
		expect(strstr(message, "in use by ambo panel") != NULL, 1, message);
	}
	wait = (struct pollfd){.fd = gpio_panel_fd(panel), .events = POLLIN};
	expect(poll(&wait, 1, 0), 0, "an edge before the foot moved");
	foot(1);
	expect(poll(&wait, 1, 1000), 1, "no edge although the foot moved");
	gpio_panel_step(panel, 1000000, &event, &due_us);
	expect(poll(&wait, 1, 0), 0, "the edge is still there");
	gpio_panel_step(panel, due_us, &event, &due_us);
	foot(0);
	expect(poll(&wait, 1, 1000), 1, "no edge although the foot was lifted");
	gpio_panel_step(panel, 1300000, &event, &due_us);
	gpio_panel_step(panel, due_us, &event, &due_us);
	expect((int)event, PANEL_PRESS, "the event");
	gpio_panel_signal(panel, PANEL_TIP_BACK, 2000000);
	gpio_panel_step(panel, 2000000, &event, &due_us);
	for (int line = 2; line <= 6; line++)
		expect(lamp(line), line != 2, "a line at tip-back");
	gpio_panel_step(panel, due_us, &event, &due_us);
	expect(lamp(5), 0, "the buzzer between two notes");
	gpio_panel_close(panel);
	for (int line = 2; line <= 6; line++)
		expect(lamp(line), 0, "a line after the end");
	printf("panel: %d wrong\n", wrong);
	return wrong != 0;
}
